"""Loading rules: strict about keys, honest about marks, faithful to printed units."""

from __future__ import annotations

import copy

import pytest
from rules.conftest import make_subject
from shapely import LineString, Point

from canvas.base.errors import BadData
from canvas.base.sources import Mark
from canvas.rules.checker import Checker
from canvas.rules.library import SETS, read_set, rule_sets, rules_of
from canvas.rules.reading import PRINTED

GOOD = {
    "label": "Test",
    "jurisdiction": "Nowhere",
    "legal": False,
    "dated": "2026",
    "caution": "Mind the rules.",
    "rule": [
        {
            "key": "well_tank",
            "says": "{a} is near {b}.",
            "relation": "min_distance",
            "a": {"kind": "well", "where": {"use": "drinking"}},
            "b": {"kind": "septic_tank", "status": ["existing", "built"]},
            "limit": {"value": 50, "unit": "ft"},
            "severity": "error",
            "source": {"key": "laporte_wells", "at": "p. 1"},
            "mark": "read",
        }
    ],
}


def changed(**row: object) -> dict:
    """Return the good set with one rule's keys replaced; None takes a key away."""
    made = copy.deepcopy(GOOD)
    for key, value in row.items():
        if value is None:
            del made["rule"][0][key]
        else:
            made["rule"][0][key] = value
    return made


def test_the_good_set_loads() -> None:
    (rule,) = read_set("test", GOOD).rules
    assert rule.key == "test.well_tank"
    assert rule.limit.plain == pytest.approx(15.24)
    assert (rule.limit.amount.printed, rule.limit.amount.unit) == (50.0, "ft")
    assert rule.mark is Mark.READ
    assert rule.caution == "Mind the rules."
    assert rule.dated == "2026"


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ({"says": None}, "“says” is missing"),
        ({"severity": None}, "“severity” is missing"),
        ({"mark": None}, "“mark” is missing"),
        ({"colour": "red"}, "unknown: colour"),
        ({"relation": "beside"}, "no relation called “beside”"),
        ({"a": {"kind": "castle"}}, "no kind called “castle”"),
        ({"a": {"kind": "well", "colour": 1}}, "unknown: colour"),
        ({"b": {"kind": "well", "status": "dreamt"}}, "no such status"),
        ({"b": None}, "needs the sides a, b"),
        ({"limit": None}, "needs a limit"),
        ({"limit": {"value": 50, "unit": "furlong"}}, "no unit called “furlong”"),
        ({"limit": {"value": 50, "unit": "L"}}, "a figure in m is needed"),
        ({"limit": {"value": "far", "unit": "m"}}, "“value” cannot be 'far'"),
        ({"limit": {"steps": [{"up_to": {"value": 9, "unit": "%"}, "value": 1, "unit": "m"}]}},
         "the last step"),
        ({"severity": "fatal"}, "“fatal” is not one of error, warning, advice"),
        ({"mark": "hearsay"}, "“hearsay” is not one of"),
        ({"mark": "remembered"}, "cannot be an error"),
        ({"mark": "common practice", "source": None}, "cannot be an error"),
        ({"source": None}, "no source is named"),
        ({"source": {"key": "grandmother"}}, "no source called “grandmother”"),
        ({"says": "{a} and {z}"}, "cannot be filled in"),
        ({"a": {"kind": "well", "where": {"depth_m": {}}}}, "nothing is asked"),
    ],
)  # fmt: skip
def test_a_faulty_rule_is_refused_by_name(row: dict, says: str) -> None:
    with pytest.raises(BadData) as caught:
        read_set("test", changed(**row))
    assert "well_tank" in caught.value.where
    assert says in caught.value.what


def test_two_rules_of_one_key_are_refused() -> None:
    twice = copy.deepcopy(GOOD)
    twice["rule"].append(twice["rule"][0])
    with pytest.raises(BadData, match="share this key"):
        read_set("test", twice)


def test_an_unknown_set_names_those_there_are() -> None:
    with pytest.raises(BadData, match="california") as caught:
        rules_of(["atlantis"])
    assert "atlantis" in caught.value.what


def test_sets_are_offered_in_order_and_only_law_is_called_law() -> None:
    sets = rule_sets()
    assert tuple(sets) == SETS
    assert [key for key, chosen in sets.items() if not chosen.legal] == ["good_practice"]
    assert [rule.rule_set for rule in rules_of(["portugal", "portugal"])] == ["portugal"] * len(
        sets["portugal"].rules
    )


def test_a_sites_own_limit_takes_the_place_of_the_sources() -> None:
    key = "good_practice.track_width"
    rules = rules_of(["good_practice"], {key: 3.0}, {key: "small local fire truck"})
    rule = next(rule for rule in rules if rule.key == key)
    line = LineString([(0, 0), (9, 0)])
    edge = {"edge": line.buffer(1.6)}
    track = make_subject("track", "t", line, edge, width_m=3.2)
    assert Checker([rule], None).check({"t": track}) == ()
    narrow = make_subject("track", "t", line, edge, width_m=2.8)
    (found,) = Checker([rule], None).check({"t": narrow})
    assert found.required == 3.0
    assert "small local fire truck" in found.caution
    assert next(r for r in rules_of(["good_practice"]) if r.key == key).limit.plain == 3.5


def test_a_sites_own_limit_flattens_a_table() -> None:
    key = "california.tree_crown_gap"
    (rule,) = (r for r in rules_of(["california"], {key: 4.0}) if r.key == key)
    assert rule.limit.plain == 4.0
    assert rule.site_reason


def test_printed_units_are_exact() -> None:
    # NIST SP 811, appendix B: foot and inch exact; US gallon 3.785 411 784 L.
    assert PRINTED["ft"] == ("m", 0.3048)
    assert PRINTED["in"][1] == pytest.approx(0.0254, rel=1e-15)
    assert PRINTED["gal"][1] == pytest.approx(3.785411784, rel=1e-15)


def test_unknown_values_meet_no_condition() -> None:
    key = "california.low_branches_tall_tree"
    rule = next(rule for rule in rules_of(["california"]) if rule.key == key)
    nameless = make_subject("tree", "t", Point(0, 0))
    assert not rule.a.takes(nameless)
    assert rule.a.takes(make_subject("tree", "t", Point(0, 0), mature_height_m=6.0))
