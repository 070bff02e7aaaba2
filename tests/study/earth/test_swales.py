"""Swales, drains, level sills and checks as the study answers: figures by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import LineString, Point, Polygon, affinity, box

from canvas.base.grid import Grid
from canvas.ground.swale import Swale as Dug
from canvas.site.elements.earthworks import Platform
from canvas.site.elements.services import Firebreak
from canvas.site.elements.swales import CheckDam, Drain, LevelSill, Swale
from canvas.site.elements.vegetation import Tree
from canvas.site.elements.water import SepticField
from canvas.site.facts import Site
from canvas.site.plan import Plan
from canvas.site.records import changed
from canvas.site.storms import DesignStorm
from canvas.study.study import Study
from made import EAST, NORTH, land_of, plane, study_of

#: The handbook's section S1: 0.6 m bottom, sides 2 to 1, 0.4 m deep.
S1 = {"bottom_m": 0.6, "side": 2.0, "depth_m": 0.4}


def line(*points: tuple[float, float]) -> LineString:
    return LineString([(EAST + x, NORTH + y) for x, y in points])


def figures(study: Study, ident: str) -> dict[str, object]:
    return {fact.key: fact.value for fact in reversed(study.facts(ident))}


def remarks(study: Study, ident: str, key: str) -> str:
    return next(fact.remark for fact in study.facts(ident) if fact.key == key)


LEVEL = line((50, 100), (150, 100))


def coarse(slope: float, cell_m: float, turn_deg: float = 0.0) -> Grid:
    """A plane of cells of a size, 200 m across, rising to an azimuth; 112 m at 100, 100."""
    n = round(200 / cell_m)
    row, col = np.mgrid[0:n, 0:n]
    x, y = (col + 0.5) * cell_m - 100, (n - row - 0.5) * cell_m - 100
    a = math.radians(turn_deg)
    z = 112 + slope * (x * math.sin(a) + y * math.cos(a))
    return Grid(z, EAST, NORTH + 200, cell_m)


@pytest.mark.parametrize("cell_m", [1.0, 2.0])
@pytest.mark.parametrize("shape", ["trapezoid", "parabola"])
def test_it_holds_its_analytic_volume_at_1_and_2_m_cells(cell_m: float, shape: str) -> None:
    """To its lip alone, 100 m of it: S1 is 0.560 m³/m, a parabola 2/3 of width times depth."""
    own = S1 if shape == "trapezoid" else {"shape": "parabola", "top_m": 3.0, "depth_m": 0.45}
    swale = Swale(geometry=LEVEL, sill_above_m=0.0, bank_m=0.3, **own)
    found = figures(study_of(swale, grid=coarse(0.12, cell_m)), swale.id)
    by_hand = 0.560 if shape == "trapezoid" else 2 / 3 * 3.0 * 0.45
    # The lip lies on the hill at the channel's middle: up the hill the water ends at its cut.
    assert found["holds_by_section_m3"] == pytest.approx(100 * by_hand, rel=1e-6)
    assert found["holds_m3"] == pytest.approx(100 * by_hand, rel=0.05)


def test_level_sill_and_freeboard_by_hand() -> None:
    swale = Swale(geometry=LEVEL, sill="middle", sill_m=8.0, sill_above_m=0.15, bank_m=0.3,
                  design_flow_m3s=0.1, **S1)  # fmt: skip
    study = study_of(swale, grid=plane(slope_north=0.12))
    found = figures(study, swale.id)
    # The plane is 100 m at the corner and rises 0.12: 112 m at the line.
    assert found["lip_m"] == pytest.approx(112.0, abs=1e-6)
    assert found["sill_level_m"] == pytest.approx(112.15, abs=1e-6)
    assert found["freeboard_m"] == pytest.approx(0.15)
    assert found["level_error_m"] == pytest.approx(0.0, abs=1e-6)
    assert found["cross_slope"] == pytest.approx(0.12, abs=1e-6)
    # Weir formula, 1.45 L H^1.5: 1.45 x 8 x 0.15^1.5.
    assert found["sill_capacity_m3s"] == pytest.approx(1.45 * 8 * 0.15**1.5, rel=1e-9)
    assert found["sill_head_m"] == pytest.approx((0.1 / (1.45 * 8)) ** (2 / 3), rel=1e-9)
    # On to grass: 13 ft for each cubic foot a second, 139.9 m per m³/s.
    assert found["sill_rule_m"] == pytest.approx(13.99)
    assert remarks(study, swale.id, "lip_m") == "indicative: level on site"


def test_the_handbooks_drawdown() -> None:
    """S9, worked out there: S1 full to 0.4 m, 10 mm/h over its wetted perimeter: 37.7 h."""
    swale = Swale(geometry=LEVEL, sill_above_m=0.0, bank_m=0.3, soaks_mm_h=20.0, **S1)
    found = figures(study_of(swale, grid=plane(slope_north=0.12)), swale.id)
    # Half of what was measured is used.
    assert found["soaks_mm_h"] == pytest.approx(10.0)
    assert found["drawdown_h"] == pytest.approx(37.7, abs=0.05)
    clay = changed(swale, soaks_mm_h=0.0)
    assert figures(study_of(clay, grid=plane(slope_north=0.12)), clay.id)["drawdown_h"] is None


def test_the_handbooks_drain() -> None:
    """S12: bottom 0.5, sides 2, 0.3 m deep, 0.5 %, n 0.04: 0.562 m/s and 0.185 m³/s."""
    drain = Drain(geometry=line((50, 100.0), (150, 95.0)), bottom_m=0.5, side=2.0, depth_m=0.3,
                  bank_m=0.15, freeboard_m=0.15, grade=0.005, roughness=0.04)  # fmt: skip
    study = study_of(drain, grid=plane(slope_north=0.10))
    found = figures(study, drain.id)
    assert found["capacity_m3s"] == pytest.approx(0.185, abs=0.001)
    assert found["speed_m_s"] == pytest.approx(0.562, abs=0.001)
    # A grass mixture on firm soil bears 1.52 m/s to 5 % (the handbook's read table).
    assert found["bears_m_s"] == pytest.approx(1.52)
    assert found["speed_share"] == pytest.approx(0.562 / 1.52, abs=0.001)
    # The line falls 0.5 m over 100.1 m of its own: its lip lies on the ground all along.
    assert found["fall"] == pytest.approx(0.005)
    assert found["level_error_m"] < 0.005
    # Open at its lower end: that is where the water leaves.
    spill = study.parts(drain.id)["spill"]
    assert spill.equals(shapely.MultiPoint([Point(drain.geometry.coords[-1])]))
    other = changed(drain, grade=-0.005)
    spill = study_of(other, grid=plane(slope_north=0.10)).parts(other.id)["spill"]
    assert spill.equals(shapely.MultiPoint([Point(drain.geometry.coords[0])]))


def test_the_handbooks_level_sill() -> None:
    """S11: 0.12 m³/s wants 12.92 m by the rule, and stands 34.5 mm over such a sill."""
    sill = LevelSill(geometry=line((50, 100), (62.92, 100)), below="rule", design_flow_m3s=0.12)
    found = figures(study_of(sill, grid=plane(slope_north=0.08)), sill.id)
    assert found["sill_rule_m"] == pytest.approx(12.92, abs=0.01)
    assert found["sill_head_m"] == pytest.approx(0.0345, abs=1e-4)
    # Flow grows with head to 3/2: 40.5 mm for 34.5 mm.
    assert found["sill_low_more"] == pytest.approx((40.5 / 34.5) ** 1.5 - 1, abs=0.001)
    assert found["sill_capacity_m3s"] == pytest.approx(1.45 * 12.92 * 0.15**1.5, rel=1e-6)
    # Its trench: 0.6 bottom, 2 to 1, 0.3 deep: 0.36 m² along 12.92 m, and its rounded ends.
    assert found["holds_m3"] == pytest.approx(0.36 * 12.92, rel=0.15)


def test_the_level_error_and_its_place() -> None:
    """A line moved 3 m up a slope of one in ten in its middle: 0.3 m off there, and told where."""
    bent = line((50, 100), (100, 103), (150, 100))
    swale = Swale(geometry=bent, lip_m=110.0)
    study = study_of(swale, grid=plane(slope_north=0.10))
    found = figures(study, swale.id)
    assert found["level_error_m"] == pytest.approx(0.3, abs=0.005)
    assert found["level_error_mean_m"] == pytest.approx(0.15, abs=0.01)
    basis = next(f.basis for f in study.facts(swale.id) if f.key == "level_error_m")
    assert basis == "50 m along it"
    assert "above" in remarks(study, swale.id, "level_error_m")


def test_round_a_kept_tree_the_level_is_told_apart() -> None:
    tree = Tree(geometry=Point(EAST + 100, NORTH + 99), status="existing", stem_cm=30)
    # Twelve stem diameters, from memory of the tree protection standard.
    study = study_of(tree, grid=plane(slope_north=0.10))
    assert figures(study, tree.id)["root_zone_m"] == pytest.approx(3.6)
    assert study.parts(tree.id)["root_zone"].area == pytest.approx(math.pi * 3.6**2, rel=0.01)
    felled = changed(tree, status="remove")
    assert "root_zone" not in study_of(felled, grid=plane()).parts(felled.id)
    round_it = line((50, 100), (93, 100), (97, 105), (103, 105), (107, 100), (150, 100))
    swale = Swale(geometry=round_it, lip_m=110.0)
    found = figures(study_of(tree, swale, grid=plane(slope_north=0.10)), swale.id)
    assert found["snag_m"] > 8
    assert found["snag_off_m"] == pytest.approx(0.5, abs=0.01)
    alone = figures(study_of(swale, grid=plane(slope_north=0.10)), swale.id)
    assert "snag_m" not in alone
    assert alone["level_error_m"] == pytest.approx(0.5, abs=0.01)
    assert found["level_error_m"] < 0.05


def test_the_next_swales_up_and_down_the_hill() -> None:
    low, own, high = (Swale(id=f"s{y}", geometry=line((50, y), (150, y))) for y in (60, 100, 125))
    aside = Swale(id="far", geometry=line((160, 110), (198, 110)))
    study = study_of(low, own, high, aside, grid=plane(slope_north=0.10))
    found = figures(study, own.id)
    assert found["above_m"] == pytest.approx(25.0, abs=1e-6)
    assert found["above_drop_m"] == pytest.approx(2.5, abs=0.01)
    assert found["below_m"] == pytest.approx(40.0, abs=1e-6)
    assert found["below_drop_m"] == pytest.approx(4.0, abs=0.01)
    assert "above_m" not in figures(study, high.id)
    # (10 + 6) / 10 m by the hillside-ditch rule, from memory.
    assert found["interval_m"] == pytest.approx(1.6, abs=0.01)


def test_parts_where_water_stands_and_leaves() -> None:
    swale = Swale(geometry=LEVEL, sill="end", sill_m=6.0)
    study = study_of(swale, grid=plane(slope_north=0.12))
    parts = study.parts(swale.id)
    assert parts["spill"].length == pytest.approx(6.0, abs=0.01)
    assert parts["spill"].distance(Point(EAST + 150, NORTH + 100)) < 4
    # The bank lies below, to the south; the water's upper edge at its level on the cut.
    assert parts["bank"].centroid.y < NORTH + 100
    assert parts["water"].contains(Point(EAST + 100, NORTH + 100))
    assert parts["toe"].covers(LEVEL)
    assert parts["lip"].distance(LEVEL) == pytest.approx(1.5, abs=1e-6)
    assert isinstance(study.work(swale.id).thing, Dug)
    closed = changed(swale, sill="none")
    spill = study_of(closed, grid=plane(slope_north=0.12)).parts(closed.id)["spill"]
    assert spill.length > 90


def test_earth_is_its_section_in_three_states() -> None:
    """Cut in the bank, loose at 1.25, fill placed at 0.90 of the bank: common earth's figures."""
    swale = Swale(geometry=LEVEL, strip_m=0.0, settlement=0.1)
    found = figures(study_of(swale, grid=plane(slope_north=0.02)), swale.id)
    # Nearly level ground: 1.0 x 0.5 + 2 x 0.5² dug for each metre.
    assert found["cut_m3"] == pytest.approx(100.0, rel=0.06)
    assert found["cut_loose_m3"] == pytest.approx(1.25 * found["cut_m3"])
    assert found["fill_bank_m3"] == pytest.approx(found["fill_m3"] / 0.90)
    assert found["placed_m3"] == pytest.approx(1.1 * found["fill_m3"])
    assert found["topsoil_off_m3"] == 0.0
    stripped = changed(swale, strip_m=0.1)
    more = figures(study_of(stripped, grid=plane(slope_north=0.02)), swale.id)
    assert more["topsoil_off_m3"] == pytest.approx(0.1 * more["moved_m2"])


