"""Records: what is doubted in them, how days become months, and what dry years mean."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from canvas.base.errors import BadData, InputError
from canvas.exchange.climate import read_climate, table_of_text
from canvas.sky.climate_doubts import How, doubts, longest_run
from canvas.sky.climate_record import (
    Daily,
    Normals,
    Station,
    by_month,
    daily_of_hourly,
    daily_of_table,
    normals,
    normals_of_table,
)
from canvas.sky.examples import example, examples
from canvas.sky.koppen import koppen
from open_data import PORT, port_days, port_months, vega, weather_hours


@pytest.fixture(scope="module")
def days() -> Daily:
    return port_days()


def test_a_sound_record_raises_no_doubt(days: Daily) -> None:
    assert doubts(days) == ()
    assert doubts(port_months()) == ()
    assert days.whole_years == (2012, 2013, 2014, 2015)


def said(record: Daily | Normals, how: How, column: str) -> str:
    found = [d for d in doubts(record) if d.how is how and d.column == column]
    assert found, [d.message for d in doubts(record)]
    return found[0].message


def with_column(days: Daily, key: str, values: np.ndarray) -> Daily:
    return replace(days, columns={**days.columns, key: values})


def test_fahrenheit_and_inches_are_suspected(days: Daily) -> None:
    hot = with_column(days, "tmax_c", days.columns["tmax_c"] * 1.8 + 32)
    found = next(d for d in doubts(hot) if d.column == "tmax_c")
    assert (found.how, found.unit) == (How.SUSPICIOUS, "°F")
    wet = with_column(days, "rain_mm", days.columns["rain_mm"] / 25.4)
    assert next(d for d in doubts(wet) if d.column == "rain_mm").unit == "in"
    tenths = with_column(days, "rain_mm", days.columns["rain_mm"] * 20)
    assert next(d for d in doubts(tenths) if d.column == "rain_mm").unit == "0.1 mm"
    windy = with_column(days, "wind_ms", days.columns["wind_ms"] * 3.6)
    assert next(d for d in doubts(windy) if d.column == "wind_ms").unit == "km/h"
    kelvin = with_column(days, "tmin_c", days.columns["tmin_c"] + 273.15)
    assert next(d for d in doubts(kelvin) if d.column == "tmin_c").unit == "K"
    months = port_months()
    inches = replace(
        months, columns={**months.columns, "rain_mm": months.columns["rain_mm"] / 25.4}
    )
    assert next(d for d in doubts(inches) if d.column == "rain_mm").unit == "in"


def test_a_dry_place_is_not_taken_for_inches() -> None:
    assert doubts(example("hot_desert").normals) == ()


def test_real_fahrenheit_is_suspected() -> None:
    table = read_climate(vega("sf-temps.csv"))
    hours = table.columns["t_c"]
    whole = hours[: 24 * 364].reshape(-1, 24)
    made = "date,tmax,tmin\n" + "\n".join(
        f"{np.datetime64('2010-01-01') + n},{hi},{lo}"
        for n, (hi, lo) in enumerate(zip(whole.max(axis=1), whole.min(axis=1), strict=True))
    )
    record = daily_of_table(table_of_text(made), Station(37.6, 5))
    found = [d.column for d in doubts(record) if d.unit == "°F"]
    assert found == ["tmax_c", "tmin_c"]


def test_impossible_values_are_named(days: Daily) -> None:
    low = days.columns["tmin_c"].copy()
    low[[3, 700]] = 60.0, 40.0
    message = said(with_column(days, "tmin_c", low), How.IMPOSSIBLE, "tmin_c")
    assert "2012-01-04" in message
    rain = days.columns["rain_mm"].copy()
    rain[10] = -1
    assert "2012-01-11" in said(with_column(days, "rain_mm", rain), How.IMPOSSIBLE, "rain_mm")
    sun = np.full(days.days.size, 20.0)
    assert "longer than the day" in said(with_column(days, "sun_h", sun), How.IMPOSSIBLE, "sun_h")
    light = np.full(days.days.size, 30.0)
    assert "reaches the air" in said(
        with_column(days, "radiation_mj", light), How.IMPOSSIBLE, "radiation_mj"
    )


def test_gaps_are_named(days: Daily) -> None:
    rain = days.columns["rain_mm"].copy()
    rain[100:130] = np.nan
    rain[400] = np.nan
    message = said(with_column(days, "rain_mm", rain), How.GAP, "rain_mm")
    assert "31 of 1461" in message
    assert "30 days from 2012-04-10" in message
    months = port_months()
    hot = months.columns["tmax_c"].copy()
    hot[[1, 4]] = np.nan
    gappy = replace(months, columns={**months.columns, "tmax_c": hot})
    assert "February, May" in said(gappy, How.GAP, "tmax_c")
    with pytest.raises(BadData, match="highest temperatures"):
        gappy.need("tmax_c")


def test_days_left_out_of_a_file_become_gaps() -> None:
    text = "date,tmax\n2020-01-01,5\n2020-01-02,6\n2020-01-05,7\n"
    record = daily_of_table(table_of_text(text), PORT)
    assert record.days.size == 5
    assert np.isnan(record.columns["tmax_c"][2:4]).all()


def test_a_stuck_gauge(days: Daily) -> None:
    wind = days.columns["wind_ms"].copy()
    wind[200:215] = 2.7
    assert "15 days running" in said(with_column(days, "wind_ms", wind), How.SUSPICIOUS, "wind_ms")


def test_the_wrong_hemisphere(days: Daily) -> None:
    south = replace(days, station=Station(-47.45, 130))
    assert "other hemisphere" in said(south, How.SUSPICIOUS, "tmax_c")
    assert not doubts(replace(port_months().rolled(6), station=Station(-47.45, 130)))


def test_months_of_days(days: Daily) -> None:
    """The handbook's means of 2012 to 2015, from the same record by other code."""
    found = normals(days)
    hot = [8.23, 9.86, 12.39, 15.02, 19.30, 22.40, 26.00, 26.11, 21.92, 16.39, 11.02, 8.19]
    cold = [2.70, 4.05, 4.86, 6.36, 9.61, 12.24, 14.20, 14.77, 12.36, 9.35, 4.70, 3.32]
    rain = [
        116.50, 105.50, 151.55, 93.85, 51.88, 33.22, 12.05, 40.92, 58.88, 125.85, 160.62, 155.68,
    ]  # fmt: skip
    # February: the handbook averages days, we average the four Februaries.
    assert found.columns["tmax_c"] == pytest.approx(hot, abs=0.011)
    assert found.columns["tmin_c"] == pytest.approx(cold, abs=0.013)
    assert found.columns["rain_mm"] == pytest.approx(rain, abs=0.01)
    assert found.years == "2012–2015"


