"""Sections, weirs, soaking, swales, ponds and culverts: arithmetic and limits."""

from __future__ import annotations

import itertools
import math

import pytest

from canvas.base.errors import InputError
from canvas.water import culverts, ponds, soak, swales, weirs
from canvas.water.culverts import Culvert
from canvas.water.ponds import Dam
from canvas.water.sections import (
    Parabola,
    Pipe,
    Section,
    Trapezoid,
    Wedge,
    critical_depth,
    manning_flow,
    normal_depth,
)
from canvas.water.swales import Bank, Swale

SWALE = Trapezoid.even(0.6, 2.0)


def test_trapezoid() -> None:
    assert SWALE.area_m2(0.4) == pytest.approx(0.56)
    assert SWALE.top_m(0.4) == pytest.approx(2.20)
    assert SWALE.wetted_m(0.4) == pytest.approx(2.389, abs=5e-4)
    assert SWALE.area_m2(0.4) / SWALE.wetted_m(0.4) == pytest.approx(0.2344, abs=5e-5)
    uneven = Trapezoid(0.6, 1.0, 3.0)
    assert uneven.area_m2(0.4) == pytest.approx(0.56)
    with pytest.raises(InputError):
        Trapezoid(0.0, 0.0, 0.0)


def test_parabola() -> None:
    section = Parabola(3.0, 0.45)
    assert section.area_m2(0.45) == pytest.approx(0.900)
    assert section.area_m2(0.3) == pytest.approx(0.490, abs=5e-4)
    assert section.top_m(0.3) == pytest.approx(2.449, abs=5e-4)
    # The usual T + 8 y²/(3 T) is within 1 % of the exact arc.
    assert section.wetted_m(0.45) == pytest.approx(3.0 + 8 * 0.45**2 / 9, rel=0.01)


def test_wedge() -> None:
    assert Wedge(0.12, 2.0).area_m2(0.4) == pytest.approx(0.827, abs=5e-4)
    assert Wedge(0.05, 2.0).area_m2(0.3) == pytest.approx(0.990, abs=5e-4)
    assert Wedge(0.12, 0.0).area_m2(0.4) == pytest.approx(0.667, abs=5e-4)


@pytest.mark.parametrize("section", [SWALE, Parabola(3.0, 0.45), Wedge(0.1, 2.0), Pipe(0.9)])
def test_area_grows_by_its_top(section: Section) -> None:
    for depth in (0.1, 0.2, 0.33):
        rise = (section.area_m2(depth + 1e-6) - section.area_m2(depth - 1e-6)) / 2e-6
        assert rise == pytest.approx(section.top_m(depth), rel=1e-5)


def test_even_flow_and_its_inverse() -> None:
    got = manning_flow(Trapezoid.even(0.5, 2.0), 0.3, 0.005, 0.04)
    assert got.speed_m_s == pytest.approx(0.562, abs=0.002)
    assert got.flow_m3s == pytest.approx(0.185, abs=0.002)
    back = normal_depth(Trapezoid.even(0.5, 2.0), got.flow_m3s, 0.005, 0.04)
    assert back.depth_m == pytest.approx(0.3, rel=1e-6)
    exit_run = normal_depth(Trapezoid.even(5.0, 3.0), 1.17, 0.05, 0.04)
    assert exit_run.depth_m == pytest.approx(0.147, abs=0.001)
    assert exit_run.speed_m_s == pytest.approx(1.47, abs=0.01)


def test_critical_depth_of_a_rectangle() -> None:
    assert critical_depth(Trapezoid.even(2.0, 0.0), 1.0) == pytest.approx(
        (0.25 / 9.81) ** (1 / 3), rel=1e-6
    )


# Weirs  ------------------------------


def test_sills_and_weirs() -> None:
    head = weirs.weir_head(0.12, 12.92, 1.45)
    assert head == pytest.approx(0.0345, abs=5e-4)
    assert weirs.weir_flow(head, 12.92, 1.45) == pytest.approx(0.12)
    low, high = weirs.sill_error(0.0345, 0.00635)
    assert (low, high) == (pytest.approx(0.29, abs=0.005), pytest.approx(-0.26, abs=0.005))
    assert weirs.orifice_flow(1.5, math.pi * 0.1**2 / 4) == pytest.approx(0.0256, abs=2e-4)


