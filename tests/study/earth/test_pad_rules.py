"""Findings of earthworks in the study: roots, boundaries, clashes, batters, walls."""

from __future__ import annotations

import pytest
from shapely import LineString, Point, box

from canvas.base.finding import Finding
from canvas.desk.map_preview import answer
from canvas.drawing.entries import Lines
from canvas.drawing.look import Look
from canvas.rules.checker import Checker
from canvas.site.elements.access import Track
from canvas.site.elements.building import Building
from canvas.site.elements.earthworks import Heap, Platform, Terraces
from canvas.site.elements.land import SiteBoundary
from canvas.site.elements.services import BuriedService
from canvas.site.elements.vegetation import Tree
from canvas.site.facts import Phase
from canvas.site.records import Element, changed
from canvas.study.earth.roots import roots_near
from canvas.study.study import Study
from made import EAST, NORTH, plane, study_of

X, Y = EAST + 100, NORTH + 100


def pad(**values: object) -> Platform:
    plain = {"id": "pad", "geometry": box(X - 10, Y - 6, X + 10, Y + 6)}
    return Platform(**(plain | values))  # type: ignore[arg-type]


def found(study: Study, rule: str) -> list[Finding]:
    return [each for each in study.findings() if each.rule == f"good_practice.{rule}"]


def hill(*items: Element, slope: float = 0.2) -> Study:
    return study_of(*items, grid=plane(slope_north=slope))


def test_earth_moved_over_kept_roots_is_found_where_it_is() -> None:
    """A stem of 40 cm keeps 4.8 m; the pad's toe reaches within that, its outline does not."""
    tree = Tree(id="oak", status="existing", stem_cm=40, geometry=Point(X, Y - 12.5))
    study = hill(pad(), tree)
    (finding,) = found(study, "roots_left_alone")
    assert set(finding.elements) == {"pad", "oak"}
    assert study.parts("oak")["root_zone"].intersects(finding.where)
    assert finding.where.bounds[3] < Y - 6
    assert study.parts("pad")["toe"].buffer(1e-6).contains(finding.where)
    away = changed(tree, geometry=Point(X, Y - 20))
    assert not found(study.moved(study.plan.with_(away)), "roots_left_alone")
    # A tree that is to go keeps no roots.
    gone = changed(tree, status="remove")
    assert not found(study.moved(study.plan.with_(gone)), "roots_left_alone")


def test_a_heap_on_a_pad_undoes_its_level() -> None:
    heap = Heap(id="heap", geometry=box(X + 4, Y - 3, X + 16, Y + 3))
    study = hill(pad(), heap)
    (finding,) = found(study, "works_agree")
    assert finding.elements == ("heap", "pad")
    assert finding.where.within(box(X + 3, Y - 4, X + 11, Y + 4))
    facts = {f.key: f for f in study.facts("heap")}
    assert finding.measured == pytest.approx(facts["undoes_1_m"].value)
    assert "undone_1_m" in {f.key for f in study.facts("pad")}
    beside = changed(heap, geometry=box(X + 40, Y - 3, X + 52, Y + 3))
    after = study.moved(study.plan.with_(beside))
    assert not found(after, "works_agree")
    assert "undone_1_m" not in {f.key for f in after.facts("pad")}


def test_which_of_two_pads_is_undone_goes_by_their_phases() -> None:
    first, second = Phase(id="1", place=1), Phase(id="2", place=2)
    a = pad(id="a", phase="1", level="set", level_m=120.0)
    b = pad(
        id="b", phase="2", level="set", level_m=121.0, geometry=box(X + 5, Y - 6, X + 25, Y + 6)
    )
    study = hill(first, second, a, b)
    (finding,) = found(study, "works_agree")
    assert finding.elements == ("b", "a")
    assert finding.measured == pytest.approx(1.0, abs=0.01)
    turned = study.moved(study.plan.with_(changed(first, place=3)))
    (finding,) = found(turned, "works_agree")
    assert finding.elements == ("a", "b")
    level = study.moved(study.plan.with_(changed(b, level_m=120.0)))
    assert not found(level, "works_agree")


def test_a_way_that_arrives_on_a_pad_at_its_level_is_no_clash() -> None:
    a = pad(level="set", level_m=120.0)
    flat = Track(
        id="way", forming="level", aggregate_m=0.0, strip_m=0.0, crossfall=0.0,
        profile="0;120;\n60;120;", geometry=LineString([(X, Y), (X + 60, Y)]),
    )  # fmt: skip
    assert not found(hill(a, flat), "works_agree")
    high = changed(flat, profile="0;120.5;\n60;120.5;")
    assert found(hill(a, high), "works_agree")