def test_what_drains_to_it_is_at_least_what_is_known() -> None:
    """Half a plane's data lie above the line: 100 m of it times 100 m, out of the data's edge."""
    swale = Swale(geometry=LEVEL)
    study = study_of(swale, grid=plane(slope_north=0.12))
    found = figures(study, swale.id)
    assert found["catchment_m2"] == pytest.approx(100 * 100, rel=0.15)
    assert found["catchment_at_least"] == "yes"
    keys = {finding.rule for finding in study.findings()}
    assert "good_practice.sill_catchment_known" in keys


def test_the_storms_runoff_against_what_it_holds() -> None:
    """80 mm in a day; the spacing that holds it all is W = 1000 A / Q (the handbook's 3.2)."""
    swale = Swale(geometry=LEVEL, sill="middle", sill_m=4.0)
    storm = DesignStorm(depth_mm=80.0, hours=24.0, group="D")
    study = study_of(swale, storm, grid=plane(slope_north=0.12))
    found = figures(study, swale.id)
    depth = 1000 * found["runoff_m3"] / found["catchment_m2"]
    assert 0 < depth < 80
    assert found["storage_spacing_m"] == pytest.approx(10 * found["holds_m3"] / depth, rel=1e-6)
    assert found["holds_share"] == pytest.approx(found["holds_m3"] / found["runoff_m3"])
    # The storm's peak is the flow its sill is asked to pass, until one is typed.
    assert found["sill_head_m"] == pytest.approx((found["peak_m3s"] / (1.45 * 4)) ** (2 / 3))
    typed = changed(swale, design_flow_m3s=10.0)
    later = study.moved(study.plan.with_(typed))
    assert figures(later, swale.id)["peak_m3s"] == 10.0
    rules = {f.rule for f in later.findings() if swale.id in f.elements}
    assert "good_practice.sill_capacity" in rules
    assert "good_practice.sill_length" in rules


