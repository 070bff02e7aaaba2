"""Tracks shaped, drained and crossed on the desk, by mouse and keyboard."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from canvas.site.elements.crossings import WaterBar

pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints|does not support")


@pytest.fixture
def drawn(opened, hand):
    """A track drawn across the plane of 20 %: 120 m along and 12 m up it, a grade of 2 %."""
    hand.act("view.fit")
    hand.send_guide_away()
    return hand.draw("track", (40, 40), (160, 52))


def facts(desk, ident):
    return {fact.key: fact.value for fact in reversed(desk.bench.study.facts(ident))}


def test_a_drawn_track_is_shaped_and_drained_at_one_stroke_each(opened, hand, drawn):
    assert opened.bench.plan.element(drawn).forming == "none"
    hand.pick((100, 46))
    hand.act("page.section")
    hand.click(hand.named("Shape this track", opened.second))
    hand.settle()
    found = facts(opened, drawn)
    assert found["cut_m3"] > 0
    assert found["drains_missing"] == found["drains_due"] > 0
    hand.act("ways.drains")
    hand.settle()
    bars = opened.bench.plan.of_kind("water_bar")
    assert len(bars) == found["drains_due"]
    assert facts(opened, drawn)["drains_missing"] == 0
    hand.act("edit.undo")
    hand.settle()
    assert not opened.bench.plan.of_kind("water_bar")
    assert opened.bench.plan.element(drawn).forming == "out"


def test_nothing_is_placed_where_there_is_nothing_to_place(opened, hand, drawn):
    told = []
    opened.bench.told.connect(lambda severity, words: told.append((severity, words)))
    hand.pick((100, 46))
    hand.act("ways.drains")
    hand.settle()
    assert told[-1][0] == "warning"
    assert "Shape the track first" in told[-1][1]
    assert not opened.bench.plan.of_kind("water_bar")


def test_a_turning_head_and_a_bay_are_clicked_beside_their_track(opened, hand, drawn):
    head = hand.draw("turning_head", (162, 54))
    bay = hand.draw("passing_bay", (100, 42))
    assert facts(opened, head)["at"]
    found = facts(opened, bay)
    assert "trouble" not in found
    assert found["passing_width_m"] == pytest.approx(3.5 + 3.7)
    assert facts(opened, drawn)["passing_bays"] == 1


def test_culvert_ford_and_water_bar_are_drawn_and_typed(opened, hand):
    hand.act("view.fit")
    hand.send_guide_away()
    bar = hand.draw("water_bar", (60, 64), (57, 60))
    assert isinstance(opened.bench.plan.element(bar), WaterBar)
    assert facts(opened, bar)["bar_deep_m"] == pytest.approx(0.46)
    ford = hand.draw("ford", (130, 60), (160, 60))
    assert "cut_m3" in facts(opened, ford)
    pipe = hand.draw("culvert", (100, 150), (100, 138))
    # At ground level its crown stands out: the card says so, and takes what mends it.
    assert "out of the way over it" in str(facts(opened, pipe)["trouble"])
    hand.act("view.fit_selection")
    hand.act("edit.fields")
    for name, words in (("Inlet invert", "138.6"), ("Outlet invert", "136.2")):
        field = hand.named(name, opened.card)
        hand.reach(field)
        hand.type(field, words)
        QTest.keyClick(field, Qt.Key.Key_Return)
        hand.settle()
    assert "trouble" not in facts(opened, pipe)
    assert facts(opened, pipe)["pipe_slope"] == pytest.approx(0.2, abs=0.01)
