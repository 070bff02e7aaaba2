"""Shadows of buildings and walls on slopes."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from canvas.base.errors import InputError
from canvas.base.grid import Grid
from canvas.sky.walls import Solid, building, skyline_of, solid_shadow, thrown, wall

TEN = float(np.tan(np.radians(10)))
BOX = shapely.box(-5, -4, 5, 4)


def house(gx: float = 0.0, gy: float = 0.0) -> Solid:
    """10 x 8 x 4 m, flat roof, the ground's plane through the middle of its floor."""
    ring = np.asarray(shapely.get_coordinates(BOX.exterior))
    return Solid(ring, np.full(5, 4.0), 0.0, gx, gy)


@pytest.mark.parametrize(
    ("gy", "area", "near", "far"),
    # Handbook: level; the shadow uphill; the shadow downhill. Sun due south at 30 degrees.
    [(0.0, 69.28, 2.928, 10.928), (TEN, 43.71, 2.243, 8.371), (-TEN, 117.33, 4.216, 15.733)],
)
def test_a_box_in_the_south_sun(gy: float, area: float, near: float, far: float) -> None:
    solid = house(gy=gy)
    shade = solid_shadow(solid, 30.0, 180.0)
    assert shade.difference(BOX).area == pytest.approx(area, abs=0.05)
    tops = thrown(solid, np.column_stack((solid.outline, solid.top_m)), 30.0, 180.0)
    assert (tops[:, 1].min(), tops[:, 1].max()) == pytest.approx((near, far), abs=0.002)


def test_a_box_in_the_evening_on_a_slope() -> None:
    solid = house(gy=TEN)
    tops = thrown(solid, np.column_stack((solid.outline, solid.top_m)), 40.0, 240.0)
    expected = {(-0.605, -1.463), (-1.923, 5.777), (9.395, -1.463), (8.077, 5.777)}
    assert {(round(float(x), 3), round(float(y), 3)) for x, y in tops} == expected
    assert solid_shadow(solid, 40.0, 240.0).difference(BOX).area == pytest.approx(47.65, abs=0.05)


def test_an_inner_corner_keeps_its_sun() -> None:
    ell = shapely.Polygon([(0, 0), (20, 0), (20, 6), (6, 6), (6, 20), (0, 20)])
    shade = solid_shadow(building(ell, 3.0), 60.0, 225.0)
    assert not shade.contains(shapely.Point(15, 15))
    assert shade.contains(shapely.Point(6.5, 6.5))
    assert shade.area < shapely.convex_hull(shade).area


def test_a_gable_throws_more_than_its_eaves() -> None:
    ridge = shapely.LineString([(-5, 0), (5, 0)])
    low, high = building(BOX, 3.0), building(BOX, 3.0, ridge=ridge, ridge_m=5.5)
    for azimuth in (180.0, 90.0, 250.0):
        a, b = solid_shadow(low, 25.0, azimuth), solid_shadow(high, 25.0, azimuth)
        assert b.covers(a.buffer(-1e-6))
        assert b.area > a.area
    # Due east-west the ridge ends throw a point past the eaves: 5.5 / tan 25.
    west = solid_shadow(high, 25.0, 90.0).bounds[0]
    assert west == pytest.approx(-5 - 5.5 / np.tan(np.radians(25)), abs=1e-6)


def test_the_roof_of_an_odd_outline() -> None:
    ell = shapely.Polygon([(0, 0), (20, 0), (20, 6), (6, 6), (6, 20), (0, 20)])
    ridge = shapely.LineString([(3, 17), (3, 3), (17, 3)])
    solid = building(ell, 3.0, ridge=ridge, ridge_m=5.0)
    assert solid_shadow(solid, 30.0, 180.0).area > solid_shadow(building(ell, 3.0), 30, 180).area


def test_a_wall_follows_the_ground() -> None:
    row, col = np.mgrid[0:60, 0:60]
    ground = Grid(0.2 * (col + 0.5) + 0 * row, 0, 60, 1.0)
    path = shapely.LineString([(10, 30), (50, 30)])
    solid = wall(path, 2.0, ground)
    assert solid.top_m == pytest.approx([0.2 * 10 + 2, 0.2 * 50 + 2])
    # Sun in the south: the ground is level northwards, so the shadow is 2 / tan 45 all along.
    shade = solid_shadow(solid, 45.0, 180.0)
    assert shade.bounds == pytest.approx((10, 30, 50, 32), abs=0.02)
    assert shade.area == pytest.approx(80, rel=0.01)


def test_a_wall_edge_on_has_no_shadow_to_speak_of() -> None:
    solid = wall(shapely.LineString([(0, 0), (0, 10)]), 2.0)
    assert solid_shadow(solid, 45.0, 180.0).area < 1e-9


def test_the_skyline_of_a_wall() -> None:
    solid = wall(shapely.LineString([(-100, -12), (100, -12)]), 4.0)
    got = skyline_of([solid], (0.0, 0.0, 0.0), np.array([180.0, 135.0, 0.0]))
    assert got[0] == pytest.approx(np.degrees(np.arctan(4 / 12)))
    assert got[1] == pytest.approx(np.degrees(np.arctan(4 / (12 * np.sqrt(2)))))
    assert got[2] == -90


def test_the_skyline_of_a_gable() -> None:
    solid = building(BOX, 3.0, ridge=shapely.LineString([(-5, 0), (5, 0)]), ridge_m=6.0)
    got = skyline_of([solid], (0.0, -20.0, 0.0), np.array([0.0]))
    assert got[0] == pytest.approx(np.degrees(np.arctan(6 / 20)))


def test_what_is_no_building() -> None:
    with pytest.raises(InputError):
        building(shapely.Polygon(), 3.0)
    with pytest.raises(InputError):
        wall(shapely.LineString(), 3.0)
    with pytest.raises(InputError):
        solid_shadow(house(), -1.0, 10.0)