def test_checks_in_a_gully_by_hand() -> None:
    """A gully 2 m deep on a hill of one in ten; two checks 12 m apart, 0.6 m high."""
    hill = plane(slope_north=0.10)
    x = hill.x_m()[None, :] - EAST
    gully = hill.like(hill.z - 2.0 * np.exp(-(((x - 100) / 4) ** 2)))
    low = CheckDam(id="low", geometry=line((91, 80), (109, 80)), design_flow_m3s=0.1)
    high = CheckDam(id="high", geometry=line((91, 92), (109, 92)), design_flow_m3s=0.1)
    study = study_of(low, high, grid=gully)
    found = figures(study, "low")
    # The bed is 100 + 0.1 y - 2; where the cells' centres lie half a metre aside, 0.03 less deep.
    assert found["bed_m"] == pytest.approx(106.0, abs=0.06)
    assert found["notch_level_m"] == pytest.approx(106.6, abs=0.06)
    assert found["bed_slope"] == pytest.approx(0.10, abs=0.01)
    assert found["spacing_m"] == pytest.approx(6.0, abs=0.6)
    # With 150 mm to spare the 0.3 m notch, 1.2 m wide, passes 1.70 L H^1.5.
    assert found["sill_capacity_m3s"] == pytest.approx(1.70 * 1.2 * 0.15**1.5, rel=1e-6)
    assert found["above_m"] == pytest.approx(12.0, abs=0.3)
    # Its face, 2 to 1, meets the bed (0.6 + 0.3 / 2) / (1 / 2 - 0.1) = 1.875 m down the gully.
    assert found["toe_above_m"] == pytest.approx(12 * 0.1 - 0.1 * 1.875 - 0.6, abs=0.03)
    assert "above_m" not in figures(study, "high")
    rules = {f.rule for f in study.findings() if "low" in f.elements}
    assert "good_practice.check_spacing" in rules
    near = changed(high, geometry=line((91, 86), (109, 86)))
    rules = {f.rule for f in study.moved(study.plan.with_(near)).findings() if "low" in f.elements}
    assert "good_practice.check_spacing" not in rules


