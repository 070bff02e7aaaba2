"""Platforms against the closed forms of even slopes, and what must hold on any ground."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely import Polygon, affinity, box

from canvas.base.errors import BadData
from canvas.ground.crosssection import Batters
from canvas.ground.materials import loads, material, materials
from canvas.ground.patch import earth, region
from canvas.ground.platform import Pad, balanced, batters_of, platform, sides
from canvas.ground.volumes import batter_reach_m, end_areas, even_slope_bench
from made_ground import ground, plane

LONG = box(100, 194, 300, 206)


def test_a_long_pad_balances_where_the_even_slope_says() -> None:
    """Cut, fill, level and reach per metre, ends left out."""
    hill = plane(400, 1, 0.2)
    built = balanced(hill, Pad(LONG, Batters(1, 2)), 0.9)
    form = even_slope_bench(12, 0.2, 1, 2, 0.9)
    # The pad's middle is its width half from the top: level less ground there.
    level = 100 + 0.2 * (6 - form.cut_width_m)
    assert built.level_m == pytest.approx(level, abs=0.01)
    assert built.earth.cut_m3 * 0.9 == pytest.approx(built.earth.fill_m3, rel=1e-3)
    across = end_areas(
        built.patch.ground, built.patch.surface(), np.array([[150.0, 200], [250, 200]]), 20, 14
    )
    assert across.cut_m2 == pytest.approx(form.cut_m2, rel=0.01)
    assert across.fill_m2 == pytest.approx(form.fill_m2, rel=0.01)
    edge = built.patch.outline().bounds
    assert edge[3] - edge[1] == pytest.approx(form.footprint_m, abs=0.3)
    assert built.patch.meets


def test_volumes_of_a_level_pad_on_flat_ground_are_a_frustum() -> None:
    """A pad raised by h: prism, four wedges and a quarter cone at each corner."""
    flat = ground(100, 1, lambda x, y: 100 + 0 * x)
    built = platform(flat, Pad(box(40, 40, 60, 52), Batters(1, 2)), 101.5)
    h, z, w, d = 1.5, 2.0, 20.0, 12.0
    form = w * d * h + 2 * (w + d) * z * h**2 / 2 + math.pi * z**2 * h**3 / 3
    assert built.earth.fill_m3 == pytest.approx(form, rel=0.004)
    assert built.earth.cut_m3 == 0
    assert built.earth.highest_fill_m == pytest.approx(1.5)
    sunk = platform(flat, Pad(box(40, 40, 60, 52), Batters(1, 2)), 98.5)
    form = w * d * h + 2 * (w + d) * h**2 / 2 + math.pi * h**3 / 3
    assert sunk.earth.cut_m3 == pytest.approx(form, rel=0.004)


def test_the_batter_runs_out_where_the_slope_stake_says() -> None:
    hill = plane(200, 0.5, 0.25)
    pad = Pad(box(80, 90, 120, 100), Batters(1.5, 1.5))
    built = platform(hill, pad, 99.0)
    # The top edge stands 1.0 m into ground that rises away at 0.25: E2, 2.40 m.
    assert built.patch.outline().bounds[3] - 100 == pytest.approx(2.4, abs=0.1)
    assert batter_reach_m(1.0, 1.5, 0.25) == pytest.approx(2.4)


def test_a_wall_takes_the_place_of_a_batter() -> None:
    hill = plane(200, 1, 0.2)
    outline = box(90, 94, 110, 106)
    ring = np.asarray(outline.exterior.coords)
    south = [i for i in range(4) if ring[i][1] == ring[i + 1][1] == 94]
    pad = Pad(outline, Batters(1, 2), walls=sides(outline, south))
    built = platform(hill, pad, 100.0)
    assert built.patch.outline().bounds[1] == pytest.approx(94, abs=0.5)
    plain = platform(hill, Pad(outline, Batters(1, 2)), 100.0)
    assert plain.patch.outline().bounds[1] < 93
    wall = built.walls[0]
    # The pad stands over ground that is 6 m x 0.2 lower at its edge.
    assert wall.tallest_m == pytest.approx(1.2, abs=0.01)
    assert wall.face_m2 == pytest.approx(1.2 * 20, rel=0.01)
    assert built.earth.fill_m3 < plain.earth.fill_m3


def test_a_falling_pad_falls_as_told() -> None:
    flat = ground(100, 1, lambda x, y: 100 + 0 * x)
    pad = Pad(box(40, 40, 60, 52), Batters(1, 2), fall=0.02, towards_deg=90)
    built = platform(flat, pad, 101.0)
    west, east = built.patch.levels.sample([41.0, 59.0], [46.0, 46.0])
    assert (west - east) / 18 == pytest.approx(0.02, abs=1e-6)
    assert built.patch.levels.sample(50.0, 46.0) == pytest.approx(101.0, abs=1e-6)


def test_topsoil_comes_off_everywhere_and_goes_back_on_the_batters() -> None:
    hill = plane(200, 1, 0.15)
    outline = box(90, 94, 110, 106)
    bare = Pad(outline, Batters(1, 2))
    rich = Pad(outline, Batters(1, 2), strip_m=0.2, respread_m=0.15, surfacing_m=0.1)
    built, plain = platform(hill, rich, 100.0), platform(hill, bare, 100.0)
    e = built.earth
    assert e.topsoil_off_m3 == pytest.approx(0.2 * e.area_m2)
    pad_m2 = 20 * 12
    assert e.laid_m3 == pytest.approx(0.1 * pad_m2)
    assert e.topsoil_back_m3 == pytest.approx(0.15 * (e.area_m2 - pad_m2), rel=1e-6)
    # Net of earth: the formation lies below the finished levels, on ground without topsoil.
    net = (e.fill_m3 - e.cut_m3) - (plain.earth.fill_m3 - plain.earth.cut_m3)
    assert net == pytest.approx(e.topsoil_off_m3 - e.topsoil_back_m3 - e.laid_m3, abs=0.5)
    level = balanced(hill, rich, 0.9)
    assert level.earth.cut_m3 * 0.9 == pytest.approx(level.earth.fill_m3, rel=5e-3)


def test_spare_earth_lowers_the_pad() -> None:
    hill = plane(200, 1, 0.15)
    pad = Pad(box(90, 94, 110, 106), Batters(1, 2))
    plain, spare = balanced(hill, pad, 0.9), balanced(hill, pad, 0.9, spare_m3=60)
    assert spare.level_m < plain.level_m
    assert spare.earth.left_over_m3(0.9) == pytest.approx(60, rel=0.02)
    # With topsoil kept apart the same is asked.
    rich = Pad(box(90, 94, 110, 106), Batters(1, 2), strip_m=0.2, respread_m=0.1)
    spare = balanced(hill, rich, 0.9, spare_m3=60)
    assert spare.earth.left_over_m3(0.9) == pytest.approx(60, rel=0.02)


def test_a_hill_as_steep_as_its_batter_never_meets_and_says_so() -> None:
    steep = plane(120, 1, 0.6)
    built = platform(steep, Pad(box(55, 55, 65, 65), Batters(1, 2)), 100.0)
    assert not built.patch.meets
    with pytest.raises(BadData, match="never meets"):
        even_slope_bench(10, 0.6, 1, 2, 0.9)


def test_a_fill_that_runs_away_downhill_is_no_balance() -> None:
    """Steeper than the fill stands, gentler than the cut: the toe leaps, and no level balances."""
    pad = Pad(box(70, 94, 130, 106), Batters(1, 1.5))
    with pytest.raises(BadData, match="runs away"):
        balanced(plane(200, 1, 0.8), pad, 0.9)


def test_no_fill_allowed_can_not_balance() -> None:
    with pytest.raises(BadData, match="no level"):
        balanced(plane(100, 1, 0.1), Pad(box(45, 45, 55, 55), Batters(1, None)), 0.9)


def test_a_pad_beyond_the_ground_is_refused() -> None:
    with pytest.raises(BadData, match="beyond the known ground"):
        platform(plane(100, 1, 0.1), Pad(box(95, 45, 120, 55), Batters(1, 2)), 100.0)


def test_far_hills_are_left_alone() -> None:
    """Ground that pokes through the batter's plane somewhere else is not dug."""
    bumpy = ground(200, 1, lambda x, y: 100 + np.where(np.hypot(x - 160, y - 100) < 10, 60.0, 0))
    built = platform(bumpy, Pad(box(90, 94, 110, 106), Batters(1, 2)), 99.0)
    assert built.patch.outline().bounds[2] < 113


