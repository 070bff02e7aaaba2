"""Changing what is drawn, each verb from an empty site by mouse and keyboard.

Figures are plane geometry; where a click lands is known to a pixel or two.
"""

from __future__ import annotations

from itertools import pairwise

import pytest
import shapely
from PySide6.QtCore import Qt

# The screenless platform says so of windows, menus and file boxes.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints|does not support")
KEY = Qt.Key
SQUARE = ((40, 40), (80, 40), (80, 80), (40, 80))


@pytest.fixture
def near(land):
    """Return a comparison good to the three pixels a hand is off, in metres of the map."""
    return lambda value: pytest.approx(value, abs=3 * land.map.camera.pixel_m)


def shape(desk, ident):
    return desk.bench.plan.element(ident).geometry


def test_a_zone_is_split_and_joined_at_once(land, hand, near):
    zone = hand.draw("zone", *SQUARE)
    whole = shape(land, zone).area
    hand.act("tool.split")
    hand.put(30, 55)
    hand.put(90, 55)
    hand.key(KEY.Key_Return)
    pieces = land.bench.plan.of_kind("zone")
    assert len(pieces) == 2
    assert sum(p.geometry.area for p in pieces) == pytest.approx(whole)
    # Cut three eighths up; the larger piece stays who it was.
    assert shape(land, zone).area == pytest.approx(whole * 5 / 8, rel=0.05)
    assert land.bench.selection == {p.id for p in pieces}
    hand.act("edit.join")
    joined = land.bench.plan.of_kind("zone")
    assert [p.id for p in joined] == [zone]
    assert joined[0].geometry.area == pytest.approx(whole)
    hand.act("edit.undo")
    hand.act("edit.undo")
    assert shape(land, zone).area == pytest.approx(whole)


def test_a_fence_is_split_and_its_pieces_joined_end_to_end(land, hand):
    fence = hand.draw("fence", (20, 150), (120, 150))
    length = shape(land, fence).length
    hand.act("tool.split")
    hand.put(60, 140)
    hand.put(60, 160)
    hand.key(KEY.Key_Return)
    assert len(land.bench.plan.of_kind("fence")) == 2
    hand.act("edit.join")
    assert [f.geometry.length for f in land.bench.plan.of_kind("fence")] == [pytest.approx(length)]


def test_turning_by_drag_and_by_typed_degrees(land, hand, near):
    zone = hand.draw("zone", (40, 40), (100, 40), (100, 60), (40, 60))
    hand.act("tool.turn")
    # A quarter turn clockwise about the middle (70, 50): the east end comes to the south.
    hand.drag((100, 50), (70, 20), Qt.KeyboardModifier.AltModifier)
    west, south, east, north = (v - o for v, o in zip(
        shape(land, zone).bounds, (*hand.origin, *hand.origin), strict=True))  # fmt: skip
    assert (west, south, east, north) == (near(60), near(20), near(80), near(80))
    hand.say("90")
    west, south, east, north = shape(land, zone).bounds
    assert (east - west, north - south) == (near(60), near(20))
    hand.act("edit.undo")
    hand.act("edit.undo")
    assert hand.local(zone)[1] == [near(100), near(40)]


def test_flipping_over_a_drawn_line(land, hand, near):
    zone = hand.draw("zone", (40, 40), (80, 40), (40, 80))
    hand.act("tool.flip")
    hand.put(100, 20)
    hand.put(100, 90)
    corners = sorted(tuple(c) for c in hand.local(zone)[:3])
    assert corners == [
        (near(120), near(40)), (near(160), near(40)), (near(160), near(80)),
    ]  # fmt: skip


def test_lining_trees_up_on_a_line(land, hand, near):
    trees = [hand.draw("tree", spot) for spot in ((40, 48), (70, 55), (100, 45))]
    hand.pick((40, 48), (70, 55), (100, 45))
    assert land.bench.selection == set(trees)
    hand.act("tool.line_up")
    hand.put(30, 60)
    hand.put(120, 60)
    for tree, x in zip(trees, (40, 70, 100), strict=True):
        assert hand.local(tree) == [[near(x), near(60)]]


def test_drawing_beside_at_a_typed_distance(land, hand):
    hand.draw("fence", (40, 60), (120, 60))
    hand.act("tool.beside")
    # The pointer tells the side, the keys how far.
    hand.put_pointer(80, 90)
    hand.say("12.5")
    first, second = (f.geometry for f in land.bench.plan.of_kind("fence"))
    assert first.distance(second) == pytest.approx(12.5)
    assert second.centroid.y > first.centroid.y
    assert second.length == pytest.approx(first.length)