@pytest.mark.parametrize(
    ("item", "words"),
    [
        (Swale(geometry=LEVEL, sill_above_m=0.3, bank_m=0.3), "sill is as high as its bank"),
        (Swale(geometry=LEVEL, bottom_m=0.0, side=0.0), "no width"),
        (CheckDam(geometry=LEVEL), "no gully"),
        (CheckDam(geometry=line((50, 100), (51, 100))), "as wide as the check is long"),
        (Swale(geometry=line((150, 100), (250, 100))), "known ground"),
    ],
)
def test_what_cannot_be_built_says_why(item: object, words: str) -> None:
    study = study_of(item, grid=plane(slope_north=0.10))
    assert words in figures(study, item.id)["trouble"]
    assert study.parts(item.id)["edge"].area > 0


def test_too_near_above_field_house_and_cut() -> None:
    field = SepticField(geometry=box(EAST + 60, NORTH + 80, EAST + 90, NORTH + 90))
    pad = Platform(geometry=box(EAST + 110, NORTH + 80, EAST + 125, NORTH + 90))
    swale = Swale(geometry=LEVEL)
    study = study_of(field, pad, swale, grid=plane(slope_north=0.10))
    hit = {f.rule: f for f in study.findings() if swale.id in f.elements}
    assert "good_practice.swale_above_septic" in hit
    assert hit["good_practice.swale_above_septic"].measured < 10
    assert "good_practice.swale_above_cut" in hit
    below = changed(swale, geometry=line((50, 60), (150, 60)), lip_m=None)
    hit = {
        f.rule for f in study.moved(study.plan.with_(below)).findings() if swale.id in f.elements
    }
    assert not hit & {"good_practice.swale_above_septic", "good_practice.swale_above_cut"}


