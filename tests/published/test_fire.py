"""Fire clearances and access against the pages they were read in.

Each figure is asked of the checker on a scene just inside and just outside it, so the rule's
number, its unit and the way it is measured are all held to the page.
"""

from __future__ import annotations

import math

import pytest
from published.ref import Ref
from rules.conftest import Plane, make_subject
from shapely import LineString, Point, box

from canvas.rules.checker import Checker
from canvas.rules.library import rule_sets
from canvas.rules.model import Rule, slope_deg
from canvas.rules.subject import Subject

MARIN = "UC Marin Master Gardeners restating CAL FIRE, horizontal and vertical spacing"
ANR = "UC ANR wildfire pages: zone width by slope"
ANNEX = "Portugal, annex to Decree-Law 124/2006 as amended by 10/2018, A1 and B1"
FIREWISE = "Firewise / NFPA home ignition zone guidance"
CFA = "CFA Victoria page on emergency vehicle access"
CCR_ROADS = "14 CCR § 1273.03: grades"
COUNTY = "Del Norte County restatement of the California fire safe regulations"

RULES = {rule.key: rule for chosen in rule_sets().values() for rule in chosen.rules}


def tree(ident: str, x: float, radius: float = 3.0, **fields: object) -> Subject:
    stem = Point(x, 0)
    crown = stem.buffer(radius)
    parts = {"stem": stem, "crown": crown, "crown_mature": crown}
    return make_subject("tree", ident, stem, parts, **fields)


def hedge(ident: str, x: float, height: float) -> Subject:
    line = LineString([(x, -2), (x, 2)])
    return make_subject("hedge", ident, line, {"edge": line}, height_m=height)


def house(x: float = 0.0) -> Subject:
    wall = box(x - 2, 6, x + 2, 10)
    return make_subject("building", "house", wall, {"wall": wall, "eaves": wall})


def asked(key: str, *subjects: Subject, slope: float = 0.0) -> float:
    """Return what a rule says is required of a scene that breaks it."""
    (found,) = Checker([RULES[key]], Plane(slope)).check({s.id: s for s in subjects})
    return found.required


@pytest.mark.parametrize(
    ("slope", "ref"),
    [
        (0.10, Ref(3.05, 0.005, MARIN)),
        (0.20, Ref(3.05, 0.005, MARIN)),
        (0.30, Ref(6.10, 0.005, MARIN)),
        (0.40, Ref(6.10, 0.005, MARIN)),
        (0.45, Ref(9.14, 0.005, MARIN)),
    ],
)
def test_california_tree_gap_by_slope(slope: float, ref: Ref) -> None:
    close = (tree("a", -3.1), tree("b", 3.1), house())
    ref.check(asked("california.tree_crown_gap", *close, slope=slope))


@pytest.mark.parametrize(
    ("slope", "times"), [(0.15, 2), (0.30, 4), (0.50, 6)], ids=["gentle", "middle", "steep"]
)
def test_california_shrub_gap_by_slope(slope: float, times: float) -> None:
    # PF24: a 1.2 m shrub on 30 % asks 4.8 m.
    close = (hedge("a", -0.5, 1.2), hedge("b", 0.5, 0.8), house())
    Ref(times * 1.2, 0.005, MARIN).check(asked("california.shrub_gap", *close, slope=slope))


def test_california_shrub_under_tree() -> None:
    # The page prints 15 ft for a 5 ft shrub.
    shrub = hedge("a", 0, 5 * 0.3048)
    low = tree("b", 0, clear_stem_m=4.0)
    Ref(15 * 0.3048, 0.01, MARIN).check(asked("california.shrub_under_tree", shrub, low))


def test_california_lowest_branch() -> None:
    near = tree("a", 0, mature_height_m=6.0, clear_stem_m=1.0)
    Ref(1.83, 0.005, MARIN).check(asked("california.low_branches_tall_tree", near, house()))
    short = tree("a", 0, mature_height_m=3.0, clear_stem_m=0.5)
    Ref(1.0, 0.005, MARIN).check(asked("california.low_branches_short_tree", short, house()))


@pytest.mark.parametrize(
    ("degrees", "ref"),
    [(8, Ref(9.14, 0.01, ANR)), (15, Ref(13.72, 0.05, ANR)), (25, Ref(22.86, 0.05, ANR))],
)
def test_california_zone_width_by_slope(degrees: float, ref: Ref) -> None:
    prone = tree("a", 0, species="Eucalyptus globulus")
    slope = math.tan(math.radians(degrees))
    assert slope_deg(slope) == pytest.approx(degrees)
    ref.check(asked("california.zone1_by_slope", prone, house(), slope=slope))


def test_california_zones_in_feet() -> None:
    Ref(30.48, 0.005, "14 CCR 1299.03: 100 ft").check(limit("california.wild_growth_zone2"))
    Ref(1.52, 0.005, "CAL FIRE zone 0: 5 ft").check(limit("california.ember_zone_hedge"))
    Ref(3.05, 0.005, "14 CCR 1299.03(a): 10 ft").check(limit("california.branches_off_chimney"))


