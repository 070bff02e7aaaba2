"""Drawing by pointer, by typing, and by both."""

from __future__ import annotations

import numpy as np
import pytest
from hands import local, make

from canvas.base.errors import BadData
from canvas.base.grid import Grid
from canvas.site.records import element_kinds
from canvas.tools.draw import DrawTool
from canvas.tools.placings import placing, placings
from made import EAST, NORTH, plane


def last_words(tool) -> str:
    return tool.ghost().labels[-1].words


@pytest.mark.parametrize("key", sorted(element_kinds()))
def test_every_kind_can_be_drawn(empty, key):
    tool = DrawTool(empty.world, key)
    for x, y in ((10, 10), (60, 12), (40, 70)):
        empty.click(tool, x, y)
    empty.key(tool, "enter")
    found = empty.elements(key)
    assert len(found) == (3 if element_kinds()[key].geometry == "Point" else 1)
    assert len(empty.edits) == len(found)
    assert empty.edits[0].label == f"Draw {element_kinds()[key].label.lower()}"


def test_the_plan_is_untouched_until_the_stroke_ends(empty):
    tool = DrawTool(empty.world, "track")
    before = empty.world.plan
    empty.click(tool, 0, 0)
    empty.click(tool, 20, 0)
    assert empty.world.plan is before
    assert tool.busy
    ghost = tool.ghost()
    assert ghost.elements[0].geometry.length == pytest.approx(20.0)
    edit = empty.key(tool, "enter")
    assert edit is not None
    assert edit.changes[0].id == ghost.elements[0].id
    assert not tool.busy


def test_typed_length_follows_the_pointer(empty):
    tool = DrawTool(empty.world, "fence")
    empty.click(tool, 0, 0)
    tool.move(empty.at(7, 0))
    empty.type(tool, "12.5")
    empty.type(tool, "10 at 0")
    empty.type(tool, "3; -4")
    empty.key(tool, "enter")
    assert local(empty.elements("fence")[0]).tolist() == [[0, 0], [12.5, 0], [12.5, 10], [15.5, 6]]


def test_typed_bearing_is_kept_until_the_next_point(empty):
    tool = DrawTool(empty.world, "fence")
    empty.click(tool, 0, 0)
    empty.type(tool, "90°")
    tool.move(empty.at(20, 9))
    assert tool.here == pytest.approx((EAST + 20, NORTH))
    empty.click(tool, 20, 9)
    empty.click(tool, 20, 30)
    empty.key(tool, "enter")
    assert local(empty.elements("fence")[0]).tolist() == [[0, 0], [20, 0], [20, 30]]


def test_typed_positions_start_a_stroke(empty):
    tool = DrawTool(empty.world, "tree")
    empty.type(tool, f"E {EAST + 5} N {NORTH + 6}")
    assert local(empty.elements("tree")[0]).tolist() == [[5, 6]]


def test_backspace_and_escape(empty):
    tool = DrawTool(empty.world, "track")
    for x in (0, 10, 20):
        empty.click(tool, x, 0)
    empty.key(tool, "backspace")
    assert len(tool.points) == 2
    empty.key(tool, "escape")
    assert not tool.busy
    assert not empty.edits


def test_too_few_points_are_refused_and_kept(empty):
    tool = DrawTool(empty.world, "zone")
    empty.click(tool, 0, 0)
    empty.click(tool, 10, 0)
    with pytest.raises(BadData, match="3 points are needed"):
        tool.key_press("enter")
    assert len(tool.points) == 2


def test_a_crossed_outline_is_said_and_kept(empty):
    tool = DrawTool(empty.world, "zone")
    for x, y in ((0, 0), (30, 30), (30, 0), (0, 30)):
        empty.click(tool, x, y)
    assert "crosses itself" in last_words(tool)
    assert tool.ghost().elements == ()
    with pytest.raises(BadData):
        tool.key_press("enter")
    assert len(tool.points) == 4


def test_closing_on_the_first_point_ends_the_stroke(empty):
    zone = DrawTool(empty.world, "zone")
    for x, y in ((0, 0), (30, 0), (30, 30), (0.3, 0.2)):
        empty.click(zone, x, y)
    assert len(local(empty.elements("zone")[0])) == 4
    ring = DrawTool(empty.world, "firebreak")
    for x, y in ((100, 100), (130, 100), (130, 130), (100.2, 100.1)):
        empty.click(ring, x, y)
    assert empty.elements("firebreak")[0].geometry.is_ring


def test_double_click_ends_without_another_point(empty):
    tool = DrawTool(empty.world, "track")
    empty.click(tool, 0, 0)
    empty.click(tool, 25, 0)
    empty.take(tool.double(empty.at(25, 0)))
    assert len(local(empty.elements("track")[0])) == 2


def test_quick_clicks_each_plant_a_tree(empty):
    tool = DrawTool(empty.world, "tree")
    empty.click(tool, 0, 0)
    empty.take(tool.double(empty.at(0.5, 0.5)))
    assert len(empty.elements("tree")) == 2


def test_shift_keeps_to_whole_steps_of_bearing(empty):
    tool = DrawTool(empty.world, "track")
    empty.click(tool, 0, 0)
    tool.move(empty.at(20, 1, shift=True))
    assert tool.here == pytest.approx((EAST + 20, NORTH))


def test_labels_tell_length_bearing_total_and_area(empty):
    tool = DrawTool(empty.world, "zone")
    empty.click(tool, 0, 0)
    empty.click(tool, 30, 0)
    tool.move(empty.at(30, 40))
    words = last_words(tool)
    assert "40.00\N{NO-BREAK SPACE}m · 0.0°" in words
    assert "in all 70.00" in words
    assert "area 600\N{NO-BREAK SPACE}m²" in words


