"""Design storms, runoff and peaks on made-up planes, by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely import LineString, box

from canvas.base.errors import BadData
from canvas.ground.flow import flow
from canvas.ground.upstream import upstream
from canvas.site.elements.cover import GroundCover
from canvas.site.elements.water import Watercourse
from canvas.site.records import changed
from canvas.site.storms import DesignStorm, RainRows
from canvas.study.storm.design import heaviest_mm_h, rain_table
from canvas.study.study import Study
from canvas.tools.water_ways import _catchment
from canvas.water import storms
from canvas.water.runoff import Condition, SoilGroup, covers, runoff_mm
from made import EAST, NORTH, plane, study_of

TABLE = """0.5;2;14
0.5;10;22
0.5;100;36
1;2;19
1;10;30
1;100;50
24;2;60
24;10;96
24;100;155"""


def ditch(y: float = 100.0) -> Watercourse:
    """Return a line across a plane that falls south."""
    return Watercourse(
        id="ditch", geometry=LineString([(EAST + 50, NORTH + y), (EAST + 150, NORTH + y)])
    )


def study_with(*records: object, cells: int = 200) -> Study:
    return study_of(ditch(), *records, grid=plane(0.0, 0.10, cells))


def test_no_rain_is_never_invented() -> None:
    study = study_with()
    rain = study.design_storm()
    assert not rain.known
    assert "rain table" in rain.trouble
    with pytest.raises(BadData, match="rain to design for"):
        study.peak("ditch")


def test_a_typed_depth_works_without_a_table() -> None:
    rain = study_with(DesignStorm(depth_mm=80.0, hours=12.0)).design_storm()
    assert rain.depth_mm == pytest.approx(80.0)
    assert rain.years is None
    assert rain.years_of(80.0) == ""


def test_the_table_gives_the_depth_of_a_return_period() -> None:
    rows = RainRows(depths=TABLE, source="made up")
    rain = study_with(rows, DesignStorm(years=10.0, hours=24.0)).design_storm()
    assert rain.depth_mm == pytest.approx(96.0)
    assert "made up" in rain.basis
    assert rain.years_of(96.0) == "once in 10 years"
    assert rain.years_of(20.0) == "more often than once in 2 years"
    assert rain.years_of(400.0) == "rarer than once in 100 years"


def test_a_table_with_a_gap_is_refused_by_its_place() -> None:
    with pytest.raises(BadData, match="1 h, 10 years"):
        rain_table(RainRows(depths="1;2;19\n24;2;60\n24;10;96"))


def test_beyond_the_table_is_said() -> None:
    rain = study_with(RainRows(depths=TABLE), DesignStorm(years=500.0)).design_storm()
    assert any("outside the rain table" in each for each in rain.remarks)


def test_alternating_blocks_need_the_table() -> None:
    rain = study_with(DesignStorm(depth_mm=50.0, pattern="alternating")).design_storm()
    assert "alternating" in rain.trouble


def test_the_heaviest_hour_of_even_and_triangular_rain() -> None:
    assert heaviest_mm_h(storms.uniform(48.0, 24.0), 60.0) == pytest.approx(2.0)
    # A triangle of 24 h has twice the mean rate at its top; an hour round it has nearly as much.
    assert heaviest_mm_h(storms.triangular(48.0, 24.0), 60.0) == pytest.approx(4.0, rel=0.05)


def test_runoff_is_summed_over_unlike_patches() -> None:
    roof = GroundCover(
        cover="paved", group="C", geometry=box(EAST + 50, NORTH + 120, EAST + 150, NORTH + 150)
    )
    rain = DesignStorm(depth_mm=60.0, cover="pasture", group="C", condition="fair")
    found = study_with(roof, rain).peak("ditch")
    # 100 m wide, 100 m up to the edge and the line's own row; 30 m of it is sealed.
    area = found.catchment.area_m2
    assert area == pytest.approx(101 * 100, rel=0.02)
    pasture = covers()["pasture"].number(SoilGroup.C, Condition.FAIR)
    by_hand = (3000 * runoff_mm(60.0, 98.0) + (area - 3000) * runoff_mm(60.0, pasture)) / 1000
    assert found.runoff_m3 == pytest.approx(float(by_hand), rel=1e-6)
    assert sum(p.area_m2 for p in found.patches) == pytest.approx(area)


def test_the_flow_over_time_holds_the_runoff() -> None:
    found = study_with(DesignStorm(depth_mm=90.0, group="D")).peak("ditch")
    assert found.flow.volume_m3 == pytest.approx(found.runoff_m3, rel=1e-6)


def test_the_way_runs_straight_up_the_plane() -> None:
    found = study_with(DesignStorm(depth_mm=90.0, group="D", pattern="II")).peak("ditch")
    assert found.travel.length_m == pytest.approx(99.0, abs=1.5)
    assert [each.kind for each in found.travel.stretches] == ["sheet", "shallow"]
    for each in found.travel.stretches:
        assert each.slope == pytest.approx(0.10, abs=0.002)
    # Shallow flow over short grass at 10 %: 0.213 x sqrt(10) m/s (HEC-22 table 3-3).
    shallow = found.travel.stretches[1]
    assert shallow.hours == pytest.approx(shallow.length_m / (0.213 * math.sqrt(10)) / 3600)


def test_rational_peak_by_hand() -> None:
    storm = DesignStorm(years=10.0, group="C")
    found = study_of(ditch(), RainRows(depths=TABLE), storm, grid=plane(0.0, 0.08)).peak("ditch")
    rational = next(p for p in found.peaks.peaks if p.method == "rational")
    # Pasture on 8 % (rolling), clay or silt loam: 0.36 (NRCS module 206D).
    intensity = found.rain.intensity(found.travel.hours * 60)
    assert rational.flow_m3s == pytest.approx(0.36 * intensity * found.catchment.area_m2 / 3.6e6)


def test_a_catchment_at_the_edge_is_at_least() -> None:
    storm = DesignStorm(depth_mm=90.0)
    assert study_with(storm).peak("ditch").at_least
    z = plane(0.0, 0.10).z.copy()
    row, col = np.mgrid[0:200, 0:200]
    # A ridge up the hill: beyond it the ground falls away.
    z = np.minimum(z, 100 + 0.10 * 150 - 0.1 * (200 - row - 150))
    closed = study_of(
        ditch(), storm, grid=plane().like(np.minimum(z, 118 - 0.05 * np.abs(col - 100)))
    )
    assert not closed.peak("ditch").at_least


def test_a_moved_storm_is_a_new_answer_and_an_old_one_is_kept() -> None:
    storm = DesignStorm(depth_mm=90.0)
    study = study_with(storm)
    first = study.peak("ditch")
    assert study.peak("ditch") is first
    other = study.moved(study.plan.with_(changed(storm, depth_mm=120.0)))
    assert other.peak("ditch").runoff_m3 > first.runoff_m3


def test_each_cell_belongs_to_the_first_mark_below_it() -> None:
    found = flow(plane(0.0, 0.10, 40))
    marks = np.zeros((40, 40), np.int32)
    marks[10, :] = 1
    marks[30, :20] = 2
    up = upstream(found, marks)
    assert (up.met[:10, 3] == 1).all()
    assert (up.met[11:31, 3] == 2).all()
    assert (up.met[31:, 3] == 0).all()
    assert (up.met[11:, 30] == 0).all()
    assert up.far_m[0, 3] == pytest.approx(10.0)
    way = up.way_from(3)
    assert len(way) == 11
    assert up.run_m(way)[-1] == pytest.approx(10.0)


def test_a_watercourse_tells_its_peak_once_a_storm_is_set() -> None:
    plain = {fact.key for fact in study_with().facts("ditch")}
    assert "catchment_m2" in plain
    assert "peak_m3s" not in plain
    stormy = {fact.key: fact for fact in study_with(DesignStorm(depth_mm=90.0)).facts("ditch")}
    assert "by method" in stormy["peak_m3s"].remark
    assert sum(fact.key == "catchment_m2" for fact in stormy.values()) == 1


def test_a_click_tells_runoff_and_peak() -> None:
    study = study_with(DesignStorm(depth_mm=90.0))
    _, facts = _catchment(study, EAST + 100.5, NORTH + 100.5)
    told = {fact.key: fact for fact in facts}
    assert told["runoff_m3"].value > 0
    assert "by method" in told["peak_m3s"].basis
    assert len(_catchment(study_with(), EAST + 100.5, NORTH + 100.5)[1]) == 1
