"""Swales, channels and sills against published examples."""

from __future__ import annotations

import pytest
from published.ref import Ref

from canvas.water import soak, swales, weirs
from canvas.water.sections import Trapezoid, manning_flow, normal_depth, permissible_speed


def test_channel_flow() -> None:
    source = "HEC-22 (2009) example 5-1 (R rounded to 0.29)"
    got = manning_flow(Trapezoid.even(0.8, 3.0), 0.5, 0.01, 0.03)
    Ref(1.68, 0.02, source).check(got.flow_m3s)
    Ref(1.46, 0.02, source).check(got.speed_m_s)


def test_channel_depth() -> None:
    source = "HEC-22 (2009) example 5-2"
    got = normal_depth(Trapezoid.even(0.9, 3.0), 0.8, 0.01, 0.03)
    Ref(0.34, 0.01, source).check(got.depth_m)
    Ref(33.4, 0.5, source).check(got.shear_pa)


def test_ramser() -> None:
    Ref(1.05, 0.001, "NPTEL lecture 13, Ramser, 4.5 %").check(swales.interval_ramser_m(0.045))


def test_level_sill() -> None:
    Ref(12.92, 0.02, "15A NCAC 02H .1059: 10 ft per cfs").check(weirs.sill_length(0.12))


@pytest.mark.parametrize(
    ("lining", "slope", "loose", "speed"),
    [
        ("sod_bermuda", 0.03, False, 2.44),
        ("sod_bermuda", 0.12, True, 1.22),
        ("sod_other", 0.07, False, 1.83),
        ("grass_mixture", 0.07, True, 0.91),
        ("bunch_grass", 0.03, False, 1.07),
    ],
)
def test_permissible_speed(lining: str, slope: float, loose: bool, speed: float) -> None:
    got = permissible_speed(lining, slope, loose)
    assert got is not None
    Ref(speed, 0.0, "Kansas Admin. Regs 5-40-56 and SCS-TP-61 as reprinted").check(got)


def test_rare_flow_may_run_faster() -> None:
    # Kansas Admin. Regs 5-40-56: 10 % more at 2 % a year, 25 % more at 1 %.
    assert permissible_speed("sod_other", 0.03, False, chance=0.02) == pytest.approx(2.343)
    assert permissible_speed("sod_other", 0.03, False, chance=0.01) == pytest.approx(2.6625)
    assert permissible_speed("grass_mixture", 0.2, False) is None


@pytest.mark.parametrize(
    ("texture", "rate"),
    [("sand", 120.4), ("sandy_loam", 10.92), ("loam", 3.30), ("silt_loam", 6.60), ("clay", 0.25)],
)
def test_conductivity(texture: str, rate: float) -> None:
    got = soak.textures()[texture].ksat_mm_h
    Ref(rate, 0.0, "US EPA, manual on storm water (2015), table A.2").check(got)


@pytest.mark.parametrize(("texture", "suction"), [("sandy_loam", 110.1), ("silt_loam", 166.8)])
def test_suction(texture: str, suction: float) -> None:
    got = soak.textures()[texture].suction_mm
    Ref(suction, 0.0, "Rawls et al. (1983) as restated").check(got)
