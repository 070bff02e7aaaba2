"""Snaps on random plans: caught places are where they say, and never out of reach."""

from __future__ import annotations

import numpy as np
import shapely
from hands import PIXEL_M, make
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point

from canvas.site.facts import Site
from canvas.site.plan import Plan
from canvas.tools.plane import along, bearing, distance, feet_on, meet
from canvas.tools.pointer import Pointer
from canvas.tools.snap import REACH_PX, SNAPS, Stroke
from canvas.tools.world import ToolWorld
from made import EAST, NORTH

REACH_M = REACH_PX * PIXEL_M
numbers = st.floats(0, 60, allow_nan=False).map(lambda v: round(v, 2))
spots = st.tuples(numbers, numbers)


@st.composite
def plans(draw):
    made = [make("tree", draw(spots)) for _ in range(draw(st.integers(0, 4)))]
    for _ in range(draw(st.integers(1, 4))):
        a, b = draw(spots), draw(spots)
        if distance(a, b) > 0.5:
            made.append(make("fence", a, b))
    x, y = draw(spots)
    made.append(make("site_boundary", (x, y), (x + 20, y), (x + 22, y + 15)))
    return Plan([Site(crs="EPSG:7854"), *made])


@settings(max_examples=150, deadline=None)
@given(plans(), spots, st.lists(spots, max_size=3), st.sets(st.sampled_from(sorted(SNAPS))))
def test_a_snap_is_near_and_on_what_it_names(plan, at, drawn, kinds):
    world = ToolWorld(plan)
    points = tuple((EAST + x, NORTH + y) for x, y in drawn)
    stroke = Stroke(points[-1] if points else None, points)
    pointer = Pointer(EAST + at[0], NORTH + at[1], PIXEL_M)
    found = world.snapper.snap(pointer, frozenset(kinds), stroke)
    if found is None:
        return
    assert found.kind in kinds
    assert found.words
    assert distance(found.xy, pointer.xy) <= REACH_M + 1e-9
    if found.ident and found.kind in ("point", "middle", "edge", "boundary", "crossing"):
        assert plan.element(found.ident).geometry.distance(Point(found.xy)) < 1e-6
    if found.kind == "square" and found.ident and found.guide is not None:
        assert stroke.anchor is not None
        assert found.guide.distance(Point(stroke.anchor)) < 1e-6


@settings(max_examples=100, deadline=None)
@given(plans(), spots)
def test_the_nearest_point_wins(plan, at):
    world = ToolWorld(plan)
    pointer = Pointer(EAST + at[0], NORTH + at[1], PIXEL_M)
    found = world.snapper.snap(pointer, frozenset({"point"}))
    corners = shapely.get_coordinates([item.geometry for item in plan.elements()])
    nearest = np.hypot(corners[:, 0] - pointer.x_m, corners[:, 1] - pointer.y_m).min()
    if nearest < REACH_M - 1e-9:
        assert found is not None
        assert abs(distance(found.xy, pointer.xy) - nearest) < 1e-9
    elif nearest > REACH_M + 1e-9:
        assert found is None


@given(spots, st.floats(0, 359.999), st.floats(0.01, 1000))
def test_bearing_and_length_come_back(start, degrees, length):
    end = along(start, degrees, length)
    assert abs(distance(start, end) - length) < 1e-9 * max(length, 1)
    turned = (bearing(start, end) - degrees + 180) % 360 - 180
    assert abs(turned) < 1e-6 / length + 1e-9


@given(spots, spots, spots)
def test_the_foot_is_nearest(a, b, place):
    if distance(a, b) < 0.01:
        return
    edge = np.array([[*a, *b]])
    feet, t = feet_on(edge, place, inside=True)
    expected = shapely.LineString([a, b]).distance(Point(place))
    assert abs(np.hypot(*(feet[0] - place)) - expected) < 1e-7
    assert 0 <= t[0] <= 1


@given(spots, spots, spots, spots)
def test_lines_meet_where_shapely_says(a, b, c, d):
    one, two = shapely.LineString([a, b]), shapely.LineString([c, d])
    hit = meet(np.array([*a, *b]), np.array([*c, *d]))
    if hit is None or not one.crosses(two):
        return
    crossing = one.intersection(two)
    assert crossing.distance(Point(hit[0])) < 1e-6
