"""Ask: one keystroke, type what you want."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from canvas.desk.ask import score

pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints")


@pytest.fixture
def ask(opened, hand):
    def type_and_enter(words: str) -> None:
        hand.keys(opened.map, "Ctrl+Space")
        assert opened.ask.isVisible()
        QTest.keyClicks(opened.ask.line, words)
        QTest.keyClick(opened.ask.line, Qt.Key.Key_Return)
        assert not opened.ask.isVisible()

    return type_and_enter


def test_an_action_is_found_by_its_name(opened, ask):
    ask("slope table")
    assert opened.leaf.key == "slopes"


def test_a_kind_to_draw_is_taken_in_hand(opened, ask):
    ask("firebreak")
    assert opened.held == "draw.firebreak"
    assert opened.bench.tool is not None


def test_an_element_is_found_by_its_name(opened, ask):
    ask("Drive")
    assert opened.bench.selection == {"drive"}


def test_a_finding_is_found_by_its_words(opened, ask):
    ask("waste water may reach")
    assert {"well", "septic"} <= opened.bench.selection


def test_a_grid_position_is_gone_to(opened, ask):
    ask("560150 5850050")
    west, south, east, north = opened.map.view_bounds()
    assert (west + east) / 2 == pytest.approx(560_150, abs=1)
    assert (south + north) / 2 == pytest.approx(5_850_050, abs=1)


def test_a_geographic_position_is_gone_to(opened, ask):
    from pyproj import Transformer

    # The same place through pyproj, from longitude and latitude.
    lon, lat = Transformer.from_crs(7854, 7844, always_xy=True).transform(560_100, 5_850_100)
    ask(f"{lon:.7f}, {lat:.7f}")
    west, south, east, north = opened.map.view_bounds()
    assert (west + east) / 2 == pytest.approx(560_100, abs=1)
    assert (south + north) / 2 == pytest.approx(5_850_100, abs=1)


def test_what_nothing_answers_to_is_said(opened, hand):
    hand.keys(opened.map, "Ctrl+Space")
    QTest.keyClicks(opened.ask.line, "zzzz qqqq")
    assert "Nothing answers" in opened.ask._hint.text()
    QTest.keyClick(opened.ask.line, Qt.Key.Key_Escape)
    assert not opened.ask.isVisible()


def test_the_arrow_keys_choose_another_answer(opened, hand):
    hand.keys(opened.map, "Ctrl+Space")
    QTest.keyClicks(opened.ask.line, "tree")
    first = opened.ask.list.currentRow()
    QTest.keyClick(opened.ask.line, Qt.Key.Key_Down)
    assert opened.ask.list.currentRow() == first + 1
    QTest.keyClick(opened.ask.line, Qt.Key.Key_Escape)


def test_the_title_counts_more_than_the_explanation():
    assert score("tree", "Tree", "") > score("tree", "Tree row", "")
    assert score("row", "Tree row", "") > score("row", "Arrow", "")
    assert score("tree", "Hedge", "shrubs or trees") > 0
    assert score("tree fence", "Tree", "") == 0
