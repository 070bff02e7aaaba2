"""A moved element is rechecked, and only what it touches is worked out anew."""

from __future__ import annotations

from rules.conftest import make_subject
from shapely import Point, box

from canvas.rules.checker import Checker
from canvas.rules.library import rules_of
from canvas.rules.relations import RELATIONS

RULES = rules_of(["good_practice"])


def well(x: float):
    return make_subject("well", "well", Point(x, 0))


FIELD = make_subject("septic_field", "field", box(-10, -5, 0, 5))


def test_findings_appear_and_clear_as_the_well_moves() -> None:
    checker = Checker(RULES, None)
    key = "good_practice.well_septic_field"

    def told(findings) -> list[str]:
        return [f.key for f in findings if f.rule == key]

    assert told(checker.check({"well": well(40), "field": FIELD})) == []
    assert told(checker.recheck({"well": well(20)})) == [f"{key}:well:field"]
    assert told(checker.recheck({"well": well(31)})) == []
    assert told(checker.recheck({"well": well(20)})) != []
    assert told(checker.recheck({"field": None})) == []


def test_rules_of_other_kinds_are_not_worked(monkeypatch) -> None:
    checker = Checker(RULES, None)
    checker.check({"well": well(40), "field": FIELD})
    worked: list[str] = []
    for key, spec in RELATIONS.items():

        def spy(rule, scene, only, spec=spec):
            worked.append(rule.key)
            return spec.work(rule, scene, only)

        monkeypatch.setitem(
            RELATIONS,
            key,
            type(spec)(key, spy, spec.sides, spec.unit, spec.sense, spec.reach),
        )
    checker.recheck({"well": well(20)})
    rules = {rule.key: rule for rule in RULES}
    assert worked
    for key in worked:
        assert any("well" in side.kinds for side in rules[key].selectors)


def test_a_waiver_given_and_taken_back() -> None:
    checker = Checker(RULES, None)
    key = "good_practice.well_septic_field:well:field"
    found = checker.check({"well": well(20), "field": FIELD})
    assert [f.waived for f in found if f.key == key] == [""]
    found = checker.recheck({}, {key: "sealed casing, tested yearly"})
    assert [f.waived for f in found if f.key == key] == ["sealed casing, tested yearly"]
    assert not any(f.failing for f in found if f.key == key)
    found = checker.recheck({}, {})
    assert [f.waived for f in found if f.key == key] == [""]


def test_an_unread_rule_is_shown_unconfirmed() -> None:
    tank = make_subject("tank", "tank", Point(0, 0), fire_reserve_l=20000.0)
    found = Checker(RULES, None).check({"tank": tank})
    told = [f for f in found if f.rule == "good_practice.fire_tank_by_track"]
    assert [f.unconfirmed for f in told] == [True]
