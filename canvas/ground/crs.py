"""Which coordinate systems a site can lie in, and which to offer."""

from __future__ import annotations

from functools import lru_cache

from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError

from canvas.base.errors import BadData
from canvas.base.sources import cites

_REMEDY = (
    "Choose a projected coordinate system in metres, such as the UTM zone offered for the "
    "site's longitude and latitude."
)


def site_crs(crs: CRS | str | int) -> CRS:
    """Return a coordinate system a site can lie in: projected, east and north, in metres.

    A compound system gives its horizontal part. Raises `BadData` naming what is wrong.
    """
    try:
        given = CRS.from_user_input(crs)
    except CRSError:
        raise BadData(f"“{crs}” is not a coordinate system we know", remedy=_REMEDY) from None
    flat = next((part for part in given.sub_crs_list if part.is_projected), given)
    if flat.is_bound and flat.source_crs is not None:
        flat = flat.source_crs
    name = flat.name
    if flat.is_geographic:
        raise BadData(f"{name} measures in degrees, not metres", remedy=_REMEDY)
    if not flat.is_projected:
        raise BadData(f"{name} is not a projected coordinate system", remedy=_REMEDY)
    if {axis.direction for axis in flat.axis_info} != {"east", "north"}:
        raise BadData(f"the axes of {name} do not run east and north", remedy=_REMEDY)
    units = {axis.unit_name for axis in flat.axis_info if axis.unit_conversion_factor != 1.0}
    if units:
        raise BadData(f"{name} measures in {', '.join(sorted(units))}, not metres", remedy=_REMEDY)
    return flat


@lru_cache(maxsize=32)
def to_lonlat(crs: CRS) -> Transformer:
    """Return the transformer from a site's east, north to longitude, latitude on its own datum."""
    return Transformer.from_crs(crs, crs.geodetic_crs, always_xy=True)


@cites("utm_zones")
def utm_epsg(lon_deg: float, lat_deg: float) -> int:
    """Return the EPSG code of the UTM zone (WGS 84) for a longitude and latitude.

    With the wider zones of south-west Norway and Svalbard. Raises `BadData` beyond 80° S and
    84° N, where UTM ends.
    """
    if not (-80.0 <= lat_deg <= 84.0):
        raise BadData(
            f"UTM ends at 80° S and 84° N; {lat_deg:.2f}° lies beyond",
            remedy="Choose a polar stereographic system in metres.",
        )
    lon = (lon_deg + 180.0) % 360.0 - 180.0
    zone = min(int((lon + 180.0) // 6.0) + 1, 60)
    if 56.0 <= lat_deg < 64.0 and 3.0 <= lon < 12.0:
        zone = 32
    elif 72.0 <= lat_deg <= 84.0 and 0.0 <= lon < 42.0:
        zone = next(z for east, z in ((9.0, 31), (21.0, 33), (33.0, 35), (42.0, 37)) if lon < east)
    return (32600 if lat_deg >= 0 else 32700) + zone
