"""Swales and drains: cross-sections by integration, storage on patch and base, sills that hold."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely import LineString, Point

from canvas.base.errors import BadData, InputError
from canvas.ground.bank import Sill, Works
from canvas.ground.crosssection import (
    BankSection,
    Parabola,
    Trapezoid,
    hydraulic_radius_m,
    wedge_area_m2,
)
from canvas.ground.designed import Designed
from canvas.ground.flow import flow
from canvas.ground.levelline import Limits, level_line
from canvas.ground.swale import lower_is_right, open_ends, swale
from made_ground import cone, floods_to, plane, valley

S1 = Trapezoid(0.6, 0.4, 2)
BANK = BankSection(0.6, 0.5, 2, 2)


def test_the_handbooks_sections() -> None:
    """S1 to S4, worked out there from the formulas."""
    assert S1.area_m2(0.4) == pytest.approx(0.560)
    assert S1.top_m == pytest.approx(2.20)
    assert S1.wetted_m(0.4) == pytest.approx(2.389, abs=1e-3)
    assert hydraulic_radius_m(S1, 0.4) == pytest.approx(0.2344, abs=1e-4)
    round_ = Parabola(3, 0.45)
    assert round_.area_m2(0.45) == pytest.approx(0.900)
    assert round_.width_m(0.3) == pytest.approx(2.449, abs=1e-3)
    assert round_.area_m2(0.3) == pytest.approx(0.490, abs=1e-3)
    # The handbook's P is the usual approximation T + 8 y² / 3T.
    assert round_.wetted_m(0.45) == pytest.approx(3.18, abs=0.01)
    assert wedge_area_m2(0.4, 0.12, 2) == pytest.approx(0.827, abs=1e-3)
    assert wedge_area_m2(0.3, 0.05, 2) == pytest.approx(0.990, abs=1e-3)
    assert wedge_area_m2(0.4, 0.12, 0) == pytest.approx(0.667, abs=1e-3)
    assert BANK.area_m2() == pytest.approx(0.80)
    assert BANK.area_m2(0.10) == pytest.approx(0.935)


@pytest.mark.parametrize("channel", [S1, Parabola(3, 0.45)])
@pytest.mark.parametrize("depth", [0.1, 0.3, 0.4, 0.6])
def test_areas_and_perimeters_are_their_shapes(channel: Trapezoid | Parabola, depth: float) -> None:
    """By integrating the width over the depth, and the arc along the side."""
    y = np.linspace(0, depth, 20001)
    width = np.array([channel.width_m(v) for v in y])
    assert channel.area_m2(depth) == pytest.approx(float(np.trapezoid(width, y)), rel=1e-4)
    slope = np.hypot(np.diff(y), np.diff(width) / 2)
    bottom = channel.width_m(0.0)
    assert channel.wetted_m(depth) == pytest.approx(bottom + 2 * float(slope.sum()), rel=1e-3)


def test_water_above_the_lip_is_counted_to_the_hill() -> None:
    """Against the plain integral of the section on an even slope."""
    works = Works(S1, BANK, berm_m=0.3, cut_batter=1.0, sills=(Sill(0, 5, 0.3),))
    u = np.linspace(-6, 6, 120001)
    ground = -0.12 * u
    made = works.section().heights(u, ground)
    wet = np.where(u < works.crest_m, np.maximum(0.3 - made, 0), 0)
    area = float(np.trapezoid(wet, u))
    assert works.area_m2(hill_slope=0.12) == pytest.approx(area, rel=1e-3)
    assert works.area_m2(0.0) == pytest.approx(S1.area_m2(0.4))
    assert works.area_m2(-0.1) == pytest.approx(S1.area_m2(0.3))
    assert works.freeboard_m == pytest.approx(0.2)


@pytest.mark.parametrize("cell", [1.0, 2.0])
@pytest.mark.parametrize("uphill", [0.0, 17.0, 45.0, 120.0])
@pytest.mark.parametrize("channel", [S1, Parabola(3, 0.45)])
def test_a_swale_holds_its_volume_at_any_cell_size(
    cell: float, uphill: float, channel: Trapezoid | Parabola
) -> None:
    """Within 5 % of the section's area times its length, on the patch and on the base grid."""
    hill = plane(200, cell, 0.12, uphill)
    way = np.array([math.cos(math.radians(uphill)), -math.sin(math.radians(uphill))]) * 40
    line = LineString(100 + np.array([-way, way]))
    works = Works(channel, BANK, sills=(Sill(40, 6, 0.3),))
    made = swale(hill, line, 100.0, works)
    assert made.holds_m3 == pytest.approx(made.by_section_m3, rel=0.05)
    assert made.water_edge.area > 80 * channel.top_m
    ground = Designed.of(hill, [made.patch])
    water = 100 + works.full_m
    z = ground.flow_levels.z
    x, y = np.meshgrid(hill.x_m(), hill.y_m())
    near = np.hypot(x - 100, y - 100) < 6
    start = np.unravel_index(np.argmin(np.where(near, z - hill.z, np.inf)), z.shape)
    seen = floods_to(ground.flow_levels, ground.faces, (int(start[0]), int(start[1])), water - 1e-6)
    held = float(np.maximum(water - z, 0)[seen].sum()) * cell**2
    assert held == pytest.approx(made.by_section_m3, rel=0.05)