@pytest.mark.parametrize(("flow", "width"), [(0.265, 1.0), (0.53, 2.0), (1.18, 5.0), (3.74, 16.0)])
def test_a_spillway_is_as_wide_as_its_table_asks(flow: float, width: float) -> None:
    """Rows of HEC-22's table at 0.3 m of head; beyond its widths in proportion."""
    assert weirs.spillway_width(flow, 0.3) == pytest.approx(width, abs=0.002)
    with pytest.raises(InputError, match="head"):
        weirs.spillway_width(flow, 0.0)


def test_a_rectangular_sill_is_the_ideal_weir() -> None:
    got = weirs.notch_flow(Trapezoid.even(2.0, 0.0), 0.3)
    assert got == pytest.approx((2 / 3) ** 1.5 * math.sqrt(9.81) * 2.0 * 0.3**1.5, rel=1e-6)
    # Sloping sides pass more.
    assert weirs.notch_flow(Trapezoid.even(2.0, 3.0), 0.3) > got


def test_notches() -> None:
    # Standard 90° notch: about 1.38 H^2.5 [m³/s].
    assert weirs.v_notch_flow(0.2, 90.0) == pytest.approx(1.37 * 0.2**2.5, rel=0.01)
    assert weirs.rectangular_notch_flow(0.2, 1.0) == pytest.approx(1.84 * 0.96 * 0.2**1.5)
    assert weirs.rectangular_notch_flow(-0.1, 1.0) == 0.0


def test_drowned_weirs() -> None:
    assert weirs.submerged_factor(0.3, 0.0) == 1.0
    assert weirs.submerged_factor(0.3, 0.3) == 0.0
    assert 0.5 < weirs.submerged_factor(0.3, 0.2) < 1.0


def test_spillway_table_beyond_its_rows() -> None:
    assert weirs.spillway_flow(0.0, 4.0) == 0.0
    assert weirs.spillway_flow(0.8, 4.0) > weirs.spillway_flow(0.6, 4.0)
    assert weirs.spillway_flow(0.3, 16.0) == pytest.approx(2 * weirs.spillway_flow(0.3, 8.0))
    run = weirs.spillway_run(1.17, 5.0, 0.05)
    assert run.exit_speed_m_s == pytest.approx(1.58, abs=0.02)


def test_rock_checks_stand_toe_to_top() -> None:
    got = weirs.rock_check(0.6, 0.12, 60.0, 0.2, 1.5)
    assert got.spacing_m == pytest.approx(5.0)
    assert got.count == 12
    assert weirs.weir_flow(got.head_m, 1.5) == pytest.approx(0.2)
    assert got.middle_m > got.head_m


# Soaking in  ------------------------------


@pytest.mark.parametrize(("rate", "hours"), [(5, 75.5), (10, 37.7), (25, 15.1)])
def test_drawdown(rate: float, hours: float) -> None:
    assert soak.drawdown_h(SWALE, 0.4, rate) == pytest.approx(hours, abs=0.06)
    assert soak.drawdown_bottom_h(0.4, rate) == pytest.approx(400.0 / rate)


def test_drawdown_needs_a_rate() -> None:
    assert soak.drawdown_h(SWALE, 0.4, 0.0) == math.inf
    assert soak.design_rate_mm_h(20.0) == 10.0


def test_green_ampt_solves_its_equation() -> None:
    depth = soak.green_ampt_mm(6.6, 166.8, 0.3, 2.0)
    s = 166.8 * 0.3
    assert depth - s * math.log(1 + depth / s) == pytest.approx(13.2, abs=1e-9)
    assert soak.green_ampt_mm(6.6, 0.0, 0.3, 2.0) == pytest.approx(13.2)
    assert soak.ponding_h(6.6, 166.8, 0.3, 5.0) == math.inf
    # Water stands when the capacity has fallen to the rain: F = K s / (i - K).
    hours = soak.ponding_h(6.6, 166.8, 0.3, 30.0)
    assert 30.0 * hours == pytest.approx(6.6 * s / (30.0 - 6.6))


