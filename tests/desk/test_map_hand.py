"""The map by mouse and keyboard: drawing, typing, snapping, choosing, moving, reshaping."""

from __future__ import annotations

import pytest
from desk.hand import SOUTH, WEST, Held
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QContextMenuEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit, QMenu

# The screenless platform says so of windows, menus and file boxes.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints|does not support")
LEFT = Qt.MouseButton.LeftButton
KEY = Qt.Key
#: A click that is drawn to what lies near, as any click is.
SNAPS = Held.NoModifier


def count(desk, kind_key: str) -> int:
    return len(desk.bench.plan.of_kind(kind_key))


def last(desk, hand, kind_key: str) -> list[list[float]]:
    """Return the corners of the newest of a kind."""
    return hand.local(desk.bench.plan.of_kind(kind_key)[-1].id)


def test_draw_a_zone_from_nothing_by_mouse(desk, hand, tmp_path):
    hand.begin(tmp_path / "new")
    hand.send_guide_away()
    hand.act("draw.zone")
    for spot in (QPoint(300, 400), QPoint(600, 400), QPoint(600, 200)):
        QTest.mouseMove(desk.map, spot)
        QTest.mouseClick(desk.map, LEFT, pos=spot)
    hand.key(KEY.Key_Return)
    zone = desk.bench.plan.of_kind("zone")[0]
    expected = 300 * 200 / 2 * desk.map.camera.pixel_m**2
    assert zone.geometry.area == pytest.approx(expected, rel=0.03)
    assert desk.bench.selection == {zone.id}
    # What is drawn in full view stays where it was drawn.
    assert desk.map.screen_of(*zone.geometry.exterior.coords[0]).toPoint() == QPoint(300, 400)


def test_typed_lengths_while_drawing(opened, hand):
    hand.act("draw.fence")
    hand.put(40, 150, SNAPS)
    hand.put_pointer(60, 150)
    hand.say("12.5 at 90")
    hand.say("20at0")
    hand.say("3 E, 4 S")
    assert not opened.map.entry.isVisible()
    hand.key(KEY.Key_Return)
    assert count(opened, "fence") == 1
    start = last(opened, hand, "fence")[0]
    steps = [[x - start[0], y - start[1]] for x, y in last(opened, hand, "fence")]
    assert steps == [pytest.approx(p) for p in ([0, 0], [12.5, 0], [12.5, 20], [15.5, 16])]


def test_wrong_typing_is_said_and_can_be_mended(opened, hand):
    hand.act("draw.fence")
    hand.put(40, 150, SNAPS)
    hand.put_pointer(60, 150)
    hand.say("12 stone")
    entry = opened.map.entry
    assert entry.isVisible()
    assert entry.line.property("wrong") is True
    QTest.keyClicks(entry.line, "12 at 0")
    hand.key(KEY.Key_Return)
    assert not entry.isVisible()
    assert len(opened.bench.tool.points) == 2
    hand.say("4")
    hand.key(KEY.Key_Escape)
    assert not opened.bench.tool.points


def test_escape_leaves_step_by_step(opened, hand):
    hand.act("draw.track")
    hand.put(40, 150, SNAPS)
    hand.key(KEY.Key_4)
    assert opened.map.entry.isVisible()
    hand.key(KEY.Key_Escape)
    assert not opened.map.entry.isVisible()
    assert opened.bench.tool.busy
    hand.key(KEY.Key_Escape)
    assert not opened.bench.tool.busy
    hand.key(KEY.Key_Escape)
    assert opened.bench.tool is None


def test_a_snap_is_shown_and_taken(opened, hand):
    hand.act("draw.fence")
    near = hand.at(90, 90) + QPoint(4, 3)
    QTest.mouseMove(opened.map, near)
    assert opened.map.ghost().snap.words == "corner of House"
    QTest.mouseClick(opened.map, LEFT, pos=near)
    hand.put(60, 60, SNAPS)
    hand.key(KEY.Key_Return)
    assert last(opened, hand, "fence")[0] == [90, 90]


def test_alt_lets_the_pointer_go_free(opened, hand):
    hand.act("draw.tree")
    near = hand.at(90, 90) + QPoint(4, 3)
    QTest.mouseClick(opened.map, LEFT, Held.AltModifier, near)
    assert last(opened, hand, "tree") != [[90, 90]]