def test_labels_tell_the_grade_of_the_ground(hand):
    made = hand(grid=plane(slope_east=0.08, slope_north=0.0))
    tool = DrawTool(made.world, "track")
    made.click(tool, 50, 50)
    tool.move(made.at(75, 50))
    assert "8.0\N{NO-BREAK SPACE}% up" in last_words(tool)
    tool.move(made.at(25, 50))
    assert "8.0\N{NO-BREAK SPACE}% down" in last_words(tool)
    tool.move(made.at(50, 75))
    assert "level" in last_words(tool)


def test_fall_finds_the_point_on_the_ground(hand):
    """On a plane rising 10 % north, a line 20 m long that falls 1 m runs 30° below the level."""
    made = hand(grid=plane(slope_north=0.10))
    tool = DrawTool(made.world, "watercourse")
    made.click(tool, 100, 100)
    tool.move(made.at(120, 99))
    made.type(tool, "20 fall 1")
    x, y = np.array(tool.points[-1]) - (EAST, NORTH)
    assert (x, y) == pytest.approx((100 + 20 * np.cos(np.radians(30)), 90.0), abs=0.01)
    made.type(tool, "20 fall 0%")
    assert tool.points[-1][1] == pytest.approx(tool.points[-2][1], abs=0.01)
    made.type(tool, "180° fall 2")
    assert tool.points[-1][1] - tool.points[-2][1] == pytest.approx(-20.0, abs=0.01)


def test_fall_says_when_it_cannot(hand):
    flat = hand(grid=Grid(np.full((200, 200), 50.0), EAST, NORTH + 200, 1.0))
    tool = DrawTool(flat.world, "track")
    flat.click(tool, 100, 100)
    tool.move(flat.at(120, 100))
    with pytest.raises(BadData, match="Nowhere"):
        tool.typed("20 fall 1")
    with pytest.raises(BadData, match="doesn't reach"):
        tool.typed("fall 1")
    with pytest.raises(BadData, match="percent"):
        tool.typed("90° fall 1%")


def test_fall_without_ground(empty):
    tool = DrawTool(empty.world, "track")
    empty.click(tool, 0, 0)
    with pytest.raises(BadData, match="no ground heights"):
        tool.typed("20 fall 1")


@pytest.mark.parametrize(
    ("words", "match"),
    [("0", "nothing"), ("12.5", "Which way"), ("rubbish", "not a length")],
)
def test_bad_typing_keeps_the_stroke(empty, words, match):
    tool = DrawTool(empty.world, "track")
    empty.click(tool, 0, 0)
    with pytest.raises(BadData, match=match):
        tool.typed(words)
    assert len(tool.points) == 1


def test_typing_a_length_needs_a_first_point(empty):
    with pytest.raises(BadData, match="no first point"):
        DrawTool(empty.world, "track").typed("12")


def test_new_elements_take_the_values_at_hand(empty):
    empty.world.new_values["tree"] = {"species": "Quercus robur", "status": "existing"}
    empty.click(DrawTool(empty.world, "tree", {"crown_m": 7.0}), 5, 5)
    tree = empty.elements("tree")[0]
    assert (tree.species, tree.status, tree.crown_m) == ("Quercus robur", "existing", 7.0)


def test_a_building_by_side_and_depth(empty):
    tool = placing(empty.world, "building")
    empty.click(tool, 10, 10)
    tool.move(empty.at(20, 10))
    empty.type(tool, "14 at 90")
    tool.move(empty.at(20, 30))
    assert "14.00" in last_words(tool)
    empty.type(tool, "8")
    assert local(empty.elements("building")[0]).tolist() == [
        [10, 10], [24, 10], [24, 18], [10, 18], [10, 10],
    ]  # fmt: skip
    assert empty.elements("building")[0].geometry.area == pytest.approx(112.0)


def test_a_building_needs_depth(empty):
    tool = placing(empty.world, "building")
    empty.click(tool, 10, 10)
    empty.click(tool, 24, 10)
    with pytest.raises(BadData, match="depth"):
        tool.press(empty.at(40, 10))
    empty.click(tool, 17, 4)
    assert empty.elements("building")[0].geometry.area == pytest.approx(14 * 6)


def test_belt_around_a_building(hand):
    """A belt 4 m wide, clear of the walls by 10 m: its middle line runs 12 m off."""
    house = make("building", (50, 50), (60, 50), (60, 58), (50, 58))
    made = hand(house)
    tool = placing(made.world, "firebreak", "belt_around")
    made.click(tool, 55, 54)
    assert made.world.selection == {house.id}
    tool.move(made.at(80, 54))
    assert tool.ghost().elements
    made.type(tool, "10")
    belt = made.elements("firebreak")[0]
    assert belt.geometry.is_ring
    assert belt.geometry.distance(house.geometry) == pytest.approx(12.0)
    # A belt rings its house wherever the pointer was left, within the walls too.
    tool = placing(made.world, "firebreak", "belt_around")
    made.world.selection = frozenset({house.id})
    tool.move(made.at(55, 54))
    made.type(tool, "10")
    assert made.elements("firebreak")[1].geometry.distance(house.geometry) == pytest.approx(12.0)


def test_every_kind_has_a_placing_that_starts(empty):
    for key in element_kinds():
        for found in placings(key):
            tool = found.make(empty.world, {})
            assert tool.prompt
            assert not tool.busy
    with pytest.raises(BadData):
        placing(empty.world, "tree", "belt_around")