def test_cuts_and_fills_keep_off_the_boundary() -> None:
    land = SiteBoundary(id="edge", geometry=box(X - 60, Y - 8, X + 60, Y + 60))
    study = hill(pad(), land)
    assert found(study, "earth_inside_boundary")
    roomy = changed(land, geometry=box(X - 60, Y - 60, X + 60, Y + 60))
    study = study.moved(study.plan.with_(roomy))
    for rule in ("earth_inside_boundary", "cut_from_boundary", "fill_from_boundary_by_height"):
        assert not found(study, rule), rule
    top = study.parts("pad")["cut"].bounds[3]
    close = changed(land, geometry=box(X - 60, Y - 60, X + 60, top + 0.4))
    study = study.moved(study.plan.with_(close))
    assert found(study, "cut_from_boundary")
    assert not found(study, "earth_inside_boundary")


def test_deep_cuts_high_walls_and_steep_batters_are_told_of() -> None:
    deep = pad(level="set", level_m=117.0, walls="uphill")
    study = hill(deep)
    for rule in ("cut_needs_permit", "cut_needs_engineer", "wall_needs_engineer"):
        assert found(study, rule), rule
    assert not found(study, "fill_needs_permit")
    steep = hill(pad(cut_batter=0.5))
    (finding,) = found(steep, "cut_stands")
    assert finding.required == 1.0
    assert not found(hill(pad()), "cut_stands")
    high = hill(pad(fill_batter=1.0, soil="clay"))
    assert found(high, "fill_stands")


def test_a_pad_with_a_house_on_it_should_fall() -> None:
    house = Building(id="house", geometry=box(X - 5, Y - 3, X + 5, Y + 3))
    study = hill(pad(), house)
    assert found(study, "platform_drains")
    assert found(study, "cut_by_dwelling_flat_enough")
    fallen = changed(pad(), fall=0.015)
    assert not found(study.moved(study.plan.with_(fallen)), "platform_drains")
    alone = hill(pad())
    assert not found(alone, "platform_drains")


def test_digging_by_a_standing_building_and_over_a_cable() -> None:
    shed = Building(id="shed", use="shed", status="existing",
                    geometry=box(X - 4, Y + 9, X + 4, Y + 14))  # fmt: skip
    cable = BuriedService(id="cable", geometry=LineString([(X + 5, Y - 30), (X + 5, Y + 30)]))
    study = hill(pad(level="set", level_m=119.0), shed, cable)
    assert found(study, "cut_by_building")
    (over,) = found(study, "dig_clear_of_services")
    assert over.where.length > 5


def test_high_risers_are_told_of() -> None:
    line = LineString([(X - 30, Y), (X + 30, Y)])
    low = Terraces(id="steps", geometry=line, benches=2, bench_m=3.0, riser=0.5)
    study = hill(low)
    assert not found(study, "terrace_riser")
    wide = changed(low, bench_m=9.0)
    assert found(study.moved(study.plan.with_(wide)), "terrace_riser")


def test_works_that_a_move_does_not_reach_are_not_judged_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A pad and a track look at all earthworks; a move far off leaves them as rules saw them."""
    way = Track(id="way", geometry=LineString([(X - 80, Y - 80), (X - 40, Y - 80)]))
    far = pad(id="far", geometry=box(X + 60, Y + 60, X + 80, Y + 72))
    study = hill(pad(), way, far)
    study.findings()
    seen: list[set[str]] = []
    plain = Checker.recheck

    def watched(self: Checker, changed: dict[str, object], *more: object) -> object:
        seen.append(set(changed))
        return plain(self, changed, *more)  # type: ignore[arg-type]

    monkeypatch.setattr(Checker, "recheck", watched)
    moved = changed(far, geometry=box(X + 61, Y + 60, X + 81, Y + 72))
    after = study.moved(study.plan.with_(moved))
    after.findings()
    assert seen == [{"far"}]
    # One that reaches it is: the heap takes the pad's level.
    heap = Heap(id="heap", geometry=box(X + 4, Y - 3, X + 16, Y + 3))
    last = after.moved(after.plan.with_(heap))
    assert found(last, "works_agree")
    assert seen[-1] == {"heap", "pad"}


def test_the_roots_to_keep_off_are_shown_beside_a_pad_in_hand() -> None:
    near = Tree(id="near", status="existing", stem_cm=30, geometry=Point(X, Y - 15))
    far = Tree(id="far", status="existing", stem_cm=30, geometry=Point(X, Y - 80))
    new = Tree(id="new", geometry=Point(X + 5, Y - 15))
    study = hill(near, far, new)
    found = roots_near(study, (X - 20, Y - 20, X + 20, Y + 20))
    assert [zone.centroid.y for zone in found] == [pytest.approx(Y - 15)]
    assert found[0].equals(study.parts("near")["root_zone"])
    gone = study.moved(study.plan.with_(changed(near, status="remove")))
    assert roots_near(gone, (X - 20, Y - 20, X + 20, Y + 20)) == []
    in_hand = answer(study, (pad(),), Look(scale=500))
    rings = [
        e for e in in_hand.layers[0].entries if isinstance(e, Lines) and e.stroke.role == "leaf"
    ]
    assert len(rings) == 1
    assert len(rings[0].paths) == 1
