"""Sections of the works on the desk: of what is chosen, and live while it is dragged."""

from __future__ import annotations

import pytest

from canvas.desk.pages.details import DetailFigure

# The screenless platform says so of windows, menus and file boxes.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints|does not support")


def figures(page) -> list[DetailFigure]:
    return [each for each in page.findChildren(DetailFigure) if each.isVisible()]


def test_sections_of_a_platform_stand_on_the_page_and_follow_a_drag(slope, hand, qtbot):
    hand.draw("platform", (80, 80), (100, 80), (100, 92), (80, 92))
    hand.act("page.details")
    page = hand.page("details")
    hand.pick((90, 86))
    qtbot.waitUntil(lambda: len(figures(page)) >= 2, timeout=10_000)
    first = [each.detail for each in figures(page)]
    assert all(0 < each.height() <= each.heightForWidth(each.width()) + 1 for each in figures(page))
    shown = []

    def dragged() -> None:
        now = figures(page)
        shown.append(bool(now) and now[0].detail is not first[0])

    slope.map.previews.changed.connect(dragged)
    hand.drag((90, 86), (90, 110))
    hand.settle()
    assert any(shown)
    moved = next(iter(slope.bench.plan.of_kind("platform"))).geometry
    assert moved.centroid.y - 86 > 0


def test_what_has_no_sections_says_what_has(slope, hand):
    hand.draw("tree", (60, 60))
    hand.act("page.details")
    hand.pick((60, 60))
    assert "Choose a platform" in hand.words(hand.page("details"))
