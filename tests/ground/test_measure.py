"""Every measure says its basis; systems that cannot hold a site are refused with a way out."""

from __future__ import annotations

import pytest
from pyproj import CRS
from shapely import LineString, box

from canvas.base.errors import BadData
from canvas.ground.crs import site_crs, utm_epsg
from canvas.ground.measure import (
    Basis,
    area_on_ellipsoid,
    grid_on_earth,
    length_on_ellipsoid,
)

PARCEL = box(500_000, 5_799_900, 500_100, 5_800_000)


def test_areas_and_lengths_on_the_ellipsoid() -> None:
    crs = CRS(32754)
    # Scale 0.9996 at the central meridian, squared.
    area = area_on_ellipsoid(PARCEL, crs)
    assert (area.unit, area.basis) == ("m2", Basis.ELLIPSOID)
    assert area.value == pytest.approx(10_000 / 0.9996**2, rel=1e-6)
    line = LineString([(500_010, 5_799_950), (500_050, 5_799_950)])
    length = length_on_ellipsoid(line, crs)
    assert (length.unit, length.basis) == ("m", Basis.ELLIPSOID)
    assert length.value == pytest.approx(40 / 0.9996, rel=1e-6)


def test_norths_and_scale() -> None:
    found = grid_on_earth(CRS(7854), 600_000.0, 5_810_000.0, height_m=300.0)
    # East of the central meridian in the south, grid north points west of true north.
    assert found.convergence_deg < 0
    assert found.true_azimuth(0.5) == pytest.approx(0.5 + found.convergence_deg + 360)
    assert found.grid_azimuth(found.true_azimuth(123.0)) == pytest.approx(123.0)
    assert found.combined == pytest.approx(found.scale * (1 - 300 / 6.37e6), rel=1e-6)


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ("EPSG:4326", "degrees"),
        ("EPSG:2227", "US survey foot"),
        ("EPSG:4978", "not a projected"),
        ("EPSG:999999", "not a coordinate system"),
        ("nonsense", "not a coordinate system"),
        ('LOCAL_CS["hand drawn",UNIT["metre",1]]', "not a projected"),
    ],
)
def test_systems_that_cannot_hold_a_site(given: str, says: str) -> None:
    with pytest.raises(BadData, match=says) as caught:
        site_crs(given)
    assert "UTM" in caught.value.remedy


def test_systems_that_can() -> None:
    assert site_crs("EPSG:7854").to_epsg() == 7854
    assert site_crs(2193).to_epsg() == 2193
    assert site_crs("EPSG:32633+5773").to_epsg() == 32633


@pytest.mark.parametrize(
    ("lon", "lat", "code"),
    [
        # South-west Norway and Svalbard take wider zones (the UTM rules, from memory).
        (5.3, 60.4, 32632),
        (4.0, 58.0, 32632),
        (8.9, 78.0, 32631),
        (9.1, 78.0, 32633),
        (22.0, 79.0, 32635),
        (35.0, 77.0, 32637),
        (180.0, 0.0, 32601),
        (-180.0, -1.0, 32701),
        (179.999, -1.0, 32760),
        (503.9, -37.0, 32754),
    ],
)
def test_utm_at_the_seams(lon: float, lat: float, code: int) -> None:
    assert utm_epsg(lon, lat) == code


@pytest.mark.parametrize("lat", [84.1, -80.1])
def test_no_utm_at_the_poles(lat: float) -> None:
    with pytest.raises(BadData, match="UTM ends"):
        utm_epsg(0, lat)
