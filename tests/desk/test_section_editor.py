"""A track's design profile edited on the section page, by mouse and by keyboard."""

from __future__ import annotations

import pytest
from desk.hand import SOUTH, WEST
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from shapely import LineString

from canvas.base.quantity import show
from canvas.site.edits import add
from canvas.site.records import kind
from canvas.site.session import Session
from canvas.study.earth.ways import knees_of

pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints|does not support")

KEY, LEFT = Qt.Key, Qt.MouseButton.LeftButton
NONE, SHIFT, ALT = (
    Qt.KeyboardModifier.NoModifier,
    Qt.KeyboardModifier.ShiftModifier,
    Qt.KeyboardModifier.AltModifier,
)


def track(opened):
    return opened.bench.plan.element("way")


@pytest.fixture
def site(site):
    """The test site with a shaped track that climbs 10 % across the plane of 20 %, 160 m."""
    ends = [(WEST + 40, SOUTH + 20), (WEST + 40 + 138.564, SOUTH + 100)]
    rows = "0;114;\n80;122;20\n160;130;"
    way = kind("track").cls(
        geometry=LineString(ends), id="way", name="Way", forming="out", profile=rows
    )
    with Session.open(site) as session:
        session.apply(add("Draw", [way]))
    return site


@pytest.fixture
def page(opened, hand):
    """The section page on the shaped track."""
    hand.ask("Way")
    assert opened.bench.selection == {"way"}
    hand.act("page.section")
    hand.settle()
    found = opened.second.page
    hand.qtbot.waitUntil(lambda: found.chart.chart is not None, timeout=3000)
    return found


def plain(words: str) -> str:
    return words.replace("\xa0", " ").replace("\u202f", " ")


def pixel(page, station_m: float, level_m: float) -> QPoint:
    chart = page.chart
    return chart.spot(chart.chart, station_m, level_m).toPoint()


def drag(page, start: QPoint, end: QPoint, held=NONE) -> None:
    QTest.mouseMove(page.chart, start)
    QTest.mousePress(page.chart, LEFT, held, start)
    for share in (0.4, 0.8, 1.0):
        QTest.mouseMove(page.chart, start + (end - start) * share)
        QApplication.processEvents()
    assert page.chart.busy
    QTest.mouseRelease(page.chart, LEFT, held, end)


def test_the_editor_shows_the_profile_and_what_it_moves(page, hand):
    told = hand.words(page)
    assert "Way: 160.0 m, steepest 10.0 %" in told
    assert "none chosen" in told
    assert page.chart.hand.line.knees[1].curve_m == 20


def test_a_knee_is_dragged_and_let_go_as_one_edit(opened, page, hand):
    before = track(opened)
    start = pixel(page, 80, 122)
    drag(page, start, start + QPoint(0, -30))
    hand.settle()
    _, knee, _ = knees_of(track(opened))
    assert knee.level_m > 123
    assert knee.station_m == pytest.approx(80, abs=0.5)
    assert knee.curve_m == 20
    assert "Point 2 of 3" in hand.words(page)
    fill = next(f for f in opened.bench.study.facts("way") if f.key == "fill_m3")
    assert f"fill {plain(show(fill.value, 'm3', decimals=0))}" in hand.words(page)
    hand.act("edit.undo")
    hand.settle()
    assert track(opened) == before
    assert page.chart.hand.line.knees[1].level_m == 122


def test_figures_follow_while_the_knee_is_held(opened, page, hand):
    still = hand.words(page)
    start = pixel(page, 80, 122)
    QTest.mouseMove(page.chart, start)
    QTest.mousePress(page.chart, LEFT, NONE, start)
    QTest.mouseMove(page.chart, start + QPoint(0, -40))
    hand.qtbot.waitUntil(
        lambda: hand.words(page).split(";")[1] != still.split(";")[1], timeout=5000
    )
    assert "Way: 160.0 m" in hand.words(page)
    # Nothing is in the plan yet; Esc puts the point back.
    assert knees_of(track(opened))[1].level_m == 122
    QTest.keyClick(page.chart, KEY.Key_Escape)
    QTest.mouseRelease(page.chart, LEFT, NONE, start)
    hand.settle()
    assert knees_of(track(opened))[1].level_m == 122
    assert page.chart.hand.line.knees[1].level_m == 122


