"""Move, copy, turn, flip, split, join, line up, draw beside, repeat. Numbers by plane geometry."""

from __future__ import annotations

import numpy as np
import pytest
from hands import local, make

from canvas.base.errors import BadData
from canvas.tools.move import MoveTool, TurnTool
from canvas.tools.repeat import RepeatTool
from canvas.tools.rework import BesideTool, FlipTool, LineUpTool, SplitTool
from canvas.tools.reworking import beside, join_edit, side_of
from made import EAST, NORTH


def shed(**values):
    return make("building", (20, 20), (30, 20), (30, 26), (20, 26), **values)


def test_move_by_two_clicks_and_copies(hand):
    item = shed()
    made = hand(item, selected=(item,))
    tool = MoveTool(made.world, copies=True)
    made.click(tool, 20, 20)
    assert tool.busy
    made.click(tool, 60, 70)
    assert len(made.elements("building")) == 2
    assert local(made.elements("building")[1])[0].tolist() == [60, 70]
    assert made.elements("building")[0].id == item.id


def test_nothing_selected_is_said(empty):
    for tool in (MoveTool(empty.world), TurnTool(empty.world)):
        with pytest.raises(BadData, match="nothing is selected"):
            tool.press(empty.at(0, 0))


def test_turn_by_typing_and_by_dragging(hand):
    item = shed()
    made = hand(item, selected=(item,))
    tool = TurnTool(made.world)
    made.type(tool, "90")
    assert local(made.elements("building")[0])[0].tolist() == [22.0, 28.0]
    # Middle (25, 23): from due north of it to due east is a quarter turn clockwise.
    made.drag(tool, (25, 43), (45, 23), alt=True)
    assert local(made.elements("building")[0])[0].tolist() == [30.0, 26.0]


def test_turn_about_a_chosen_middle_in_whole_steps(hand):
    tree = make("tree", (10, 0))
    made = hand(tree, selected=(tree,))
    tool = TurnTool(made.world)
    made.click(tool, 0, 0, ctrl=True)
    made.drag(tool, (0, 10), (10.0, 0.6), shift=True, alt=True)
    assert local(made.elements("tree")[0]).tolist() == [[0.0, -10.0]]


def test_bearings_turn_and_flip_along(hand):
    gate = make("gate", (10, 10), bearing_deg=30.0)
    made = hand(gate, selected=(gate,))
    made.type(TurnTool(made.world), "45")
    assert made.elements("gate")[0].bearing_deg == pytest.approx(75.0)
    flip = FlipTool(made.world)
    made.click(flip, 0, 0)
    made.click(flip, 0, 50)
    gate = made.elements("gate")[0]
    assert gate.bearing_deg == pytest.approx(285.0)
    assert local(gate).tolist() == [[-10, 10]]


def test_flip_over_a_slanting_line(hand):
    tree = make("tree", (10, 0))
    made = hand(tree, selected=(tree,))
    tool = FlipTool(made.world, copies=True)
    made.click(tool, 0, 0, alt=True)
    made.click(tool, 30, 30, alt=True)
    assert [local(each).tolist() for each in made.elements("tree")] == [[[10, 0]], [[0, 10]]]


def test_split_an_area(hand):
    zone = make("zone", (0, 0), (60, 0), (60, 40), (0, 40), name="Field", intensity="3")
    made = hand(zone, selected=(zone,))
    tool = SplitTool(made.world)
    made.click(tool, 20, -5, alt=True)
    made.click(tool, 20, 45, alt=True)
    edit = made.key(tool, "enter")
    assert edit is not None
    assert edit.label == "Split Field"
    parts = made.elements("zone")
    assert sorted(part.geometry.area for part in parts) == pytest.approx([800.0, 1600.0])
    assert {part.intensity for part in parts} == {"3"}
    assert made.world.plan.element(zone.id).geometry.area == pytest.approx(1600.0)


def test_split_a_line_and_a_ring(hand):
    fence = make("fence", (0, 0), (60, 0))
    ring = make("firebreak", (10, -10), (50, -10), (50, 10), (10, 10), (10, -10))
    made = hand(fence, ring, selected=(fence, ring))
    tool = SplitTool(made.world)
    made.click(tool, 30, -20, alt=True)
    made.click(tool, 30, 20, alt=True)
    made.key(tool, "enter")
    assert [each.geometry.length for each in made.elements("fence")] == pytest.approx([30, 30])
    pieces = made.elements("firebreak")
    assert [each.geometry.length for each in pieces] == pytest.approx([60, 60])


def test_split_that_misses_is_said(hand):
    zone = make("zone", (0, 0), (60, 0), (60, 40), (0, 40))
    made = hand(zone, selected=(zone,))
    tool = SplitTool(made.world)
    made.click(tool, 20, 5, alt=True)
    made.click(tool, 20, 30, alt=True)
    with pytest.raises(BadData, match="doesn't cut"):
        tool.key_press("enter")
    assert len(tool.points) == 2


def test_join_lines_end_to_end_whichever_way_they_run(hand):
    one = make("fence", (0, 0), (10, 0))
    two = make("fence", (20, 10), (20, 0.5), (10, 0))
    three = make("fence", (20, 11), (40, 11))
    made = hand(one, two, three)
    edit = made.take(join_edit([one, two, three]))
    assert edit is not None
    found = made.elements("fence")
    assert len(found) == 1
    assert local(found[0])[[0, -1]].tolist() == [[0, 0], [40, 11]]
    assert found[0].id in {one.id, two.id, three.id}


