"""What rules name, the study gives: parts for every kind, and a field or fact for every word."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString, Point, box

from canvas.rules.library import rule_sets
from canvas.rules.model import Rule
from canvas.rules.subject import Subject
from canvas.site.records import element_kinds
from canvas.study.storm.chain_facts import CHAIN_KINDS, SPILL_PART
from made import EAST, NORTH, plane, study_of

RULES = [rule for chosen in rule_sets().values() for rule in chosen.rules]
#: What some kinds need to have all the parts and figures they can have.
MORE = {"platform": {"walls": "downhill"}, "tree": {"status": "existing"},
        "tree_row": {"status": "existing"}}  # fmt: skip
#: What `Subject` works out itself from an element's species.
FROM_SPECIES = {"taxon", "flammability"}


@pytest.fixture(scope="module")
def subjects() -> dict[str, Subject]:
    """One element of every kind, as the study hands it to the rules."""
    shapes = {
        "Point": Point(EAST + 50, NORTH + 50),
        "LineString": LineString(
            [(EAST + 20, NORTH + 20), (EAST + 60, NORTH + 40), (EAST + 90, NORTH + 90)]
        ),
        "Polygon": box(EAST + 30, NORTH + 30, EAST + 42, NORTH + 38),
    }
    items = [
        kind.cls(geometry=shapes[kind.geometry], **MORE.get(key, {}))
        for key, kind in element_kinds().items()
    ]
    study = study_of(*items, grid=plane())
    made = {}
    for item in items:
        facts = {fact.key: fact.value for fact in reversed(study.facts(item.id))}
        made[item.kind_key] = Subject(item, study.parts(item.id), facts)
    return {**made, **water_works(), **pond_works(), **way_works()}


def way_works() -> dict[str, Subject]:
    """A track shaped across a valley, with all that goes with one."""
    ground = plane(slope_north=0.05)
    x = ground.x_m()[None, :] - EAST
    valley = ground.like(ground.z + 0.15 * abs(x - 100))
    flow = {"design_flow_m3s": 0.5}

    def line(*points: tuple[float, float]) -> LineString:
        return LineString([(EAST + a, NORTH + b) for a, b in points])

    make = {key: kind.cls for key, kind in element_kinds().items()}
    rows = "0;112;\n60;105.2;20\n120;112;"
    items = [
        make["track"](geometry=line((40, 60), (160, 60)), forming="out", profile=rows),
        make["culvert"](
            geometry=line((100, 66), (100, 54)), inlet_m=103.2, outlet_m=102.6, bore_m=0.6, **flow
        ),
        make["ford"](geometry=line((85, 120), (115, 120)), **flow),
        make["water_bar"](geometry=line((130, 62), (126, 58)), **flow),
        make["turning_head"](geometry=Point(EAST + 162, NORTH + 60)),
        make["passing_bay"](geometry=Point(EAST + 70, NORTH + 57)),
    ]
    study = study_of(*items, grid=valley)
    found = {}
    for item in items:
        facts = {fact.key: fact.value for fact in reversed(study.facts(item.id))}
        assert "trouble" not in facts, facts["trouble"]
        found[item.kind_key] = Subject(item, study.parts(item.id), facts)
    return found


def water_works() -> dict[str, Subject]:
    """Works along a hill with a gully, two of each: they need ground that suits them."""
    flow = {"design_flow_m3s": 0.02}
    hill = {"swale": 60.0, "drain": 30.0, "level_sill": 20.0}
    items = [
        element_kinds()[key].cls(
            geometry=LineString([(EAST + 20, NORTH + y + up), (EAST + 80, NORTH + y + up)]), **flow
        )
        for up in (0.0, 60.0)
        for key, y in hill.items()
    ]
    items += [
        element_kinds()["check_dam"].cls(
            geometry=LineString([(EAST + 142, NORTH + y), (EAST + 158, NORTH + y)]), **flow
        )
        for y in (60.0, 66.0)
    ]
    ground = plane(slope_north=0.10)
    x = ground.x_m()[None, :] - EAST
    gully = ground.like(ground.z - 2.0 * np.exp(-(((x - 150) / 4) ** 2)))
    study = study_of(*items, grid=gully)
    found = {}
    for item in items:
        facts = {fact.key: fact.value for fact in reversed(study.facts(item.id))}
        assert "trouble" not in facts, facts["trouble"]
        found.setdefault(item.kind_key, Subject(item, study.parts(item.id), facts))
    return found


def pond_works() -> dict[str, Subject]:
    """A dam across a valley and a pond beside it, with a test pit near both."""
    ground = plane(slope_north=0.04)
    x = ground.x_m()[None, :] - EAST
    valley = ground.like(ground.z + 0.15 * abs(x - 100))
    flow = {"design_flow_m3s": 0.5}
    line = LineString([(EAST + 70, NORTH + 100), (EAST + 130, NORTH + 100)])
    pit = {"jar_sand_mm": 20, "jar_silt_mm": 30, "jar_clay_mm": 30, "crumb": "1"}
    items = [
        element_kinds()["dam"].cls(geometry=line, **flow),
        element_kinds()["dug_pond"].cls(
            geometry=box(EAST + 140, NORTH + 60, EAST + 160, NORTH + 80), **flow
        ),
        element_kinds()["test_pit"].cls(geometry=Point(EAST + 120, NORTH + 90), **pit),
    ]
    study = study_of(*items, grid=valley)
    found = {}
    for item in items:
        facts = {fact.key: fact.value for fact in reversed(study.facts(item.id))}
        assert "trouble" not in facts, facts["trouble"]
        found[item.kind_key] = Subject(item, study.parts(item.id), facts)
    return found


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.key)
def test_every_part_and_word_is_there(rule: Rule, subjects: dict[str, Subject]) -> None:
    for side in rule.selectors:
        for near in [side, *([side.near.what] if side.near else [])]:
            if near.parts == (SPILL_PART,):
                # Worked out with the chain of a storm: tests/study/test_chain.py.
                assert set(near.kinds) <= set(CHAIN_KINDS)
                continue
            for key in near.kinds:
                assert subjects[key].part(near.parts) is not None, (key, near.parts)
        for condition in side.where:
            assert any(knows(subjects[key], condition.field) for key in side.kinds)
    asked = rule.limit
    amounts = [] if asked is None else [asked.amount, *(step.amount for step in asked.steps)]
    for amount in amounts:
        if amount is not None and amount.times not in ("", "slope_deg"):
            sides = {"a": [rule.a], "b": [rule.b], "larger": [rule.a, rule.b]}[asked.of]
            for key in {key for side in sides if side is not None for key in side.kinds}:
                assert knows(subjects[key], amount.times)
    quantity = rule.word("quantity")
    # A sound work lacks such a fact: tests/study/earth/test_said_by_rules.py.
    if quantity and rule.relation != "is_set":
        assert all(knows(subjects[key], quantity) for key in rule.a.kinds)


def knows(subject: Subject, name: str) -> bool:
    return (
        name in FROM_SPECIES
        or name in subject.facts
        or name in {spec.name for spec in element_kinds()[subject.kind].specs}
    )
