"""What every vector reader hands on: shapes in the file's own CRS, attributes, complaints."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import shapely
from shapely.errors import GEOSException
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData
from canvas.exchange.incoming import Skipped, Value

WGS84 = "EPSG:4326"
#: A site of some hectares has hundreds of features; files of whole districts must be cut down.
MOST_FEATURES = 200_000
MOST_POINTS = 5_000_000
#: Complaints are listed one by one up to here, then only counted.
MOST_SKIPPED = 1000

#: What shapely raises on garbage, whichever of its layers meets it first.
SHAPE_TROUBLE = (GEOSException, TypeError, ValueError, IndexError, KeyError, AttributeError)


@dataclass(slots=True)
class RawFeature:
    """One shape as the file has it, coordinates as (x or longitude, y or latitude)."""

    geometry: BaseGeometry
    values: dict[str, Value]
    place: str
    layer: str = ""


@dataclass(slots=True)
class RawFile:
    """What a reader found."""

    format: str
    #: Any text pyproj understands; "" unknown.
    crs: str = ""
    features: list[RawFeature] = field(default_factory=list)
    skipped: list[Skipped] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    #: Layers of the file that were left unread: (name, geometry, count, fields).
    other_layers: list[tuple[str, str, int, tuple[str, ...]]] = field(default_factory=list)
    points: int = 0

    def add(self, feature: RawFeature) -> None:
        """Take one feature; refuse floods."""
        self.features.append(feature)
        self.points += int(shapely.get_num_coordinates(feature.geometry))
        if len(self.features) > MOST_FEATURES or self.points > MOST_POINTS:
            raise flood(len(self.features), self.points)

    def skip(self, place: str, why: str) -> None:
        """Note that something was left out."""
        self.skipped.append(Skipped(place, why))


def flood(features: int, points: int) -> BadData:
    """Return the complaint that a file holds too much."""
    limit = f"{MOST_FEATURES:,} features" if features > MOST_FEATURES else f"{MOST_POINTS:,} points"
    return BadData(
        f"the file holds more than {limit}".replace(",", "\N{NARROW NO-BREAK SPACE}"),
        remedy="Cut it down to the site and its surroundings, then try again.",
    )


def line_of(points: Sequence[Sequence[float]]) -> BaseGeometry:
    """Return a line through points, or the point itself when there is only one."""
    return shapely.Point(points[0]) if len(points) == 1 else shapely.LineString(points)


def plain(values: Mapping[str, object]) -> dict[str, Value]:
    """Return attributes as plain values: text, numbers, yes or no."""
    return {str(key): plain_value(value) for key, value in values.items()}


def plain_value(value: object) -> Value:
    """Return one attribute as text, number, yes or no, or None."""
    if value is None or isinstance(value, (str, int, float, bool)):
        return value
    item = getattr(value, "item", None)  # numpy's scalars
    if item is not None:
        return plain_value(item())
    return str(value)


def decoded(data: bytes, notes: list[str], encoding: str = "") -> str:
    """Return a file's text, finding its encoding out where none is given.

    Byte-order marks rule; then UTF-8; then Windows-1252 (and Latin-1), with a note.
    """
    if encoding:
        try:
            return data.decode(encoding)
        except (LookupError, UnicodeError) as error:
            raise BadData(
                f"the text is not in the encoding “{encoding}” ({error})",
                remedy="Choose another encoding, or leave it to be found out.",
            ) from error
    for mark, name in _MARKS:
        if data.startswith(mark):
            return data.decode(name, errors="replace").lstrip("\ufeff")
    head = data[:2000]
    if head.count(0) > len(head) // 4:
        wide = "utf-16-le" if head[1::2].count(0) > head[0::2].count(0) else "utf-16-be"
        notes.append("The text was read as UTF-16.")
        return data.decode(wide, errors="replace")
    if b"\0" in head:
        raise BadData(
            "this is not a text file", remedy="Check that the file is of the kind its name says."
        )
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        pass
    notes.append("The text is not UTF-8; it was read as Windows-1252. Check letters with accents.")
    try:
        return data.decode("cp1252")
    except UnicodeDecodeError:
        return data.decode("latin-1")


_MARKS = (
    (b"\xef\xbb\xbf", "utf-8-sig"),
    (b"\xff\xfe\x00\x00", "utf-32"),
    (b"\xff\xfe", "utf-16"),
    (b"\xfe\xff", "utf-16"),
)
