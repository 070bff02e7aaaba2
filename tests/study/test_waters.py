"""Where water runs, as the study tells it: worked on planes and valleys."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import LineString, Point, box

from canvas.base.errors import BadData
from canvas.base.grid import Grid
from canvas.site.elements.water import WaterBody, Watercourse
from canvas.study.ground_lines import drop, ground_lines
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


def test_lines_of_the_ground_lie_where_they_must() -> None:
    study = study_of(grid=valley())
    floor = EAST + 50.5
    found = ground_lines(study, "valleys", least_m2=300.0)
    assert len(found) == 1
    x = shapely.get_coordinates(found[0].geometry)[:, 0]
    assert np.abs(x - floor).max() <= 1.0
    # A ridge is a valley turned over: the same ground with its sides falling.
    over = valley(401)
    ridge = ground_lines(study_of(grid=over.like(300.0 - over.z)), "ridges")
    assert np.abs(shapely.get_coordinates(ridge[0].geometry)[:, 0] - (EAST + 200.5)).max() <= 1.0
    runs = ground_lines(study, "drainage", least_m2=300.0)
    largest = max(f.value for each in runs for f in each.facts if f.key == "catchment_m2")
    assert largest == pytest.approx(101 * 101, rel=0.05)


def test_a_drop_runs_down_the_side_and_along_the_floor() -> None:
    way = drop(study_of(grid=valley()), EAST + 20.5, NORTH + 60.5)
    told = {fact.key: fact.value for fact in way.facts}
    # 30 m of side at 20 %, and the floor's 2 % to the southern edge.
    assert told["fall_m"] == pytest.approx(30 * 0.2 + 60 * 0.02, abs=0.15)
    x, y = shapely.get_coordinates(way.geometry)[-1]
    assert abs(x - (EAST + 50.5)) <= 1.0
    assert y == pytest.approx(NORTH, abs=0.01)


def test_unknown_lines_and_places_say_what_there_is() -> None:
    study = study_of(grid=valley())
    with pytest.raises(BadData, match="drainage, valleys"):
        ground_lines(study, "rivers")
    with pytest.raises(BadData, match="no ground here"):
        drop(study, EAST - 50, NORTH)


def test_ways_of_water_point_where_the_plane_falls() -> None:
    study = study_of(grid=plane(slope_north=0.05, cells=40))
    inside = (slice(3, -3), slice(3, -3))
    # Falls 5 % towards the south or the north: the same way by eight directions and by true fall.
    aspect = study.map("aspect").grid.z[inside]
    assert np.allclose(study.map("flow_to").grid.z[inside], aspect)
    assert np.allclose(study.map("spread_to").grid.z[inside], aspect)
    assert np.allclose(study.map("spread").grid.z[inside], study.map("flow").grid.z[inside])
    assert np.allclose(study.map("filled").grid.z, study.land.grid.z)
