"""Sun hours and energy read from horizons."""

from __future__ import annotations

from datetime import UTC, date

import numpy as np
import pytest

from canvas.base.errors import InputError
from canvas.base.grid import Grid
from canvas.ground.surface import slope_aspect
from canvas.sky.horizon import Horizons, code_of, horizons
from canvas.sky.radiation import daily_clear_sky
from canvas.sky.spot import Spot, skyline, spot, spot_day
from canvas.sky.sunhours import (
    SUN_CLASSES,
    a_day,
    a_month,
    lit_now,
    mid_season_day,
    open_hours,
    some_months,
    sun_class,
    sun_classes,
    sun_energy,
    sun_hours,
    suns,
    the_year,
)
from open_data import real_relief


def even(height_deg: float, directions: int = 32) -> Horizons:
    """One cell with the same horizon all round."""
    code = np.uint16(round(float(code_of(height_deg))))
    return Horizons(np.full((directions, 1, 1), code, np.uint16), 0, 1, 1.0, 0)


@pytest.mark.parametrize(
    ("lat", "day", "hours"),
    [
        # 2/15 acos((sin H - sin φ sin δ) / (cos φ cos δ)) for H 0, 5, 10, 15, 20 (handbook,
        # with FAO-56's declination, which is within 0.05 degrees of the true one at the solstices).
        (38, 172, [14.639, 13.680, 12.753, 11.852, 10.970]),
        (38, 355, [9.361, 8.356, 7.285, 6.113, 4.765]),
        (-34, 172, [9.733, 8.798, 7.817, 6.768, 5.613]),
    ],
)
def test_hours_over_an_even_horizon(lat: float, day: int, hours: list[float]) -> None:
    found = suns(a_day(day), lat, 10.0)
    for height, expected in zip((0, 5, 10, 15, 20), hours, strict=True):
        got = float(sun_hours(even(height), found).z[0, 0])
        # Steps of 5 minutes, counted at both ends.
        assert got == pytest.approx(expected, abs=0.1)
    assert open_hours(found) == pytest.approx(hours[0], abs=0.1)


def test_a_year_is_half_day_half_night() -> None:
    # The sun's centre is up half of all hours anywhere, but for the Earth's oval path.
    for lat in (60.0, 0.0, -34.0):
        assert open_hours(suns(the_year(), lat, 0.0)) == pytest.approx(12.0, abs=0.15)


def test_periods() -> None:
    assert the_year().length_days == pytest.approx(365)
    assert a_month(2).length_days == pytest.approx(28)
    winter = some_months((12, 1, 2))
    assert winter.label == "December to February"
    assert winter.length_days == pytest.approx(90)
    assert a_day(date(2024, 12, 31)).days == (365,)
    for bad in (0, 13):
        with pytest.raises(InputError):
            a_month(bad)
    with pytest.raises(InputError):
        a_day(0)


def test_months_make_the_year() -> None:
    ground = even(12.0)
    each = [float(sun_hours(ground, suns(a_month(m), 42.0, 5.0)).z[0, 0]) for m in range(1, 13)]
    lengths = [a_month(m).length_days for m in range(1, 13)]
    year = float(sun_hours(ground, suns(the_year(), 42.0, 5.0)).z[0, 0])
    assert year == pytest.approx(np.average(each, weights=lengths), abs=1e-3)


@pytest.mark.parametrize("lat", [52.0, 38.0, 5.0, -12.0, -34.0])
@pytest.mark.parametrize("day", [15, 105, 196, 288])
def test_energy_on_open_slopes_is_that_without_horizons(lat: float, day: int) -> None:
    """On a plane only its own slope stands in the way: the closed form must come out."""
    row, col = np.mgrid[0:40, 0:40]
    found = suns(a_day(day), lat, 0.0, 0.0, 300.0)
    for slope_deg, aspect in ((0, 0), (10, 180), (20, 90), (20, 0), (30, 250)):
        a, fall = np.radians(aspect), np.tan(np.radians(slope_deg))
        ground = Grid(-fall * (np.sin(a) * col - np.cos(a) * row), 0, 0, 1.0)
        slope, facing = slope_aspect(ground)
        got = float(sun_energy(horizons(ground), slope, facing, found).z[20, 20])
        direct = float(daily_clear_sky(lat, day, 300.0, slope_deg, aspect))
        # The sun moves within the day here, and a slope's horizon is straight between 32 ways.
        assert got == pytest.approx(direct, rel=0.01, abs=0.1)


