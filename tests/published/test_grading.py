"""Grading and root protection against the code pages they were read in (November 2026)."""

from __future__ import annotations

import pytest
from published.ref import Ref
from rules.scenes import FACTOR, build
from shapely import Point

from canvas.base.sources import Mark
from canvas.rules.checker import Checker
from canvas.rules.library import rule_sets
from canvas.site.elements.vegetation import Tree
from canvas.study.kinds.plants import root_zone_m

RULES = {rule.key: rule for chosen in rule_sets().values() for rule in chosen.rules}
IN_M = 0.0254

TOPEKA = "Topeka Municipal Code 17.05.190"
KODIAK = "Kodiak Island Borough Code 15.10.090, Appendix J as adopted"
KOOTENAI = "Kootenai County Code 8.7.103"
VANCOUVER = "Vancouver (Washington) Municipal Code 20.170.100"
NCUFC = "North Carolina Urban Forest Council, determining critical root zone"

#: Rule, what the scene's figure of 2 asks of it [SI], within, source.
TABLE = [
    ("cut_from_boundary", Ref(0.61, 0.005, TOPEKA + " (b): two feet at least")),
    ("cut_from_boundary_by_depth", Ref(FACTOR / 5, 1e-9, TOPEKA + " (b): a fifth of the cut")),
    ("fill_from_boundary_by_height", Ref(FACTOR / 2, 1e-9, TOPEKA + " (c): half the fill")),
    ("cut_needs_permit", Ref(1.524, 0.0005, KODIAK + " J103.2 item 8: less than five feet")),
    ("fill_needs_permit", Ref(1.524, 0.0005, KODIAK + " J103.2 item 9: less than five feet")),
    ("cut_by_dwelling_flat_enough", Ref(2.0, 1e-9, KODIAK + " J106.1: two to one")),
    ("fill_on_steep_ground", Ref(0.40, 1e-9, KOOTENAI + " B: forty percent")),
]


@pytest.mark.parametrize(("key", "ref"), TABLE, ids=lambda value: getattr(value, "source", value))
def test_a_code_asks_what_its_page_says(key: str, ref: Ref) -> None:
    rule = RULES[f"good_practice.{key}"]
    assert rule.mark is Mark.READ
    bad = build(rule, good=False)
    (found,) = Checker([rule], bad.sampler).check(bad.subjects)
    ref.check(found.required)


@pytest.mark.parametrize(
    ("stem_in", "ref"),
    [
        (10.0, Ref(10 * 0.3048, 0.001, VANCOUVER + ": one foot for each inch")),
        (24.0, Ref(24 * 0.3048, 0.001, VANCOUVER + ": one foot for each inch")),
    ],
)
def test_roots_are_kept_by_the_stem(stem_in: float, ref: Ref) -> None:
    tree = Tree(status="existing", stem_cm=stem_in * IN_M * 100, geometry=Point(0, 0))
    ref.check(root_zone_m(tree))


def test_some_advice_keeps_more() -> None:
    """The council's page asks 1.25 ft for each inch: a fifth less is kept here, and said so."""
    tree = Tree(status="existing", stem_cm=20 * IN_M * 100, geometry=Point(0, 0))
    Ref(25 * 0.3048 * 0.8, 0.001, NCUFC + ", four fifths of it").check(root_zone_m(tree))
