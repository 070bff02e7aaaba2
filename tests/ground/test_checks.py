"""Checks in gullies on a V-valley whose measures are known in closed form."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely import LineString

from canvas.base.errors import BadData
from canvas.ground.check import CheckSpec, check
from canvas.ground.designed import Designed
from canvas.ground.flow import flow
from made_ground import plane, valley

#: A gully down the middle: sides of one in five, falling 8 % to the south.
GULLY = valley(200, 0.5, 0.2, 0.08)


def spec(y: float = 100.0, half: float = 8.0, **more: float) -> CheckSpec:
    given = {
        "height_m": 0.6, "notch_m": 1.0, "notch_deep_m": 0.3, "crest_m": 0.6,
        "upstream": 1.5, "downstream": 2.0, "key_m": 0.3,
    }  # fmt: skip
    return CheckSpec(LineString([(100 - half, y), (100 + half, y)]), **{**given, **more})


def test_levels_fall_and_spacing_of_a_check() -> None:
    made = check(GULLY, spec())
    assert made.bed_m == pytest.approx(100.0, abs=0.06)
    assert made.notch_level_m == pytest.approx(made.bed_m + 0.6)
    assert made.notch_at_m == pytest.approx(8.0, abs=0.3)
    assert made.bed_slope == pytest.approx(0.08, rel=0.03)
    # The next toe stands level with this notch: height over fall.
    assert made.spacing_m == pytest.approx(0.6 / 0.08, rel=0.03)
    assert made.ends_meet
    # Drawn from west to east over a gully that falls south, the water lies on the left.
    assert not made.water_right
    x, y = made.toe_xy_m
    assert abs(x - 100) < 1
    assert y < 100
    assert made.toe_m < made.bed_m


def test_the_wall_is_its_section_along_the_gully() -> None:
    """On a level V the wall is the integral of its section over the V: by hand, half of it up."""
    level = valley(200, 0.25, 0.2, 1e-6)
    made = check(level, spec(notch_m=0.2, half=6.0), "")
    # Between the middle two cells' centres the survey's bed is flat, 0.125 m x 0.2 over the V's:
    # 0.9 m high there, falling to nought where the sides come up to the top.
    flat = 0.125 * 0.2
    far = np.linspace(0, (0.9 + flat) / 0.2, 2001)
    h = np.minimum(0.9 + flat - 0.2 * far, 0.9)
    area = 0.6 * h + (1.5 + 2.0) / 2 * h**2
    whole = 2 * float(np.trapezoid(area, far))
    # The notch takes its width and depth out, faces and all.
    lost = 0.2 * (0.6 * 0.3 + 1.75 * (0.9**2 - 0.6**2))
    assert made.earth.fill_m3 == pytest.approx(whole - lost, rel=0.05)
    assert made.key_m3 == pytest.approx(0.3 * 0.6 * 9.0, rel=0.05)


def test_water_rises_to_the_notch_and_no_higher() -> None:
    made = check(GULLY, spec())
    ground = Designed.of(GULLY, [made.patch])
    filled = flow(ground.flow_levels, ground.faces).filled
    spot = GULLY.cell_at(100.0, 102.5)
    assert filled.z[spot] == pytest.approx(made.notch_level_m, abs=0.02)


def test_the_other_way_round_the_water_is_on_the_other_side() -> None:
    here = spec()
    turned = CheckSpec(LineString(list(here.line.coords)[::-1]), *[
        getattr(here, name) for name in
        ("height_m", "notch_m", "notch_deep_m", "crest_m", "upstream", "downstream", "key_m")
    ])  # fmt: skip
    one, other = check(GULLY, here), check(GULLY, turned)
    assert one.water_right != other.water_right
    assert one.earth.fill_m3 == pytest.approx(other.earth.fill_m3, rel=0.02)
    assert one.bed_slope == pytest.approx(other.bed_slope, rel=1e-6)


def test_what_is_no_gully_is_refused() -> None:
    with pytest.raises(BadData, match="no gully"):
        check(plane(200, 1, 0.1), spec())
    with pytest.raises(BadData, match="known ground"):
        check(GULLY, CheckSpec(LineString([(100, 100), (300, 100)]), 0.6, 1, 0.3, 0.6, 1.5, 2.0))
    assert not check(GULLY, spec(half=2.0)).ends_meet
    assert math.isinf(check(valley(200, 0.5, 0.2, 1e-6), spec()).spacing_m)