# Swales  ------------------------------


def test_banks() -> None:
    bank = Bank(0.6, 0.5, 2.0, 2.0)
    assert bank.area_m2() == pytest.approx(0.80)
    assert bank.area_m2(0.10) == pytest.approx(0.935)
    assert bank.cut_m2(0.9) == pytest.approx(0.889, abs=5e-4)


def test_spacing() -> None:
    width = swales.spacing_m(0.56, 32.99)
    assert width == pytest.approx(16.97, abs=0.01)
    assert width * 0.12 == pytest.approx(2.04, abs=0.01)
    assert swales.along_slope_m(width, 0.12) == pytest.approx(17.09, abs=0.01)
    assert swales.spacing_with_rain_m(0.56, 32.99, 80.0, 2.2) == pytest.approx(13.84, abs=0.01)
    assert swales.spacing_m(0.56, 0.0) == math.inf


def test_level_error() -> None:
    assert Swale(SWALE, 0.4).storage_with_error(0.05) - 1 == pytest.approx(-0.1875, abs=1e-6)


def test_vertical_intervals() -> None:
    # CPS 600 and FAO 13/3 figures are from memory.
    assert swales.interval_terrace_m(0.08, 0.6, 2.5) == pytest.approx(2.225, abs=0.001)
    assert swales.interval_terrace_m(0.04, 0.4, 1.0) == pytest.approx(0.792, abs=0.001)
    assert swales.interval_hillside_m(0.20) == pytest.approx(2.4)
    assert swales.interval_hillside_m(0.20, wide=True) == pytest.approx(2.6)
    assert swales.horizontal_m(2.225, 0.08) == pytest.approx(27.8, abs=0.02)


def test_bench_terraces() -> None:
    got = swales.bench_terrace(0.40, 4.0, 0.75)
    assert got.interval_m == pytest.approx(2.286, abs=0.001)
    assert got.riser_run_m == pytest.approx(1.714, abs=0.001)
    assert got.spacing_m == pytest.approx(5.714, abs=0.001)
    assert got.length_m_ha == pytest.approx(1750.0)
    assert got.bench_m2_ha == pytest.approx(7000.0)
    assert got.cut_m3_ha == pytest.approx(2000.0)


def test_catchment_ratio() -> None:
    # Critchley & Siegert 1991, example from memory.
    assert swales.catchment_ratio(525, 375, 0.5, 0.7) == pytest.approx(1.143, abs=0.001)


# Ponds  ------------------------------


@pytest.mark.parametrize(("depth", "volume"), [(0.2, 72.4), (1.0, 467.0), (1.6, 889.5), (2, 1240)])
def test_basins(depth: float, volume: float) -> None:
    assert ponds.basin_m3(26.0, 13.0, depth, 3.0) == pytest.approx(volume, abs=0.05)


def test_dam_volume() -> None:
    dam = Dam(3.0, 3.0, 2.5)
    station, height = [0, 10, 20, 30, 40, 50], [0, 1.2, 2.8, 3.5, 1.6, 0]
    assert dam.volume_m3(station, height) == pytest.approx(935.5, abs=0.1)
    assert dam.volume_m3(station, height, how="prismoidal") == pytest.approx(886.6, abs=0.1)
    assert dam.volume_m3(station, height, 0.05) == pytest.approx(1017.0, abs=0.2)
    assert dam.volume_m3(station, height, 0.10) == pytest.approx(1101.9, abs=0.2)
    assert dam.base_m(3.5) == pytest.approx(22.25)
    # FAO 64, from memory.
    assert ponds.quick_dam_m3(3.5, 50.0, 3.0, 5.5) == pytest.approx(954.4, abs=0.1)
    assert ponds.quick_storage_m3(50.0, 80.0, 3.0) == pytest.approx(2000.0)


def test_freeboard() -> None:
    assert ponds.freeboard_m(0.3) == pytest.approx(0.9)
    assert ponds.freeboard_m(0.7) == pytest.approx(1.0)
    assert ponds.freeboard_m(0.5, fetch_m=2000.0) > 0.9


