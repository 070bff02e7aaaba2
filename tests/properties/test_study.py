"""After any run of edits, the answers kept along the way equal those of a fresh study."""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon, affinity

from canvas.base.finding import Finding
from canvas.site.elements.access import PublicRoad, Track
from canvas.site.elements.building import Building, Fence, Gate
from canvas.site.elements.services import Firebreak, OverheadLine
from canvas.site.elements.vegetation import Tree, TreeRow
from canvas.site.elements.water import SepticField, Tank, Well
from canvas.site.facts import Site, Waiver
from canvas.site.plan import Plan
from canvas.site.records import Element, changed
from canvas.study.study import Study
from made import EAST, NORTH, land_of, plane

LAND = land_of(plane(slope_east=0.05, slope_north=0.25))
SHAPES = {
    Tree: Point(0, 0),
    Well: Point(0, 0),
    Tank: Point(0, 0),
    Gate: Point(0, 0),
    Track: LineString([(-20, -5), (0, 0), (25, 8)]),
    PublicRoad: LineString([(-30, 0), (30, 0)]),
    Fence: LineString([(-15, 0), (15, 3)]),
    OverheadLine: LineString([(-40, 5), (40, -5)]),
    TreeRow: LineString([(-12, 0), (12, 0)]),
    Firebreak: LineString([(-15, -15), (15, -15), (15, 15), (-15, 15), (-15, -15)]),
    Building: Polygon([(-6, -4), (6, -4), (6, 4), (-6, 4)]),
    SepticField: Polygon([(-5, -5), (5, -5), (5, 5), (-5, 5)]),
}
KINDS = sorted(SHAPES, key=lambda cls: cls.__name__)
STATUSES = ("existing", "remove", "proposed", "built", "gone")

spot = st.tuples(st.integers(30, 170), st.integers(30, 170))
step = st.one_of(
    st.tuples(st.just("add"), st.sampled_from(KINDS), spot),
    st.tuples(st.just("move"), st.integers(0, 99), spot),
    st.tuples(st.just("status"), st.integers(0, 99), st.sampled_from(STATUSES)),
    st.tuples(st.just("remove"), st.integers(0, 99), st.none()),
    st.tuples(st.just("waive"), st.integers(0, 99), st.none()),
)


def placed(cls: type[Element], xy: tuple[int, int], ident: str) -> Element:
    shape = affinity.translate(SHAPES[cls], EAST + xy[0], NORTH + xy[1])
    return cls(id=ident, geometry=shape, status="proposed")


def after(study: Study, number: int, what: tuple[str, object, object]) -> Plan:
    plan = study.plan
    word, one, two = what
    elements = sorted(plan.elements(), key=lambda item: item.id)
    if word == "add":
        return plan.with_(placed(one, two, f"e{number}"))  # type: ignore[arg-type]
    if not elements:
        return plan
    item = elements[int(one) % len(elements)]  # type: ignore[call-overload]
    match word:
        case "move":
            return plan.with_(placed(type(item), two, item.id))  # type: ignore[arg-type]
        case "status":
            return plan.with_(changed(item, status=two))
        case "waive":
            found = study.findings()
            if not found:
                return plan
            key = found[int(one) % len(found)].key  # type: ignore[call-overload]
            return plan.with_(Waiver(id=f"w{number}", finding=key, reason="agreed"))
        case _:
            return plan.without(item.id)


def told(findings: tuple[Finding, ...]) -> list[tuple[object, ...]]:
    return sorted(
        (f.key, f.severity, f.message, f.measured, f.required, f.waived, f.where.wkb)
        for f in findings
    )


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(step, min_size=1, max_size=9))
def test_kept_answers_equal_fresh_ones(steps: list[tuple[str, object, object]]) -> None:
    site = Site(name="Made up", crs="EPSG:7854", rule_sets="good_practice,california,victoria")
    study = Study(Plan([site]), LAND)
    for number, what in enumerate(steps):
        plan = after(study, number, what)
        # A preview of something else in between must leave no trace.
        study.preview(plan.with_(placed(Tree, (100, 100), "ghost"))).findings()
        study = study.moved(plan)
        fresh = Study(plan, LAND)
        assert told(study.findings()) == told(fresh.findings())
        for item in plan.elements():
            assert study.facts(item.id) == fresh.facts(item.id)
            kept, anew = study.parts(item.id), fresh.parts(item.id)
            assert {k: g.wkb for k, g in kept.items()} == {k: g.wkb for k, g in anew.items()}
