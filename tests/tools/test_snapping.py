"""What catches the pointer, and in what order. One pixel is 0.1 m here; the reach is 1 m."""

from __future__ import annotations

import pytest
from hands import make
from shapely.geometry import LineString

from canvas.tools.draw import DrawTool
from canvas.tools.snap import SNAPS, Stroke
from made import EAST, NORTH


@pytest.fixture
def yard(hand):
    edge = make("site_boundary", (0, 0), (100, 0), (100, 100), (0, 100))
    shed = make("building", (20, 20), (30, 20), (30, 26), (20, 26), name="Shed")
    one = make("fence", (40, 60), (80, 60), name="Top fence")
    two = make("fence", (60, 40), (60, 90), name="Long fence")
    return hand(edge, shed, one, two)


def snap(hand, x, y, *kinds, stroke=None, **held):
    on = frozenset(kinds or SNAPS)
    place = stroke or Stroke()
    found = hand.world.snapper.snap(hand.at(x, y, **held), on, place)
    return found and (found.kind, round(found.x_m - EAST, 3), round(found.y_m - NORTH, 3))


def stroke(*points, skip=()):
    made = tuple((EAST + x, NORTH + y) for x, y in points)
    return Stroke(made[-1] if made else None, made, frozenset(skip))


def test_corners_before_edges(yard):
    assert snap(yard, 20.5, 20.4) == ("point", 20, 20)
    assert snap(yard, 22.6, 20.4) == ("edge", 22.6, 20)


def test_middles_and_crossings(yard):
    assert snap(yard, 25.3, 20.2) == ("middle", 25, 20)
    assert snap(yard, 60.4, 60.3, "crossing") == ("crossing", 60, 60)


def test_boundary_is_told_from_other_edges(yard):
    assert snap(yard, 33, 0.6) == ("boundary", 33, 0)
    assert snap(yard, 33, 0.6, "edge") is None


def test_right_angle_foot_from_the_last_point(yard):
    assert snap(yard, 47.4, 59.7, stroke=stroke((47, 30))) == ("square", 47, 60)


def test_right_angle_and_parallel_to_the_stroke(yard):
    drawn = stroke((10, 70), (20, 70))
    assert snap(yard, 20.4, 85, stroke=drawn) == ("square", 20, 85)
    assert snap(yard, 32, 70.4, stroke=drawn) == ("parallel", 32, 70)


def test_parallel_to_an_edge_at_hand(yard):
    found = yard.world.snapper.snap(yard.at(36, 23.4), frozenset({"parallel"}), stroke((34, 23)))
    assert found is not None
    assert found.kind == "parallel"
    assert found.words == "parallel to Shed"
    assert found.guide is not None


def test_extension_of_an_edge(yard):
    found = yard.world.snapper.snap(yard.at(33, 26.5), frozenset({"extension"}))
    assert found is not None
    assert found.words == "in line with Shed"
    assert (found.x_m - EAST, found.y_m - NORTH) == pytest.approx((33, 26))


def test_contours(yard):
    yard.world.contours = (LineString([(EAST, NORTH + 80.5), (EAST + 50, NORTH + 80.5)]),)
    assert snap(yard, 12, 80) == ("contour", 12, 80.5)


def test_closing_the_stroke(yard):
    found = snap(yard, 70.4, 10.3, stroke=stroke((70, 10), (80, 10), (80, 20)))
    assert found == ("point", 70, 10)


def test_alt_lets_go_and_kinds_can_be_off(yard):
    assert snap(yard, 20.5, 20.4, alt=True) is None
    assert snap(yard, 20.5, 20.4, "middle") is None
    yard.world.snaps = frozenset()
    tool = DrawTool(yard.world, "tree")
    tool.move(yard.at(20.5, 20.4))
    assert tool.here == pytest.approx((EAST + 20.5, NORTH + 20.4))


def test_what_is_moved_does_not_catch_itself(yard):
    shed = yard.elements("building")[0]
    assert snap(yard, 20.5, 20.4, stroke=stroke(skip=(shed.id,))) is None


def test_words_name_what_was_caught(yard):
    at = yard.at(20.4, 20.1)
    assert yard.world.snapper.snap(at, frozenset(SNAPS)).words == "corner of Shed"
    tool = DrawTool(yard.world, "track")
    tool.move(at)
    assert tool.ghost().snap.words == "corner of Shed"


def test_snaps_follow_the_plan(yard):
    yard.world.plan = yard.world.plan.with_(make("tree", (10, 40)))
    assert snap(yard, 10.5, 40.4) == ("point", 10, 40)


def test_nothing_to_catch_in_an_empty_site(empty):
    assert snap(empty, 10, 10) is None
    assert snap(empty, 10, 10, stroke=stroke((1, 1))) is None