@pytest.mark.parametrize("cell", [1.0, 2.0])
def test_water_rises_to_the_sill_and_no_higher(cell: float) -> None:
    """Fill and flow over the designed ground see the sill at any cell size."""
    hill = plane(200, cell, 0.12)
    line = LineString([(60, 100), (140, 100)])
    made = swale(hill, line, 100.0, Works(S1, BANK, sills=(Sill(40, 6, 0.3),)))
    ground = Designed.of(hill, [made.patch])
    filled = flow(ground.flow_levels, ground.faces).filled
    depth = filled.z - ground.flow_levels.z
    wet = depth > 1e-6
    assert filled.z[wet].max() == pytest.approx(100.3, abs=1e-3)
    # The bank's toe lies on the plane like any other ground: small dents there hold a little.
    assert float(depth.sum()) * cell**2 == pytest.approx(made.holds_m3, rel=0.05)


def test_a_swale_along_a_traced_line() -> None:
    hill = cone(400, 1, 0.12)
    traced = level_line(hill, 200, 120, Limits(60))
    works = Works(S1, BANK, sills=(Sill(60, 5, 0.25),))
    made = swale(hill, traced.line, traced.level_m, works)
    assert made.holds_m3 == pytest.approx(made.by_section_m3, rel=0.05)
    # The hill lies on the line's left: the bank on its right.
    assert lower_is_right(hill, traced.line)
    top = Point(200, 200)
    crest = made.crest.interpolate(0.5, normalized=True)
    assert top.distance(crest) - top.distance(traced.line) == pytest.approx(works.crest_m, abs=0.1)


def test_a_graded_drain_follows_its_line_and_carves_the_ground() -> None:
    hill = plane(200, 1, 0.12)
    line = LineString([(60, 100), (140, 100)])
    works = Works(S1, BANK, end_blocks=(True, False))
    made = swale(hill, line, np.array([100.2, 99.8]), works)
    assert made.patch.meets
    bed = made.patch.levels.sample([70.0, 130.0], [100.0, 100.0])
    assert bed[0] - bed[1] == pytest.approx(0.005 * 60, abs=0.01)
    assert open_ends(line, works) == [Point(140, 100)]
    levels = Designed.of(hill, [made.patch]).flow_levels
    along = np.array([levels.z[levels.cell_at(x, 100.0)] for x in np.arange(65, 135, 5.0)])
    assert np.all(np.diff(along) < 0.05)


def test_earth_dug_and_banked_are_their_sections() -> None:
    hill = plane(300, 1, 0.0001)
    line = LineString([(50, 150), (250, 150)])
    works = Works(S1, BANK, end_blocks=(False, False))
    made = swale(hill, line, 100.0, works, bank_right=True)
    # On ground as good as level, the bank's inner face starts at the lip.
    assert made.earth.cut_m3 / 200 == pytest.approx(0.56, rel=0.03)
    assert made.earth.fill_m3 / 200 == pytest.approx(0.80, rel=0.03)


def test_what_cannot_be_is_refused() -> None:
    hill = valley(100, 1, 0.1, 0.05)
    with pytest.raises(BadData, match="known ground"):
        swale(hill, LineString([(50, 50), (150, 50)]), 100.0, Works(S1, BANK))
    with pytest.raises(InputError):
        swale(hill, LineString([(20, 50), (80, 50)]), np.zeros(5), Works(S1, BANK))
    with pytest.raises(InputError):
        Trapezoid(0.0, 0.4, 0.0)
    with pytest.raises(InputError):
        wedge_area_m2(0.4, 0.0, 2)


def test_the_banks_returns_reach_the_hill() -> None:
    """On gentle ground full water lies far up the hill: the bank must go on until it ends there."""
    gentle = plane(200, 1, 0.04)
    line = LineString([(70, 100), (130, 100)])
    works = Works(S1, BANK, sills=(Sill(30, 5, 0.3),))
    made = swale(gentle, line, 100.0, works)
    assert made.ends_meet
    # The bank's top, 0.5 m over the lip, comes to ground of that height 12.5 m up the hill.
    assert made.crest.bounds[3] == pytest.approx(112.5, abs=0.5)
    ground = Designed.of(gentle, [made.patch])
    filled = flow(ground.flow_levels, ground.faces).filled
    assert filled.z[gentle.cell_at(100, 100)] == pytest.approx(100.3, abs=0.01)
    assert not swale(plane(200, 1, 0.005), line, 100.0, works).ends_meet