def test_a_knee_is_drawn_to_the_ground_unless_alt_is_held(opened, page, hand):
    # The plane stands at 100 + 0.2 (50 + y): the line's middle, y = 60, at 122 m.
    up = pixel(page, 80, 122) + QPoint(0, -25)
    drag(page, pixel(page, 80, 122), up)
    hand.settle()
    high = knees_of(track(opened))[1].level_m
    near = pixel(page, 80, 122) + QPoint(0, -5)
    drag(page, pixel(page, *_at(page)), near)
    hand.settle()
    assert high > 123
    assert knees_of(track(opened))[1].level_m == pytest.approx(122, abs=0.02)


def _at(page) -> tuple[float, float]:
    knee = page.chart.hand.line.knees[1]
    return knee.station_m, knee.level_m


def test_the_whole_editor_by_keyboard(opened, page, hand):
    hand.reach(page.chart)
    hand.key(KEY.Key_PageDown, KEY.Key_PageDown)
    assert page.chart.hand.chosen == 1
    hand.key(KEY.Key_Up)
    hand.settle()
    assert knees_of(track(opened))[1].level_m == pytest.approx(122.05)
    hand.key(KEY.Key_Right, held=SHIFT)
    hand.settle()
    assert knees_of(track(opened))[1].station_m == pytest.approx(90)
    hand.key(KEY.Key_Insert)
    hand.settle()
    assert len(knees_of(track(opened))) == 4
    assert page.chart.hand.chosen == 2
    hand.key(KEY.Key_G)
    hand.settle()
    added = knees_of(track(opened))[2]
    assert added.level_m == pytest.approx(114 + 0.1 * added.station_m, abs=0.02)
    hand.key(KEY.Key_Delete)
    hand.settle()
    assert len(knees_of(track(opened))) == 3
    assert opened.bench.plan.get("way") is not None


def test_enter_types_the_figures_of_the_chosen_knee(opened, page, hand):
    hand.reach(page.chart)
    hand.key(KEY.Key_PageDown, KEY.Key_PageDown, KEY.Key_Return)
    level = hand.named("Level", page)
    assert level.hasFocus()
    QTest.keyClicks(level, "123.5")
    QTest.keyClick(level, KEY.Key_Return)
    hand.settle()
    assert knees_of(track(opened))[1].level_m == 123.5
    grade = hand.named("Grade before", page)
    hand.type(grade, "9")
    QTest.keyClick(grade, KEY.Key_Return)
    hand.settle()
    assert knees_of(track(opened))[1].level_m == pytest.approx(114 + 0.09 * 80)
    curve = hand.named("Curve length", page)
    hand.type(curve, "30")
    QTest.keyClick(curve, KEY.Key_Return)
    hand.settle()
    assert knees_of(track(opened))[1].curve_m == 30
    station = hand.named("Station", page)
    hand.type(station, "400")
    QTest.keyClick(station, KEY.Key_Return)
    hand.settle()
    assert knees_of(track(opened))[1].station_m == 80


def test_suggestions_follow_the_ground_or_move_least_earth(opened, page, hand):
    start = pixel(page, 80, 122)
    drag(page, start, start + QPoint(0, -40), ALT)
    hand.settle()
    hand.click(hand.named("Least earth within", page))
    hand.settle()
    facts = {f.key: f.value for f in opened.bench.study.facts("way")}
    assert abs(facts["max_grade"]) <= 0.12 + 1e-6
    assert abs(facts["left_over_m3"]) <= 0.05 * (facts["cut_m3"] + facts["fill_m3"])
    hand.click(hand.named("Follow the ground", page))
    hand.settle()
    assert track(opened).profile == ""
    assert "follows the ground" in hand.words(page)


def test_a_track_along_the_ground_is_shaped_from_the_page(opened, hand):
    hand.pick((20, 60))
    hand.act("page.section")
    hand.settle()
    hand.click(hand.named("Shape this track", opened.second))
    hand.settle()
    # The drive climbs 20 m in 100: more than the steepest design grade.
    assert "Cannot be built so" in hand.words(opened.second)
    assert "steepest 20.0 %" in hand.words(opened.second)
    assert opened.bench.plan.element("drive").forming == "out"
    # It can be mended there and then: the straight line between its ends is in hand.
    chart = opened.second.page.chart
    hand.qtbot.waitUntil(lambda: chart.chart is not None, timeout=3000)
    assert [knee.level_m for knee in chart.hand.line.knees] == pytest.approx([114, 134], abs=0.05)
    hand.reach(chart)
    hand.key(KEY.Key_PageDown, KEY.Key_Insert)
    hand.settle()
    assert "cut" in hand.words(opened.second)
    assert len(knees_of(opened.bench.plan.element("drive"))) == 3