def test_contours_can_be_caught(opened, hand):
    assert opened.map.world.contours
    hand.act("snap.any")
    hand.act("snap.contour")
    assert opened.map.world.snaps == {"contour"}
    hand.act("draw.tree")
    # The plane rises one in five from 100 m at its south edge, 50 m south of the boundary.
    line = opened.map.world.contours[0]
    y = line.centroid.y - SOUTH
    hand.put(150, y + 2 * opened.map.camera.pixel_m, SNAPS)
    assert last(opened, hand, "tree")[0][1] == pytest.approx(y, abs=0.01)


def test_choose_by_click_box_and_modifiers(opened, hand):
    hand.put(96, 94, SNAPS)
    assert opened.bench.selection == {"house"}
    hand.put(120, 120, Held.ShiftModifier)
    assert opened.bench.selection == {"house", "well"}
    hand.put(96, 94, Held.ControlModifier)
    assert opened.bench.selection == {"well"}
    hand.drag((130, 130), (110, 110))
    assert opened.bench.selection == {"well", "septic"}
    hand.key(KEY.Key_Escape)
    assert opened.bench.selection == frozenset()


def test_a_drag_moves_and_undo_takes_it_back(opened, hand):
    before = last(opened, hand, "well")
    hand.put(120, 120, SNAPS)
    hand.drag((120, 120), (150, 140))
    assert last(opened, hand, "well")[0] == pytest.approx([150, 140], abs=0.5)
    assert opened.bench.session.undo_steps()[0].label == "Move Well"
    hand.act("edit.undo")
    assert last(opened, hand, "well") == before


def test_consequences_follow_the_pointer(opened, hand, qtbot):
    """The well stands 6 m from the septic tank: carried far away, the finding goes."""
    view, bench = opened.map, opened.bench
    assert any("well" in f.elements and f.failing for f in bench.study.findings())
    hand.put(120, 120, SNAPS)
    QTest.mousePress(view, LEFT, pos=hand.at(120, 120))
    QTest.mouseMove(view, hand.at(122, 121))
    QTest.mouseMove(view, hand.at(123, 121))
    qtbot.waitUntil(lambda: bool(view.previews.latest.findings), timeout=5000)
    QTest.mouseMove(view, hand.at(40, 40))
    qtbot.waitUntil(
        lambda: (
            bool(view.previews.latest.elements)
            and not any(
                {"well", "septic"} <= set(f.elements) for f in view.previews.latest.findings
            )
        ),
        timeout=5000,
    )
    assert bench.session.undo_steps()[0].label != "Move Well"
    QTest.mouseRelease(view, LEFT, pos=hand.at(40, 40))
    hand.settle()
    assert not any({"well", "septic"} <= set(f.elements) for f in bench.study.findings())
    qtbot.waitUntil(lambda: view.previews.latest.layers == (), timeout=5000)


def test_a_corner_is_dragged(opened, hand):
    hand.act("snap.any")
    hand.put(96, 94, SNAPS)
    hand.drag((102, 98), (110, 104))
    assert count(opened, "building") == 1
    assert any(
        corner == pytest.approx([110, 104], abs=0.5) for corner in last(opened, hand, "building")
    )


def test_delete_key_deletes_what_is_chosen(opened, hand):
    hand.put(126, 120, SNAPS)
    hand.key(KEY.Key_Delete)
    assert count(opened, "septic_tank") == 0


def test_nudges_are_one_step_until_something_else(opened, hand):
    hand.put(120, 120, SNAPS)
    steps = len(opened.bench.session.undo_steps())
    hand.key(KEY.Key_Right, KEY.Key_Right, KEY.Key_Up)
    assert len(opened.bench.session.undo_steps()) == steps + 1
    x, y = last(opened, hand, "well")[0]
    assert x - 120 == pytest.approx(2 * (y - 120))
    hand.put(126, 120, SNAPS)
    hand.put(x, y, SNAPS)
    hand.key(KEY.Key_Left)
    assert len(opened.bench.session.undo_steps()) == steps + 2


def test_typing_moves_what_is_chosen(opened, hand):
    hand.put(120, 120, SNAPS)
    hand.say("5; 2.5")
    assert last(opened, hand, "well") == [[125, 122.5]]


