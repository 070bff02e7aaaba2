"""A swale by hand: traced from a click, typed, edited by its corners, set level again, undone."""

from __future__ import annotations

import pytest
import shapely
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QPushButton

from canvas.ground.levelness import falling, level_errors

pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints|does not support")
KEY = Qt.Key


def plain(words: str) -> str:
    return words.replace("\xa0", " ").replace("\u202f", " ")


def fact(desk, ident: str, key: str) -> float:
    return next(f.value for f in desk.bench.study.facts(ident) if f.key == key)


def the_swale(desk):
    (found,) = desk.bench.plan.of_kind("swale")
    return found


def test_a_swale_from_an_empty_site(slope, hand):
    """On a plane of one in five that stands at 100 + 0.2 (50 + y): every level by hand."""
    hand.act("draw.swale")
    hand.put_pointer(100, 100)
    # Before any click the line lies under the pointer, with its length and level.
    shown = slope.map.ghost()
    assert "level 130." in plain(shown.labels[0].words)
    assert "ends: the boundary" not in plain(shown.labels[0].words)
    assert shown.elements
    # The site is 200 m square: the line goes as far as asked, or to its edge.
    hand.say("150")
    assert "ends: the boundary" in plain(slope.map.ghost().labels[0].words)
    assert "150.00 m each way" in plain(hand.words(slope.prompt))
    hand.say("1:200 right, 60")
    assert "1:200 falling to the right" in plain(hand.words(slope.prompt))

    def told() -> None:
        words = plain(" ".join(slope.map.previews.latest.told))
        assert "Holds" in words
        assert "Level error" in words

    hand.qtbot.waitUntil(told, timeout=10_000)
    hand.put(100, 100)
    hand.settle()
    swale = the_swale(slope)
    assert swale.grade == pytest.approx(-0.005)
    assert swale.geometry.length == pytest.approx(120, abs=1)
    grid = slope.bench.study.land.grid
    level = falling(swale.geometry, swale.lip_m, swale.grade)
    assert level_errors(grid, swale.geometry, level).worst_m <= 0.02
    assert fact(slope, swale.id, "level_error_m") <= 0.02
    # Undone, the site is empty again.
    hand.key(KEY.Key_Escape)
    hand.act("edit.undo")
    hand.settle()
    assert not slope.bench.plan.of_kind("swale")


def test_a_corner_dragged_and_the_line_set_level_again(slope, hand):
    ident = hand.draw("swale", (100, 100))
    swale = slope.bench.plan.element(ident)
    middle = shapely.get_coordinates(swale.geometry)[len(swale.geometry.coords) // 2]
    x, y = middle[0] - hand.origin[0], middle[1] - hand.origin[1]
    assert fact(slope, ident, "level_error_m") <= 0.02
    hand.act("tool.reshape")
    place, left = slope.map, Qt.MouseButton.LeftButton
    start, end = hand.at(x, y), hand.at(x, y + 8)
    alt = Qt.KeyboardModifier.AltModifier
    QTest.mouseMove(place, start)
    QTest.mousePress(place, left, alt, start)
    for share in (0.4, 1.0):
        QTest.mouseMove(place, start + QPoint(0, round((end - start).y() * share)))
        QApplication.processEvents()

    def told() -> None:
        words = plain(" ".join(place.previews.latest.told))
        for part in ("Holds", "Cut", "Level error"):
            assert part in words
        # Some eight metres up a slope of one in five, or where a contour caught it.
        (bent,) = place.ghost().elements
        up = shapely.get_coordinates(bent.geometry)[:, 1].max() - middle[1]
        error = float(words.split("Level error ")[1].split(" m")[0])
        assert up > 5
        assert error == pytest.approx(0.2 * up, abs=0.03)

    hand.qtbot.waitUntil(told, timeout=10_000)
    QTest.mouseRelease(place, left, alt, end)
    hand.settle()
    bent = the_swale(slope)
    assert bent.lip_m == swale.lip_m
    up = shapely.get_coordinates(bent.geometry)[:, 1].max() - middle[1]
    assert fact(slope, ident, "level_error_m") == pytest.approx(0.2 * up, abs=0.03)
    # Nothing sets it level but what is asked for: the action, or its offer beside the finding.
    hand.key(KEY.Key_Escape)
    hand.settle()
    offers = [w for w in slope.card.findChildren(QPushButton) if w.text() == "Set level again"]
    hand.reach(offers[0])
    hand.key(KEY.Key_Space)
    hand.settle()
    again = the_swale(slope)
    assert fact(slope, ident, "level_error_m") <= 0.02
    assert again.geometry.length == pytest.approx(swale.geometry.length, rel=0.05)
    hand.act("edit.undo")
    hand.settle()
    assert the_swale(slope).geometry.equals_exact(bent.geometry, 1e-9)
    hand.act("edit.undo")
    hand.settle()
    assert the_swale(slope).geometry.equals_exact(swale.geometry, 1e-9)


def test_a_swale_along_a_drawn_line_and_what_is_not_set_level(slope, hand):
    ident = hand.draw("swale.free", (60, 80), (140, 80))
    assert fact(slope, ident, "lip_m") == pytest.approx(100 + 0.2 * (50 + 80), abs=0.5)
    hand.pick((100, 80))
    told = plain(hand.words(slope.card))
    for part in ("Lip level", "Holds", "Freeboard", "Sill passes", "Level error"):
        assert part in told, part
    tree = hand.draw("tree", (40, 40))
    hand.pick((40, 40))
    assert slope.bench.selection == {tree}
    hand.act("edit.level_again")
    assert "only swales" in plain(hand.words())
