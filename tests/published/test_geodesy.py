"""Areas, lengths, convergence and scale against pyproj's geodesics and published zones."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from published.ref import Ref
from pyproj import CRS, Geod, Transformer
from pyproj.aoi import AreaOfInterest
from pyproj.database import query_utm_crs_info
from shapely import LineString, Polygon

from canvas.ground.crs import utm_epsg
from canvas.ground.measure import (
    Basis,
    area_on_ellipsoid,
    grid_on_earth,
    length_on_ellipsoid,
)

#: EPSG code and a point on it: UTM north and south, MGA 54, NZTM, ETRS-LAEA, California 3 (m).
SITES = {
    32610: (560_000.0, 4_240_000.0),
    32755: (250_000.0, 5_830_000.0),
    7854: (600_000.0, 5_810_000.0),
    2193: (1_570_000.0, 5_180_000.0),
    3763: (-30_000.0, -20_000.0),
    3035: (4_000_000.0, 2_500_000.0),
    26943: (1_800_000.0, 640_000.0),
}


def _to_lonlat(code: int) -> Transformer:
    crs = CRS(code)
    return Transformer.from_crs(crs, crs.geodetic_crs, always_xy=True)


@pytest.mark.parametrize("code", SITES)
def test_a_geodesic_square_has_its_geodesic_area(code: int) -> None:
    """Corners laid out by geodesics, so the area is known without any projection."""
    x, y = SITES[code]
    geod = CRS(code).get_geod()
    assert geod is not None
    lon, lat = _to_lonlat(code).transform(x, y)
    lons, lats, _ = geod.fwd([lon] * 8, [lat] * 8, np.arange(0, 360, 45), [150.0] * 8)
    theirs = abs(geod.polygon_area_perimeter(lons, lats)[0])
    back = Transformer.from_crs(CRS(code).geodetic_crs, CRS(code), always_xy=True)
    polygon = Polygon(np.column_stack(back.transform(lons, lats)))
    got = area_on_ellipsoid(polygon, CRS(code))
    assert got.basis is Basis.ELLIPSOID
    # Straight sides on the map are not quite geodesics: under 1 part in a million at 300 m.
    Ref(theirs, 1e-6 * theirs, "pyproj.Geod").check(got.value)


@pytest.mark.parametrize("code", SITES)
def test_length_on_the_ellipsoid(code: int) -> None:
    x, y = SITES[code]
    line = LineString([(x, y), (x + 400, y + 300)])
    lons, lats = _to_lonlat(code).transform(*zip(*line.coords, strict=True))
    geod = CRS(code).get_geod()
    assert geod is not None
    theirs = geod.line_length(lons, lats)
    Ref(theirs, 1e-7 * theirs, "pyproj.Geod").check(length_on_ellipsoid(line, CRS(code)).value)


def test_holes_and_winding_do_not_matter() -> None:
    x, y = SITES[32755]
    outer = shapely.box(x, y, x + 200, y + 200)
    inner = shapely.box(x + 50, y + 50, x + 100, y + 100)
    crs = CRS(32755)
    whole, hole = area_on_ellipsoid(outer, crs).value, area_on_ellipsoid(inner, crs).value
    both = area_on_ellipsoid(outer.difference(inner), crs).value
    Ref(whole - hole, 1e-3, "additivity of pyproj.Geod areas").check(both)
    Ref(both, 1e-9, "same").check(area_on_ellipsoid(outer.difference(inner).reverse(), crs).value)


@pytest.mark.parametrize("code", SITES)
def test_convergence_and_scale(code: int) -> None:
    """Against geodesics one metre long: due north for convergence, eight ways for scale."""
    x, y = SITES[code]
    found = grid_on_earth(CRS(code), x, y)
    lon, lat = found.lon_deg, found.lat_deg
    geod = CRS(code).get_geod()
    assert geod is not None
    back = Transformer.from_crs(CRS(code).geodetic_crs, CRS(code), always_xy=True)
    lons, lats, _ = geod.fwd([lon] * 2, [lat] * 2, [0.0, 180.0], [50.0, 50.0])
    (e0, e1), (n0, n1) = back.transform(lons, lats)
    true_north_on_grid = np.degrees(np.arctan2(e0 - e1, n0 - n1))
    # Grid azimuth + convergence = true azimuth, so true north lies at minus the convergence.
    Ref(-true_north_on_grid, 1e-6, "pyproj.Geod").check(found.convergence_deg)
    ring = geod.fwd([lon] * 72, [lat] * 72, np.arange(0, 360, 5), [50.0] * 72)
    exact = abs(geod.polygon_area_perimeter(ring[0], ring[1])[0])
    grid = Polygon(np.column_stack(back.transform(ring[0], ring[1]))).area
    # pyproj's geodesic areas are good to about 1e-4 m² here, 1 part in 10^7.
    Ref(np.sqrt(grid / exact), 1e-6, "pyproj.Geod").check(found.scale)


@pytest.mark.parametrize(
    ("lon", "lat"),
    [
        (-121.7, 38.5),
        (-7.9, 38.6),
        (18.4, -33.9),
        (143.5, -37.6),
        (178.0, -38.0),
        (-70.7, -33.4),
        (15.6, 78.2),
        (-179.9, 10.0),
    ],
)
def test_utm_zone(lon: float, lat: float) -> None:
    """Against the areas of use in the EPSG register, which knows no widened zones."""
    area = AreaOfInterest(lon, lat, lon, lat)
    codes = {int(each.code) for each in query_utm_crs_info("WGS 84", area, contains=True)}
    assert utm_epsg(lon, lat) in codes


def test_height_factor() -> None:
    # Radius of the sphere of equal curvature at 45°: sqrt(M N), from the WGS 84 constants.
    geod = Geod(ellps="WGS84")
    curve = 1 - geod.es / 2
    radius = geod.a * np.sqrt(1 - geod.es) / curve
    found = grid_on_earth(CRS(32633), 500_000.0, 4_982_950.4, height_m=1000.0)
    Ref(radius / (radius + 1000), 1e-9, "WGS 84 constants").check(found.height_factor)
    Ref(0.9996, 1e-6, "UTM central scale (DMA TM 8358.2)").check(found.scale)
