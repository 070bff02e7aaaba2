"""Every sort of sheet: earthworks with both grounds, details at their own scales."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString, box

from canvas.base.errors import BadData
from canvas.drawing.details.registry import details
from canvas.drawing.entries import Areas, Fill, Lines, Stamps, Stroke, Text
from canvas.drawing.look import Look
from canvas.drawing.shift import shifted
from canvas.drawing.spot_levels import spot_layer
from canvas.sheets.prepared import SheetOptions
from canvas.sheets.sorts import SORTS, make_sheet
from canvas.site.elements.earthworks import Platform
from canvas.site.elements.land import SiteBoundary
from canvas.site.elements.swales import Swale
from made import EAST, NORTH, plane, study_of


@pytest.fixture(scope="module")
def study():
    """A platform set a metre up and a swale on a plane of one in ten."""
    land = SiteBoundary(geometry=box(EAST + 20, NORTH + 20, EAST + 180, NORTH + 180))
    pad = Platform(
        geometry=box(EAST + 60, NORTH + 95, EAST + 80, NORTH + 105), name="Yard", level="set",
        level_m=111.0,
    )  # fmt: skip
    swale = Swale(
        geometry=LineString([(EAST + 100, NORTH + 120), (EAST + 150, NORTH + 120)]), name="Top"
    )
    return study_of(land, pad, swale, grid=plane(0.0, 0.1))


def words(page) -> list[str]:
    return [entry.words for entry in page.furniture if isinstance(entry, Text)]


@pytest.mark.parametrize("key", [key for key in SORTS if key != "rain"])
@pytest.mark.parametrize("paper", ["A4", "A3", "A1", "ANSI B"])
def test_every_sort_fits_every_paper(study, key, paper):
    pages = make_sheet(key, study, SheetOptions(paper=paper, title=SORTS[key].label))
    assert pages
    for page in pages:
        assert SORTS[key].label in " ".join(words(page))
        for entry in page.furniture:
            if isinstance(entry, Text):
                assert 0 <= entry.x <= page.width_mm
                assert 0 <= entry.y <= page.height_mm


def test_an_earthworks_plan_tells_levels_before_and_after(study):
    layer = spot_layer(study, Look(scale=500))
    assert layer is not None
    told = [entry.words for entry in layer.entries if isinstance(entry, Text)]
    # The middle of the pad: set at 111 m, on ground at 100 + a tenth of 100 m.
    ground = study.land.grid.sample(EAST + 70, NORTH + 100)
    assert f"111.00 ({float(ground):.2f})" in told


def test_details_stand_apart_with_cautions_beside_them(study):
    pages = make_sheet("details", study, SheetOptions(title="Details"))
    told = " ".join(" ".join(words(page)) for page in pages)
    assert "Yard" in told
    assert "Top" in told
    assert "Cautions" in told
    assert "as noted" in told
    wanted = sum(len(details(study.plan.element(w.ident), study)) for w in study.works())
    headings = [w for page in pages for w in words(page) if w.startswith(("Yard", "Top"))]
    assert len(headings) >= wanted > 2


def test_without_works_it_says_what_to_draw():
    bare = study_of(grid=plane())
    for key in ("earthworks", "details"):
        with pytest.raises(BadData, match="Draw a platform"):
            make_sheet(key, bare, SheetOptions())
    with pytest.raises(BadData, match="plan, earthworks, details"):
        make_sheet("posters", bare, SheetOptions())


def test_entries_move_whole():
    line = np.array([(0.0, 0.0), (1.0, 2.0)])
    entries = (
        Lines([line], Stroke("ink")), Areas([[line]], Fill("ink")), Text(1.0, 1.0, "a", 2.0),
        Stamps("dot", line, np.ones(2)),
    )  # fmt: skip
    by = np.array([10.0, -5.0])
    lines, areas, text, stamps = shifted(entries, 10.0, -5.0)
    assert np.allclose(lines.paths[0], line + by)
    assert np.allclose(areas.polygons[0][0], line + by)
    assert (text.x, text.y) == (11.0, -4.0)
    assert np.allclose(stamps.xy, line + by)
