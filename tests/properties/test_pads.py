"""Earthworks under any run of edits: answers true as fresh ones, and no earth made or lost."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon, affinity, box

from canvas.base.finding import Finding
from canvas.site.elements.earthworks import BorrowPit, Heap, Platform, Terraces
from canvas.site.elements.vegetation import Tree
from canvas.site.facts import Phase, Site
from canvas.site.plan import Plan
from canvas.site.records import Element, changed
from canvas.study.balance import balance
from canvas.study.study import Study
from made import EAST, NORTH, land_of, plane

LAND = land_of(plane(slope_east=0.04, slope_north=0.15))
SHAPES = {
    Platform: box(-9, -6, 9, 6),
    Terraces: LineString([(-14, 0), (14, 0)]),
    Heap: box(-7, -6, 7, 6),
    BorrowPit: box(-8, -6, 8, 6),
    Tree: Point(0, 0),
}
KINDS = sorted(SHAPES, key=lambda cls: cls.__name__)
PHASES = ("", "one", "two")
SLOW = [HealthCheck.too_slow]

spot = st.tuples(st.integers(50, 150), st.integers(50, 150))
step = st.one_of(
    st.tuples(st.just("add"), st.sampled_from(KINDS), spot),
    st.tuples(st.just("move"), st.integers(0, 99), spot),
    st.tuples(st.just("phase"), st.integers(0, 99), st.sampled_from(PHASES)),
    st.tuples(st.just("swap"), st.none(), st.none()),
    st.tuples(st.just("remove"), st.integers(0, 99), st.none()),
)


def placed(cls: type[Element], xy: tuple[int, int], ident: str, **more: object) -> Element:
    shape = affinity.translate(SHAPES[cls], EAST + xy[0], NORTH + xy[1])
    status = "existing" if cls is Tree else "proposed"
    return cls(id=ident, geometry=shape, status=status, **more)


def after(plan: Plan, number: int, what: tuple[str, object, object]) -> Plan:
    word, one, two = what
    elements = sorted(plan.elements(), key=lambda item: item.id)
    if word == "add":
        return plan.with_(placed(one, two, f"e{number}"))  # type: ignore[arg-type]
    if word == "swap":
        first, second = (plan.get(key) for key in ("one", "two"))
        return plan.with_(changed(first, place=second.place), changed(second, place=first.place))  # type: ignore[union-attr]
    if not elements:
        return plan
    item = elements[int(one) % len(elements)]  # type: ignore[call-overload]
    if word == "move":
        return plan.with_(placed(type(item), two, item.id, phase=item.phase))  # type: ignore[arg-type]
    if word == "phase":
        return plan.with_(changed(item, phase=two))
    return plan.without(item.id)


def told(findings: tuple[Finding, ...]) -> list[tuple[object, ...]]:
    return sorted(
        (f.key, f.severity, f.message, f.measured, f.required, f.where.wkb) for f in findings
    )


@settings(max_examples=15, deadline=None, suppress_health_check=SLOW)
@given(st.lists(step, min_size=2, max_size=7))
def test_kept_answers_of_earthworks_equal_fresh_ones(
    steps: list[tuple[str, object, object]],
) -> None:
    site = Site(name="Made up", crs="EPSG:7854", rule_sets="good_practice")
    begun = [site, Phase(id="one", place=1), Phase(id="two", place=2)]
    study = Study(Plan(begun), LAND)
    for number, what in enumerate(steps):
        plan = after(study.plan, number, what)
        # A drag of something else in between must leave no trace.
        study.preview(plan.with_(placed(Platform, (100, 100), "ghost"))).findings()
        study = study.moved(plan)
        fresh = Study(plan, LAND)
        assert told(study.findings()) == told(fresh.findings())
        assert balance(study) == balance(fresh)
        for item in plan.elements():
            assert study.facts(item.id) == fresh.facts(item.id)
            kept, anew = study.parts(item.id), fresh.parts(item.id)
            assert {k: g.wkb for k, g in kept.items()} == {k: g.wkb for k, g in anew.items()}


@settings(max_examples=15, deadline=None, suppress_health_check=SLOW)
@given(st.lists(st.tuples(st.sampled_from(KINDS[:-1]), spot), min_size=1, max_size=4))
def test_the_designed_ground_holds_the_earth_of_its_works(
    works: list[tuple[type[Element], tuple[int, int]]],
) -> None:
    """What the ground gains is what the patches add, each on the ground left by those before."""
    items = [placed(cls, xy, f"e{k}") for k, (cls, xy) in enumerate(works)]
    study = Study(Plan([Site(name="Made up", crs="EPSG:7854"), *items]), LAND)
    ground = study.designed()
    assert ground is not None
    gained = float(ground.change.z.sum()) * ground.cell_m**2
    laid = 0.0
    for work in study.works():
        for k, patch in enumerate(work.patches):
            assert work.ground is not None
            below = type(work.ground)(work.ground.base, (*work.ground.patches, *work.patches[:k]))
            step = np.where(patch.mask, patch.levels.z - below.on(patch.levels).z, 0.0)
            laid += float(step.sum()) * patch.levels.cell_m**2
    assert gained == pytest.approx(laid, abs=1e-6 * max(abs(laid), 1.0))


turns = st.floats(5, 85)


@settings(max_examples=12, deadline=None, suppress_health_check=SLOW)
@given(turns, st.sampled_from(["none", "uphill", "all"]), st.floats(0.08, 0.25))
def test_turning_the_hill_turns_every_figure(turn: float, walls: str, slope: float) -> None:
    """Within 3 % of earth and 2 cm of level: what half a metre's cells can tell."""
    outline = box(EAST + 90, NORTH + 94, EAST + 110, NORTH + 106)
    turned = affinity.rotate(outline, -turn, origin=(EAST + 100, NORTH + 100))
    assert isinstance(turned, Polygon)
    east, north = np.sin(np.radians(turn)), np.cos(np.radians(turn))
    found = []
    for shape, lean in ((outline, (0.0, slope)), (turned, (slope * east, slope * north))):
        base = plane(slope_east=lean[0], slope_north=lean[1])
        level = base.like(base.z + 120 - float(base.sample(EAST + 100, NORTH + 100)))
        pad = Platform(id="pad", geometry=shape, walls=walls)
        study = Study(Plan([Site(name="Made up", crs="EPSG:7854"), pad]), land_of(level))
        found.append({f.key: f.value for f in reversed(study.facts("pad"))})
    one, two = found
    assert two["level_m"] == pytest.approx(one["level_m"], abs=0.02)
    for key in ("cut_m3", "fill_m3", "moved_m2"):
        assert two[key] == pytest.approx(one[key], rel=0.03), key
