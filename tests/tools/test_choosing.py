"""Choosing, moving and reshaping with the empty hand; selecting without pointing."""

from __future__ import annotations

import pytest
from hands import local, make

from canvas.base.errors import BadData
from canvas.tools import selecting
from canvas.tools.index import MapIndex
from canvas.tools.select import SelectTool
from canvas.tools.transform import move_edit
from made import EAST, NORTH


@pytest.fixture
def yard(hand):
    zone = make("zone", (0, 0), (60, 0), (60, 60), (0, 60), name="Yard")
    shed = make("building", (20, 20), (30, 20), (30, 26), (20, 26), name="Shed")
    tree = make("tree", (40, 40), name="Oak")
    fence = make("fence", (0, 50), (60, 50))
    made = hand(zone, shed, tree, fence)
    made.zone, made.shed, made.tree, made.fence = zone, shed, tree, fence
    made.tool = SelectTool(made.world)
    return made


def test_click_takes_the_smallest_thing_there(yard):
    yard.click(yard.tool, 25, 23)
    assert yard.world.selection == {yard.shed.id}
    yard.click(yard.tool, 40.3, 40)
    assert yard.world.selection == {yard.tree.id}
    yard.click(yard.tool, 10, 50.4)
    assert yard.world.selection == {yard.fence.id}
    yard.click(yard.tool, 10, 10)
    assert yard.world.selection == {yard.zone.id}
    yard.click(yard.tool, 90, 90)
    assert yard.world.selection == frozenset()


def test_clicking_again_takes_what_lies_beneath(yard):
    yard.click(yard.tool, 25, 23)
    yard.click(yard.tool, 25, 23)
    assert yard.world.selection == {yard.zone.id}
    yard.click(yard.tool, 25, 23)
    assert yard.world.selection == {yard.shed.id}


def test_shift_adds_and_ctrl_switches(yard):
    yard.click(yard.tool, 25, 23)
    yard.click(yard.tool, 40, 40, shift=True)
    assert yard.world.selection == {yard.shed.id, yard.tree.id}
    yard.click(yard.tool, 25, 23, ctrl=True)
    assert yard.world.selection == {yard.tree.id}


def test_a_box_takes_what_it_touches_either_way(yard):
    for start, end in (((70, 45), (35, 38)), ((35, 38), (70, 45))):
        yard.drag(yard.tool, start, end)
        assert yard.world.selection == {yard.tree.id, yard.zone.id}
    yard.drag(yard.tool, (70, 52), (55, 48), shift=True)
    assert yard.world.selection == {yard.tree.id, yard.zone.id, yard.fence.id}


def test_a_box_takes_an_area_only_by_its_outline_or_whole(yard):
    yard.drag(yard.tool, (15, 15), (45, 45))
    assert yard.world.selection == {yard.shed.id, yard.tree.id}
    yard.tool.key_press("escape")
    yard.drag(yard.tool, (5, 5), (12, 12))
    assert yard.world.selection == frozenset()
    yard.drag(yard.tool, (-5, 5), (12, 12))
    assert yard.world.selection == {yard.zone.id}
    yard.drag(yard.tool, (-5, -5), (65, 65))
    assert len(yard.world.selection) == 4


def test_the_box_shows_while_it_is_drawn(yard):
    yard.tool.press(yard.at(70, 45))
    yard.tool.move(yard.at(35, 38))
    assert [shape.look for shape in yard.tool.ghost().shapes] == ["box"]
    yard.tool.release(yard.at(35, 38))
    assert all(shape.look != "box" for shape in yard.tool.ghost().shapes)


def test_dragging_what_is_chosen_moves_it_once(yard):
    yard.click(yard.tool, 25, 23)
    edit = yard.drag(yard.tool, (25, 23), (28.3, 29.1), alt=True)
    assert edit is not None
    assert edit.label == "Move Shed"
    assert len(yard.edits) == 1
    assert local(yard.elements("building")[0])[0].tolist() == [23.3, 26.1]


def test_dragging_what_is_not_chosen_moves_nothing(yard):
    yard.drag(yard.tool, (25, 23), (27, 24))
    assert not yard.edits
    assert yard.world.selection == frozenset()


def test_a_drag_there_and_back_changes_nothing(yard):
    yard.click(yard.tool, 25, 23)
    yard.tool.press(yard.at(25, 23))
    yard.tool.move(yard.at(35, 33))
    assert yard.take(yard.tool.release(yard.at(25, 23.1))) is None
    assert not yard.tool.busy
    assert not yard.edits


def test_moving_carries_a_corner_onto_a_corner(yard):
    yard.click(yard.tool, 25, 20.05)
    yard.click(yard.tool, 25, 23)
    yard.world.selection = frozenset({yard.tree.id})
    yard.drag(yard.tool, (40.2, 40.1), (60.4, 59.7))
    assert local(yard.elements("tree")[0]).tolist() == [[60, 60]]


def test_dragging_a_corner_reshapes(yard):
    yard.click(yard.tool, 25, 23)
    edit = yard.drag(yard.tool, (30, 26), (33, 30), alt=True)
    assert edit is not None
    assert edit.label == "Reshape Shed"
    assert [33.0, 30.0] in local(yard.elements("building")[0]).tolist()
    assert len(local(yard.elements("building")[0])) == 5


