"""Column headings: tidied for comparing, positions named in several languages, units in names."""

from __future__ import annotations

import re
import unicodedata

from canvas.base.quantity import ACRE_M2, FT, GALLON_M3


def words(text: str) -> tuple[str, ...]:
    """Return the words of a text, the surest first."""
    return tuple(text.split())


LATITUDE = words(
    "lat latitude latitud latitudine breitengrad breddegrad breddgrad leveysaste szerokosc enlem "
    "zemepisnasirka lintang wgs84lat latdeg latitudedeg gpslatitude"
)
LONGITUDE = words(
    "lon long lng longitude longitud longitudine langengrad laengengrad lengdegrad laengdegrad "
    "langdgrad pituusaste dlugosc boylam zemepisnadelka bujur wgs84lon wgs84long londeg "
    "longitudedeg gpslongitude"
)
EASTING = words(
    "x easting eastings east este est ost ostwert rechtswert rechts xcoord coordx coordenadax "
    "utme utmx utmeast utmeasting xutm pointx abscisse ascissa e"
)
NORTHING = words(
    "y northing northings north norte nord nordwert hochwert hoch ycoord coordy coordenaday "
    "utmn utmy utmnorth utmnorthing yutm pointy ordonnee ordinata n"
)
#: Words that also mean width and length; taken for positions only when nothing else is.
MAYBE_LATITUDE = words("breite sirka")
MAYBE_LONGITUDE = words("lange laenge delka")
SHAPE = words(
    "wkt wktgeom geom geometry thegeom geometrie geometria geometri shape wkbgeometry ewkt"
)

#: A unit written at the end of a heading -> (base unit, its size in it).
IN_HEADINGS: dict[str, tuple[str, float]] = {
    "mm": ("m", 1e-3),
    "cm": ("m", 1e-2),
    "m": ("m", 1.0),
    "metres": ("m", 1.0),
    "meters": ("m", 1.0),
    "metre": ("m", 1.0),
    "km": ("m", 1e3),
    "in": ("m", 0.0254),
    "inches": ("m", 0.0254),
    "ft": ("m", FT),
    "feet": ("m", FT),
    "yd": ("m", 3 * FT),
    "m2": ("m2", 1.0),
    "m²": ("m2", 1.0),
    "sqm": ("m2", 1.0),
    "ha": ("m2", 1e4),
    "hectares": ("m2", 1e4),
    "ac": ("m2", ACRE_M2),
    "acres": ("m2", ACRE_M2),
    "ft2": ("m2", FT**2),
    "l": ("L", 1.0),
    "litres": ("L", 1.0),
    "liters": ("L", 1.0),
    "m3": ("L", 1e3),
    "gal": ("L", GALLON_M3 * 1e3),
    "gallons": ("L", GALLON_M3 * 1e3),
    "l_s": ("L/s", 1.0),
    "l/s": ("L/s", 1.0),
    "l_min": ("L/s", 1 / 60),
    "l/min": ("L/s", 1 / 60),
    "gpm": ("L/s", GALLON_M3 * 1e3 / 60),
    "%": ("fraction", 0.01),
    "pct": ("fraction", 0.01),
    "percent": ("fraction", 0.01),
    "ratio": ("fraction", 1.0),
    "fraction": ("fraction", 1.0),
    "kv": ("kV", 1.0),
    "v": ("kV", 1e-3),
    "deg": ("deg", 1.0),
    "°": ("deg", 1.0),
    "years": ("years", 1.0),
    "yr": ("years", 1.0),
}
#: The unit a field is declared in -> (base unit, its size in it).
FIELD_BASES: dict[str, tuple[str, float]] = {
    "m": ("m", 1.0),
    "cm": ("m", 1e-2),
    "mm": ("m", 1e-3),
    "m2": ("m2", 1.0),
    "L": ("L", 1.0),
    "L/s": ("L/s", 1.0),
    "%": ("fraction", 1.0),
    "ratio": ("fraction", 1.0),
    "kV": ("kV", 1.0),
    "deg": ("deg", 1.0),
    "years": ("years", 1.0),
}


def bare(heading: str) -> str:
    """Return a heading in small letters without accents, blanks and punctuation."""
    return "".join(c for c in _folded(heading) if c.isalnum())


def _folded(heading: str) -> str:
    text = heading.casefold().replace("ł", "l").replace("ø", "o").replace("ı", "i")
    # Keep ² and ³ apart from letters: they are part of units.
    parts = unicodedata.normalize("NFKD", text.replace("²", "2").replace("³", "3"))
    return "".join(c for c in parts if not unicodedata.combining(c))


def split_unit(heading: str) -> tuple[str, str]:
    """Return (name without its unit, unit key) of a heading; ("…", "") when it names none.

    "Height (ft)", "height_ft", "Height [ft]" and "Height, ft" all give ("height", "ft").
    """
    text = _folded(heading).strip()
    bracketed = re.fullmatch(r"(.*?)\s*[\[(]\s*([^\])]+?)\s*[\])]\s*", text)
    if bracketed and bracketed[2] in IN_HEADINGS:
        return bare(bracketed[1]), bracketed[2]
    pieces = re.split(r"[\s_,\-]+", text)
    for taken in (2, 1):
        unit = "_".join(pieces[-taken:])
        if len(pieces) > taken and unit in IN_HEADINGS:
            return bare("".join(pieces[:-taken])), unit
    return bare(text), ""


def factor(heading_unit: str, field_unit: str) -> float | None:
    """Return what to multiply a column's number by to get the field's; None if they don't agree."""
    if not heading_unit:
        return 1.0
    base, size = IN_HEADINGS[heading_unit]
    wanted, wanted_size = FIELD_BASES.get(field_unit, ("", 1.0))
    return size / wanted_size if base == wanted else None
