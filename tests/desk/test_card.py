"""The element's card: facts, findings and fields beside the selection."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QComboBox, QLabel, QLineEdit, QPlainTextEdit

from canvas.desk.card import LEAST
from canvas.desk.cardfacts import FindingPlate

pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints")


@pytest.fixture
def at_house(opened, hand):
    """The desk with the house chosen by a click on the map."""
    hand.pick((96, 94))
    assert opened.bench.selection == {"house"}
    return opened


def shown(card) -> str:
    return "\n".join(w.text() for w in card.findChildren(QLabel) if w.isVisible())


def test_a_click_on_the_map_brings_the_card_beside_the_house(at_house):
    card = at_house.card
    assert card.isVisible()
    assert "House" in shown(card)
    house = at_house.map.screen_of(560_096.0, 5_850_094.0).toPoint()
    assert not card.geometry().contains(house)
    assert at_house.room.rect().contains(card.geometry())


def test_facts_carry_unit_basis_and_name(at_house):
    # 12 m x 8 m by construction.
    words = shown(at_house.card).replace("\xa0", " ")
    assert "96 m²" in words
    assert "on the grid" in words


def test_the_card_keeps_clear_of_the_ledge_wherever_the_selection_is(at_house, hand):
    for way in (Qt.Key.Key_Left, Qt.Key.Key_Right, Qt.Key.Key_Right, Qt.Key.Key_Up):
        hand.key(*[way] * 3, held=Qt.KeyboardModifier.ControlModifier)
        assert not at_house.card.geometry().intersects(at_house.ledge.geometry())
        assert at_house.room.rect().contains(at_house.card.geometry())


def test_a_field_changed_on_the_card_is_one_step_that_can_be_undone(at_house, hand):
    hand.click(at_house.card.sides[1])
    field = hand.named("Wall height", at_house.card)
    assert isinstance(field, QLineEdit)
    assert field.text() == "2.7"
    hand.type(field, "3,2")
    QTest.keyClick(field, Qt.Key.Key_Return)
    hand.settle()
    assert at_house.bench.plan.element("house").wall_height_m == pytest.approx(3.2)
    assert at_house.bench.session.undo_steps()[0].label == "Wall height of House"
    hand.keys(at_house.map, "Ctrl+Z")
    assert at_house.bench.plan.element("house").wall_height_m == pytest.approx(2.7)


def test_a_value_that_cannot_be_is_refused_in_place(at_house, hand):
    hand.click(at_house.card.sides[1])
    field = hand.named("Wall height", at_house.card)
    hand.type(field, "900")
    QTest.keyClick(field, Qt.Key.Key_Return)
    assert at_house.bench.plan.element("house").wall_height_m == pytest.approx(2.7)
    assert "outside 0.5 to 40" in shown(at_house.card)


def test_status_is_chosen_by_keyboard(at_house, hand):
    hand.keys(at_house.map, "F2")
    field = hand.named("Status", at_house.card)
    assert isinstance(field, QComboBox)
    hand.reach(field)
    QTest.keyClick(field, Qt.Key.Key_Down)
    hand.settle()
    assert at_house.bench.plan.element("house").status == "built"


def test_escape_empties_the_hand_and_the_card_goes(at_house, hand):
    hand.click(hand.named("Close the card"))
    assert not at_house.card.isVisible()
    assert at_house.bench.selection == frozenset()


def test_a_pinned_card_stays_at_the_right(at_house, hand):
    hand.click(at_house.card.pin)
    right = at_house.room.width() - at_house.card.geometry().right()
    assert right < 20
    hand.reach(at_house.map)
    hand.key(*[Qt.Key.Key_Left] * 3, held=Qt.KeyboardModifier.ControlModifier)
    assert at_house.room.width() - at_house.card.geometry().right() == right


def test_findings_stand_on_the_card_with_measure_and_requirement(opened, hand):
    hand.pick((120, 120))
    plates = [p for p in opened.card.findChildren(FindingPlate) if p.isVisible()]
    assert plates
    finding = next(f for f in opened.bench.study.findings_of("well") if "septic" in f.elements)
    assert finding.numbers() in shown(opened.card)
    assert finding.message in shown(opened.card)


def test_waiving_asks_for_a_reason_and_can_be_undone(opened, hand):
    hand.pick((120, 120))
    before = sum(1 for f in opened.bench.study.findings() if not f.waived)
    plate = next(p for p in opened.card.findChildren(FindingPlate) if p.isVisible())
    hand.click(hand.named("Waive…", plate))
    dialog = hand.dialog()
    main = hand.named("Waive it", dialog)
    assert not main.isEnabled()
    reason = hand.named("Reason", dialog)
    assert isinstance(reason, QPlainTextEdit)
    hand.reach(reason)
    QTest.keyClicks(reason, "The tank is being moved")
    hand.click(main)
    hand.settle()
    findings = opened.bench.study.findings()
    assert sum(1 for f in findings if not f.waived) == before - 1
    assert [f.waived for f in findings if f.waived] == ["The tank is being moved"]
    hand.keys(opened.map, "Ctrl+Z")
    hand.settle()
    assert sum(1 for f in opened.bench.study.findings() if not f.waived) == before


def test_several_elements_share_one_card_and_one_change(opened, hand):
    hand.keys(opened.map, "Ctrl+A")
    hand.settle()
    assert "5 elements" in shown(opened.card)
    hand.click(opened.card.sides[1])
    field = hand.named("Owner", opened.card)
    assert field.currentIndex() == 0
    hand.reach(field)
    QTest.keyClick(field, Qt.Key.Key_Down)
    assert {item.owner for item in opened.bench.plan.elements()} == {"neighbour"}
    hand.keys(opened.map, "Ctrl+Z")
    assert {item.owner for item in opened.bench.plan.elements()} == {"ours"}


def overlap(one, other):
    both = one.geometry().intersected(other.geometry())
    return both.width() * both.height() if both.isValid() else 0


def test_with_page_and_section_open_the_card_keeps_head_switch_and_rows(opened, hand):
    hand.pick((20, 60))
    hand.page("schedule")
    hand.page("section")
    hand.settle()
    hand.act("view.fit_selection")
    assert opened.card.height() >= LEAST
    # Head and switch stand whole, and no line is printed over another.
    assert opened.card.sides[0].geometry().top() >= 40
    rows = [w for w in opened.card.facts.findChildren(QLabel) if w.isVisible()]
    assert len(rows) > 4
    before = opened.sheet.height()
    hand.pull(hand.named("Edge of the sheet"), 0, -600)
    assert opened.sheet.height() > before
    assert opened.card.height() >= LEAST


def test_the_card_keeps_off_prompt_key_ledge_and_readout(opened, hand):
    hand.keys(opened.map, "Ctrl+2")
    hand.settle()
    for at in ((0, 0), (200, 0), (200, 200), (0, 200), (100, 100)):
        hand.ask("Drive")
        assert opened.bench.selection == {"drive"}
        hand.ask(f"{560_000 + at[0]} {5_850_000 + at[1]}")
        hand.act("tool.turn")
        assert opened.prompt.isVisible()
        for other in (opened.prompt, opened.key, opened.ledge, opened.readout):
            assert overlap(opened.card, other) == 0, (at, other)
        hand.keys(opened.map, "Escape")


def test_a_card_dragged_aside_is_pinned_where_it_is_left(at_house, hand):
    card = at_house.card
    start = card.pos()
    QTest.mousePress(card, Qt.MouseButton.LeftButton, pos=QPoint(60, 5))
    QTest.mouseMove(card, QPoint(60, 25))
    QTest.mouseMove(card, QPoint(20, 40))
    QTest.mouseRelease(card, Qt.MouseButton.LeftButton, pos=QPoint(20, 40))
    assert card.pin.isChecked()
    left = card.pos()
    assert left != start
    hand.reach(at_house.map)
    hand.key(*[Qt.Key.Key_Left] * 3, held=Qt.KeyboardModifier.ControlModifier)
    assert card.pos() == left
