"""What the study says can't be built or sized is told as a finding; a typed flow settles it."""

from __future__ import annotations

import pytest
from shapely import LineString, box

from canvas.base.finding import Finding
from canvas.base.grid import Grid
from canvas.site.elements.crossings import Culvert
from canvas.site.elements.earthworks import Platform
from canvas.site.elements.ponds import Dam, DugPond
from canvas.site.elements.swales import Drain, Swale
from canvas.site.records import Element, changed
from canvas.site.storms import DesignStorm
from canvas.study.study import Study
from made import EAST, NORTH, plane, study_of

#: Rules that a catchment known only in part breaks.
IN_PART = {"sill_catchment_known", "pond_catchment_known", "culvert_catchment"}


def told(study: Study, ident: str) -> dict[str, Finding]:
    found = study.findings_of(ident)
    return {each.rule.removeprefix("good_practice."): each for each in found}


def line(*points: tuple[float, float]) -> LineString:
    return LineString([(EAST + x, NORTH + y) for x, y in points])


def pad(**fields: object) -> Platform:
    return Platform(geometry=box(EAST + 40, NORTH + 40, EAST + 60, NORTH + 55), **fields)


def test_a_pad_set_to_no_level_is_told_with_the_reason() -> None:
    item = pad(level="set")
    study = study_of(item, grid=plane(slope_north=0.1))
    finding = told(study, item.id)["cannot_be_built"]
    assert finding.failing
    assert finding.where.equals(item.geometry)
    assert study.work(item.id).trouble.rstrip(".") in finding.caution
    mended = study.moved(study.plan.with_(changed(item, level_m=105.0)))
    assert "cannot_be_built" not in told(mended, item.id)


def test_a_pipe_that_falls_back_is_told() -> None:
    pipe = Culvert(geometry=line((50, 50), (50, 60)), inlet_m=100.0, outlet_m=101.0)
    study = study_of(pipe, grid=plane(slope_north=0.1))
    assert "cannot_be_built" in told(study, pipe.id)


def test_without_a_ground_the_ground_alone_is_asked_for() -> None:
    item = pad()
    study = study_of(item)
    assert study.work(item.id).trouble
    assert "cannot_be_built" not in told(study, item.id)


def valley() -> Grid:
    ground = plane(slope_north=0.04)
    x = ground.x_m()[None, :] - EAST
    return ground.like(ground.z + 0.15 * abs(x - 100))


ACROSS = Dam(geometry=line((70, 100), (130, 100)))
SIZED = [
    (Swale(geometry=line((20, 60), (80, 60))), "flow_unknown"),
    (Drain(geometry=line((20, 60), (80, 59.5))), "flow_unknown"),
    (
        DugPond(geometry=box(EAST + 40, NORTH + 60, EAST + 60, NORTH + 75)),
        "pond_flood_unknown",
    ),
]


@pytest.mark.parametrize(("item", "rule"), SIZED)
def test_what_is_not_sized_for_want_of_rain_is_told(item: Element, rule: str) -> None:
    hill = plane(slope_north=0.05)
    dry = study_of(item, grid=hill)
    assert rule in told(dry, item.id)
    assert "Design storm: not set." in told(dry, item.id)[rule].caution
    rained = study_of(item, DesignStorm(depth_mm=80.0, hours=24.0), grid=hill)
    assert rule not in told(rained, item.id)
    typed = study_of(changed(item, design_flow_m3s=0.02), grid=hill)
    assert rule not in told(typed, item.id)


@pytest.mark.parametrize("item", [SIZED[0][0], SIZED[1][0], ACROSS])
@pytest.mark.parametrize("rain", [(), (DesignStorm(depth_mm=80.0, hours=24.0),)])
def test_a_typed_flow_hangs_on_no_catchment(item: Element, rain: tuple[DesignStorm, ...]) -> None:
    hill = valley() if item is ACROSS else plane(slope_north=0.05)
    assert IN_PART & set(told(study_of(item, *rain, grid=hill), item.id))
    typed = changed(item, design_flow_m3s=0.02)
    study = study_of(typed, *rain, grid=hill)
    assert not IN_PART & set(told(study, item.id))
    facts = {fact.key: fact.value for fact in study.facts(item.id)}
    assert facts["peak_m3s"] == 0.02
    # The area is told as what it is all the same.
    assert facts["catchment_at_least"] == "yes; the flow is typed"


def test_a_lining_not_to_be_used_is_told_without_a_share() -> None:
    """Chapter 5's table gives a grass mixture no speed over 10 % fall."""
    drain = Drain(geometry=line((50, 60), (50, 30)), grade=0.12, lining="grass_mixture")
    study = study_of(drain, grid=plane(slope_north=0.12))
    facts = {fact.key: fact.value for fact in study.facts(drain.id)}
    assert "speed_share" not in facts
    assert {"drain_lining"} == set(told(study, drain.id)) & {"drain_lining", "drain_speed"}


def test_a_dam_without_rain_is_a_warning() -> None:
    study = study_of(ACROSS, grid=valley())
    assert told(study, ACROSS.id)["pond_flood_unknown"].failing