def test_figures_follow_the_plan_and_not_what_stands_beside() -> None:
    """A platform above changes the ground a swale is dug in; a firebreak does not."""
    swale = Swale(geometry=LEVEL, lip_m=110.0)
    study = study_of(swale, grid=plane(slope_north=0.10))
    before = study.work(swale.id)
    far = study.moved(study.plan.with_(Firebreak(geometry=line((10, 10), (40, 10)))))
    assert far.work(swale.id) is before
    pad = Platform(geometry=box(EAST + 80, NORTH + 96, EAST + 100, NORTH + 110))
    on_pad = study.moved(study.plan.with_(pad))
    assert on_pad.work(swale.id) is not before
    assert figures(on_pad, swale.id)["level_error_m"] > 0.1
    fresh = Study(
        Plan([Site(name="Made up", crs="EPSG:7854"), swale, pad]), land_of(study.land.grid)
    )
    assert figures(fresh, swale.id)["holds_m3"] == pytest.approx(
        figures(on_pad, swale.id)["holds_m3"]
    )


@pytest.mark.parametrize("turn", [30.0, 90.0, 215.0])
def test_turning_the_ground_turns_the_answers(turn: float) -> None:
    plain = Swale(geometry=LEVEL, sill="middle")
    middle = Point(EAST + 100, NORTH + 100)
    turned = changed(plain, geometry=affinity.rotate(LEVEL, -turn, origin=middle))
    one = figures(study_of(plain, grid=coarse(0.12, 1.0)), plain.id)
    other = figures(study_of(turned, grid=coarse(0.12, 1.0, turn)), plain.id)
    for key in ("holds_m3", "cut_m3", "fill_m3", "drawdown_h", "cross_slope"):
        assert other[key] == pytest.approx(one[key], rel=0.03), key
    assert other["lip_m"] == pytest.approx(one["lip_m"], abs=0.01)


def test_the_boundary_of_a_polygon_is_no_swale() -> None:
    """With no ground at all the figures are the line's own."""
    swale = Swale(geometry=LEVEL)
    study = study_of(swale)
    found = figures(study, swale.id)
    assert "no ground" in found["trouble"]
    assert found["length_m"] == pytest.approx(100.0)
    assert isinstance(study.parts(swale.id)["edge"], Polygon)
