"""Every rule of every file: what it names exists, and it holds just outside its limit only."""

from __future__ import annotations

import string

import pytest
from rules.scenes import BUILDERS, build, slopes

from canvas.base.finding import Severity
from canvas.base.sources import Mark, all_sources
from canvas.rules.checker import Checker
from canvas.rules.library import rule_sets
from canvas.rules.model import Rule
from canvas.rules.relations import RELATIONS
from canvas.rules.subject import PLANT_KINDS
from canvas.site.records import element_kinds

RULES = [rule for chosen in rule_sets().values() for rule in chosen.rules]

#: Every part name the study makes, by the contract between the floors.
PARTS = {
    "shape", "centre_line", "edge", "crown", "crown_mature", "plants", "stem", "wall", "eaves",
    "belt", "clear_way", "strip", "edge_line", "water_edge", "body", "bank_lines",
    "bank", "breach_path", "water", "sill", "lip", "toe", "cut", "fill", "field", "root_zone",
    "spill_path", "drains", "unsupported",
}  # fmt: skip


def named(rule: Rule) -> str:
    return rule.key


@pytest.mark.parametrize("rule", RULES, ids=named)
def test_names_only_what_exists(rule: Rule) -> None:
    assert rule.relation in RELATIONS
    assert rule.source == "" or rule.source in all_sources()
    for side in rule.selectors:
        assert set(side.kinds) <= set(element_kinds())
        assert set(side.parts) <= PARTS
    holes = {name for _, name, _, _ in string.Formatter().parse(rule.says) if name}
    assert holes
    assert holes <= {"a", "b", "count"}
    assert "b" not in holes or len(rule.selectors) > 1


@pytest.mark.parametrize("rule", RULES, ids=named)
def test_says_whose_word_it_is(rule: Rule) -> None:
    assert rule.caution
    assert rule.jurisdiction
    if rule.mark in (Mark.REMEMBERED, Mark.PRACTICE):
        assert rule.severity is not Severity.ERROR
    if rule.mark is Mark.READ:
        assert rule.source


@pytest.mark.parametrize("rule", RULES, ids=named)
def test_holds_just_within_its_limit(rule: Rule) -> None:
    for slope in slopes(rule):
        scene = build(rule, good=True, slope=slope)
        assert Checker([rule], scene.sampler).check(scene.subjects) == (), slope


@pytest.mark.parametrize("rule", RULES, ids=named)
def test_fails_just_beyond_its_limit(rule: Rule) -> None:
    for slope in slopes(rule):
        scene = build(rule, good=False, slope=slope)
        found = Checker([rule], scene.sampler).check(scene.subjects)
        assert len(found) == 1, slope
        finding = found[0]
        assert finding.rule == rule.key
        assert finding.severity is rule.severity
        assert finding.mark is rule.mark
        assert not finding.where.is_empty
        assert "{" not in finding.message
        if scene.required is not None:
            assert finding.required == pytest.approx(scene.required)
            assert finding.numbers()


def test_every_relation_is_built_and_used() -> None:
    assert set(BUILDERS) == set(RELATIONS) == {rule.relation for rule in RULES}


def test_keys_are_unique_and_named_after_their_set() -> None:
    assert len({rule.key for rule in RULES}) == len(RULES)
    assert all(rule.key.split(".")[0] == rule.rule_set for rule in RULES)


#: Read well for one plant and for many: no verb follows the plants' name.
MANY = [
    rule
    for rule in RULES
    if set(rule.a.kinds) & set(PLANT_KINDS)
    and rule.relation != "links"
    and not (rule.b is not None and set(rule.b.kinds) & set(PLANT_KINDS))
]


@pytest.mark.parametrize("rule", MANY, ids=named)
def test_reads_well_for_many_plants(rule: Rule) -> None:
    assert rule.says.startswith("{a}: ") or rule.says.endswith(": {a}.")
