"""Tracks and their crossings after any run of edits: kept answers equal a fresh study's."""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, affinity

from canvas.site.elements.access import Track
from canvas.site.elements.crossings import Culvert, Ford, PassingBay, TurningHead, WaterBar
from canvas.site.facts import Site
from canvas.site.plan import Plan
from canvas.site.records import Element, changed
from canvas.study.study import Study
from made import EAST, NORTH, land_of, plane

LAND = land_of(plane(slope_east=0.06, slope_north=0.12))
WAY = LineString([(EAST + 30, NORTH + 70), (EAST + 100, NORTH + 80), (EAST + 170, NORTH + 70)])
SHAPES: dict[type[Element], object] = {
    Culvert: LineString([(0, 7), (-1, -7)]),
    Ford: LineString([(-9, 0), (9, 2)]),
    WaterBar: LineString([(2, 2), (-2, -2)]),
    TurningHead: Point(0, 0),
    PassingBay: Point(0, -3),
}
KINDS = sorted(SHAPES, key=lambda cls: cls.__name__)

place = st.tuples(st.sampled_from([60, 100, 140, 170]), st.sampled_from([70, 78, 90]))
step = st.one_of(
    st.tuples(st.just("forming"), st.sampled_from(["none", "out", "in", "level"]), st.none()),
    st.tuples(st.just("profile"), st.integers(-2, 2), st.sampled_from([0, 20])),
    st.tuples(st.just("bench"), st.booleans(), st.none()),
    st.tuples(st.just("add"), st.sampled_from(KINDS), place),
    st.tuples(st.just("move"), st.integers(0, 9), place),
    st.tuples(st.just("remove"), st.integers(0, 9), st.none()),
)


def placed(cls: type[Element], xy: tuple[int, int], ident: str) -> Element:
    shape = affinity.translate(SHAPES[cls], EAST + xy[0], NORTH + xy[1])  # type: ignore[type-var]
    return cls(id=ident, geometry=shape)


def after(plan: Plan, number: int, what: tuple[str, object, object]) -> Plan:
    word, one, two = what
    track = plan.element("way")
    others = sorted((i for i in plan.elements() if i.id != "way"), key=lambda item: item.id)
    match word:
        case "forming":
            return plan.with_(changed(track, forming=one))
        case "profile":
            rows = f"0;{111 + int(one)};\n70;{115 - int(one)};{two}\n140;118;"  # type: ignore[call-overload]
            return plan.with_(changed(track, profile=rows))
        case "bench":
            return plan.with_(changed(track, full_bench=one))
        case "add":
            return plan.with_(placed(one, two, f"e{number}"))  # type: ignore[arg-type]
    if not others:
        return plan
    item = others[int(one) % len(others)]  # type: ignore[call-overload]
    if word == "move":
        return plan.with_(placed(type(item), two, item.id))  # type: ignore[arg-type]
    return plan.without(item.id)


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(step, min_size=2, max_size=6))
def test_kept_answers_equal_fresh_ones(steps: list[tuple[str, object, object]]) -> None:
    site = Site(name="Made up", crs="EPSG:7854", rule_sets="good_practice,california,victoria")
    way = Track(id="way", geometry=WAY, forming="out", design_grade=0.2)
    study = Study(Plan([site, way]), LAND)
    study.findings()
    for number, what in enumerate(steps):
        plan = after(study.plan, number, what)
        # What was only tried must leave no trace.
        ghost = changed(way, forming="level", profile="0;120;\n140;121;")
        study.preview(study.plan.with_(ghost)).facts("way")
        study = study.moved(plan)
        fresh = Study(plan, LAND)
        told, anew = (
            sorted((f.key, f.measured, f.message) for f in each.findings())
            for each in (study, fresh)
        )
        assert told == anew
        for item in plan.elements():
            assert study.facts(item.id) == fresh.facts(item.id)
            kept, new = study.parts(item.id), fresh.parts(item.id)
            assert {k: g.wkb for k, g in kept.items()} == {k: g.wkb for k, g in new.items()}
