"""Notes shrink as the scale falls, never too small to read, and give way by a mark."""

from __future__ import annotations

from dataclasses import replace

import drawn_site
import pytest
from shapely.geometry import Point

from canvas.drawing.build import plan_layers
from canvas.drawing.entries import Text
from canvas.drawing.labels import Board
from canvas.drawing.look import Look
from canvas.drawing.symbols.writing import LEAST_MM, note_lines, note_mm
from canvas.drawing.typeface import width_mm
from canvas.sheets.plan_sheet import SheetOptions, plan_sheet
from canvas.site.elements.writing import Note

PAPER = Look(palette="paper", findings=False)
SCREEN = Look(thin=True, findings=False)
EAST, NORTH = drawn_site.EAST, drawn_site.NORTH
LONG = "A long word about this corner"


def written(study, look, board=None):
    layers = plan_layers(study, look, None, board)
    labels = next((layer.entries for layer in layers if layer.key == "labels"), ())
    return [e for e in labels if isinstance(e, Text) and e.role == "note"]


@pytest.fixture(scope="module")
def noted(bare):
    notes = [
        Note(id="low", words=LONG, geometry=Point(EAST + 100, NORTH + 90)),
        Note(
            id="tall", words="Above all this", size_mm=6.0, geometry=Point(EAST + 101, NORTH + 90)
        ),
    ]
    return bare.moved(bare.plan.with_(*notes))


@pytest.fixture(scope="module")
def bare():
    whole = drawn_site.study(0)
    return whole.moved(whole.plan.without(*[item.id for item in whole.plan.elements()]))


@pytest.mark.parametrize(
    ("scale", "size"), [(200.0, 2.5), (1000.0, 2.5), (1600.0, 2.5 * 0.7906), (9000.0, LEAST_MM)]
)
def test_letters_are_as_set_to_1_to_1000_then_shrink_by_the_root_of_the_scale(scale, size):
    # By hand: the root of 1000/1600 is 0.7906; of 1000/9000, 0.333, below the least.
    assert note_mm(2.5, scale) == pytest.approx(size, rel=1e-3)


def test_small_letters_set_by_the_writer_are_never_made_smaller_or_larger():
    assert note_mm(1.2, 300.0) == note_mm(1.2, 20000.0) == 1.2


def test_long_notes_are_broken_closer_on_small_maps_and_own_breaks_are_kept():
    words = "Keep stock off this bank until the grass has come up twice\nask Jo"
    near, far = (note_lines(words, 2.0, scale).splitlines() for scale in (500.0, 4000.0))
    assert len(far) > len(near) > 2
    assert near[-1] == far[-1] == "ask Jo"
    assert max(width_mm(line, 2.0) for line in far) <= 30.0


def test_the_taller_note_is_written_and_the_other_shows_by_its_number(noted):
    words = {e.words for e in written(noted, replace(PAPER, scale=1000.0))}
    assert words >= {"Above all this", LONG}
    # At 1:1000 a metre is a millimetre: names stand all round, but for the taller one's place.
    crowd = Board()
    x, y = EAST + 101, NORTH + 90
    crowd.take((x - 80, y - 60, x + 80, y - 7))
    crowd.take((x - 80, y + 6.5, x + 80, y + 60))
    crowd.take((x - 80, y - 9, x, y + 9))
    words = {e.words for e in written(noted, replace(PAPER, scale=1000.0), crowd)}
    assert "N1" in words
    assert LONG not in words


@pytest.mark.parametrize(("look", "mark"), [(PAPER, "N1"), (SCREEN, "…")])
def test_on_the_smallest_maps_only_marks_are_left(noted, look, mark):
    texts = written(noted, replace(look, scale=10000.0))
    # Two and a half millimetres of letter last to 1:7500, six to 1:18 000.
    assert mark in {e.words for e in texts}
    assert any("Above" in e.words for e in texts)
    texts = written(noted, replace(look, scale=20000.0))
    assert {e.words[0] for e in texts} == {mark[0]}
    assert all(e.size_mm >= LEAST_MM for e in texts)


@pytest.mark.parametrize("scale", [2000.0, 10000.0])
def test_a_sheet_lists_the_notes_it_shows_by_number_and_no_others(noted, scale):
    page = plan_sheet(noted, SheetOptions(paper="A3", scale=scale, look=PAPER))[0]
    words = " ".join(e.words for e in page.furniture if isinstance(e, Text))
    assert ("Notes on the map" in words) == (scale > 7500)
    assert (LONG in words) == (scale > 7500)
    assert "Above all this" not in words


def test_a_figure_longer_than_its_line_is_no_longer_written_over_everything():
    study = drawn_site.study(0)

    def figures(scale):
        crowd = Board()
        west, south = EAST * 1000 / scale, NORTH * 1000 / scale
        crowd.take((west - 300, south - 300, west + 800, south + 800))
        layers = plan_layers(study, replace(PAPER, scale=scale), None, crowd)
        labels = next((layer.entries for layer in layers if layer.key == "labels"), ())
        return {e.words for e in labels if isinstance(e, Text) and e.role == "dimension"}

    assert len(figures(500.0)) == 2
    assert figures(30000.0) == set()
