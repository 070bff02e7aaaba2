"""Making ground by hand: spot heights drawn and typed, ground made of them; a level book closed."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from canvas.site.facts import Ground
from canvas.site.levelling import LevelBook

# The screenless platform says so of windows, menus and file boxes.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints|does not support")
KEY = Qt.Key


def spot(desk, hand, x: float, y: float, height: str) -> None:
    """Put a spot height and type its figure on the card."""
    hand.draw("spot_height", (x, y))
    hand.pick((x, y))
    fill(desk, hand, "Height", height)


def fill(desk, hand, field: str, words: str) -> None:
    """Type into a field of the card of what is chosen."""
    hand.click(desk.card.sides[1])
    line = hand.named(field, desk.card)
    hand.type(line, words)
    QTest.keyClick(line, KEY.Key_Return)
    hand.settle()


def test_ground_is_made_of_heights_put_and_typed(land, hand, qtbot):
    for x, y, height in ((50, 50, "100"), (90, 50, "102"), (90, 80, "105"), (50, 80, "103")):
        spot(land, hand, x, y, height)
    assert [s.height_m for s in land.bench.plan.of_kind("spot_height")] == [100, 102, 105, 103]
    hand.act("in.heights")
    dialog = hand.dialog()
    hand.click(dialog.main)
    qtbot.waitUntil(lambda: "Heights used" in dialog.words.text(), timeout=15_000)
    hand.click(dialog.main)
    hand.settle()
    ground = next(g for g in land.bench.plan.of(Ground) if g.in_use)
    assert ground.name == "Measured heights"
    first = land.bench.plan.of_kind("spot_height")[0].geometry
    at = land.bench.study.terrain.height(first.x + 20, first.y + 15)
    # The four lie on a plane: 100 m, + 2 m over 40 m east, + 3 m over 30 m north.
    assert at == pytest.approx(100 + 1 + 1.5, abs=0.15)


def test_a_level_book_is_pasted_closed_and_carried(land, hand, qtbot):
    spot(land, hand, 60, 60, "90")
    hand.pick((60, 60))
    fill(land, hand, "Name", "Gate")
    hand.act("page.levels")
    page = hand.page("levels")
    hand.click(page.fresh)
    hand.settle()
    table = page.form.control("readings")
    hand.paste(
        table,
        "BM\t1,500\t\t\t40\t100\nGate\t\t1.000\t\t\t\nCP\t1.200\t\t0.800\t40\t\nBM\t\t\t1.897\t40\t100",
    )
    hand.settle()
    (book,) = land.bench.plan.of(LevelBook)
    assert book.readings.splitlines()[0] == "BM;1.5;;;40;100"
    told = [page.figures.item(row, 1).text() for row in range(page.figures.rowCount())]
    assert "yes" in told
    hand.click(page.carry)
    hand.settle()
    (gate,) = land.bench.plan.of_kind("spot_height")
    # 100 + 1.5 − 1.0, less its share of 3 mm.
    assert gate.height_m == pytest.approx(100.5, abs=0.005)
