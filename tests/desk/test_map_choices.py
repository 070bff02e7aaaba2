"""What the map shows: families' opacity, any contour interval, the key's colours, findings."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel

from canvas.drawing.build import plan_layers
from canvas.drawing.findings import finding_layers
from canvas.drawing.palette import PALETTES

pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints")


def test_a_family_is_faded_by_its_slider_and_drawn_so(opened, hand):
    page = hand.page("layers")
    slider = hand.named("Opacity of structures", page)
    hand.reach(slider)
    for _ in range(4):
        QTest.keyClick(slider, Qt.Key.Key_PageDown)
    faded = opened.bench.look.opacity_of("Structures")
    assert 0.5 < faded < 0.7
    layers = {each.key: each for each in plan_layers(opened.bench.study, opened.bench.look)}
    assert layers["building"].opacity == faded
    assert layers["well"].opacity == 1.0
    QTest.keyClick(slider, Qt.Key.Key_End)
    assert opened.bench.look.faded == ()


@pytest.mark.parametrize(("typed", "metres"), [("0.35", 0.35), ("3,5 m", 3.5), ("12", 12.0)])
def test_contours_are_drawn_at_any_interval_typed(opened, hand, typed, metres):
    page = hand.page("layers")
    hand.type(page.interval.lineEdit(), typed)
    QTest.keyClick(page.interval.lineEdit(), Qt.Key.Key_Return)
    assert opened.bench.look.contour_interval_m == pytest.approx(metres)
    assert page.interval.currentText() == f"{metres:g} m"


def test_an_interval_that_cannot_be_is_refused_and_the_last_stays(opened, hand):
    page = hand.page("layers")
    for wrong in ("often", "0.001", "-2"):
        hand.type(page.interval.lineEdit(), wrong)
        QTest.keyClick(page.interval.lineEdit(), Qt.Key.Key_Return)
        assert opened.bench.look.contour_interval_m is None
        assert page.interval.currentText() == "By the scale"


def test_the_key_shows_colours_as_the_map_lays_them_over_its_paper(opened, hand):
    hand.keys(opened.map, "Ctrl+B, C")
    hand.settle()
    paper = PALETTES["light"]["paper"].lstrip("#")
    under = [int(paper[k : k + 2], 16) for k in (0, 2, 4)]
    # Laying over: share of the colour plus the rest of the paper.
    strength = opened.bench.look.shading_opacity
    wanted = tuple(round(100 * strength + base * (1 - strength)) for base in under)
    assert opened.key.swatches.seen((100, 100, 100)) == wanted


def test_findings_are_marks_until_checks_or_their_element_is_chosen(opened, hand):
    findings = opened.bench.study.findings()
    places, marks = finding_layers(findings, opened.bench.look)
    assert places.entries == ()
    assert marks.entries
    hand.pick((120, 120))
    assert {f.key for f in opened.map._found_here()} == {
        f.key for f in findings if "well" in f.elements
    }
    hand.keys(opened.map, "Ctrl+7")
    places, _ = finding_layers(findings, opened.bench.look)
    assert places.entries
    assert opened.map._found_here() == []


def test_a_finding_bears_the_number_it_has_on_the_map(opened, hand):
    page = hand.page("findings")
    hand.settle()
    standing = [f for f in opened.bench.study.findings() if not f.waived]
    told = {w.text() for w in page.findChildren(QLabel)}
    assert {f"F{n}" for n in range(1, len(standing) + 1)} <= told
