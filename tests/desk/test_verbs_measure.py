"""Measuring by drawn strokes, and selecting by kind and by finding."""

from __future__ import annotations

import math
import re

import pytest
from PySide6.QtCore import Qt

# The screenless platform says so of windows, menus and file boxes.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints|does not support")
KEY = Qt.Key


def figures(hand) -> dict[tuple[str, str], float]:
    """Return the measured page's rows: (what, on what) and the number shown."""
    table = hand.named("Measured figures")
    found = {}
    for at in range(table.rowCount()):
        what, figure, basis = (
            table.item(at, c).text().replace("\xa0", " ").replace("\u202f", "") for c in range(3)
        )
        number = re.match(r"-?[\d.]+", figure)
        if number:
            size = 10_000 if figure.endswith("ha") else 1
            found[what, basis.partition(";")[0]] = float(number[0]) * size
    return found


def value(found, what: str, basis: str) -> float:
    return next(v for (w, b), v in found.items() if what in w and b.startswith(basis))


def test_a_length_drawn_up_the_slope(slope, hand):
    hand.act("measure.length")
    hand.put(100, 40)
    hand.put(100, 140)
    hand.key(KEY.Key_Return)
    hand.settle()
    found = figures(hand)
    on_grid = value(found, "ength", "on the grid")
    assert on_grid == pytest.approx(100, abs=3 * slope.map.camera.pixel_m)
    # Up a plane of one in five: √(1 + 0.2²) longer.
    along = value(found, "ength", "along the ground")
    assert along == pytest.approx(on_grid * math.hypot(1, 0.2), abs=0.11)
    assert not list(slope.bench.plan.of_kind("dimension"))


def test_a_length_typed_is_exact(slope, hand):
    hand.act("measure.length")
    hand.put(100, 40)
    hand.say("50 at 0")
    hand.key(KEY.Key_Return)
    hand.settle()
    assert value(figures(hand), "ength", "on the grid") == pytest.approx(50.0, abs=0.05)


def test_an_area_drawn(slope, hand):
    hand.act("measure.area")
    for spot in ((40, 40), (140, 40), (140, 90), (40, 90)):
        hand.put(*spot)
    hand.key(KEY.Key_Return)
    hand.settle()
    found = figures(hand)
    on_grid = value(found, "rea", "on the grid")
    assert on_grid == pytest.approx(5000, abs=300 * 2 * slope.map.camera.pixel_m)
    assert value(found, "rea", "along the ground") == pytest.approx(
        on_grid * math.hypot(1, 0.2), rel=0.005
    )


def test_a_spot_read(slope, hand):
    hand.act("measure.spot")
    hand.put(100, 100)
    hand.settle()
    rows = {what: v for (what, _), v in figures(hand).items()}
    level = next(v for what, v in rows.items() if "height" in what.lower() or "level" in what)
    # The plane begins at 100 m fifty metres south of the boundary and rises one in five.
    assert level == pytest.approx(100 + 0.2 * 150, abs=0.5)


def test_a_section_drawn_across_the_land(slope, hand):
    hand.act("measure.section")
    hand.put(100, 20)
    hand.put(100, 180)
    hand.key(KEY.Key_Return)
    hand.settle()
    told = hand.words()
    run = re.search(r"The drawn line: ([\d.]+) m on the grid, steepest stretch (\d+) %", told)
    assert run, told
    assert float(run[1]) == pytest.approx(160, abs=3 * slope.map.camera.pixel_m)
    assert run[2] == "20"


def test_all_of_a_kind_are_selected(land, hand):
    trees = {hand.draw("tree", spot) for spot in ((40, 40), (80, 40), (120, 40))}
    hand.draw("well", (60, 120))
    hand.pick((40, 40))
    hand.act("select.kind")
    assert land.bench.selection == trees
    hand.act("select.all")
    assert len(land.bench.selection) == 5
    hand.act("select.none")
    assert not land.bench.selection


def test_what_fails_is_selected(land, hand):
    well = hand.draw("well", (60, 120))
    tank = hand.draw("septic_tank", (64, 120))
    hand.draw("tree", (150, 150))
    hand.act("select.failing")
    failing = {ident for f in land.bench.study.findings() if f.failing for ident in f.elements}
    assert {well, tank} <= failing
    assert land.bench.selection == failing


def test_figures_on_the_card_follow_a_drag(slope, hand, qtbot):
    """Carried 60 m up a slope of one in five the tree stands 12 m higher before it is let go."""
    from PySide6.QtTest import QTest
    from PySide6.QtWidgets import QLabel

    hand.draw("tree", (100, 60))
    hand.pick((100, 60))
    start, end = hand.at(100, 60), hand.at(100, 120)

    def height() -> float:
        labels = slope.card.findChildren(QLabel)
        names = [w.accessibleName().replace("\xa0", " ") for w in labels if w.isVisible()]
        found = [re.search(r"(?:eight|evel)[^:]*: (\d+\.\d+) m", name) for name in names]
        return next((float(hit[1]) for hit in found if hit and float(hit[1]) > 90), 0.0)

    before = height()
    QTest.mousePress(slope.map, Qt.MouseButton.LeftButton, pos=start)
    QTest.mouseMove(slope.map, (start + end) / 2)
    QTest.mouseMove(slope.map, end)
    qtbot.waitUntil(lambda: height() == pytest.approx(before + 12, abs=0.5), timeout=5000)
    assert "As it would be where it is held now" in hand.words(slope.card)
    QTest.mouseRelease(slope.map, Qt.MouseButton.LeftButton, pos=end)
    assert height() == pytest.approx(before + 12, abs=0.5)
    hand.settle()
    qtbot.waitUntil(lambda: "As it would be" not in hand.words(slope.card), timeout=5000)
    qtbot.waitUntil(lambda: height() == pytest.approx(before + 12, abs=0.5), timeout=5000)
    hand.act("edit.undo")
    qtbot.waitUntil(lambda: height() == pytest.approx(before), timeout=5000)


def test_a_drop_and_a_catchment_by_one_click(slope, hand):
    hand.act("measure.drop")
    hand.put(100, 140)
    hand.settle()
    found = figures(hand)
    length, fall = value(found, "Runs", "on the grid"), value(found, "Falls", "")
    # Straight down a plane of one in five to the edge of the data.
    assert fall == pytest.approx(length / 5, rel=0.03)
    hand.act("measure.catchment")
    hand.put(100, 60)
    hand.settle()
    assert value(figures(hand), "Drains here", "on the grid") > 0
    assert "at least" in hand.named("Measured figures").item(0, 2).text()


def test_the_ground_shown_and_its_lines_are_chosen(slope, hand):
    hand.act("ground.existing")
    assert slope.bench.look.ground == "existing"
    hand.act("ground.designed")
    hand.act("lines.drainage")
    hand.settle()
    assert slope.bench.look.ground_lines == {"drainage"}
    hand.act("lines.drainage")
    assert not slope.bench.look.ground_lines