@pytest.mark.parametrize("turn", [17.0, 45.0, 88.0])
def test_turning_ground_and_pad_turns_the_answer(turn: float) -> None:
    outline = box(90, 94, 110, 106)
    turned = affinity.rotate(outline, -turn, origin=(100, 100))
    assert isinstance(turned, Polygon)
    pad = Pad(outline, Batters(1, 2))
    straight = balanced(plane(200, 1, 0.2), pad, 0.9)
    round_ = balanced(plane(200, 1, 0.2, turn), Pad(turned, Batters(1, 2)), 0.9)
    assert round_.level_m == pytest.approx(straight.level_m, abs=0.01)
    assert round_.earth.cut_m3 == pytest.approx(straight.earth.cut_m3, rel=0.02)
    outlines = round_.patch.outline().area, straight.patch.outline().area
    assert outlines[0] == pytest.approx(outlines[1], rel=0.01)


def test_the_outline_of_cut_and_fill_parts_at_the_line_between_them() -> None:
    built = balanced(plane(200, 1, 0.2), Pad(box(90, 94, 110, 106), Batters(1, 2)), 0.9)
    both = batters_of(built.patch)
    assert both.cut.intersection(both.fill).area < 1.0
    assert both.cut.area + both.fill.area == pytest.approx(built.patch.outline().area, rel=0.05)
    assert region(built.patch.levels, np.full(built.patch.levels.shape, -1.0)).is_empty


def test_materials_turn_bank_into_loose_and_compacted() -> None:
    earth_ = material("earth")
    assert earth_.loose_m3(earth_.bank_for_m3(90)) == pytest.approx(90 / 0.9 * 1.25)
    assert earth_.compacted_m3(100) == pytest.approx(90)
    assert loads(0, 7) == 0
    for one in materials().values():
        assert one.loose_per_bank > 1
        assert one.compacted_per_bank < one.loose_per_bank
        assert {"volume", "batter", "density"} == set(one.marks)
        assert one.batters.cut_rise > 0


def test_earth_of_a_patch_is_its_change() -> None:
    built = balanced(plane(200, 1, 0.2), Pad(box(90, 94, 110, 106), Batters(1, 2)), 1.0)
    change = built.patch.change_m()
    moved = earth(built.patch)
    cell = built.patch.levels.cell_m**2
    assert moved.fill_m3 - moved.cut_m3 == pytest.approx(float(change.sum()) * cell)
