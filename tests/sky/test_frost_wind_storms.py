"""Frost, chill, warmth, wind and storms: the handbook's worked values on real data."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from canvas.base.errors import BadData, InputError
from canvas.sky.chill import (
    chill_of_day,
    chill_of_winters,
    chill_portions,
    chilling_hours,
    hours_of_days,
    utah_units,
    winter_months,
)
from canvas.sky.climate_record import Daily, Hourly, Normals, Station, daily_of_hourly
from canvas.sky.design_rain import annual_maxima, design_rain, gumbel_factor, plotting_years
from canvas.sky.frost import (
    at_height,
    coldest_from_normals,
    coldest_of_years,
    degree_days,
    degree_days_of_years,
    frost_dates,
    frost_days,
    hardiness,
    safe_dates,
    spread_of_nights,
)
from canvas.sky.wind import sector_of, wind_rose, wind_roses
from open_data import port_days, port_months, weather_hours


@pytest.fixture(scope="module")
def days() -> Daily:
    return port_days()


@pytest.fixture(scope="module")
def months() -> Normals:
    return port_months()


@pytest.fixture(scope="module")
def hours() -> Hourly:
    return weather_hours()


def test_frost_at_the_port(days: Daily, months: Normals) -> None:
    spread = spread_of_nights(days)
    assert spread[[0, 1, 2, 10, 11]] == pytest.approx([3.43, 2.93, 3.05, 4.01, 3.59], abs=0.01)
    guessed = frost_days(months, spread)
    assert guessed.days[[0, 1, 2, 3, 10, 11]] == pytest.approx(
        [6.70, 2.34, 1.72, 0.02, 3.62, 5.50], abs=0.02
    )
    assert guessed.year == pytest.approx(19.9, abs=0.1)
    assert "estimated" in guessed.how
    counted = frost_days(days)
    assert counted.year == pytest.approx(22.0, abs=0.1)
    dates = frost_dates(days)
    assert [(str(d.last), str(d.first)) for d in dates] == [
        ("2012-03-19", "2012-11-10"), ("2013-03-04", "2013-11-21"),
        ("2014-02-09", "2014-11-12"), ("2015-03-04", "2015-11-23"),
    ]  # fmt: skip
    with pytest.raises(BadData, match="too few"):
        safe_dates(dates)


def test_safe_dates_of_a_long_record() -> None:
    """Twenty made years whose last frosts fall on days 60, 61 … 79 of the year."""
    days = np.arange(np.datetime64("2000-01-01"), np.datetime64("2020-12-31") + 1)
    start = days.astype("M8[Y]").astype("M8[D]")
    ordinal = (days - start).astype(int) + 1
    year = days.astype("M8[Y]").astype(int) + 1970
    last = 60 + (year - 2000)
    low = np.where((ordinal <= last) | (ordinal >= 320), -2.0, 8.0)
    record = Daily(Station(45.0), days, {"tmin_c": low})
    dates = safe_dates(frost_dates(record))
    assert dates.last_frost_day == pytest.approx(78, abs=1.5)
    assert dates.first_frost_day == pytest.approx(320, abs=1)
    south = Daily(
        Station(-45.0), days, {"tmin_c": np.where((ordinal > 150) & (ordinal < 240), -2.0, 8.0)}
    )
    found = safe_dates(frost_dates(south))
    assert found.last_frost_day == pytest.approx(239, abs=1)
    assert found.first_frost_day == pytest.approx(151, abs=1)


def test_hardiness_of_the_port(days: Daily, months: Normals) -> None:
    lowest = coldest_of_years(days)
    assert lowest == pytest.approx([-3.3, -7.1, -6.0, -3.8])
    found = hardiness(float(lowest.mean()), lowest.size)
    assert (found.usda, found.rhs) == ("9a", "H4")
    assert "4 years" in found.note
    guess = coldest_from_normals(months)
    assert guess == pytest.approx(-3.6, abs=0.1)
    assert "Estimated" in hardiness(guess, estimated=True).note


def test_warmth_of_the_port(days: Daily) -> None:
    found = degree_days_of_years(days)
    assert list(found.values()) == pytest.approx([1133.4, 1369.25, 1490.2, 1541.05], abs=0.1)
    assert degree_days(np.array(18.0), np.array(6.0)) == 2
    assert degree_days(np.array(18.0), np.array(6.0), clip_first=True) == 4
    assert at_height(np.array(20.0), 100, 600) == pytest.approx(16.75)


UTAH_VECTOR = [
    -2, 0, 1.4, 1.5, 2.4, 2.5, 5, 7.2, 7.3, 9.1, 9.2, 12.4, 12.5, 15.9, 16, 18, 18.1, 25,
]  # fmt: skip


def test_chill_of_hours(hours: Hourly) -> None:
    assert chilling_hours(np.array(UTAH_VECTOR)).sum() == 7
    assert utah_units(np.array(UTAH_VECTOR)).tolist() == [
        0, 0, 0, 0.5, 0.5, 1, 1, 1, 1, 1, 0.5, 0.5, 0, 0, -0.5, -0.5, -1, -1,
    ]  # fmt: skip
    (winter,) = chill_of_winters(hours)
    assert (winter.hours, winter.utah) == (1800, 2074.5)
    cold = np.isin(hours.months, winter_months(45))
    assert (hours.columns["t_c"][cold] < 7.2).sum() == 1952
    assert winter.portions == pytest.approx(89, abs=1)


def test_portions_are_laid_by_for_good() -> None:
    cold, warm = np.full(24 * 40, 6.0), np.full(24 * 10, 22.0)
    whole = chill_portions(cold).sum()
    assert chill_portions(np.concatenate((cold, warm))).sum() == pytest.approx(whole, abs=1e-9)
    assert chill_portions(np.full(24 * 40, 14.0)).sum() == 0
    # Six degrees serve better than nought or twelve.
    by_t = [chill_portions(np.full(24 * 40, float(t))).sum() for t in (0, 6, 12)]
    assert by_t[1] > max(by_t[0], by_t[2])
    # A day's warmth while a portion is being built undoes it.
    broken = np.tile(np.concatenate((np.full(16, 5.0), np.full(8, 22.0))), 20)
    assert chill_portions(broken).sum() < 0.5 * chill_portions(np.full(480, 5.0)).sum()


def test_hours_made_of_days() -> None:
    got = hours_of_days(np.full(3, 12.0), np.full(3, 2.0), 38.0, np.full(3, 15.0))[1]
    # Handbook, from day 8 h to evening 23 h; its source's hours before sunrise undershoot the
    # night's lowest (1.82 for 2), which ours, the form as published, can't.
    expected = [
        4.03, 6.19, 8.13, 9.76, 10.98, 11.74, 12.00, 11.74, 10.98, 9.62, 7.74, 6.61, 5.80, 5.17,
        4.65, 4.21,
    ]  # fmt: skip
    assert got[8:] == pytest.approx(expected, abs=0.06)
    assert got.min() >= 2.0 - 1e-9
    assert chilling_hours(got).sum() == 15
    assert chill_of_day(np.array([12.0, 5.0, 20.0]), np.array([2.0, 1.0, 9.0])).tolist() == [
        pytest.approx(12.48), 24.0, 0.0,
    ]  # fmt: skip


def test_chill_of_days_is_near_that_of_hours(hours: Hourly) -> None:
    exact = chill_of_winters(hours)[0]
    made = hours_of_days(
        daily_of_hourly(hours).columns["tmax_c"], daily_of_hourly(hours).columns["tmin_c"], 45.0,
        np.arange(1.0, 366.0),
    )  # fmt: skip
    cold = np.isin(daily_of_hourly(hours).months, (11, 12, 1, 2))
    assert chilling_hours(made[cold].ravel()).sum() == pytest.approx(exact.hours, rel=0.12)


def test_winters_of_the_port(days: Daily) -> None:
    found = chill_of_winters(days)
    assert [w.year for w in found] == [2012, 2013, 2014]
    assert all(1000 < w.hours < 2000 for w in found)
    assert "daily" in found[0].how


def test_the_rose_of_a_year(hours: Hourly) -> None:
    year, afternoons, cold = wind_roses(hours)
    assert year.calm == 1031
    assert year.by_sector.tolist() == [
        755, 734, 582, 281, 206, 187, 355, 575, 366, 358, 412, 579, 620, 539, 549, 631,
    ]  # fmt: skip
    assert year.total == 8760
    assert year.mean_ms == pytest.approx(1.21, abs=0.005)
    assert year.from_deg == pytest.approx(330.57, abs=0.1)
    assert year.vector_ms == pytest.approx(0.2189, abs=1e-3)
    assert afternoons.label == "hot dry afternoons"
    assert afternoons.top() == ("SSE", "SE", "NE")
    assert afternoons.by_sector[[7, 6, 2]].tolist() == [103, 59, 55]
    assert cold.label == "cold months"
    assert year.counts.sum() == year.by_sector.sum()
    assert year.shares.sum() == pytest.approx(1 - 1031 / 8760)


def test_sectors_and_still_air() -> None:
    assert sector_of(np.array([0, 11.2, 11.3, 348.7, 348.8, 360])).tolist() == [0, 0, 1, 15, 0, 0]
    rose = wind_rose(np.array([0.0, 0.4, 3.0, 3.0, np.nan]), np.array([np.nan, 90, 90, np.nan, 10]))
    assert (rose.calm, rose.total, rose.missing) == (2, 3, 2)
    assert rose.top() == ("E",)
    with pytest.raises(BadData):
        wind_roses(replace(weather_hours(), columns={}))


def test_the_rose_of_rain(hours: Hourly) -> None:
    rain = np.zeros(hours.when.size)
    rain[:100] = 1.0
    wet = replace(hours, columns={**hours.columns, "rain_mm": rain})
    found = wind_roses(wet)
    assert [r.label for r in found] == [
        "the year", "hours with rain", "hot dry afternoons", "cold months",
    ]  # fmt: skip
    assert found[1].total <= 100


STORMS = [42, 55, 38, 61, 47, 72, 50, 44, 58, 95, 40, 53, 66, 49, 45, 57, 80, 52, 43, 60]


def test_storms() -> None:
    k = [gumbel_factor(t) for t in (2, 5, 10, 25, 50, 100)]
    assert k == pytest.approx([-0.1643, 0.7194, 1.3046, 2.0438, 2.5923, 3.1367], abs=1e-3)
    found = design_rain(STORMS)
    assert found.depth_mm == pytest.approx([53.0, 65.6, 74.0, 84.6, 92.5, 100.2], abs=0.1)
    assert found.of(10) == pytest.approx(74.0, abs=0.1)
    assert design_rain(STORMS, any_24_h=True).of(10) == pytest.approx(83.6, abs=0.1)
    # The two fits don't differ by more than the first one's error.
    assert np.all(np.abs(found.depth_mm - found.depth_lmoments_mm) < found.error_mm)
    assert plotting_years(np.array(STORMS)).max() == 21
    with pytest.raises(InputError):
        found.of(7)


def test_too_few_years_are_refused(days: Daily) -> None:
    years, top = annual_maxima(days)
    assert years == (2012, 2013, 2014, 2015)
    assert top.tolist() == [54.1, 43.4, 46.7, 55.9]
    with pytest.raises(BadData, match="4 years are too few"):
        design_rain(top)
    with pytest.raises(BadData):
        design_rain([*STORMS, -1])
    assert "twenty are wanted" in design_rain(STORMS[:12]).note