def test_a_grid_turned_against_north() -> None:
    """The same slope, its grid turned by 30 degrees: grid azimuth = true azimuth - turn."""
    row, col = np.mgrid[0:40, 0:40]

    def energy(aspect: float, turn: float) -> float:
        a = np.radians(aspect)
        ground = Grid(-0.4 * (np.sin(a) * col - np.cos(a) * row), 0, 0, 1.0)
        slope, facing = slope_aspect(ground)
        found = suns(a_day(300), 40.0, 0.0, turn)
        return float(sun_energy(horizons(ground), slope, facing, found).z[20, 20])

    assert energy(120.0 - 30.0, 30.0) == pytest.approx(energy(120.0, 0.0), rel=0.01)
    assert energy(120.0, 30.0) != pytest.approx(energy(120.0, 0.0), rel=0.03)


def test_thirty_six_directions_are_enough() -> None:
    """Forty spots on real relief, horizon straight between directions: within 0.1 h (handbook)."""
    hills = real_relief(2)
    rng = np.random.default_rng(2)
    rows, cols = hills.shape
    for _ in range(40):
        r, c = int(rng.integers(90, rows - 90)), int(rng.integers(90, cols - 90))
        x, y = float(hills.x_m()[c]), float(hills.y_m()[r])
        few, many = (Spot(x, y, 0.0, skyline(x, y, hills, directions=n)) for n in (36, 360))
        for day in (date(2025, 3, 20), date(2025, 6, 21), date(2025, 12, 21)):
            a, b = (spot_day(s, day, 36.6, -84.2, UTC, step_min=2).sun_h for s in (few, many))
            assert abs(a - b) <= 0.1 + 2 / 60


def test_maps_from_thirty_two_directions() -> None:
    """Against 360 directions: 0.06 h off on average, hardly ever 0.3 h.

    Most of it is not the number of directions (64 come no nearer) but the half cell, 23 m here,
    by which each direction's line passes beside a cell's middle.
    """
    hills = real_relief(2)
    rng = np.random.default_rng(2)
    rows, cols = hills.shape
    at = [(int(rng.integers(90, rows - 90)), int(rng.integers(90, cols - 90))) for _ in range(400)]
    few, many = horizons(hills, directions=32), horizons(hills, directions=360)
    for day in (80, 172, 355):
        found = suns(a_day(day), 36.6, -84.2)
        a, b = sun_hours(few, found).z, sun_hours(many, found).z
        apart = np.abs([a[r, c] - b[r, c] for r, c in at])
        assert apart.mean() < 0.06
        assert np.quantile(apart, 0.99) < 0.3


def test_the_map_agrees_with_a_spot_asked_alone() -> None:
    hills = real_relief(2)
    found = horizons(hills, directions=36)
    for day in (date(2025, 6, 21), date(2025, 12, 21)):
        hours = sun_hours(found, suns(a_day(day), 36.6, -84.2))
        apart = []
        for r, c in ((200, 300), (330, 410), (400, 200), (280, 500)):
            x, y = float(hills.x_m()[c]), float(hills.y_m()[r])
            alone = spot_day(spot(x, y, hills), day, 36.6, -84.2, UTC)
            apart.append(alone.sun_h - hours.z[r, c])
        assert np.abs(apart).max() < 0.4


def test_classes() -> None:
    assert [sun_class(h).label for h in (7, 6, 5.9, 3, 0.5)] == [
        "full sun", "full sun", "part sun", "part shade", "shade",
    ]  # fmt: skip
    grid = Grid(np.array([[6.0, 4.0, 3.9, 1.0, np.nan]]), 0, 1, 1.0)
    got = sun_classes(grid).z[0]
    assert got[:4].tolist() == [0, 1, 2, 3]
    assert np.isnan(got[4])
    assert len(SUN_CLASSES) == 4


def test_the_growing_season_turns_with_the_hemisphere() -> None:
    assert (mid_season_day(45), mid_season_day(-34), mid_season_day(5)) == (196, 15, 80)


def test_lit_by_one_sun() -> None:
    found = even(20.0)
    assert lit_now(found, 21.0, 100.0).z[0, 0] == 1
    assert lit_now(found, 19.0, 100.0).z[0, 0] == 0


def test_polar_night_has_no_hours() -> None:
    found = suns(a_day(355), 75.0, 0.0)
    assert found.hours.size == 0
    assert sun_hours(even(5.0), found).z[0, 0] == 0
