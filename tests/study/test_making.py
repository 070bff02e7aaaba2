"""Ground from measured heights, surveys laid in, level books: from records to figures."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString, Point

from canvas.base.errors import BadData
from canvas.base.grid import Grid
from canvas.ground.tin import Surface
from canvas.site import tabular
from canvas.site.elements.heights import SpotHeight, SurveyLine
from canvas.site.elements.land import SurveyMark
from canvas.site.levelling import LevelBook
from canvas.study.making import Wish, book_facts, carried, heights_of, lay_in, make_ground, reduced
from made import EAST, NORTH, plane, study_of


def tilted(x: float, y: float) -> float:
    """A plane: 2 % to the east, 5 % to the north, 100 m in the corner."""
    return 100.0 + 0.02 * x + 0.05 * y


def spots(*places: tuple[float, float]) -> list[SpotHeight]:
    return [
        SpotHeight(geometry=Point(EAST + x, NORTH + y), height_m=tilted(x, y)) for x, y in places
    ]


FOUR = ((0.0, 0.0), (60.0, 0.0), (60.0, 40.0), (0.0, 40.0), (25.0, 18.0))


@pytest.mark.parametrize("surface", list(Surface))
def test_heights_on_a_plane_give_the_plane_and_nothing_beyond(surface: Surface) -> None:
    study = study_of(*spots(*FOUR))
    made = make_ground(study, Wish(cell_m=1.0, surface=surface, longest_edge_m=100.0))
    x, y = np.meshgrid(made.grid.x_m() - EAST, made.grid.y_m() - NORTH)
    known = np.isfinite(made.grid.z)
    assert np.allclose(made.grid.z[known], tilted(x, y)[known], atol=1e-6)
    # 60 m by 40 m and no cell more.
    assert known.sum() == pytest.approx(60 * 40, rel=0.02)


def test_marks_far_apart_stretch_no_sheet_between_them() -> None:
    far = [
        SurveyMark(geometry=Point(EAST + x, NORTH + y), height_m=90.0)
        for x, y in ((-300, 0), (300, 500))
    ]
    near = spots((0, 0), (40, 0), (40, 30), (0, 30))
    made = make_ground(study_of(*far, *near), Wish())
    assert np.isfinite(made.grid.z).sum() == pytest.approx(40 * 30, rel=0.05)


def test_marks_and_lines_count_and_a_breakline_creases_the_ground() -> None:
    mark = SurveyMark(geometry=Point(EAST, NORTH + 40), height_m=100.0)
    others = [
        SpotHeight(geometry=Point(EAST + x, NORTH + y), height_m=100.0)
        for x, y in ((0, 0), (60, 0), (60, 40))
    ]
    ditch = SurveyLine(
        geometry=LineString([(EAST + 30, NORTH), (EAST + 30, NORTH + 40)]),
        levels=tabular.form([(98.0,), (97.0,)]),
    )
    study = study_of(mark, *others, ditch)
    assert len(heights_of(study.plan).points) == 4
    grid = make_ground(study, Wish(cell_m=0.5, longest_edge_m=100.0)).grid
    assert grid.sample(EAST + 30, NORTH + 20) == pytest.approx(97.5, abs=0.1)
    # Half way along the southern edge, from 100 m at the corner to 98 m at the ditch.
    assert grid.sample(EAST + 15, NORTH + 0.5) == pytest.approx(99.0, abs=0.1)


def test_a_line_that_cannot_be_used_is_named() -> None:
    line = SurveyLine(
        name="Top of bank", geometry=LineString([(EAST, NORTH), (EAST + 9, NORTH)]),
        levels=tabular.form([(1.0,)]),
    )  # fmt: skip
    with pytest.raises(BadData, match="Top of bank: 1 heights for 2 corners"):
        make_ground(study_of(*spots(*FOUR), line), Wish())
    bare = SurveyLine(name="Kerb", geometry=line.geometry)
    with pytest.raises(BadData, match="Kerb: it has no height"):
        make_ground(study_of(*spots(*FOUR), bare), Wish())


def test_a_spot_that_disagrees_is_told() -> None:
    twice = [
        *spots(*FOUR),
        SpotHeight(geometry=Point(EAST + 60, NORTH), height_m=tilted(60, 0) + 1.0),
    ]
    told = " ".join(make_ground(study_of(*twice), Wish()).notes)
    assert "1.00" in told
    assert "one of them is wrong" in told


def test_heights_are_laid_into_the_ground_there_is() -> None:
    base = plane(0.0, 0.0, cells=200)
    raised = [
        SpotHeight(geometry=Point(EAST + x, NORTH + y), height_m=float(base.z[0, 0]) + 1.0)
        for x, y in ((80, 80), (120, 80), (120, 120), (80, 120))
    ]
    study = study_of(*raised, grid=base)
    made = make_ground(study, Wish(cell_m=1.0, feather_m=8.0))
    assert made.grid.sample(EAST + 100, NORTH + 100) == pytest.approx(base.z[0, 0] + 1.0)
    assert made.grid.sample(EAST + 40, NORTH + 40) == pytest.approx(base.z[0, 0])
    # Half way through the feather it is half way up: the edge has no step.
    edge = made.grid.sample(np.full(5, EAST + 100), NORTH + np.array([80.5, 82, 84, 86, 90]))
    assert (np.diff(edge) > 0).sum() >= 3
    assert edge[0] < base.z[0, 0] + 0.2


def test_a_denser_survey_comes_to_the_grounds_datum_unless_told_not_to() -> None:
    base = plane(0.02, 0.05, cells=200)
    rows = np.mgrid[0:80, 0:80]
    x, y = EAST + 80 + 0.25 + 0.5 * rows[1], NORTH + 120 - 0.25 - 0.5 * rows[0]
    survey = Grid(base.sample(x, y) - 12.5, EAST + 80, NORTH + 120, 0.5)
    made = lay_in(study_of(grid=base), survey)
    facts = {fact.key: fact.value for fact in made.facts}
    assert facts["shift_m"] == pytest.approx(12.5, abs=0.01)
    assert made.grid.cell_m == 0.5
    assert made.grid.sample(EAST + 100, NORTH + 100) == pytest.approx(
        float(base.sample(EAST + 100, NORTH + 100)), abs=0.02
    )
    kept = lay_in(study_of(grid=base), survey, keep_datum=True)
    assert kept.grid.sample(EAST + 100, NORTH + 100) == pytest.approx(
        float(base.sample(EAST + 100, NORTH + 100)) - 12.5, abs=0.02
    )
    with pytest.raises(BadData, match="no ground"):
        lay_in(study_of(), survey)


def test_a_level_book_sets_the_heights_of_what_bears_its_names() -> None:
    # Worked by hand: 100.000 + 1.500 − 0.800 = 100.700; + 1.200 − 1.895 = 100.005, 5 mm too high.
    book = LevelBook(
        readings=tabular.form(
            [
                ("BM", 1.500, None, None, 40.0, 100.0),
                ("Gate", None, 1.000, None, None, None),
                ("CP", 1.200, None, 0.800, 40.0, None),
                ("BM", None, None, 1.895, 40.0, 100.0),
            ]
        )
    )
    found = reduced(book)
    facts = {fact.key: fact.value for fact in book_facts(found)}
    assert facts["misclosure_m"] == pytest.approx(0.005, abs=1e-9)
    assert facts["arithmetic_m"] == pytest.approx(0.0, abs=1e-9)
    assert found.levels[1].height_m == pytest.approx(100.5)
    gate = SpotHeight(name="gate", geometry=Point(EAST, NORTH))
    pairs = carried(study_of(gate).plan, found)
    assert [(before.id, after.height_m) for before, after in pairs] == [
        (gate.id, pytest.approx(found.levels[1].adjusted_m, abs=1e-4))
    ]


def test_a_spot_height_tells_how_the_ground_differs() -> None:
    base = plane(0.0, 0.0)
    spot = SpotHeight(geometry=Point(EAST + 50, NORTH + 50), height_m=float(base.z[0, 0]) - 0.4)
    facts = {fact.key: fact.value for fact in study_of(spot, grid=base).facts(spot.id)}
    assert facts["ground_differs_m"] == pytest.approx(0.4)