def test_breach_and_engineer() -> None:
    # Froehlich 1995, from memory.
    assert ponds.breach_peak_m3s(3000.0, 3.0) == pytest.approx(25.2, abs=0.2)
    assert ponds.needs_engineer(1.5, 800.0) == ""
    assert "higher" in ponds.needs_engineer(2.5, 800.0)
    assert "10 000" in ponds.needs_engineer(2.5, 12_000.0)
    assert "people" in ponds.needs_engineer(1.0, 100.0, dwelling_below=True)


def test_water_needs() -> None:
    assert ponds.reliable_catchment_m2(3000.0, 585.0, 0.2) == pytest.approx(25_641, abs=1)
    assert ponds.seepage_m3(1500.0, 2.0, 30.0) == pytest.approx(90.0)


# Culverts  ------------------------------


@pytest.fixture
def pipe() -> Culvert:
    return Culvert(0.9, 12.0, 0.03, culverts.inlets()["corrugated_projecting"])


def test_inlet_control_by_hand(pipe: Culvert) -> None:
    # HDS-5 appendix A: drowned, HW/D = c (1.811 Q / (A D^0.5))² + Y - 0.5 S.
    flow = 2.0
    x = 1.811 * flow / (math.pi * 0.9**2 / 4 * math.sqrt(0.9))
    assert x > 4.0
    want = (0.0553 * x**2 + 0.54 - 0.5 * 0.03) * 0.9
    assert culverts.inlet_headwater_m(pipe, flow) == pytest.approx(want)
    # Free: specific energy at critical depth, K = 0.0340, M = 1.5.
    flow = 0.5
    x = 1.811 * flow / (math.pi * 0.9**2 / 4 * math.sqrt(0.9))
    section = Pipe(0.9)
    depth = critical_depth(section, flow)
    speed = flow / section.area_m2(depth)
    want = depth + speed**2 / 19.62 + (0.0340 * x**1.5 - 0.5 * 0.03) * 0.9
    assert culverts.inlet_headwater_m(pipe, flow) == pytest.approx(want, rel=1e-6)


def test_outlet_control_by_hand() -> None:
    flat = Culvert(0.6, 40.0, 0.001, culverts.inlets()["concrete_square"])
    speed = 0.5 / (math.pi * 0.09)
    friction = 19.62 * 0.012**2 * 40.0 / 0.15 ** (4 / 3)
    want = 1.0 + (1.5 + friction) * speed**2 / 19.62 - 0.04
    assert culverts.outlet_headwater_m(flat, 0.5, tailwater_m=1.0) == pytest.approx(want)
    assert culverts.headwater(flat, 0.5, 1.0).control == "outlet"


def test_capacity_undoes_headwater(pipe: Culvert) -> None:
    for depth in (0.3, 0.9, 1.5, 2.5):
        flow = culverts.capacity_m3s(pipe, depth)
        assert culverts.headwater(pipe, flow).depth_m == pytest.approx(depth, abs=1e-3)
    double = Culvert(0.9, 12.0, 0.03, pipe.inlet, barrels=2)
    assert culverts.capacity_m3s(double, 1.5) == pytest.approx(
        2 * culverts.capacity_m3s(pipe, 1.5), rel=1e-6
    )


def test_headwater_rises_with_flow(pipe: Culvert) -> None:
    depth = [culverts.inlet_headwater_m(pipe, 0.02 * i) for i in range(1, 150)]
    assert all(b > a for a, b in itertools.pairwise(depth))


def test_crossing_parts_the_flow(pipe: Culvert) -> None:
    small = culverts.crossing(pipe, 0.5, 1.4, 6.0)
    assert small.over_m3s == 0.0
    large = culverts.crossing(pipe, 4.0, 1.4, 6.0)
    assert large.through_m3s + large.over_m3s == pytest.approx(4.0)
    assert large.over_m3s == pytest.approx(
        weirs.weir_flow(large.headwater_m - 1.4, 6.0), rel=1e-6
    )  # fmt: skip
    assert culverts.capacity_m3s(pipe, large.headwater_m) == pytest.approx(
        large.through_m3s, rel=1e-4
    )
    assert culverts.apron_m(pipe)[0] == pytest.approx(3.6)
