"""The search for a way: as long as it must be and no longer, off what is kept."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from canvas.base.errors import BadData
from canvas.ground.route import Wish, route
from made_ground import plane, valley


def ends(ground, east: float, north: float) -> tuple[tuple[float, float], tuple[float, float]]:
    """Two points so far apart, about the middle of a ground."""
    west, south, right, top = ground.bounds
    x, y = (west + right) / 2, (south + top) / 2
    return (x - east / 2, y - north / 2), (x + east / 2, y + north / 2)


@pytest.mark.parametrize(
    ("east", "north", "grade"), [(90.0, 120.0, 0.10), (0.0, 100.0, 0.12), (40.0, 60.0, 0.15)]
)
def test_on_a_plane_its_length_is_the_rise_by_the_grade(east, north, grade):
    ground = plane(400.0, 2.0, 0.25)
    start, end = ends(ground, east, north)
    found = route(ground, start, end, Wish(grade))
    rise = abs(float(ground.sample(*start)) - float(ground.sample(*end)))
    assert found.length_m == pytest.approx(max(rise / grade, math.dist(start, end)), rel=0.01)
    assert found.steepest <= grade * 1.01
    assert found.line.coords[0] == pytest.approx(start)
    assert found.line.coords[-1] == pytest.approx(end)


def test_where_the_ground_allows_it_the_way_is_straight():
    ground = plane(400.0, 2.0, 0.05)
    start, end = ends(ground, 150.0, 60.0)
    assert route(ground, start, end, Wish(0.12)).length_m == pytest.approx(
        math.dist(start, end), rel=0.01
    )


def test_it_goes_round_what_is_kept_and_stays_on_the_land():
    ground = plane(300.0, 2.0, 0.08)
    start, end = ends(ground, 160.0, 0.0)
    x, y = (start[0] + end[0]) / 2, start[1]
    pond = shapely.Point(x, y).buffer(25.0)
    land = shapely.box(start[0] - 20, y - 60, end[0] + 20, y + 60)
    found = route(ground, start, end, Wish(0.12), within=land, keep_off=pond)
    assert not found.line.crosses(pond.buffer(-0.5))
    assert land.covers(found.line)
    # Round a circle of 25 m and back on course: two tangents and an arc.
    half, r = 80.0, 25.0
    least = 2 * math.sqrt(half**2 - r**2) + r * (math.pi - 2 * math.acos(r / half))
    assert least * 0.99 <= found.length_m <= least * 1.06


def test_earth_worth_more_makes_a_longer_way_with_less():
    # Two hollows and a spur between them: over it or round it.
    ground = plane(300.0, 2.0, 0.02)
    x, y = np.meshgrid(ground.x_m(), ground.y_m())
    cx, cy = (ground.bounds[0] + ground.bounds[2]) / 2, (ground.bounds[1] + ground.bounds[3]) / 2
    hump = ground.like(ground.z + 6.0 * np.exp(-(((x - cx) / 12) ** 2) - ((y - cy) / 60) ** 2))
    start, end = ends(hump, 180.0, 0.0)
    cheap = route(hump, start, end, Wish(0.2, worth_m_per_m3=0.0))
    dear = route(hump, start, end, Wish(0.2, worth_m_per_m3=5.0))
    assert dear.length_m >= cheap.length_m * 0.999
    assert dear.earth_m3 < cheap.earth_m3


def test_without_a_way_it_says_so():
    steep = plane(200.0, 2.0, 0.8)
    start, end = ends(steep, 0.0, 120.0)
    narrow = shapely.box(start[0] - 6, start[1] - 10, start[0] + 6, end[1] + 10)
    with pytest.raises(BadData, match="no way"):
        route(steep, start, end, Wish(0.05), within=narrow)
    ground = valley(200.0, 2.0, 0.1, 0.02)
    with pytest.raises(BadData, match="may not lead"):
        route(ground, *ends(ground, 60.0, 0.0), Wish(0.1), within=shapely.box(0, 0, 1, 1))
