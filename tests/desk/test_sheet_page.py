"""The sheet page by mouse and keyboard: phase, contours, what it says; schedules as printed."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from canvas.drawing.entries import Lines, Text


@pytest.fixture
def staged(opened, hand):
    """The test hill with the track built first and the house after it."""
    page = hand.page("phases")
    for name, inside in (("Way in", (20, 60)), ("House", (96, 94))):
        hand.click(hand.named("Add a phase", opened.leaf))
        hand.settle()
        field = hand.named("Name", page)
        hand.type(field, name)
        QTest.keyClick(field, Qt.Key.Key_Return)
        hand.act("view.fit")
        hand.pick(inside)
        hand.click(hand.named("Put the selection in it", page))
    hand.act("select.none")
    hand.settle()
    plan = opened.bench.plan
    names = {phase.id: phase.name for phase in plan.phases()}
    assert {names[plan.element(i).phase] for i in ("drive", "house")} == {"Way in", "House"}
    return opened


def on_sheet(page) -> str:
    words = [e.words for p in page._pages for e in p.furniture if isinstance(e, Text)]
    return " ".join(words)


def test_a_phase_is_chosen_and_named(staged, hand, qtbot):
    page = hand.page("sheet")
    qtbot.waitUntil(lambda: page.words.text().startswith("Sheet 1 of"), timeout=20_000)
    assert "the whole plan, all 2 phases" in on_sheet(page)
    hand.choose(hand.named("Phase the sheet shows the plan built up to", page), "Built up to: Way")
    assert page.phase.currentText() == "Built up to: Way in"
    qtbot.waitUntil(lambda: "phase 2 (House)" in page.words.text(), timeout=20_000)
    assert "as built up to phase 1 (Way in)" in on_sheet(page)


def test_contours_are_typed_at_any_interval(staged, hand, qtbot):
    page = hand.page("sheet")
    qtbot.waitUntil(lambda: page.words.text().startswith("Sheet 1 of"), timeout=20_000)
    hand.type(page.contours.lineEdit(), "3.5 m")
    qtbot.waitUntil(lambda: "Contours every 3.5\xa0m" in on_sheet(page), timeout=20_000)
    layers = page._pages[0].frames[0].layers
    assert any(la.key == "contours" and isinstance(la.entries[0], Lines) for la in layers)
    hand.type(page.contours.lineEdit(), "often")
    qtbot.waitUntil(lambda: "is not a number" in page.words.text(), timeout=5000)


def test_a_scale_too_large_is_said_on_the_page(staged, hand, qtbot):
    page = hand.page("sheet")
    qtbot.waitUntil(lambda: page.words.text().startswith("Sheet 1 of"), timeout=20_000)
    assert "continues beyond" not in page.words.text()
    hand.type(page.scale.lineEdit(), "1:250")
    qtbot.waitUntil(
        lambda: "The site continues beyond this sheet" in page.words.text(), timeout=20_000
    )


def test_schedules_are_those_a_sheet_prints(staged, hand, qtbot):
    page = hand.page("schedule")
    hand.settle()
    titles = [page.which.itemText(i) for i in range(page.which.count())]
    assert "As printed: Phases, in the order they are built" in titles
    hand.choose(page.which, "As printed: Ways: sustained grade, inside radius")
    hand.settle()
    row = [page.table.item(0, c).text() for c in range(page.table.columnCount())]
    assert row[0] == "Drive · proposed, phase 1"
    sheet = hand.page("sheet")
    qtbot.waitUntil(lambda: sheet.words.text().startswith("Sheet 1 of"), timeout=20_000)
    for cell in row:
        assert cell in on_sheet(sheet)
