"""Culverts, fords, water bars and cross-drains: shaped, sized, and letting the water through."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely import LineString, Point

from canvas.base.errors import BadData
from canvas.base.grid import Grid
from canvas.base.quantity import UnitSystem
from canvas.site.elements.access import Track
from canvas.site.elements.crossings import Culvert, Ford, TurningHead, WaterBar
from canvas.site.records import changed
from canvas.site.storms import DesignStorm
from canvas.study.schedules import schedules
from canvas.study.study import Study
from canvas.tools.crossdrains import cross_drains_edit
from canvas.water.culverts import Culvert as Pipe
from canvas.water.culverts import crossing, inlets
from made import EAST, NORTH, plane, study_of

ROWS = "0;112;\n60;105.2;20\n120;112;"


def line(*points: tuple[float, float]) -> LineString:
    return LineString([(EAST + x, NORTH + y) for x, y in points])


def values(study: Study, ident: str) -> dict[str, object]:
    return {fact.key: fact.value for fact in reversed(study.facts(ident))}


def valley(cells: int = 200) -> Grid:
    """A valley that falls 5 % to the south, its sides 15 %."""
    row, col = np.mgrid[0:cells, 0:cells]
    x, y = col + 0.5, cells - row - 0.5
    return Grid(100 + 0.05 * y + 0.15 * abs(x - 100), EAST, NORTH + cells, 1.0)


def track(**more: object) -> Track:
    return Track(geometry=line((40, 60), (160, 60)), forming="out", profile=ROWS, **more)


def culvert(**more: object) -> Culvert:
    given = {"inlet_m": 103.2, "outlet_m": 102.6, "bore_m": 0.6, "design_flow_m3s": 0.5}
    return Culvert(geometry=line((100, 66), (100, 54)), **{**given, **more})


def test_a_track_dams_the_valley_until_a_culvert_lets_the_water_through() -> None:
    dammed = study_of(track(), grid=valley()).flow(designed=True)
    assert np.nanmax(dammed.depth_m().z) > 2.0
    pipe = culvert()
    study = study_of(track(), pipe, grid=valley())
    open_ = study.flow(designed=True)
    assert np.nanmax(open_.depth_m().z) < 0.15
    # All the ground above drains to it: 200 m wide, 134 m and more up the valley.
    catchment = study.catchment(Point(EAST + 100, NORTH + 54), designed=True)
    assert catchment.area_m2 > 200 * 134 * 0.9
    # No level changes: the way over it stays.
    assert study.work(pipe.id).patches[0].area_m2 == 0


def test_culvert_facts_are_those_of_its_levels_and_the_published_method() -> None:
    pipe = culvert()
    found = values(study_of(track(), pipe, grid=valley()), pipe.id)
    assert found["pipe_slope"] == pytest.approx(0.6 / 12)
    assert found["pipe_m"] == 12.0
    # The track's lowest is its profile's: the vertical curve passes A L / 8 above the knee.
    road = 105.2 + (2 * 6.8 / 60) * 20 / 8
    assert found["cover_m"] == pytest.approx(road - 102.9 - 0.6, abs=0.12)
    same = Pipe(0.6, 12.0, 0.05, inlets()["corrugated_projecting"])
    assert found["headwater_m"] == pytest.approx(crossing(same, 0.5, 2.5, 10).headwater_m)
    assert found["flow_share"] == pytest.approx(0.5 / found["capacity_m3s"])
    # Handbook, common practice: rock four bores long, three wide.
    assert (found["apron_m"], found["apron_width_m"]) == pytest.approx((2.4, 1.8))
    assert "over_m3s" not in found


def test_more_water_than_it_passes_goes_over_the_way() -> None:
    pipe = culvert(design_flow_m3s=3.0)
    study = study_of(track(), pipe, grid=valley())
    found = values(study, pipe.id)
    assert found["flow_share"] > 1
    over, through = found["over_m3s"], 3.0 - found["over_m3s"]
    assert over > 1.0
    assert through >= found["capacity_m3s"] - 1e-6
    # Broad weir as long as the dip: Q = 1.70 L h^1.5 (handbook, HEC-22 equation 8-22).
    fact = next(f for f in study.facts(pipe.id) if f.key == "over_m3s")
    dip = float(fact.basis.removeprefix("along ").removesuffix(" m"))
    assert over == pytest.approx(1.70 * dip * found["overtops_m"] ** 1.5, rel=0.1)
    assert "runs" in fact.remark
    # From the low place of the way down the valley to where the ground ends.
    parts = study.parts(pipe.id)
    assert parts["overflow"].distance(parts["low"]) < 1.5
    assert parts["overflow"].coords[-1][1] == pytest.approx(NORTH, abs=1.5)
    less = culvert()
    assert "overflow" not in study_of(track(), less, grid=valley()).parts(less.id)


@pytest.mark.parametrize(
    ("wrong", "why"),
    [
        ({"inlet_m": 102.0}, "no lower than its inlet"),
        ({"bore_m": 3.5}, "out of the way over it"),
    ],
)
def test_a_culvert_that_cannot_be_says_why(wrong: dict, why: str) -> None:
    pipe = culvert(**wrong)
    assert why in str(values(study_of(track(), pipe, grid=valley()), pipe.id)["trouble"])


def test_a_ford_is_a_floor_between_ramps_and_says_how_deep_the_flow_is() -> None:
    ford = Ford(geometry=line((85, 120), (115, 120)), floor_m=4.0, design_flow_m3s=0.5)
    study = study_of(ford, grid=valley())
    found = values(study, ford.id)
    # The valley's middle at y = 120 stands at 106.075 m between its two cells.
    assert found["bed_level_m"] == pytest.approx(106.075, abs=0.03)
    ground = study.designed()
    # Level between its easing curves, a metre in from either end of the floor.
    for x in (99.1, 100, 100.9):
        level = float(ground.sample(EAST + x, NORTH + 120))
        assert level == pytest.approx(found["bed_level_m"], abs=0.05)
    # Critical flow over the dip: q² T / (g A³) = 1 at the depth that carries 0.5 m³/s.
    speed, head = found["ford_speed_m_s"], found["ford_depth_m"]
    deep = head - speed**2 / (2 * 9.81)
    side = 1 / found["ramp"]
    area, top = 4 * deep + side * deep**2, 4 + 2 * side * deep
    assert speed * area == pytest.approx(0.5, rel=0.05)
    assert speed**2 * top / (9.81 * area) == pytest.approx(1.0, rel=0.08)


def test_a_ford_needs_room_for_its_ramps() -> None:
    ford = Ford(geometry=line((97, 120), (102, 120)), floor_m=4.0)
    assert "ramps have no room" in str(values(study_of(ford, grid=valley()), ford.id)["trouble"])


def test_a_water_bar_turns_the_water_off_its_track() -> None:
    way = Track(geometry=line((100, 20), (100, 180)), forming="out", profile="0;102;\n160;118;")
    grid = plane(slope_east=0.05, slope_north=0.10)
    bar = WaterBar(geometry=line((102, 102), (98, 98.5)), design_flow_m3s=0.05)
    study = study_of(way, bar, grid=grid)
    found = values(study, bar.id)
    assert found["bar_deep_m"] == pytest.approx(0.46)
    assert found["angle_deg"] == pytest.approx(math.degrees(math.atan2(4, 3.5)), abs=0.5)
    # Its outlet lies lower than its inlet by what the ground falls along it, at least.
    assert found["fall"] >= 0.03
    ground, crest = study.designed(), study.work(bar.id).thing.crest
    on = crest.interpolate(0.5, normalized=True)
    trough = bar.geometry.interpolate(bar.geometry.project(on))
    height = float(ground.sample(on.x, on.y)) - float(ground.sample(trough.x, trough.y))
    assert height == pytest.approx(0.46, abs=0.08)
    assert found["flow_share"] < 1


def test_cross_drains_are_placed_at_one_stroke_and_none_is_missing_then() -> None:
    way = track(phase="", status="proposed")
    study = study_of(way, grid=valley())
    edit = cross_drains_edit(study, way)
    made = [change.after for change in edit.changes]
    assert edit.label == "Place 5 cross-drains"
    # The low point lies 2 m over the valley: it gets a pipe, from the upper toe to the lower.
    (pipe,) = [item for item in made if isinstance(item, Culvert)]
    assert pipe.geometry.coords[0][1] > pipe.geometry.coords[1][1]
    after = study.moved(study.plan.applied(edit))
    found = values(after, way.id)
    assert (found["drains"], found["drains_missing"], found["lows_undrained"]) == (5, 0, 0)
    assert found["drain_gap"] <= 1 + 1e-6
    for item in made:
        own = values(after, item.id)
        assert "trouble" not in own
        if isinstance(item, WaterBar):
            # Handbook 5.2: 45 to 60° to the road, at least 457 mm deep.
            assert 45 <= own["angle_deg"] <= 60
            assert own["bar_deep_m"] >= 0.457
    assert cross_drains_edit(after, way) is None
    back = after.plan.applied(edit.inverse())
    assert not back.of_kind("water_bar")


def test_the_schedule_lists_what_crosses_and_turns() -> None:
    bars = [WaterBar(geometry=line((x, 62), (x - 3, 58))) for x in (60, 80)]
    head = TurningHead(geometry=Point(EAST + 162, NORTH + 60))
    study = study_of(track(), culvert(name="Pipe"), head, *bars, grid=valley())
    (table,) = [t for t in schedules(study, UnitSystem.METRIC) if t.title.startswith("Crossings")]
    rows = [" | ".join(row.cells).replace("\xa0", " ") for row in table.lines]
    passes = values(study, study.plan.of_kind("culvert")[0].id)["capacity_m3s"]
    assert rows == [
        f"Pipe · proposed | 1 × 0.60 m, 12.0 m | {passes:.3f} m³/s | 0.500 m³/s",
        "Turning head · proposed | R 12.20 m | – | –",
        "Water bars × 2 | to 5.0 m long | – | –",
    ]


def test_rolling_dips_are_long_and_gentle() -> None:
    way = track(cross_drains="rolling_dips")
    edit = cross_drains_edit(study_of(way, grid=valley()), way)
    dips = [c.after for c in edit.changes if isinstance(c.after, WaterBar)]
    assert dips
    assert all(dip.side == 10.0 and dip.name == "Rolling dip" for dip in dips)


def test_a_track_that_is_not_shaped_gets_no_drains() -> None:
    way = changed(track(), forming="none")
    with pytest.raises(BadData, match="design profile"):
        cross_drains_edit(study_of(way, grid=valley()), way)


def test_crossings_take_the_peak_of_the_design_storm() -> None:
    storm = DesignStorm(depth_mm=80.0, hours=24.0)
    pipe = culvert(design_flow_m3s=None)
    study = study_of(track(), pipe, storm, grid=valley())
    found = values(study, pipe.id)
    cell = 1.5
    peak = study.peak(Point(EAST + 100, NORTH + 66).buffer(cell))
    assert found["peak_m3s"] == pytest.approx(peak.high_m3s)
    assert found["flow_share"] == pytest.approx(peak.high_m3s / found["capacity_m3s"])
    # The valley goes on beyond the data: what is sized on it can't be trusted.
    assert found["catchment_at_least"] == "yes"