def test_dragging_a_middle_puts_a_corner_in(yard):
    yard.click(yard.tool, 25, 23)
    yard.drag(yard.tool, (25, 26), (25, 31), alt=True)
    outline = local(yard.elements("building")[0])
    assert len(outline) == 6
    assert [25.0, 31.0] in outline.tolist()


def test_a_chosen_corner_takes_typing_and_deleting(yard):
    yard.click(yard.tool, 25, 23)
    yard.click(yard.tool, 30, 26)
    assert yard.tool.busy
    yard.type(yard.tool, "2; 1")
    assert [32.0, 27.0] in local(yard.elements("building")[0]).tolist()
    yard.click(yard.tool, 32, 27)
    yard.key(yard.tool, "delete")
    assert len(local(yard.elements("building")[0])) == 4
    assert len(yard.elements("building")) == 1
    yard.click(yard.tool, 20, 20)
    with pytest.raises(BadData, match="every corner"):
        yard.tool.key_press("delete")


def test_a_reshape_that_crosses_itself_is_refused(yard):
    yard.click(yard.tool, 25, 23)
    yard.tool.press(yard.at(30, 26))
    yard.tool.move(yard.at(25, 10, alt=True))
    assert yard.tool.ghost().elements == ()
    with pytest.raises(BadData):
        yard.tool.release(yard.at(25, 10))
    assert not yard.tool.busy
    assert not yard.edits


def test_the_first_corner_of_an_outline_stays_closed(yard):
    yard.click(yard.tool, 25, 23)
    yard.drag(yard.tool, (20, 20), (18, 17), alt=True)
    outline = local(yard.elements("building")[0])
    assert outline[0].tolist() == outline[-1].tolist() == [18, 17]


def test_typing_moves_the_selection(yard):
    yard.click(yard.tool, 40, 40)
    yard.type(yard.tool, "3; -2")
    yard.type(yard.tool, "10 at 90")
    assert local(yard.elements("tree")[0]).tolist() == [[53, 38]]
    yard.type(yard.tool, f"{EAST + 1} {NORTH + 2}")
    assert local(yard.elements("tree")[0]).tolist() == [[1, 2]]


def test_delete_and_escape(yard):
    yard.click(yard.tool, 25, 23)
    yard.key(yard.tool, "delete")
    assert not yard.elements("building")
    assert yard.edits[0].label == "Delete Shed"
    yard.click(yard.tool, 40, 40)
    yard.key(yard.tool, "escape")
    assert yard.world.selection == frozenset()


def test_nudges_of_the_same_things_share_a_merge_key(yard):
    one = move_edit([yard.shed, yard.tree], 0.1, 0, nudge=True)
    two = move_edit([yard.tree, yard.shed], 0, 0.1, nudge=True)
    other = move_edit([yard.tree], 0, 0.1, nudge=True)
    assert one is not None
    assert two is not None
    assert other is not None
    assert one.merge_key == two.merge_key != other.merge_key
    assert move_edit([yard.shed], 3, 0).merge_key is None
    assert move_edit([yard.shed], 0, 0) is None


def test_hidden_things_cannot_be_chosen(yard):
    yard.world.shown = lambda item: item.name != "Shed"
    yard.world.refresh()
    yard.click(yard.tool, 25, 23)
    assert yard.world.selection == {yard.zone.id}


def test_selecting_without_pointing(yard):
    plan = yard.world.plan
    assert selecting.of_kind(plan, "tree", "fence") == {yard.tree.id, yard.fence.id}
    assert selecting.alike(plan, {yard.tree.id}) == {yard.tree.id}
    assert selecting.all_shown(MapIndex(plan)) == {item.id for item in plan.elements()}
    assert selecting.all_shown(MapIndex(plan, lambda item: item.id != yard.tree.id)) == {
        yard.zone.id, yard.shed.id, yard.fence.id,
    }  # fmt: skip


def test_choosing_one_after_another_comes_round(yard):
    view = (EAST - 10, NORTH - 10, EAST + 70, NORTH + 70)
    seen, selection = [], frozenset()
    for _ in range(4):
        item = selecting.next_one(yard.world.index, selection, view)
        selection = frozenset({item.id})
        seen.append(item.id)
    assert set(seen) == {yard.zone.id, yard.shed.id, yard.tree.id, yard.fence.id}
    assert selecting.next_one(yard.world.index, selection, view).id == seen[0]
    assert selecting.next_one(yard.world.index, frozenset({seen[0]}), view, back=True).id == seen[3]
    assert selecting.next_one(yard.world.index, selection, (0, 0, 1, 1)) is None


def test_findings_select_their_elements(hand):
    house = make("building", (50, 50), (60, 50), (60, 58), (50, 58))
    tree = make("tree", (61, 54), crown_m=6.0, height_m=8.0)
    made = hand(house, tree)
    findings = made.world.study.findings()
    found = selecting.with_findings(findings)
    failing = {ident for each in findings if each.failing for ident in each.elements}
    assert found == failing
    assert tree.id in found