def test_california_access() -> None:
    Ref(0.16, 1e-9, CCR_ROADS).check(limit("california.drive_grade"))
    Ref(0.20, 1e-9, CCR_ROADS).check(limit("california.drive_grade_ceiling"))
    Ref(3.05, 0.005, COUNTY).check(limit("california.drive_lane"))
    Ref(4.27, 0.005, COUNTY).check(limit("california.drive_clear_width"))
    Ref(4.57, 0.005, COUNTY).check(limit("california.drive_clear_height"))
    Ref(15.24, 0.005, COUNTY).check(limit("california.drive_bend"))
    Ref(91.44, 0.005, COUNTY).check(limit("california.drive_turnaround"))
    turning = RULES["california.drive_turnaround"]
    Ref(15.24, 0.005, COUNTY).check(turning.number("within"))
    # Half of a hammerhead's 60 ft top.
    Ref(9.14, 0.01, COUNTY).check(turning.number("arm"))


def test_portugal_gaps() -> None:
    # PF12: two 6 m crowns, stems 10 m apart at a 4 m gap, 16 m at 10 m.
    olive = [tree("a", -5), tree("b", 4.99), house()]
    Ref(4.0, 1e-9, ANNEX).check(asked("portugal.crown_gap", *olive))
    assert check("portugal.crown_gap", tree("a", -5), tree("b", 5.0), house()) == ()
    gums = [tree("a", -8, species="Eucalyptus globulus")]
    near = [*gums, tree("b", 7.99, species="Eucalyptus globulus"), house()]
    Ref(10.0, 1e-9, ANNEX).check(asked("portugal.crown_gap_pine_eucalypt", *near))
    far = [*gums, tree("b", 8.0, species="Eucalyptus globulus"), house()]
    assert check("portugal.crown_gap_pine_eucalypt", *far) == ()
    pines = [tree("a", -5, species="Pinus pinea"), tree("b", 5, species="Pinus pinea"), house()]
    assert check("portugal.crown_gap_pine_eucalypt", *pines) == ()


def test_portugal_distances() -> None:
    Ref(5.0, 1e-9, ANNEX).check(limit("portugal.crown_to_building"))
    Ref(5.0, 1e-9, ANNEX).check(limit("portugal.shrubs_to_building"))
    Ref(50.0, 1e-9, "Decree-Law 82/2021 art. 49(6)–(7)").check(limit("portugal.strip_forest"))
    Ref(10.0, 1e-9, "Decree-Law 82/2021 art. 49(4)(a)").check(limit("portugal.road_strip"))
    # Pruned to half the height up to 8 m, then to 4 m.
    low = {"mature_height_m": 6.0, "clear_stem_m": 1.0}
    Ref(3.0, 1e-9, ANNEX).check(asked("portugal.pruned_short", tree("a", 0, **low), house()))
    tall = {"mature_height_m": 15.0, "clear_stem_m": 1.0}
    Ref(4.0, 1e-9, ANNEX).check(asked("portugal.pruned_tall", tree("a", 0, **tall), house()))


def test_firewise_gaps() -> None:
    Ref(5.49, 0.005, FIREWISE + ", 18 ft").check(limit("good_practice.crown_gap_near_dwelling"))
    Ref(3.05, 0.005, FIREWISE + ", 10 ft").check(limit("good_practice.crown_to_dwelling"))
    Ref(1.52, 0.005, FIREWISE + ", 5 ft").check(limit("good_practice.hedge_at_dwelling"))


def test_firebreak_beside_fuel() -> None:
    # Bare strip of twice the height of adjacent fuels: 0.8 m of grass asks 1.6 m (PF35).
    strip = LineString([(0, 0), (50, 0)])
    bare = make_subject("firebreak", "f", strip, {"belt": strip.buffer(0.6)}, width_m=1.2)
    grass = make_subject("vegetation", "v", box(0, 0, 50, 20), height_m=0.8)
    source = "NRCS Missouri, practice 394 guidance, 2020"
    Ref(1.6, 0.005, source).check(asked("good_practice.firebreak_beside_fuel", bare, grass))


def test_victoria_access() -> None:
    Ref(3.5, 1e-9, CFA).check(limit("victoria.drive_width"))
    Ref(3.5 + 2 * 0.5, 1e-9, CFA).check(limit("victoria.drive_clear_width"))
    Ref(4.0, 1e-9, CFA).check(limit("victoria.drive_clear_height"))
    Ref(100.0, 1e-9, CFA).check(limit("victoria.drive_turning"))
    Ref(8.0, 1e-9, CFA).check(RULES["victoria.drive_turning"].number("arm"))
    Ref(200.0, 1e-9, CFA).check(limit("victoria.drive_passing"))
    only = next(c for c in RULES["victoria.drive_width"].a.where if c.field == "length_m")
    Ref(30.0, 1e-9, CFA).check(only.above)


def test_dead_ends_of_the_fire_code() -> None:
    Ref(45.7, 0.05, "IFC 503.2.5: 150 ft").check(limit("good_practice.track_dead_end"))


def limit(key: str) -> float:
    """Return a rule's plain limit after proving that the checker turns on it."""
    from rules.scenes import build

    rule: Rule = RULES[key]
    good, bad = build(rule, good=True), build(rule, good=False)
    assert Checker([rule], good.sampler).check(good.subjects) == ()
    (found,) = Checker([rule], bad.sampler).check(bad.subjects)
    return found.required


def check(key: str, *subjects: Subject) -> tuple:
    return Checker([RULES[key]], Plane(0.0)).check({s.id: s for s in subjects})