def test_a_month_with_too_few_days_is_left_out(days: Daily) -> None:
    rain = days.columns["rain_mm"].copy()
    rain[3:8] = np.nan  # five days of January 2012
    got = by_month(with_column(days, "rain_mm", rain), "rain_mm").values
    assert got[0, 0] == pytest.approx(np.nansum(rain[:31]) * 31 / 26)
    rain[8] = np.nan
    assert np.isnan(by_month(with_column(days, "rain_mm", rain), "rain_mm").values[0, 0])


def test_days_of_hours() -> None:
    hours = weather_hours()
    found = daily_of_hourly(hours)
    assert found.days.size == 365
    first = hours.columns["t_c"][:24]
    assert found.columns["tmax_c"][0] == first.max()
    assert found.columns["tmin_c"][0] == first.min()
    assert found.columns["radiation_mj"].sum() / 3.6 == pytest.approx(1435.9, abs=0.1)


def test_typed_months() -> None:
    names = "jan,feb,mar,apr,may,jun,jul,aug,sep,oct,nov,dec"
    table = table_of_text(f",{names}\nrain (in)," + ",".join(["1"] * 12))
    got = normals_of_table(table, PORT)
    assert got.need("rain_mm") == pytest.approx([25.4] * 12)
    with pytest.raises(InputError):
        daily_of_table(table, PORT)


def test_every_example_is_what_it_says() -> None:
    found = examples()
    assert len(found) >= 6
    for each in found.values():
        months = each.normals
        assert koppen(months.mean_c, months.need("rain_mm")).code == each.koppen
        assert doubts(months) == ()
        assert months.example
        assert each.invented is ("Invented" in each.note)
    assert {e.normals.station.lat_deg > 0 for e in found.values()} == {True, False}
    with pytest.raises(BadData, match="hot_desert"):
        example("atlantis")


def test_stations_are_on_the_earth() -> None:
    with pytest.raises(InputError):
        Station(95.0)


@given(st.lists(st.booleans(), max_size=60))
def test_longest_run(flags: list[bool]) -> None:
    start, length = longest_run(np.array(flags, dtype=bool))
    text = "".join("x" if f else "." for f in flags)
    assert length == max((len(part) for part in text.split(".")), default=0)
    assert all(flags[start : start + length])
