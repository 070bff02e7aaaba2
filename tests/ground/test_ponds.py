"""Ponds, dams, excavations, terraces: storage and earth against solids with closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely import LineString, box

from canvas.base.errors import BadData, InputError
from canvas.base.grid import Grid
from canvas.ground.dam import Bank, Trench, behind, crest_for, dam
from canvas.ground.designed import Designed
from canvas.ground.excavation import Excavation, excavated, excavated_balanced, rim_line
from canvas.ground.flow import flow
from canvas.ground.pond import Basin, pool
from canvas.ground.spillway import Channel, beside_dam, spillway
from canvas.ground.terraces import Flight, terraces
from canvas.ground.volumes import bench_terrace, rectangular_basin_m3
from made_ground import bowl, cone, ground, plane, valley

AXIS = LineString([(50, 100), (150, 100)])


def test_a_round_bowl_holds_its_paraboloid() -> None:
    """Volume π h² / 2k, area π h / k at depth h over z = k r²."""
    basin = bowl(200, 1, 0.005)
    water = pool(basin, (100, 100), 110.0)
    h, k = 10.0, 0.005
    assert water.volume_m3 == pytest.approx(math.pi * h**2 / (2 * k), rel=0.005)
    assert water.area_m2 == pytest.approx(math.pi * h / k, rel=0.01)
    assert water.edge().area == pytest.approx(math.pi * h / k, rel=0.005)
    assert water.deepest_m == pytest.approx(h, abs=0.01)
    # Deeper than half: the inner half of the area.
    assert water.share_deeper(5.0) == pytest.approx(0.5, abs=0.01)
    curve = water.storage()
    for level in (102, 105, 109):
        assert curve.volume_at(level) == pytest.approx(
            math.pi * (level - 100) ** 2 / (2 * k), rel=0.02
        )
        assert curve.area_at(level) == pytest.approx(math.pi * (level - 100) / k, rel=0.03)
    assert curve.level_for(curve.volume_at(106)) == pytest.approx(106, abs=0.05)
    assert np.all(np.diff(curve.volume_m3) >= 0)
    assert not water.open
    assert not water.escaped


def test_a_cone_upside_down_holds_a_third_of_its_prism() -> None:
    pit = cone(200, 1, -0.2)
    water = pool(pit, (100, 100), 110.0)
    assert water.volume_m3 == pytest.approx(math.pi * 50**2 * 10 / 3, rel=0.005)


def test_a_storage_curve_is_the_pool_at_each_level() -> None:
    basin = bowl(100, 1, 0.01)
    curve = pool(basin, (50, 50), 108.0).storage(17)
    for level, area, volume in zip(
        curve.level_m[1:], curve.area_m2[1:], curve.volume_m3[1:], strict=True
    ):
        again = pool(basin, (50, 50), float(level))
        assert again.volume_m3 == pytest.approx(volume, rel=1e-9, abs=1e-9)
        # The last cell may lie just on the level: it counts above it by one way, not the other.
        assert again.area_m2 == pytest.approx(area, abs=4.0)


def test_water_at_the_edge_of_the_data_is_open() -> None:
    assert pool(bowl(60, 1, 0.01), (30, 30), 115.0).open
    holed = bowl(100, 1, 0.01)
    holed.z[50, 60:65] = np.nan
    assert pool(holed, (50, 50), 105.0).open
    dry = pool(bowl(60, 1, 0.01), (30, 30), 99.0)
    assert dry.volume_m3 == 0
    assert dry.deepest_m == 0
    assert dry.storage().volume_at(100) == 0


def made_dam(cell: float = 1.0) -> tuple[Grid, Bank]:
    return valley(200, cell, 0.2, 0.05), Bank(AXIS, 104.0, 3, 3, 2.5)


def test_a_dam_across_a_v_valley() -> None:
    """Against integrals on a grid of 5 cm of the same closed forms."""
    ground_, bank = made_dam()
    made = dam(ground_, bank)
    x, y = np.meshgrid(np.arange(50, 150, 0.05) + 0.025, np.arange(70, 180, 0.05) + 0.025)
    floor = 100 + 0.2 * abs(x - 100) + 0.05 * (y - 100)
    u = y - 100
    bank_z = 104 - np.maximum(abs(u) - 1.5, 0) / np.where(u > 0, 3, 2.5)
    fill = float(np.maximum(bank_z - floor, 0).sum()) * 0.05**2
    assert made.earth.fill_m3 == pytest.approx(fill, rel=0.01)
    assert made.by_sections_m3() == pytest.approx(824.0, rel=0.02)
    assert made.earth.cut_m3 == 0
    assert not made.water_right  # the axis runs east, the water lies north: on its left
    assert made.height_m == pytest.approx(4.0, abs=0.1)
    assert made.toe_height_m > made.height_m
    assert made.built_m3 == pytest.approx(1.05 * fill, rel=0.01)
    assert made.trench_m3 == pytest.approx(Trench().area_m2 * 40, rel=0.05)
    water = behind(made, 103.0, Basin(ground_))
    surface = np.maximum(bank_z, floor)
    volume = float(np.maximum(103 - surface, 0)[u > 0].sum()) * 0.05**2
    assert water.water.volume_m3 == pytest.approx(volume, rel=0.01)
    assert water.holds
    assert water.freeboard_m == pytest.approx(1.0)
    assert water.water_per_earth == pytest.approx(
        water.water.volume_m3 / (made.built_m3 + made.trench_m3)
    )


def test_the_water_is_sought_above_the_dam_on_steep_ground() -> None:
    """A short dam in a steep gully, askew: the lower ground below it lies near, and is not it."""
    gully = ground(200, 1, lambda x, y: 100 + 0.35 * abs(x - 100) + 0.12 * (y - 100))
    made = dam(gully, Bank(LineString([(75, 108), (125, 92)]), 104.0, 3, 3, 2.5))
    assert made.wet_toe_xy_m is not None
    assert made.dry_toe_xy_m is not None
    assert made.wet_toe_xy_m[1] > 100 > made.dry_toe_xy_m[1]
    found = behind(made, 103.5, Basin(gully))
    assert found.holds
    assert found.water.ground.bounds[1] > 98


def test_the_handbooks_cut_off_and_bank() -> None:
    """P7: trench 50 m, b 2.4, d 0.9, 1:1 is 148.5 m³."""
    assert 50 * Trench(2.4, 0.9, 1.0).area_m2 == pytest.approx(148.5)


def test_water_stays_behind_a_dam_at_any_cell_size() -> None:
    for cell in (0.5, 1.0, 2.0, 4.0):
        ground_, bank = made_dam(cell)
        made = dam(ground_, bank)
        found = behind(made, 103.0, Basin(ground_))
        assert found.holds
        assert found.water.volume_m3 == pytest.approx(618, rel=0.06)


def test_a_dam_too_short_lets_the_water_round() -> None:
    ground_ = valley(200, 1, 0.05, 0.05)
    short = dam(ground_, Bank(LineString([(80, 100), (120, 100)]), 104.0, 3, 3, 2.5))
    assert behind(short, 103.5, Basin(ground_)).water.escaped
    assert not behind(short, 103.5, Basin(ground_)).holds


def test_filling_leaves_the_ground_as_it_was() -> None:
    ground_, bank = made_dam()
    basin = Basin(ground_)
    made = dam(ground_, bank)
    first = behind(made, 103.0, basin).water.volume_m3
    for level in (102.0, 103.9, 101.0):
        behind(made, level, basin)
    assert behind(made, 103.0, basin).water.volume_m3 == first
    assert basin.pool((100.0, 120.0), 100.5).escaped is False


def test_a_spillway_sets_the_water_on_the_designed_ground() -> None:
    ground_, bank = made_dam()
    made = dam(ground_, bank)
    line = beside_dam(ground_, made, 103.0, 4.0, at_start=False)
    cut = spillway(ground_, Channel(line, 4.0, 103.0))
    assert cut.earth.fill_m3 == 0
    designed = Designed.of(ground_, [made.patch, cut.patch])
    filled = flow(designed.flow_levels, designed.faces).filled
    assert filled.z[ground_.cell_at(100, 115)] == pytest.approx(103.0, abs=0.02)
    # Without it the dam would be overtopped.
    alone = Designed.of(ground_, [made.patch])
    assert flow(alone.flow_levels, alone.faces).filled.z[ground_.cell_at(100, 115)] >= 104.0


def test_the_crest_for_a_volume() -> None:
    ground_, _ = made_dam()
    basin = Basin(ground_)

    def over(crest: float) -> float:
        made = dam(ground_, Bank(AXIS, crest, 3, 3, 2.5))
        return behind(made, crest - 1.0, basin).water.volume_m3 - 400

    crest = crest_for(over, 101.5, 106.0)
    assert over(crest) >= 0
    assert over(crest - 0.05) < 0
    with pytest.raises(BadData, match="holds that much"):
        crest_for(over, 101.2, 101.5)


def test_dams_that_cannot_be() -> None:
    ground_, bank = made_dam()
    with pytest.raises(BadData, match="higher than the crest"):
        dam(ground_, Bank(AXIS, 95.0, 3, 3, 2.5))
    with pytest.raises(BadData, match="above the dam's crest"):
        behind(dam(ground_, bank), 105.0, Basin(ground_))
    with pytest.raises(BadData, match="known ground"):
        dam(ground_, Bank(LineString([(150, 100), (250, 100)]), 140.0, 3, 3, 2.5))
    with pytest.raises(InputError):
        dam(ground_, Bank(AXIS, 104.0, 0, 3, 2.5))


def test_an_excavated_basin_holds_its_formula() -> None:
    """HEC22 equation 8-7: bottom 26 x 13, sides 3:1, 2 m deep: 1240 m³ (P2)."""
    flat = ground(200, 1, lambda x, y: 100 + 0 * x)
    what = Excavation(box(80, 80, 118, 105), 2, 3, freeboard_m=0, rim_m=0)
    made = excavated(flat, what, 100.0)
    form = rectangular_basin_m3(26, 13, 2, 3)
    assert made.water.volume_m3 == pytest.approx(form, rel=0.002)
    assert made.earth.cut_m3 == pytest.approx(form, rel=0.002)
    assert made.earth.fill_m3 == 0
    assert made.deepest_m == pytest.approx(2)
    narrow = excavated(flat, Excavation(box(80, 80, 118, 86), 2, 3), 100.0)
    assert narrow.deepest_m == pytest.approx(1.0, abs=0.05)


def test_a_balanced_basin_builds_its_rim_of_what_it_digs() -> None:
    hill = plane(200, 1, 0.06)
    made = excavated_balanced(hill, Excavation(box(80, 80, 118, 105), 2, 3), 0.9)
    assert made.earth.cut_m3 * 0.9 == pytest.approx(made.earth.fill_m3, rel=5e-3)
    assert not made.water.open
    assert made.water.volume_m3 == pytest.approx(rectangular_basin_m3(26, 13, 2, 3), rel=0.01)
    assert rim_line(made).is_ring
    designed = Designed.of(hill, [made.patch])
    filled = flow(designed.flow_levels, designed.faces).filled
    rim = made.water_m + made.excavation.freeboard_m
    assert filled.z[hill.cell_at(99, 92)] == pytest.approx(rim, abs=0.05)


def test_terraces_step_down_as_the_even_slope_says() -> None:
    hill = plane(200, 1, 0.3)
    flight = Flight(LineString([(60, 120), (140, 120)]), 3, 4, 0.75)
    made = terraces(hill, flight, 0.9)
    form = bench_terrace(0.3, 4, 0.75)
    assert made.drops_m == pytest.approx([form.drop_m] * 2, rel=0.01)
    assert made.bench_area_m2 == pytest.approx(3 * 80 * 4)
    for bench in made.benches:
        assert bench.earth.cut_m3 * 0.9 == pytest.approx(bench.earth.fill_m3, rel=0.02)
        # A balanced bench moves a little more than the handbook's form, which has C = 1.
        assert bench.earth.cut_m3 / 80 == pytest.approx(form.cut_per_m_m3, rel=0.12)
    assert not Designed.of(hill, made.patches).conflicts()
    steep = Flight(LineString([(60, 120), (140, 120)]), 2, 4, 4.0)
    with pytest.raises(BadData, match="steep as the risers"):
        terraces(hill, steep, 0.9)
    flat = ground(200, 1, lambda x, y: 100 + 0 * x)
    with pytest.raises(BadData, match="doesn't fall"):
        terraces(flat, flight, 0.9)
