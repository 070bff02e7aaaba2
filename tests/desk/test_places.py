"""Finding places by hand: look, see why, choose on the map or in the list, put into the plan."""

from __future__ import annotations

import time

import pytest
from PySide6.QtCore import Qt

from canvas.desk.pages import places

# The screenless platform says so of windows, menus and file boxes.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints|does not support")
KEY = Qt.Key


def rows(hand, qtbot) -> list[str]:
    """Wait for the places, and return why each stands where it does."""
    table = hand.named("Places found")
    qtbot.waitUntil(lambda: table.rowCount() > 0, timeout=15_000)
    return [table.item(at, 2).text() for at in range(table.rowCount())]


def test_a_platform_is_found_looked_at_and_put_into_the_plan(slope, hand, qtbot):
    hand.act("page.places")
    page = hand.page("places")
    hand.choose(page.what, "Places for a platform")
    hand.type(hand.named("Length"), "16")
    hand.type(hand.named("Depth"), "10")
    hand.click(page.look)
    why = rows(hand, qtbot)
    assert len(why) == 5
    # 16 m by 10 m on one in five: 16 × 10² × 0.2 / 8 = 40 m³ wherever it lies.
    assert all("40 m³" in words for words in why)
    hand.row(page.table, 1)
    assert slope.bench.tool.chosen == 1
    assert "Little earth" in [page.figures.item(at, 0).text() for at in range(2)]
    assert not list(slope.bench.plan.of_kind("platform"))
    wanted = slope.bench.tool.found[1].geometry
    hand.click(page.take)
    hand.settle()
    placed = list(slope.bench.plan.of_kind("platform"))
    assert [item.geometry for item in placed] == [wanted]
    assert page.table.rowCount() == 0
    hand.act("edit.undo")
    assert not list(slope.bench.plan.of_kind("platform"))


def test_a_track_is_looked_for_between_two_clicks_and_taken_by_key(slope, hand, qtbot):
    hand.act("page.places")
    page = hand.page("places")
    hand.choose(page.what, "A track between two points")
    hand.type(hand.named("Steepest grade"), "12")
    hand.click(page.look)
    hand.put(60, 50)
    hand.put(150, 140)
    why = rows(hand, qtbot)
    # 90 m further north on one in five: 18 m of rise, and at 12 % at least 150 m of track.
    lengths = [float(words.split()[0]) for words in why]
    assert min(lengths) == pytest.approx(150, rel=0.03)
    hand.key(KEY.Key_Return)
    hand.settle()
    (track,) = slope.bench.plan.of_kind("track")
    assert track.geometry.length == pytest.approx(lengths[0], abs=1.0)


def test_what_is_no_number_is_named_and_a_search_can_be_stopped(slope, hand, monkeypatch):
    def endless(study, key, values, progress):
        while True:
            time.sleep(0.01)
            progress(0.5, "Looking")

    monkeypatch.setattr(places, "search", endless)
    hand.act("page.places")
    page = hand.page("places")
    hand.choose(page.what, "Level lines for swales")
    hand.type(hand.named("Longest"), "far")
    hand.click(page.look)
    assert "far" in hand.words()
    hand.type(hand.named("Longest"), "300")
    hand.click(page.look)
    hand.click(page.stop)
    assert page.words.text() == "Stopped."
    assert page.look.isEnabled()
