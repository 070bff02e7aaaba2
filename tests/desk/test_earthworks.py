"""Earthworks by hand: drawn, dragged with figures beside the pointer, balanced on the page."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QTableWidget

pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints|does not support")

YARD = ((80, 90), (110, 90), (110, 108), (80, 108))


def fact(desk, ident: str, key: str) -> float:
    return next(f.value for f in desk.bench.study.facts(ident) if f.key == key)


def plain(words: str) -> str:
    return words.replace("\xa0", " ").replace("\u202f", " ")


def test_a_platform_is_drawn_and_its_card_tells_level_and_earth(slope, hand):
    ident = hand.draw("platform", *YARD)
    level = fact(slope, ident, "level_m")
    # The plane stands at 100 + 0.2 × (50 + y); cut and fill meet a little above the middle.
    assert level == pytest.approx(100 + 0.2 * (50 + 99), abs=0.4)
    hand.pick((95, 99))
    assert slope.bench.selection == {ident}
    told = hand.words(slope.card)
    for part in ("Finished level", f"{level:.2f} m", "Cut", "Fill", "Topsoil stripped"):
        assert part in told, part
    hand.act("edit.undo")
    hand.settle()
    assert not slope.bench.plan.of_kind("platform")


def test_level_cut_and_fill_follow_the_mouse(slope, hand):
    ident = hand.draw("platform", *YARD)
    before = fact(slope, ident, "level_m")
    hand.pick((95, 99))
    place, left = slope.map, Qt.MouseButton.LeftButton
    start, end = hand.at(95, 99), hand.at(95, 129)
    QTest.mouseMove(place, start)
    QTest.mousePress(place, left, Qt.KeyboardModifier.NoModifier, start)
    for share in (0.3, 0.6, 1.0):
        QTest.mouseMove(place, start + QPoint(0, round((end - start).y() * share)))
        QApplication.processEvents()

    def told() -> None:
        words = plain(" ".join(place.previews.latest.told))
        assert "Finished level" in words
        assert "Cut" in words
        level = float(words.split("Finished level ")[1].split(" m")[0])
        # 30 m up a slope of one in five.
        assert level == pytest.approx(before + 6.0, abs=0.3)

    hand.qtbot.waitUntil(told, timeout=10_000)
    assert slope.bench.plan.element(ident).geometry.centroid.y == pytest.approx(
        hand.origin[1] + 99, abs=0.5
    )
    QTest.mouseRelease(place, left, Qt.KeyboardModifier.NoModifier, end)
    hand.settle()
    assert fact(slope, ident, "level_m") == pytest.approx(before + 6.0, abs=0.3)


def test_the_page_balances_a_pad_with_a_heap(slope, hand):
    hand.draw("platform", *YARD)
    page = hand.page("earth")
    hand.settle()
    hand.qtbot.waitUntil(lambda: page.findChildren(QTableWidget) != [], timeout=5000)
    assert "to take away" in plain(hand.words(page))
    tables = {t.accessibleName(): t for t in page.findChildren(QTableWidget) if t.isVisible()}
    earth = tables["Earth balance: All phases"]
    assert earth.item(0, 0).text() == "Topsoil"
    assert plain(earth.item(0, 3).text()) == "–"
    hand.draw("heap", (130, 90), (150, 90), (150, 106), (130, 106))
    hand.settle()

    def stored() -> None:
        grids = {t.accessibleName(): t for t in page.findChildren(QTableWidget) if t.isVisible()}
        assert "Heaps and borrow pits" in grids
        assert plain(grids["Earth balance: All phases"].item(0, 3).text()).endswith("m³")

    hand.qtbot.waitUntil(stored, timeout=5000)
    chart = page.chart
    assert chart.isVisible()
    assert "Topsoil off" in chart.accessibleDescription()


def test_terraces_and_a_borrow_pit_are_drawn_by_hand(slope, hand):
    steps = hand.draw("terraces", (60, 60), (120, 60))
    assert len(slope.bench.study.parts(steps)["edge"].geoms) == 3
    pit = hand.draw("borrow_pit", (140, 40), (160, 40), (160, 56), (140, 56))
    assert fact(slope, pit, "gives_m3") > 100


def test_the_stage_tells_what_is_still_to_be_shaped(slope, hand):
    stop = slope.strip.stops["earth"]
    hand.click(stop)
    assert slope.bench.stage == "earth"
    assert "Open: platforms" in stop.accessibleName()
    hand.draw("platform", *YARD)
    hand.qtbot.waitUntil(lambda: "Done: platforms" in stop.accessibleName(), timeout=5000)
