"""Rain, evapotranspiration, classes and windows: the handbook's worked values on real data."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from canvas.base.errors import BadData
from canvas.sky.climate_record import Daily, Hourly, Normals, daily_of_hourly
from canvas.sky.crop_water import soil_days, tree_litres
from canvas.sky.et import (
    hargreaves_of_days,
    hargreaves_of_months,
    reference_of_days,
    reference_of_months,
)
from canvas.sky.fire_weather import drought_index, drought_index_step, dry_hot_months
from canvas.sky.koppen import koppen
from canvas.sky.rain import (
    aridity,
    as_span,
    dry_months,
    dry_months_gaussen,
    dry_years,
    effective_by_store,
    effective_day,
    effective_scs,
    first_wet_month,
    humid_months,
    longest_dry_spell,
    mean_onset,
    onsets,
    wet_days,
)
from canvas.sky.seasons import fuel_deadline, season_windows, wet_season
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


HARGREAVES = [
    16.60, 25.06, 49.75, 76.50, 113.53, 131.73, 153.12, 131.17, 81.49, 43.36, 21.29, 13.64,
]  # fmt: skip


def test_evapotranspiration_of_the_port(days: Daily, months: Normals) -> None:
    plain = hargreaves_of_months(months)
    assert plain.mm == pytest.approx(HARGREAVES, abs=0.02)
    assert plain.mm.sum() == pytest.approx(857.2, abs=0.5)
    full = reference_of_months(months, soil_heat=False)
    expected = [
        17.45,
        24.34,
        46.46,
        69.47,
        101.81,
        117.62,
        138.56,
        120.49,
        76.31,
        41.65,
        21.92,
        14.70,
    ]
    assert full.mm == pytest.approx(expected, abs=0.02)
    each = hargreaves_of_days(days)
    totals = [each.mm[days.years == y].sum() for y in (2012, 2013, 2014, 2015)]
    assert totals == pytest.approx([799.1, 832.0, 866.2, 898.8], abs=0.1)


def test_the_ladder_says_what_it_estimated(days: Daily, months: Normals) -> None:
    said = reference_of_months(months).estimated
    assert [s.split(":")[0] for s in said] == ["Humidity", "Sunshine", "Wind"]
    assert "k = 0.16 inland" in said[1]
    coast = replace(months, station=replace(months.station, coastal=True))
    assert "0.19 by the coast" in reference_of_months(coast).estimated[1]
    dry = reference_of_months(months, dry=True)
    assert "2.5 K below" in dry.estimated[0]
    assert dry.mm.sum() > reference_of_months(months).mm.sum()
    with_wind = reference_of_days(days).estimated
    assert [s.split(":")[0] for s in with_wind] == ["Humidity", "Sunshine"]


def test_gaps_are_bridged_and_counted(days: Daily) -> None:
    wind = days.columns["wind_ms"].copy()
    wind[5:25] = np.nan
    gappy = replace(days, columns={**days.columns, "wind_ms": wind})
    found = reference_of_days(gappy)
    assert any("(20 of 1461)" in s for s in found.estimated)
    assert np.isfinite(found.mm).all()


def test_measured_sun_and_air(hours: Hourly) -> None:
    """825.3 mm in the year, from hourly dew point, sun and wind at 10 m (handbook)."""
    found = daily_of_hourly(hours)
    keep = ("tmax_c", "tmin_c", "dew_c", "radiation_mj", "wind_ms")
    whole = replace(found, columns={k: found.columns[k] for k in keep})
    et = reference_of_days(whole)
    assert et.estimated == ()
    assert et.mm.sum() == pytest.approx(825.3, abs=0.5)
    expected = [14.3, 25.2, 53.5, 67.2, 96.1, 155.2, 140.2, 120.3, 84.1, 42.0, 19.3, 7.8]
    assert [et.mm[whole.months == m].sum() for m in range(1, 13)] == pytest.approx(
        expected, abs=0.1
    )


def test_rain_of_the_port(days: Daily, months: Normals) -> None:
    rain, harg = months.need("rain_mm"), np.array(HARGREAVES)
    assert rain.sum() == pytest.approx(1106.5, abs=0.5)
    assert effective_scs(rain).sum() == pytest.approx(896.2, abs=0.5)
    ratio = aridity(float(rain.sum()), float(harg.sum()))
    assert ratio.index == pytest.approx(1.291, abs=1e-3)
    assert ratio.name == "humid"
    assert dry_months(rain, harg) == (5, 6, 7, 8)
    assert dry_months(rain, reference_of_months(months, soil_heat=False).mm) == (6, 7, 8)
    assert dry_months_gaussen(rain, months.mean_c) == (6, 7)
    assert humid_months(rain, harg) == (1, 2, 3, 4, 10, 11, 12)
    assert first_wet_month(rain, harg) == 9
    begun = onsets(days, 9)
    assert [str(begun[y]) for y in (2012, 2013, 2014, 2015)] == [
        "2012-10-15", "2013-09-05", "2014-09-24", "2015-10-10",
    ]  # fmt: skip
    mean = mean_onset(begun)
    assert mean is not None
    assert mean[0] == pytest.approx(272, abs=1)
    assert [longest_dry_spell(days, y).days for y in (2012, 2013, 2014, 2015)] == [81, 35, 24, 54]
    wet = wet_days(days, 5.0)
    expected = [7.25, 6.5, 8.25, 6.5, 3.75, 2.0, 0.75, 2.25, 2.75, 8.25, 7.75, 9.75]
    assert wet.tolist() == expected
    with pytest.raises(BadData):
        longest_dry_spell(days, 1999)


def test_dry_years(days: Daily) -> None:
    found = dry_years(days)
    assert found.driest == 2013
    assert found.mean_mm == pytest.approx(1106.5, abs=0.1)
    assert "4 years" in found.note
    assert found.nine_of_ten_mm <= found.four_of_five_mm <= found.mean_mm
    # September to August holds three whole years.
    assert dry_years(days, 9).years.tolist() == [2012, 2013, 2014]


def test_a_store_of_soil_limits_rain() -> None:
    # USDA's full form (from memory): 100 mm of rain, 150 mm used, stores of 75 and 50 mm.
    got = [float(effective_by_store(np.array(100.0), np.array(150.0), d)) for d in (75, 50)]
    assert got == pytest.approx([73.29, 67.42], abs=0.01)
    assert effective_by_store(np.array(20.0), np.array(200.0), 200.0) <= 20
    assert effective_day(np.array([0.9, 1.1]), np.array([5.0, 5.0])).tolist() == [0.0, 1.1]


def test_spans() -> None:
    assert as_span((11, 12, 1, 2)) == ((11, 2),)
    assert as_span((5, 6, 9)) == ((5, 6), (9, 9))
    assert as_span(tuple(range(1, 13))) == ((1, 12),)
    assert as_span(()) == ()


T = np.array([9, 10, 12, 15, 19, 23, 26, 26, 23, 18, 13, 10.0])


#: Code -> monthly means and rain. The first five are the handbook's invented vectors.
CLIMATES = {
    "Csa": (T, [90, 80, 65, 50, 25, 8, 2, 3, 25, 60, 95, 100]),
    "BSk": (T, [40, 35, 30, 25, 15, 5, 1, 2, 10, 25, 40, 40]),
    "BWh": (
        [12, 14, 18, 22, 27, 31, 33, 33, 30, 25, 18, 13],
        [15, 12, 10, 5, 2, 0, 0, 0, 1, 5, 10, 14],
    ),
    "Cfb": (
        [5, 5, 7, 9, 12, 15, 17, 17, 14, 11, 7, 5],
        [70, 50, 50, 50, 55, 55, 55, 60, 60, 75, 75, 75],
    ),
    "Dfb": (
        [-8, -6, 0, 7, 14, 18, 21, 19, 14, 7, 0, -6],
        [40, 35, 40, 55, 75, 90, 95, 85, 70, 60, 55, 45],
    ),
    "Af": ([27] * 12, [250] * 12),
    "Am": ([27] * 11 + [26], [300] * 10 + [20, 80]),
    "Aw": ([25] * 12, [0, 0, 5, 20, 90, 200, 250, 250, 150, 60, 10, 0]),
    "ET": ([-30, -28, -20, -8, 2, 7, 9, 8, 3, -8, -20, -27], [20] * 12),
    "EF": ([-40] * 12, [5] * 12),
    "Dfd": ([-42, -39, -25, -8, 4, 13, 16, 12, 4, -10, -30, -40], [20] * 12),
    "Cwa": (
        [8, 10, 14, 19, 23, 26, 28, 28, 24, 19, 13, 9],
        [8, 10, 20, 60, 120, 220, 260, 210, 120, 50, 15, 8],
    ),
}


@pytest.mark.parametrize("code", list(CLIMATES))
def test_koppen(code: str) -> None:
    t, p = (np.array(each, float) for each in CLIMATES[code])
    assert koppen(t, p).code == code
    assert koppen(np.roll(t, 6), np.roll(p, 6)).code == code


def test_koppen_of_the_port(months: Normals) -> None:
    found = koppen(months.mean_c, months.need("rain_mm"))
    assert (found.code, found.name) == ("Csb", "temperate, dry summer, warm summer")


def test_windows_of_the_port(months: Normals) -> None:
    year = season_windows(months, np.array(HARGREAVES))
    assert (year.onset, year.last_wet) == (9, 4)
    assert set(year.window("trees").months) == {9, 10, 11, 12, 1, 2}
    assert year.window("trees").words == "September to February"
    assert year.window("earthworks").months == (5, 8, 9)
    assert year.window("irrigate").months == (5, 6, 7, 8, 9)
    assert year.window("no_sparks").months == (7, 8)
    assert year.window("no_sparks").avoid
    assert "authorities" in year.window("no_sparks").caution
    assert "authorities" in year.window("burn").caution
    assert not set(year.window("burn").months) & {7, 8}
    assert fuel_deadline((7, 8)) == 6
    assert fuel_deadline((12, 1, 2)) == 11


def test_windows_turn_with_the_hemisphere(months: Normals) -> None:
    north = season_windows(months, np.array(HARGREAVES))
    south = season_windows(months.rolled(6), np.roll(HARGREAVES, 6))
    for a, b in zip(north.windows, south.windows, strict=True):
        assert {(m + 5) % 12 + 1 for m in a.months} == set(b.months), a.key


def test_no_dry_season_and_no_wet_one(months: Normals) -> None:
    et = np.full(12, 50.0)
    wet = replace(months, columns={**months.columns, "rain_mm": np.full(12, 90.0)})
    assert wet_season(wet.need("rain_mm"), et) == (None, None)
    assert season_windows(wet, et).window("trees").words == "all year"
    dry = replace(months, columns={**months.columns, "rain_mm": np.full(12, 3.0)})
    assert season_windows(dry, et).window("trees").words == "no month"
    assert season_windows(dry, et).window("irrigate").months == tuple(range(1, 13))


def test_dry_hot_months() -> None:
    rain, et = np.array([10.0] * 6 + [60.0] * 6), np.full(12, 100.0)
    assert dry_hot_months(rain, et, np.array([24.0, 25.0] * 6)) == (2, 4, 6)


def test_drought_index(days: Daily) -> None:
    steps = [
        drought_index_step(*each)
        for each in ((0, 30, 600), (50, 35, 600), (100, 38, 600), (150, 25, 600))
    ]
    assert steps == pytest.approx([2.3088, 2.8402, 2.5407, 0.3579], abs=1e-4)
    index = drought_index(days, 1106.5)
    worst = {}
    for year in (2012, 2013, 2014, 2015):
        of = days.years == year
        worst[str(days.days[of][index[of].argmax()])] = float(index[of].max())
    assert list(worst) == ["2012-10-12", "2013-08-27", "2014-09-22", "2015-08-11"]
    assert list(worst.values()) == pytest.approx([140.0, 134.8, 139.1, 158.3], abs=0.1)


def test_a_soil_store_over_four_real_years(days: Daily) -> None:
    """TAW 100 mm, p 0.5, Kc 1, filled when half drawn (handbook)."""
    et = hargreaves_of_days(days).mm
    rain = days.need("rain_mm")
    for year, times, depth in (
        (2012, 9, 466.5),
        (2013, 8, 422.2),
        (2014, 9, 466.3),
        (2015, 11, 575.1),
    ):
        of = days.years == year
        got = soil_days(rain[of], et[of], 100.0, 0.5, irrigate_at_mm=50.0)
        assert (got.irrigated > 0).sum() == times
        assert got.irrigated.sum() == pytest.approx(depth, abs=0.1)
    assert got.used.sum() == pytest.approx(898.8, abs=0.1)
    assert got.drained.sum() == pytest.approx(817.1, abs=0.1)
    alone = soil_days(rain[of], et[of], 100.0, 0.5)
    assert alone.used.sum() == pytest.approx(416.6, abs=0.1)
    assert alone.drained.sum() == pytest.approx(724.3, abs=0.1)


def test_a_young_trees_water() -> None:
    assert tree_litres(6.5, 0.90, 1.5, 25.0) == pytest.approx(20.7, abs=0.1)
    assert tree_litres(6.5, 0.90, 4.0, 36.0) == pytest.approx(147, abs=0.5)
