"""The window's parts, by mouse and keyboard."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QKeySequence
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel, QToolButton

from canvas.desk.actions import Needs
from canvas.desk.pages.all import PAGES
from canvas.desk.stages import STAGES
from canvas.desk.strip import STOP_X
from canvas.site.session import Session

# The screenless platform says so of every window with a least size.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints|does not support")


def texts(widget):
    return [w.text() for w in widget.findChildren(QLabel) if w.isVisibleTo(widget)]


def test_first_run_offers_three_ways_to_begin(desk):
    assert desk.welcome.isVisible()
    assert [c.text() for c in desk.welcome.choices.values()] == [
        "Play with the sample", "Begin a site", "Open a site",
    ]  # fmt: skip
    assert not desk.strip.isVisible()
    assert desk.windowTitle() == "Hillwright"


def test_title_tells_when_the_last_edit_reached_the_disk(opened, hand):
    assert opened.windowTitle().startswith("Test hill · saved ")


@pytest.mark.parametrize("stage", STAGES, ids=lambda s: s.key)
def test_every_stage_is_reached_by_mouse(opened, hand, stage):
    if stage.key == opened.bench.stage:
        hand.keys(opened.map, "Ctrl+2")
    hand.click(opened.strip.stops[stage.key])
    assert opened.bench.stage == stage.key
    assert opened.ledge.isVisible()
    shown = [b.text().strip() for b in opened.ledge.findChildren(QToolButton) if b.isVisible()]
    wanted = [opened.actions_.records[k].title.replace("&", "").strip("…") for k in stage.actions]
    assert [s for s in shown if s] == wanted


def test_every_stage_is_reached_by_keyboard(opened, hand):
    for number, stage in enumerate(STAGES, start=1):
        hand.keys(opened.map, f"Ctrl+{number}")
        assert opened.bench.stage == stage.key


def test_a_stop_tells_how_far_the_stage_has_come(opened):
    words = opened.strip.stops["survey"].accessibleName()
    assert words.startswith("Survey. Done: boundary, ground. Open: aerial, what is there.")


def test_the_well_beside_the_septic_tank_counts_against_layout(opened):
    assert opened.strip.stops["layout"].findings >= 1
    assert opened.strip.stops["checks"].findings >= opened.strip.stops["layout"].findings


def test_the_ledge_folds_when_its_stop_is_pressed_again_and_opens_for_another(opened, hand):
    survey, layout = (opened.strip.stops[key] for key in ("survey", "layout"))
    assert opened.ledge.isVisible()
    hand.click(survey)
    assert not opened.ledge.isVisible()
    assert opened.bench.stage == "survey"
    hand.click(survey)
    assert opened.ledge.isVisible()
    hand.keys(opened.map, "Ctrl+B, T")
    assert not opened.ledge.isVisible()
    hand.click(layout)
    assert opened.ledge.isVisible()


@pytest.mark.parametrize(("width", "rows"), [(1280, 2), (1920, 2), (900, 3)])
def test_the_ledge_hangs_from_its_stop_and_wraps(opened, hand, width, rows):
    opened.resize(width, 800)
    for stage in STAGES:
        hand.keys(opened.map, f"Ctrl+{STAGES.index(stage) + 1}")
        QApplication.processEvents()
        ledge, stop = opened.ledge.geometry(), opened.strip.stops[stage.key]
        assert ledge.top() == 0
        assert opened.room.rect().contains(ledge)
        assert ledge.left() - 1 <= stop.x() + STOP_X <= ledge.right()
        shown = [b for b in opened.ledge.findChildren(QToolButton) if b.isVisible()]
        assert len({b.y() for b in shown}) <= rows
        # No name is cut.
        assert all(b.width() >= b.sizeHint().width() for b in shown)


def test_the_site_opens_whole_below_the_ledge(opened):
    for x, y in ((0, 0), (200, 0), (200, 200), (0, 200)):
        at = opened.map.screen_of(560_000.0 + x, 5_850_000.0 + y)
        assert opened.map.rect().adjusted(20, 0, -20, -8).contains(at.toPoint())
        assert at.y() > opened.ledge.geometry().bottom() + 8


def test_the_map_stays_the_larger_with_any_page_open(opened, hand):
    hand.pick((20, 60))
    for key in PAGES:
        if key == "measured":
            hand.act("measure.spot")
            hand.put(100, 100)
            hand.key(Qt.Key.Key_Escape)
        else:
            hand.page(key)
        hand.settle()
        assert opened.room.height() >= 400, key
        assert opened.room.height() > opened.sheet.height(), key
        hand.act("view.drawer")
    assert not opened.sheet.isVisible()


def test_a_section_stands_beside_the_page_that_is_open(opened, hand):
    hand.pick((20, 60))
    hand.page("schedule")
    hand.keys(opened.map, "Ctrl+M, S")
    assert (opened.leaf.key, opened.second.key) == ("schedule", "section")
    assert opened.leaf.mapTo(opened, QPoint()).y() == opened.second.mapTo(opened, QPoint()).y()


def test_readout_tells_position_height_slope_and_aspect_under_the_pointer(opened, hand, qtbot):
    # The hill is a plane of one in five rising north: 20 %, 11.3°, facing south, by construction.
    at = opened.map.screen_of(560_100.0, 5_850_100.0).toPoint()
    QTest.mouseMove(opened.map, at + QPoint(3, 3))
    QTest.mouseMove(opened.map, at)
    qtbot.waitUntil(lambda: "20" in opened.readout.slope.text(), timeout=3000)
    assert opened.readout.slope.text().replace("\xa0", " ") == "20 % · 11.3°"
    assert opened.readout.aspect.text() == "faces S"
    assert opened.readout.level.text().replace("\xa0", " ").endswith("± 0.1 m")
    assert "° S" in opened.readout.geographic.text()
    assert opened.readout.scale.text().startswith("1 : ")


def test_counts_of_findings_stand_at_the_end_of_the_strip(opened):
    study = opened.bench.study
    shown = sum(int(b.text()) for b in opened.standing.badges.values())
    assert shown == sum(1 for f in study.findings() if not f.waived)


def test_dark_and_light_are_turned_and_remembered(opened, hand, settings):
    hand.keys(opened.map, "Ctrl+Shift+D")
    assert opened.bench.theme == "dark"
    assert settings.theme == "dark"
    hand.keys(opened.map, "Ctrl+Shift+D")
    assert settings.theme == "light"


def test_a_site_opened_before_is_offered_again(opened, hand, site):
    hand.keys(opened.map, "Ctrl+W")
    assert opened.welcome.isVisible()
    assert opened.settings.recent() == [site]
    hand.click(hand.named(f"{site.name}    {site.parent}"))
    assert opened.bench.session is not None


def test_a_site_open_elsewhere_is_read_only_and_says_so(desk, hand, site):
    with Session.open(site):
        hand.open_site(site)
        assert desk.notice.isVisible()
        assert desk.notice.words.text().startswith("Read-only: ")
        assert desk.windowTitle() == "Test hill · read-only · Hillwright"
        assert not desk.actions_["draw.tree"].isEnabled()
        assert desk.actions_["page.findings"].isEnabled()


def test_opening_what_is_no_site_says_what_and_the_way_out(desk, hand, tmp_path):
    hand.file_box(lambda: hand.keys(desk, "Ctrl+O"), tmp_path)
    dialog = hand.dialog()
    words = " ".join(texts(dialog))
    assert "There is no site here." in words
    assert "What to do:" in words
    hand.click(hand.named("All right", dialog))
    assert desk.welcome.isVisible()


def test_every_action_has_a_title_a_tip_and_a_shortcut_of_its_own(desk):
    seen: dict[str, str] = {}
    for key, record in desk.actions_.records.items():
        assert record.title, key
        assert record.tip, key
        assert record.shortcut, key
        for words in (record.shortcut, *record.also):
            made = QKeySequence(words)
            assert not made.isEmpty(), (key, words)
            plain = made.toString()
            assert plain not in seen, f"{key} and {seen[plain]} share {plain}"
            seen[plain] = key
    # A shortcut of one stroke would swallow those of two that begin with it.
    for plain in seen:
        head, _, tail = plain.partition(", ")
        assert not tail or head not in seen, f"{plain} is hidden by {head}"


def test_every_action_stands_in_a_menu_once(desk):
    listed = [a for m in desk.menus.values() for a in m.actions() if not a.isSeparator()]
    for key in desk.actions_:
        assert listed.count(desk.actions_[key]) == 1, key


def test_actions_of_the_stages_exist(desk):
    for stage in STAGES:
        for key in stage.actions:
            assert key in desk.actions_.records, key


def test_without_a_site_only_what_needs_none_can_be_done(desk):
    for key, record in desk.actions_.records.items():
        assert desk.actions_[key].isEnabled() == (record.needs is Needs.NOTHING), key


def test_the_focus_can_walk_through_the_whole_window(opened, hand):
    seen = set()
    hand.reach(opened.map)
    for _ in range(80):
        QTest.keyClick(opened.focusWidget() or opened, Qt.Key.Key_Tab)
        seen.add(opened.focusWidget())
    assert set(opened.strip.stops.values()) & seen
    assert set(opened.standing.badges.values()) & seen
    names = [w.accessibleName() or getattr(w, "text", str)() for w in seen if w is not None]
    assert all(names), [str(w) for w in seen if w is not None and not w.accessibleName()]


def test_a_crash_is_written_down_and_told_once(desk, hand, tmp_path, monkeypatch, capsys):
    from canvas.desk import app

    monkeypatch.setattr(app, "log_file", lambda: tmp_path / "log" / "faults.log")
    hook = app.faults(desk)
    fault = ZeroDivisionError("made by the test")
    hook(ZeroDivisionError, fault, None)
    hook(ZeroDivisionError, fault, None)
    dialog = hand.dialog()
    words = " ".join(texts(dialog))
    assert "Nothing acknowledged was lost" in words
    assert str(tmp_path / "log" / "faults.log") in words
    assert Path(tmp_path / "log" / "faults.log").read_text().count("ZeroDivisionError") == 2
    hand.click(hand.named("Carry on", dialog))
    capsys.readouterr()


def test_every_stage_stands_whole_on_the_narrowest_window(opened, hand):
    opened.resize(1280, 800)
    hand.settle()
    for stop in opened.strip.stops.values():
        assert stop.width() >= stop.needed(), stop.stage.title


def test_the_sheet_is_read_standing_higher_and_comes_down_after_it(opened, hand):
    hand.page("findings")
    hand.settle()
    low = opened.rise.sizes()[1]
    hand.page("sheet")
    hand.settle()
    high = opened.rise.sizes()[1]
    assert high > low
    hand.page("findings")
    hand.settle()
    assert abs(opened.rise.sizes()[1] - low) <= 2
