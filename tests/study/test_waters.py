"""Where water runs, as the study tells it: worked on planes and valleys."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString, Point, box

from canvas.base.errors import BadData
from canvas.base.grid import Grid
from canvas.site.elements.water import WaterBody, Watercourse
from canvas.study.maps import catchment_map
from made import EAST, NORTH, plane, study_of


def valley(cells: int = 101) -> Grid:
    """Return a straight valley that falls south: sides at 20 %, floor at 2 %."""
    row, col = np.mgrid[0:cells, 0:cells]
    z = 100 + 0.2 * np.abs(col - cells // 2) + 0.02 * (cells - row)
    return Grid(z, EAST, NORTH + cells, 1.0)


def test_a_watercourse_gathers_the_valley_above_its_end() -> None:
    line = LineString([(EAST + 50.5, NORTH + 90), (EAST + 50.5, NORTH + 40.5)])
    stream = Watercourse(geometry=line)
    study = study_of(stream, grid=valley())
    fact = next(f for f in study.facts(stream.id) if f.key == "catchment_m2")
    # Sides ten times as steep as the floor send every cell straight to it along the row, so the
    # rows from the line's end to the grid's north edge drain there: 61 rows of 101 cells, and one
    # cell each side of the diagonals to the next row.
    assert fact.value == pytest.approx(61 * 101, rel=0.12)
    assert "at least" in fact.remark


def test_a_hollow_holds_water_and_is_mapped() -> None:
    grid = plane(slope_north=0.05, cells=60)
    z = grid.z.copy()
    z[28:33, 28:33] -= 1.0
    pond = WaterBody(geometry=box(EAST + 28, NORTH + 27, EAST + 33, NORTH + 32))
    study = study_of(pond, grid=grid.like(z))
    depth = study.map("hollows").grid.z
    # The pit is 1 m deep below a plane of 5 %: it spills over its lower rim.
    assert np.nanmax(depth) == pytest.approx(1.0 - 0.05, abs=0.02)
    assert np.isnan(depth[5, 5])
    assert next(f for f in study.facts(pond.id) if f.key == "catchment_m2").value > 25


def test_maps_of_water_cover_the_ground_and_agree() -> None:
    study = study_of(grid=valley())
    area = study.map("flow").grid.z
    assert area.min() == pytest.approx(1.0)
    assert area.max() <= 101 * 101
    wet = study.map("wetness").grid.z
    assert wet[60, 50] > wet[60, 20]
    found = catchment_map(study, Point(EAST + 50.5, NORTH + 40.5))
    assert np.nansum(found.grid.z) == pytest.approx(area[60, 50])
    assert "at least" in found.note


def test_without_ground_it_says_so() -> None:
    with pytest.raises(BadData, match="no ground"):
        study_of().map("flow")
    assert study_of().flow() is None
