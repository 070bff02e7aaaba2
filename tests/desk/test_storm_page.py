"""The storm's page by mouse and keyboard, on a plane that rises one in five to the north."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from canvas.site.storms import DesignStorm, RainRows

pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints|does not support")

TABLE = "duration;2;100\n30 min;14,5;36\n24 h;60;155"


def cells(table) -> list[list[str]]:
    return [
        [table.item(r, c).text().replace("\xa0", " ") for c in range(table.columnCount())]
        for r in range(table.rowCount())
    ]


@pytest.fixture
def stormy(slope, hand):
    """Two swales drawn across the slope, and the storm's page open beside them."""
    # A click traces the level line both ways: east and west on this plane.
    hand.draw("swale", (90, 140))
    hand.draw("swale", (90, 70))
    hand.settle()
    return slope


def test_rain_is_asked_for_then_typed_and_the_chain_runs(stormy, hand, qtbot):
    page = hand.page("storm")
    hand.settle()
    assert "no rain to design for" in hand.words(page)
    assert not page.table.isVisible()
    page.tiles.area.ensureWidgetVisible(page.form.control("depth_mm"))
    field = page.form.control("depth_mm")
    hand.reach(field)
    QTest.keyClicks(field, "120")
    QTest.keyClick(field, Qt.Key.Key_Return)
    hand.settle()
    storm = stormy.bench.plan.of(DesignStorm)[0]
    assert storm.depth_mm == 120.0
    qtbot.waitUntil(page.table.isVisible, timeout=10_000)
    found = cells(page.table)
    assert len(found) == 2
    assert {row[8].split(":")[0] for row in found} == {"sill"}
    assert any("(closes)" in row[1] for row in cells(page.books))
    # Undone, there is no rain again.
    hand.act("edit.undo")
    hand.settle()
    qtbot.waitUntil(lambda: not page.table.isVisible(), timeout=10_000)


def test_a_pasted_table_is_taken_with_decimal_commas(stormy, hand, qtbot):
    page = hand.page("storm")
    hand.settle()
    hand.paste(page.rain, TABLE)
    hand.reach(hand.named("Take these depths", page))
    QTest.keyClick(hand.named("Take these depths", page), Qt.Key.Key_Space)
    hand.settle()
    rain = stormy.bench.plan.of(RainRows)[0]
    assert "0.5;2;14.5" in rain.depths
    assert page.rain.toPlainText().startswith("duration;2;100\n30 min;14.5;36")
    qtbot.waitUntil(page.table.isVisible, timeout=10_000)
    assert "unconfirmed" in hand.words(page)


def test_a_table_that_is_none_is_refused_and_left_as_it_is(stormy, hand):
    page = hand.page("storm")
    hand.settle()
    hand.paste(page.rain, "nonsense")
    hand.reach(hand.named("Take these depths", page))
    QTest.keyClick(hand.named("Take these depths", page), Qt.Key.Key_Space)
    hand.settle()
    assert stormy.bench.plan.of(RainRows) == []
    assert page.rain.toPlainText() == "nonsense"


def test_a_store_chosen_in_the_table_or_diagram_is_chosen_on_the_map(stormy, hand, qtbot):
    page = hand.page("storm")
    field = page.form.control("depth_mm")
    hand.reach(field)
    QTest.keyClicks(field, "120")
    QTest.keyClick(field, Qt.Key.Key_Return)
    hand.settle()
    qtbot.waitUntil(page.table.isVisible, timeout=10_000)
    view = page.tiles.area.viewport()
    hand.wheel(view.rect().center(), 30, view)
    chain = stormy.bench.study.chain()
    diagram = page.diagram
    hand.reach(diagram)
    QTest.keyClick(diagram, Qt.Key.Key_Down)
    QTest.keyClick(diagram, Qt.Key.Key_Down)
    assert stormy.bench.selection == {chain.order[1]}
    QTest.keyClick(diagram, Qt.Key.Key_Up)
    assert stormy.bench.selection == {chain.order[0]}
    assert page.table.currentRow() == 0
    made = diagram.diagram
    left, bottom, wide, high = made.boxes[chain.order[1]]
    spot = diagram.rect().topLeft()
    spot.setX(round((left + wide / 2) * diagram.mm_px))
    spot.setY(round((made.height_mm - bottom - high / 2) * diagram.mm_px))
    hand.click(diagram, spot)
    assert stormy.bench.selection == {chain.order[1]}


def test_the_water_stage_shows_spills_and_others_do_not(stormy, hand):
    hand.act("stage.water")
    assert stormy.bench.look.spills
    hand.act("view.spills")
    assert not stormy.bench.look.spills
    hand.act("stage.water")
    hand.act("stage.planting")
    assert not stormy.bench.look.spills
