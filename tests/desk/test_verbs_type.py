"""Typing, snapping, and drawing a building and a track without a mouse."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

# The screenless platform says so of windows, menus and file boxes.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints|does not support")
KEY = Qt.Key
FREE, SNAPS = Qt.KeyboardModifier.AltModifier, Qt.KeyboardModifier.NoModifier


def test_a_fence_of_typed_lengths(land, hand):
    hand.act("draw.fence")
    hand.put(40, 40)
    hand.say("12.5 at 90")
    hand.say("20 at N 0° E")
    hand.say("3 E, 4 S")
    hand.put_pointer(150, 150)
    hand.say("45°")
    hand.say("10, 180°")
    hand.key(KEY.Key_Return)
    corners = hand.local(land.bench.plan.of_kind("fence")[0].id)
    x, y = corners[0]
    steps = [[a - x, b - y] for a, b in corners]
    assert steps == [
        pytest.approx(p, abs=1e-5) for p in ([0, 0], [12.5, 0], [12.5, 20], [15.5, 16], [15.5, 6])
    ]


def test_two_bare_numbers_are_refused_and_can_be_mended(land, hand):
    hand.act("draw.fence")
    hand.put(40, 40)
    hand.say("100 90")
    assert land.map.entry.isVisible()
    assert "a step or a bearing and a distance" in hand.words(land.map.entry)
    hand.key(KEY.Key_Escape)
    hand.say("30 E")
    hand.key(KEY.Key_Return)
    (x0, y0), (x1, y1) = hand.local(land.bench.plan.of_kind("fence")[0].id)
    assert (x1 - x0, y1 - y0) == pytest.approx((30, 0))


def test_typed_positions_are_in_the_site_s_grid(land, hand):
    hand.act("draw.survey_mark")
    hand.key(KEY.Key_F4)
    hand.say("E 560050 N 5850060")
    assert hand.local(land.bench.plan.of_kind("survey_mark")[0].id) == [[50.0, 60.0]]


def test_snaps_catch_and_are_switched_off_and_on(land, hand):
    mark = hand.draw("survey_mark", (100, 100))
    home = hand.local(mark)[0]
    off = 5 * land.map.camera.pixel_m
    near = (home[0] + off, home[1] + off / 2)

    def fence() -> list[list[float]]:
        hand.act("draw.fence")
        hand.put(*near, SNAPS)
        hand.put(140, 60, FREE)
        hand.key(KEY.Key_Return)
        hand.key(KEY.Key_Escape)
        made = hand.local(land.bench.plan.of_kind("fence")[-1].id)
        hand.act("edit.undo")
        return made

    assert fence()[0] == home
    assert land.actions_["snap.point"].isChecked()
    hand.act("snap.point")
    assert not land.actions_["snap.point"].isChecked()
    assert fence()[0] != home
    hand.act("snap.point")
    assert fence()[0] == home
    hand.act("snap.any")
    assert not land.map.world.snaps
    assert fence()[0] != home
    hand.act("snap.any")
    assert fence()[0] == home


def test_snaps_are_switched_in_the_menu(land, hand):
    bar = land.menuBar()
    edit = next(a for a in bar.actions() if a.text() == "&Edit")
    hand.click(bar, bar.actionGeometry(edit).center())
    above = QApplication.activePopupWidget()
    # "Snap to", by the letter underlined in it.
    QTest.keyClick(above, KEY.Key_O)
    menu = QApplication.activePopupWidget()
    assert menu is not above
    listed = [a.text().replace("&", "") for a in menu.actions() if not a.isSeparator()]
    assert "Corners and points" in listed
    assert "Contours" in listed
    for _ in range(2):
        QTest.keyClick(menu, KEY.Key_Down)
    chosen = menu.activeAction()
    assert chosen is not None
    was = chosen.isChecked()
    QTest.keyClick(menu, KEY.Key_Return)
    assert chosen.isChecked() is not was


def test_a_building_and_a_track_without_a_mouse(desk, hand, tmp_path):
    """From nothing: begun, bounded, drawn, named and printed, with the keyboard alone."""
    hand.begin(tmp_path / "keys")
    hand.type_boundary()
    hand.act("snap.any")
    hand.act("draw.building")
    hand.key(KEY.Key_F4)
    hand.say("E 560060 N 5850060")
    hand.say("14 at 90")
    hand.key(*[KEY.Key_Down] * 3)
    hand.say("8")
    house = desk.bench.plan.of_kind("building")[0]
    assert house.geometry.area == pytest.approx(112.0)
    hand.key(KEY.Key_Escape, KEY.Key_Escape)
    hand.act("draw.track")
    hand.key(KEY.Key_Right)
    start = desk.map.cross
    hand.key(KEY.Key_Space)
    hand.key(*[KEY.Key_Right] * 5, *[KEY.Key_Up] * 3)
    hand.key(KEY.Key_Space)
    hand.say("25 at 90")
    hand.key(KEY.Key_Return)
    track = desk.bench.plan.of_kind("track")[0]
    corners = hand.local(track.id)
    step = desk.map.camera.pixel_m
    assert corners[0] == pytest.approx([start[0] - hand.origin[0], start[1] - hand.origin[1]])
    assert corners[1][0] - corners[0][0] == pytest.approx(50 * step, abs=step)
    assert corners[1][1] - corners[0][1] == pytest.approx(30 * step, abs=step)
    assert corners[2][0] - corners[1][0] == pytest.approx(25.0)
    hand.key(KEY.Key_Escape, KEY.Key_Escape, KEY.Key_Escape)
    seen = set()
    for _ in range(3):
        hand.key(KEY.Key_PageDown)
        seen |= desk.bench.selection
    assert {house.id, track.id} <= seen