def test_trees_are_repeated_along_a_line(land, hand):
    hand.act("tool.repeat_line")
    hand.put(40, 100)
    hand.put(140, 100)
    hand.key(KEY.Key_Return)
    hand.say("6x")
    hand.key(KEY.Key_Return)
    trees = [t.geometry for t in land.bench.plan.of_kind("tree")]
    assert len(trees) == 6
    length = trees[0].distance(trees[-1])
    gaps = [a.distance(b) for a, b in pairwise(trees)]
    assert gaps == [pytest.approx(length / 5)] * 5
    hand.act("edit.undo")
    assert not land.bench.plan.of_kind("tree")


def test_what_is_selected_is_repeated_in_an_area(land, hand):
    hand.draw("tank", (150, 150))
    hand.pick((150, 150))
    hand.act("tool.repeat_area")
    for spot in SQUARE:
        hand.put(*spot)
    hand.key(KEY.Key_Return)
    hand.say("10")
    hand.key(KEY.Key_Return)
    hand.settle()
    made = land.bench.plan.of_kind("tank")[1:]
    # Equilateral rows 10 m apart hold 1 plant to 86.6 m²; edges add or take a few.
    assert 12 <= len(made) <= 27
    area = shapely.box(40, 40, 80, 80).buffer(2)
    assert all(area.contains(shapely.Point(hand.local(t.id)[0])) for t in made)
    nearest = min(a.geometry.distance(b.geometry) for a in made for b in made if a is not b)
    assert nearest == pytest.approx(10.0, abs=0.01)


def test_moving_by_drag_by_typing_and_by_the_tool(land, hand, near):
    tree = hand.draw("tree", (60, 60))
    hand.pick((60, 60))
    hand.drag((60, 60), (90, 70))
    assert hand.local(tree) == [[near(90), near(70)]]
    x, y = hand.local(tree)[0]
    hand.say("3 E, 2 S")
    assert hand.local(tree) == [pytest.approx([x + 3, y - 2])]
    hand.act("tool.move")
    hand.say("12.5 at 90")
    assert hand.local(tree) == [pytest.approx([x + 15.5, y - 2])]
    for _ in range(3):
        hand.act("edit.undo")
    assert hand.local(tree) == [[near(60), near(60)]]


def test_a_copy_is_carried_and_the_first_stays(land, hand, near):
    first = hand.draw("building", (40, 40), (60, 40), (60, 50))
    hand.pick((50, 45))
    hand.act("tool.copy")
    hand.drag((50, 45), (110, 95), Qt.KeyboardModifier.AltModifier)
    one, two = land.bench.plan.of_kind("building")
    assert one.id == first
    assert two.geometry.area == pytest.approx(one.geometry.area)
    assert two.geometry.centroid.x - one.geometry.centroid.x == near(60)
    assert two.geometry.centroid.y - one.geometry.centroid.y == near(50)


def test_corners_are_moved_added_and_taken_out(land, hand, near):
    zone = hand.draw("zone", *SQUARE)
    hand.pick((60, 60))
    hand.act("tool.reshape")
    hand.drag((80, 80), (100, 95), Qt.KeyboardModifier.AltModifier)
    assert [near(100), near(95)] in hand.local(zone)
    # The middle of the south edge becomes a corner when it is dragged.
    hand.drag((60, 40), (60, 20), Qt.KeyboardModifier.AltModifier)
    assert len(hand.local(zone)) == 6
    assert [near(60), near(20)] in hand.local(zone)
    hand.put(60, 20)
    hand.key(KEY.Key_Delete)
    assert len(hand.local(zone)) == 5
    hand.put(40, 40)
    hand.say("5 E, 5 N")
    assert [near(45), near(45)] in hand.local(zone)


def test_deleting_and_taking_it_back(land, hand):
    tree = hand.draw("tree", (60, 60))
    zone = hand.draw("zone", *SQUARE)
    hand.pick((60, 60))
    hand.act("edit.delete")
    assert tree not in land.bench.plan
    assert zone in land.bench.plan
    hand.act("edit.undo")
    assert tree in land.bench.plan
    hand.act("edit.redo")
    assert tree not in land.bench.plan


def test_a_box_inside_a_zone_leaves_the_zone_and_the_boundary(land, hand):
    zone = hand.draw("zone", *SQUARE)
    tree = hand.draw("tree", (60, 60))
    hand.act("select.none")
    hand.drag((52, 52), (68, 68))
    assert land.bench.selection == {tree}
    hand.key(KEY.Key_Delete)
    assert tree not in land.bench.plan
    assert zone in land.bench.plan
    assert len(land.bench.plan.of_kind("site_boundary")) == 1