def test_draw_by_keyboard_alone(opened, hand):
    view = opened.map
    hand.act("snap.any")
    hand.act("draw.track")
    hand.key(KEY.Key_Right)
    assert view.cross is not None
    start = view.cross
    hand.key(KEY.Key_Space)
    hand.key(*[KEY.Key_Right] * 6, *[KEY.Key_Up] * 3)
    hand.key(KEY.Key_Up, held=Held.ShiftModifier)
    hand.key(KEY.Key_Space)
    hand.key(KEY.Key_Return)
    assert count(opened, "track") == 2
    drawn = last(opened, hand, "track")
    assert drawn[0] == pytest.approx([start[0] - WEST, start[1] - SOUTH], abs=1.0)
    step = view.camera.pixel_m
    assert drawn[1][0] - drawn[0][0] == pytest.approx(60 * step, abs=11 * step)
    hand.key(KEY.Key_Escape, KEY.Key_Escape)
    assert view.cross is None


def test_choose_and_move_by_keyboard_alone(opened, hand):
    hand.key(KEY.Key_PageDown)
    first = opened.bench.selection
    hand.key(KEY.Key_PageDown)
    assert len(first) == 1
    assert opened.bench.selection != first
    hand.key(KEY.Key_PageUp)
    assert opened.bench.selection == first
    for _ in range(6):
        if opened.bench.selection == {"well"}:
            break
        hand.key(KEY.Key_PageDown)
    assert opened.bench.selection == {"well"}
    hand.act("snap.any")
    hand.act("tool.move")
    hand.key(KEY.Key_Return)
    assert opened.map.cross is not None
    hand.key(KEY.Key_Space)
    hand.key(*[KEY.Key_Right] * 4)
    hand.key(KEY.Key_Space)
    expected = 120 + 40 * opened.map.camera.pixel_m
    assert last(opened, hand, "well")[0][0] == pytest.approx(expected, abs=1.0)


def test_a_building_by_side_and_depth_typed(opened, hand):
    hand.act("draw.building")
    hand.put(40, 150, SNAPS)
    hand.put_pointer(60, 150)
    hand.say("14 at 90")
    hand.put_pointer(50, 170)
    hand.say("8")
    assert opened.bench.plan.of_kind("building")[-1].geometry.area == pytest.approx(112.0)
    assert count(opened, "building") == 2


def test_trouble_is_told_and_the_stroke_kept(opened, hand):
    hand.act("draw.zone")
    for x, y in ((30, 140), (60, 170), (60, 140), (30, 170)):
        hand.put(x, y, SNAPS)
    hand.key(KEY.Key_Return)
    assert "crossing near" in hand.words(opened.toast)
    assert len(opened.bench.tool.points) == 4
    hand.key(KEY.Key_Backspace)
    hand.key(KEY.Key_Return)
    assert count(opened, "zone") == 1


def test_prompts_say_what_to_do(opened, hand):
    hand.act("draw.track")
    assert "first point" in hand.words(opened.prompt)
    hand.put(40, 150)
    assert "length" in hand.words(opened.prompt)


def test_a_double_click_opens_the_fields(opened, hand):
    spot = hand.at(96, 94)
    QTest.mouseClick(opened.map, LEFT, pos=spot)
    QTest.mouseDClick(opened.map, LEFT, pos=spot)
    QTest.mouseRelease(opened.map, LEFT, pos=spot)
    assert opened.bench.selection == {"house"}
    assert isinstance(hand.named("Wall height", opened.card), QLineEdit)


def right_click(desk, spot: QPoint) -> QMenu:
    """Ask for the menu at a pixel of the map; return the menu that comes."""
    why = QContextMenuEvent.Reason.Mouse
    event = QContextMenuEvent(why, spot, desk.map.mapToGlobal(spot))
    QApplication.sendEvent(desk.map, event)
    menu = QApplication.activePopupWidget()
    assert isinstance(menu, QMenu)
    return menu


def test_a_right_click_says_what_can_be_done_and_does_it(opened, hand):
    menu = right_click(opened, hand.at(96, 94))
    assert opened.bench.selection == {"house"}
    delete = next(a for a in menu.actions() if a.text() == "&Delete")
    hand.click(menu, menu.actionGeometry(delete).center())
    assert count(opened, "building") == 0
    hand.act("edit.undo")
    assert count(opened, "building") == 1
    menu = right_click(opened, hand.at(-6, 100))
    shown = [a.text() for a in menu.actions() if not a.isSeparator()]
    assert "&Delete" not in shown
    assert "&Fit everything" in shown
    hand.key(KEY.Key_Escape)
