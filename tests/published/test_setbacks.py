"""Setbacks of wells, waste water, water margins and trees against the pages they were read in."""

from __future__ import annotations

import pytest
from published.ref import Ref
from rules.conftest import make_subject
from rules.scenes import build
from shapely import Point, box

from canvas.base.sources import Mark
from canvas.rules.checker import Checker
from canvas.rules.library import rule_sets

RULES = {rule.key: rule for chosen in rule_sets().values() for rule in chosen.rules}

EL_DORADO = "El Dorado County, California, restating the state well standards"
LAPORTE = "LaPorte County, Indiana, well separations"
ORDINANCE = "US municipal ordinance 15-005"

#: Metres as the handbook converted them from the printed feet.
TABLE = [
    ("california.well_septic", 30.48, EL_DORADO),
    ("california.well_sewer", 15.24, EL_DORADO),
    ("california.well_animals", 30.48, EL_DORADO),
    ("california.leach_field_stream", 30.48, EL_DORADO),
    ("california.leach_field_pond", 30.48, EL_DORADO),
    ("california.leach_field_swale", 15.24, EL_DORADO),
    ("california.leach_field_structures", 3.05, EL_DORADO),
    ("california.leach_field_line", 3.05, EL_DORADO),
    ("california.leach_field_trees", 1.52, EL_DORADO),
    ("california.septic_tank_building", 1.52, EL_DORADO),
    ("good_practice.drinking_pond_septic", 60.96, EL_DORADO + ", drinking reservoir 200 ft"),
    ("good_practice.well_septic_field", 30.48, ORDINANCE),
    ("good_practice.well_septic_tank", 15.24, LAPORTE),
    ("good_practice.well_animals", 30.48, LAPORTE),
    ("good_practice.well_building", 3.05, LAPORTE),
    ("good_practice.well_boundary", 4.57, LAPORTE),
    ("good_practice.well_surface_water", 7.62, LAPORTE),
    ("portugal.water_margin", 10.0, "Portugal, Law 54/2005 art. 11, non-navigable waters"),
]


@pytest.mark.parametrize(("key", "metres", "source"), TABLE)
def test_setback(key: str, metres: float, source: str) -> None:
    rule = RULES[key]
    assert rule.mark is Mark.READ
    good, bad = build(rule, good=True), build(rule, good=False)
    assert Checker([rule], good.sampler).check(good.subjects) == ()
    (found,) = Checker([rule], bad.sampler).check(bad.subjects)
    Ref(metres, 0.006, source).check(found.required)


@pytest.mark.parametrize(
    ("key", "species", "height", "ref"),
    [
        (
            "good_practice.thirsty_tree_building",
            "Salix alba",
            24.0,
            Ref(30.0, 1e-9, "NHBC 4.2: white willow, high demand; factor 1.25 from memory"),
        ),
        (
            "good_practice.moderate_tree_building",
            "Juglans regia",
            18.0,
            Ref(13.5, 1e-9, "NHBC 4.2: walnut, moderate demand; factor 0.75 from memory"),
        ),
    ],
)
def test_trees_on_shrinkable_clay(key: str, species: str, height: float, ref: Ref) -> None:
    stem = Point(8, 0)
    tree = make_subject("tree", "t", stem, {"stem": stem}, species=species, mature_height_m=height)
    house = make_subject("building", "h", box(0, -4, 6, 4), {"wall": box(0, -4, 6, 4)})
    assert RULES[key].mark is Mark.REMEMBERED
    (found,) = Checker([RULES[key]], None).check({"t": tree, "h": house})
    ref.check(found.required)
