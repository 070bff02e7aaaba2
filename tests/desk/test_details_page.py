"""Sections of the works on the desk: of what is chosen, after a move, and of what would be."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from shapely import box
from shapely.affinity import translate

from canvas.desk.map_preview import answer
from canvas.desk.pages.details import DetailFigure
from canvas.drawing.look import Look
from canvas.site.elements.earthworks import Platform
from canvas.site.records import changed
from made import EAST, NORTH, plane, study_of

# The screenless platform says so of windows, menus and file boxes.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints|does not support")


def figures(page) -> list[DetailFigure]:
    return [each for each in page.findChildren(DetailFigure) if each.isVisible()]


def test_sections_of_a_platform_stand_on_the_page_and_follow_a_move(slope, hand, qtbot):
    hand.draw("platform", (80, 80), (100, 80), (100, 92), (80, 92))
    hand.act("page.details")
    page = hand.page("details")
    hand.pick((90, 86))
    qtbot.waitUntil(lambda: len(figures(page)) >= 2, timeout=10_000)
    first = [each.detail for each in figures(page)]
    assert all(0 < each.height() <= each.heightForWidth(each.width()) + 1 for each in figures(page))
    before = next(iter(slope.bench.plan.of_kind("platform"))).geometry
    hand.key(*[Qt.Key.Key_Up] * 3, held=Qt.KeyboardModifier.ShiftModifier)
    hand.settle()
    qtbot.waitUntil(
        lambda: bool(figures(page)) and figures(page)[0].detail is not first[0], timeout=10_000
    )
    moved = next(iter(slope.bench.plan.of_kind("platform"))).geometry
    assert moved.centroid.y > before.centroid.y


def test_what_has_no_sections_says_what_has(slope, hand):
    hand.draw("tree", (60, 60))
    hand.act("page.details")
    hand.pick((60, 60))
    assert "Choose a platform" in hand.words(hand.page("details"))


def test_what_would_be_comes_with_its_sections_only_when_they_are_wanted():
    pad = Platform(geometry=box(EAST + 80, NORTH + 80, EAST + 100, NORTH + 92))
    study = study_of(pad, grid=plane(0.0, 0.2))
    moved = changed(pad, geometry=translate(pad.geometry, 0, 5))
    found = answer(study, (moved,), Look(), sections=True)
    assert len(found.details) == 2
    assert any(words.startswith("Finished level") for words in found.told)
    assert answer(study, (moved,), Look()).details == ()
