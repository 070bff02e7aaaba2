"""Slopes, months and hemispheres; the map against the direct sum."""

from __future__ import annotations

import numpy as np
import pytest

from canvas.base.errors import InputError
from canvas.base.grid import Grid
from canvas.sky.radiation import (
    MID_MONTH_DAYS,
    clear_sky,
    daily_clear_sky,
    extraterrestrial_mj,
    monthly_clear_sky,
    relative_energy,
)


def cells(values: object) -> Grid:
    return Grid(np.atleast_2d(np.array(values, dtype=np.float64)), 0, 0, 1.0)


@pytest.mark.parametrize(
    ("lat", "day", "kwh"),
    [
        # Handbook, computed with pvlib at 5 min: flat, 10 N/E/S, 20 N/S, 30 N/S [kWh/m²].
        (38, 79, [5.835, 5.079, 5.769, 6.444, 4.199, 6.886, 3.221, 7.149]),
        (38, 172, [8.459, 8.286, 8.358, 8.418, 7.903, 8.172, 7.320, 7.735]),
        (38, 355, [2.537, 1.727, 2.511, 3.288, 0.927, 3.953, 0.454, 4.513]),
        (-34, 79, [6.189, 6.741, 6.120, 5.481, 7.120, 4.637, 7.313, 3.683]),
        (-34, 172, [2.873, 3.607, 2.843, 2.071, 4.246, 1.252, 4.773, 0.569]),
        (-34, 355, [9.020, 8.895, 8.912, 8.917, 8.552, 8.586, 8.009, 8.039]),
    ],
)
def test_the_handbooks_days(lat: float, day: int, kwh: list[float]) -> None:
    slope = np.array([0, 10, 10, 10, 20, 20, 30, 30.0])
    aspect = np.array([0, 0, 90, 180, 0, 180, 0, 180.0])
    got = daily_clear_sky(lat, day, 300.0, slope, aspect) / 3.6
    # 1 %: the handbook held the sun's distance at its mean (up to 0.7 % at the equinox days).
    assert got == pytest.approx(np.array(kwh), rel=0.01)


def test_energy_outside_the_air_on_mid_months() -> None:
    # Handbook, FAO-56 eq. 21 computed for 38° N and 40° S.
    north = [16.2, 21.5, 28.2, 35.2, 39.9, 41.8, 40.8, 37.0, 30.7, 23.5, 17.5, 14.8]
    south = [43.3, 38.1, 30.9, 22.2, 15.8, 12.8, 13.9, 19.1, 27.1, 35.3, 41.8, 44.6]
    for lat, expected in ((38, north), (-40, south)):
        got = [extraterrestrial_mj(lat, day) for day in MID_MONTH_DAYS]
        assert got == pytest.approx(expected, abs=0.05)
    assert extraterrestrial_mj(75, 355) == 0
    assert extraterrestrial_mj(75, 172) > extraterrestrial_mj(45, 172)


def test_the_warm_side_turns_with_the_hemisphere() -> None:
    for lat, warm in ((38.0, 180.0), (-37.6, 0.0)):
        sunny = monthly_clear_sky(lat, 300, 15, warm)
        shady = monthly_clear_sky(lat, 300, 15, (warm + 180) % 360)
        assert (sunny.slope_mj > shady.slope_mj).sum() >= 10
        winter = 11 if lat > 0 else 5
        assert sunny.ratio[winter] > 1.35
        assert shady.ratio[winter] < 0.65
        assert np.argmin(sunny.flat_mj) == winter


def test_in_the_tropics_the_warm_side_turns_with_the_season() -> None:
    north, south = monthly_clear_sky(5.0, 0, 20, 0).ratio, monthly_clear_sky(5.0, 0, 20, 180).ratio
    assert north[5] > 1 > south[5]
    assert south[11] > 1 > north[11]


def test_the_hemispheres_mirror_each_other() -> None:
    # Same sun, other side: opposite latitude, aspect and declination (days half a year apart
    # differ in the sun's distance by up to 7 %, which a ratio leaves out).
    north = monthly_clear_sky(38, 300, 20, 180).ratio[[5, 11]]
    south = monthly_clear_sky(-38, 300, 20, 0).ratio[[11, 5]]
    assert north == pytest.approx(south, rel=0.01)


def test_east_and_west_share_alike() -> None:
    east, west = monthly_clear_sky(50, 0, 25, 60), monthly_clear_sky(50, 0, 25, 300)
    assert east.slope_mj == pytest.approx(west.slope_mj, rel=1e-9)


def test_polar_night_has_no_ratio() -> None:
    months = monthly_clear_sky(75, 0, 20, 180)
    assert months.flat_mj[11] == 0
    assert np.isnan(months.ratio[11])
    assert months.ratio[5] > 0
    flat = cells([[0.0, 0.3]])
    assert np.isnan(relative_energy(flat, cells([[np.nan, 180]]), 75, 12).z).all()


@pytest.mark.parametrize("lat", [60, 38, 10, 0, -12, -34, -55])
@pytest.mark.parametrize("month", [1, 3, 6, 9, 12])
def test_the_map_against_the_direct_sum(lat: float, month: int) -> None:
    rng = np.random.default_rng(month)
    slope, aspect = rng.uniform(0, 1.5, (20, 40)), rng.uniform(0, 360, (20, 40))
    got = relative_energy(cells(slope), cells(aspect), lat, month, 300.0).z
    day = MID_MONTH_DAYS[month - 1]
    flat = daily_clear_sky(lat, day, 300.0, 0, 0)
    direct = daily_clear_sky(lat, day, 300.0, np.degrees(np.arctan(slope)), aspect) / flat
    assert np.abs(got - direct).max() < 0.005 * max(1.0, float(direct.max()))


def test_the_map_keeps_level_ground_and_holes() -> None:
    slope = cells([[0.0, np.nan, 0.2, 0.2, 0.2]])
    aspect = cells([[np.nan, 10.0, 0.0, 360.0, 350.0]])
    got = relative_energy(slope, aspect, -37.6, 6).z[0]
    assert got[0] == 1.0
    assert np.isnan(got[1])
    assert got[2] == pytest.approx(got[3])
    turned = relative_energy(slope, aspect, -37.6, 6, turn_deg=10.0).z[0]
    assert turned[4] == pytest.approx(got[2])


def test_no_thirteenth_month() -> None:
    with pytest.raises(InputError):
        relative_energy(cells([[0.1]]), cells([[1.0]]), 0, 13)
    with pytest.raises(InputError):
        relative_energy(cells([[0.1]]), cells([[1.0, 2.0]]), 0, 1)


def test_below_the_horizon_is_dark() -> None:
    night = clear_sky(np.array([90.0, 95.0, 120.0]))
    assert np.all(night.level == 0)
    assert np.all(night.beam == 0)
    assert np.all(night.diffuse == 0)