def test_join_areas_that_touch(hand):
    one = make("zone", (0, 0), (10, 0), (10, 10), (0, 10))
    two = make("zone", (10, 0), (30, 0), (30, 10), (10, 10))
    made = hand(one, two)
    made.take(join_edit([one, two]))
    assert made.elements("zone")[0].geometry.area == pytest.approx(300.0)
    assert made.elements("zone")[0].id == two.id


def test_what_cannot_be_joined_is_said():
    zone = make("zone", (0, 0), (10, 0), (10, 10))
    far = make("zone", (50, 0), (60, 0), (60, 10))
    tree = make("tree", (0, 0))
    with pytest.raises(BadData, match="two or more"):
        join_edit([zone])
    with pytest.raises(BadData, match="touch"):
        join_edit([zone, far])
    with pytest.raises(BadData, match="can't become one"):
        join_edit([zone, tree])
    with pytest.raises(BadData, match="Points"):
        join_edit([tree, make("tree", (1, 1))])
    with pytest.raises(BadData, match=r"30\.00 m apart"):
        join_edit([make("fence", (0, 0), (10, 0)), make("fence", (40, 0), (50, 0))])


def test_line_up_and_evenly(hand):
    trees = [make("tree", (x, y)) for x, y in ((0, 1), (3, -2), (20, 1.5))]
    made = hand(*trees, selected=tuple(trees))
    tool = LineUpTool(made.world, evenly=True)
    made.click(tool, 0, 0, alt=True)
    made.click(tool, 50, 0, alt=True)
    assert [local(each).tolist() for each in made.elements("tree")] == [
        [[0, 0]], [[10, 0]], [[20, 0]],
    ]  # fmt: skip


def test_draw_beside_a_line_on_the_pointers_side(hand):
    fence = make("fence", (0, 0), (50, 0))
    made = hand(fence, selected=(fence,))
    tool = BesideTool(made.world)
    tool.move(made.at(25, -9))
    assert "9.00" in tool.ghost().labels[0].words
    made.type(tool, "4")
    assert local(made.elements("fence")[1])[:, 1].tolist() == [-4, -4]


def test_draw_another_kind_beside_an_outline(hand):
    edge = make("site_boundary", (0, 0), (100, 0), (100, 80), (0, 80))
    made = hand(edge, selected=(edge,))
    tool = BesideTool(made.world, "fence", {"fence": "deer"})
    tool.move(made.at(50, 10))
    made.type(tool, "1")
    fence = made.elements("fence")[0]
    assert fence.fence == "deer"
    assert fence.geometry.is_ring
    assert fence.geometry.length == pytest.approx(2 * (98 + 78))


def test_beside_says_when_nothing_is_left():
    zone = make("zone", (0, 0), (10, 0), (10, 10), (0, 10))
    with pytest.raises(BadData, match="Nothing whole"):
        beside(zone.geometry, -6.0)
    assert side_of(zone.geometry, (EAST + 5, NORTH + 3)) == (pytest.approx(3.0), -1.0)


def test_repeat_along_a_line(hand):
    tree = make("tree", (0, 0), species="Malus domestica")
    made = hand(tree, selected=(tree,))
    tool = RepeatTool(made.world, "LineString")
    made.click(tool, 10, 10, alt=True)
    made.click(tool, 40, 10, alt=True)
    made.key(tool, "enter")
    assert tool.busy
    made.type(tool, "6")
    assert "6 · 6.00" in tool.ghost().labels[0].words
    edit = made.key(tool, "enter")
    assert edit is not None
    assert edit.label == "Repeat tree 6 times"
    found = made.elements("tree")[1:]
    assert [local(each)[0, 0] for each in found] == [10, 16, 22, 28, 34, 40]
    assert {each.species for each in found} == {"Malus domestica"}
    assert len({each.id for each in found}) == 6


def test_repeat_by_count_reaches_both_ends(hand):
    made = hand()
    tool = RepeatTool(made.world, "LineString", "tree")
    made.click(tool, 0, 0)
    made.click(tool, 33, 0)
    made.key(tool, "enter")
    made.type(tool, "12x")
    made.key(tool, "enter")
    xs = [local(each)[0, 0] for each in made.elements("tree")]
    assert xs == pytest.approx(np.linspace(0, 33, 12).tolist(), abs=1e-3)


def test_repeat_in_an_area_stays_inside(hand):
    made = hand()
    tool = RepeatTool(made.world, "Polygon", "tree", {"crown_m": 4.0})
    for x, y in ((0, 0), (40, 0), (40, 30), (0, 30)):
        made.click(tool, x, y, alt=True)
    made.key(tool, "enter")
    made.type(tool, "4")
    made.type(tool, "0°")
    assert made.key(tool, "backspace") is None
    made.key(tool, "enter")
    made.key(tool, "enter")
    spots = np.vstack([local(each) for each in made.elements("tree")])
    assert (spots >= -1e-3).all()
    assert (spots <= (40 + 1e-3, 30 + 1e-3)).all()
    # A triangular pattern stands on 4 m x 3.46 m: 1200 m² hold about 87.
    assert 75 <= len(spots) <= 105
    apart = np.hypot(*(spots[:, None] - spots[None]).transpose(2, 0, 1))
    assert apart[apart > 0].min() == pytest.approx(4.0, abs=1e-3)


def test_repeat_says_what_is_wrong(hand):
    made = hand()
    with pytest.raises(BadData, match="select the one"):
        RepeatTool(made.world, "LineString").press(made.at(0, 0))
    tool = RepeatTool(made.world, "LineString", "tree")
    made.click(tool, 0, 0)
    made.click(tool, 33, 0)
    made.key(tool, "enter")
    with pytest.raises(BadData, match="more than nothing"):
        tool.typed("0")
    with pytest.raises(BadData, match="Two or more"):
        tool.typed("1x")
