"""Climate files: separators, decimal signs, dates, units and gaps of any locale; real ones too."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from canvas.base.errors import BadData
from canvas.exchange.climate import read_climate, table_of_text
from canvas.exchange.readers.climate_words import column_of, month_of, unit_of
from open_data import vega, weather_file

THREE = """date,tmax (°C),tmin (°C),rain [mm]
2021-02-27,11.5,2.0,0.0
2021-02-28,12.0,,3.4
2021-03-01,9.9,-1.5,T
"""


def written(tmp_path: Path, text: str, name: str = "days.csv", encoding: str = "utf-8") -> Path:
    path = tmp_path / name
    path.write_bytes(text.encode(encoding))
    return path


def test_days(tmp_path: Path) -> None:
    got = read_climate(written(tmp_path, THREE))
    assert got.kind == "daily"
    assert [str(d) for d in got.when] == ["2021-02-27", "2021-02-28", "2021-03-01"]
    assert got.columns["tmax_c"].tolist() == [11.5, 12.0, 9.9]
    assert np.isnan(got.columns["tmin_c"][1])
    assert got.columns["rain_mm"].tolist() == [0.0, 3.4, 0.0]  # a trace is nought
    assert got.units == {"tmax_c": "°C", "tmin_c": "°C", "rain_mm": "mm"}


@pytest.mark.parametrize(
    "text",
    [
        # Spanish, semicolons, decimal comma, day first.
        "Fecha;Temperatura máxima (°C);Temperatura mínima (°C);Precipitación (mm)\n"
        "27/02/2021;11,5;2,0;0,0\n28/02/2021;12,0;;3,4\n01/03/2021;9,9;-1,5;0,0\n",
        # French with month names, tabs, a thin space in the year's total beside.
        "jour\ttempérature maximale\ttempérature minimale\tpluie\n"
        "27-févr-2021\t11,5\t2,0\t0,0\n28-févr-2021\t12,0\tNA\t3,4\n01-mars-2021\t9,9\t-1,5\t0,0\n",
        # American units and order.
        "DATE,TMAX (F),TMIN (F),PRCP (in)\n"
        "02/27/2021,52.7,35.6,0.00\n02/28/2021,53.6,-9999,0.133858\n03/01/2021,49.82,29.3,T\n",
        # Year, month and day apart; codes for missing; a preface; tenths of a millimetre.
        "Station: somewhere\nHeight: 120 m\n\nyear month day tx tn rain_0.1mm\n"
        "2021 2 27 11.5 2.0 0\n2021 2 28 12.0 -999.9 34\n2021 3 1 9.9 -1.5 0\n".replace(" ", ","),
        # Day of the year.
        "year,doy,maximum temperature,minimum temperature,rainfall\n"
        "2021,58,11.5,2.0,0.0\n2021,59,12.0,nan,3.4\n2021,60,9.9,-1.5,0.0\n",
        # German, Windows letters, dots in dates, kelvin.
        "Datum;TXK (K);TNK (K);Niederschlagshöhe (mm)\n"
        "27.02.2021;284,65;275,15;0\n28.02.2021;285,15;;3,4\n01.03.2021;283,05;271,65;0\n",
        # One word per date.
        "date|tmax|tmin|rain\n20210227|11.5|2.0|0.0\n20210228|12.0|-|3.4\n20210301|9.9|-1.5|0\n",
    ],
)  # fmt: skip
def test_the_same_days_as_the_world_writes_them(tmp_path: Path, text: str) -> None:
    encoding = "cp1252" if "TXK" in text else "utf-8"
    got = read_climate(written(tmp_path, text, encoding=encoding))
    assert [str(d) for d in got.when] == ["2021-02-27", "2021-02-28", "2021-03-01"]
    assert got.columns["tmax_c"] == pytest.approx([11.5, 12.0, 9.9], abs=1e-6)
    assert got.columns["tmin_c"][[0, 2]] == pytest.approx([2.0, -1.5], abs=1e-6)
    assert np.isnan(got.columns["tmin_c"][1])
    assert got.columns["rain_mm"] == pytest.approx([0.0, 3.4, 0.0], abs=1e-3)


def test_units_can_be_said(tmp_path: Path) -> None:
    path = written(tmp_path, "date,tmax,rain\n2020-01-01,50,0.5\n2020-01-02,59,0\n")
    plain = read_climate(path)
    assert plain.columns["tmax_c"].tolist() == [50, 59]
    said = read_climate(path, units={"tmax_c": "°F", "rain_mm": "in"})
    assert said.columns["tmax_c"] == pytest.approx([10, 15])
    assert said.columns["rain_mm"] == pytest.approx([12.7, 0])
    assert said.units["tmax_c"] == "°F"


def test_dates_that_can_be_read_two_ways(tmp_path: Path) -> None:
    # Successive days decide.
    days = "\n".join(f"{d:02d}/03/2021,{d}" for d in range(1, 13))
    got = read_climate(written(tmp_path, f"date,tmax\n{days}\n"))
    assert str(got.when[-1]) == "2021-03-12"
    with pytest.raises(BadData, match="not a date"):
        read_climate(written(tmp_path, "date,tmax\nsoon,1\nlater,2\n"))


def test_months_down_and_across(tmp_path: Path) -> None:
    names = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]
    values = list(range(1, 13))
    down = "month,tmax,rain\n" + "\n".join(
        f"{n},{v},{10 * v}" for n, v in zip(names, values, strict=True)
    )
    across = (
        "," + ",".join(names) + "\n"
        "tmax (°C)," + ",".join(map(str, values)) + "\n"
        "rain (mm)," + ",".join(str(10 * v) for v in values) + "\n"
    )
    for text in (down, across):
        got = read_climate(written(tmp_path, text))
        assert got.kind == "monthly"
        assert got.columns["tmax_c"].tolist() == values
        assert got.columns["rain_mm"].tolist() == [10 * v for v in values]
    pasted = table_of_text(across.replace(",", "\t"))
    assert pasted.columns["tmax_c"].tolist() == values


def test_months_of_many_years_become_means() -> None:
    rows = [f"{y},{m},{m + (y - 2000)}" for y in (2000, 2002) for m in range(1, 13)]
    got = table_of_text("year,month,tmean\n" + "\n".join(rows))
    assert got.kind == "monthly"
    assert got.columns["tmean_c"].tolist() == [m + 1 for m in range(1, 13)]
    assert "2 years" in got.notes[0]


def test_a_month_missing_stays_missing() -> None:
    rows = [f"{m},{m}" for m in range(1, 12)]
    got = table_of_text("month,rain\n" + "\n".join(rows))
    assert np.isnan(got.columns["rain_mm"][11])


@pytest.mark.parametrize(
    ("heading", "key", "unit"),
    [
        ("Maximum temperature (Degree C)", "tmax_c", "Degree C"),
        ("rain_mm", "rain_mm", "mm"),
        ("Precipitação [mm]", "rain_mm", "mm"),
        ("Wind speed (km/h)", "wind_ms", "km/h"),
        ("RH (%)", "rh_mean", "%"),
        ("Vitesse du vent", "wind_ms", ""),
        ("AWND", "wind_ms", ""),
        ("Globalstrahlung (J/cm²)", "radiation_mj", "J/cm²"),
        ("temp_max", "tmax_c", ""),
    ],
)
def test_headings(heading: str, key: str, unit: str) -> None:
    assert column_of(heading) == (key, unit)
    assert not unit or unit_of(key, unit) is not None


def test_what_is_no_heading() -> None:
    for text in ("weather", "station", "quality flag", "rain_day_count"):
        assert column_of(text) is None
    assert (month_of("Août"), month_of("dez"), month_of("13"), month_of("Ma")) == (
        8,
        12,
        None,
        None,
    )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a,b\n1,2\n", "names both a date"),
        ("date,tmax\n", "no rows"),
        ("date,tmax\n2020-01-01,\n", "no numbers"),
        ("Jan,Feb,Mar,Apr,May,Jun,Jul,Aug,Sep,Oct,Nov,Dec\n1,2,3,4,5,6,7,8,9,10,11,12\n", "row"),
    ],
)
def test_what_is_no_climate(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(BadData, match=words):
        read_climate(written(tmp_path, text))


def test_bad_cells_are_named(tmp_path: Path) -> None:
    text = "date,tmax,rain\n2020-01-01,hot,0\n2020-01-02,12,1\nnever,3,4\n" + "".join(
        f"2020-01-{d:02d},10,0\n" for d in range(3, 31)
    )
    got = read_climate(written(tmp_path, text))
    said = {s.place: s.why for s in got.skipped}
    assert "hot" in said["line 2"]
    assert "date" in said["line 4"]


def test_twice_the_same_day() -> None:
    got = table_of_text("date,tmax\n2020-01-01,1\n2020-01-02,5\n2020-01-01,2\n2020-01-03,6\n")
    assert got.columns["tmax_c"].tolist() == [2, 5, 6]
    assert any("twice" in n for n in got.notes)


def test_the_real_daily_record() -> None:
    got = read_climate(vega("seattle-weather.csv"))
    assert (got.kind, got.when.size) == ("daily", 1461)
    assert (str(got.when[0]), str(got.when[-1])) == ("2012-01-01", "2015-12-31")
    assert got.unread == ("weather",)
    assert not any(np.isnan(v).any() for v in got.columns.values())
    assert got.columns["rain_mm"].sum() == pytest.approx(4 * 1106.5, abs=2)


def test_real_hours_in_fahrenheit() -> None:
    got = read_climate(vega("seattle-temps.csv"), units={"t_c": "°F"})
    assert (got.kind, got.when.size) == ("hourly", 8759)
    assert got.columns["t_c"][0] == pytest.approx((39.4 - 32) / 1.8)


def test_the_real_weather_file() -> None:
    got = read_climate(weather_file())
    assert (got.lat_deg, got.lon_deg, got.height_m, got.zone_h) == (45.0, 8.0, 250.0, 1.0)
    assert (got.kind, got.when.size) == ("hourly", 8760)
    t = got.columns["t_c"]
    # Handbook, read with pvlib 0.16.1.
    assert (t.mean(), t.min(), t.max()) == pytest.approx((13.564, -2.34, 34.33), abs=0.002)
    kwh = {k: float(got.columns[k].sum()) / 3.6 for k in ("radiation_mj", "beam_mj", "diffuse_mj")}
    assert kwh["radiation_mj"] == pytest.approx(1435.9, abs=0.1)
    assert kwh["beam_mj"] == pytest.approx(1591.6, abs=0.1)
    assert kwh["diffuse_mj"] == pytest.approx(570.9, abs=0.1)
    assert "rain_mm" not in got.columns
    assert any("no rain" in n for n in got.notes)
    assert any("different years" in n for n in got.notes)


def test_another_dialect_of_weather_files() -> None:
    got = read_climate(weather_file("NLD_Amsterdam062400_IWEC.epw"))
    assert got.name.startswith("AMSTERDAM")
    assert (got.lat_deg, got.height_m) == (52.3, -2.0)
    assert "rain_mm" not in got.columns


def epw(
    rows: list[str], first: str = "LOCATION,Somewhere,-,ZZZ,made up,000000,-33.9,18.4,2,50"
) -> str:
    return "\n".join([first, *["HEADER"] * 7, *rows]) + "\n"


def hour(n: int, **changes: str) -> str:
    cells = ["2019", "1", str(n // 24 + 1), str(n % 24 + 1), "0", "flags", "20.0", "10.0", "50"]
    cells += ["101000", "0", "0", "300", "500", "400", "200", *["0"] * 4, "180", "3.0"]
    cells += ["0"] * 11 + ["2.0", "1"]
    for at, value in changes.items():
        cells[int(at[1:])] = value
    return ",".join(cells)


def test_codes_in_a_weather_file(tmp_path: Path) -> None:
    rows = [hour(n) for n in range(48)]
    rows[0] = hour(0, c6="99.9", c21="999", c33="999")
    rows[1] = hour(1, c20="0", c21="0")
    rows[2] = "2019,1,1,3"
    got = read_climate(written(tmp_path, epw(rows), "a.epw"))
    assert got.when.size == 47
    assert str(got.when[0]).endswith("T00:00")  # hour 1 ends at one o'clock
    assert np.isnan([got.columns[k][0] for k in ("t_c", "wind_ms", "rain_mm")]).all()
    assert np.isnan(got.columns["wind_from_deg"][1])
    assert got.columns["rain_mm"][5] == 2.0
    assert got.columns["rh_mean"][5] == pytest.approx(0.5)
    assert got.skipped[0].place == "line 11"


def test_a_place_with_a_comma_in_its_name(tmp_path: Path) -> None:
    first = "LOCATION,Some, where,-,ZZZ,made up,000000,-33.9,18.4,2,50"
    got = read_climate(written(tmp_path, epw([hour(n) for n in range(24)], first), "a.epw"))
    assert (got.lat_deg, got.lon_deg, got.zone_h, got.height_m) == (-33.9, 18.4, 2, 50)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (epw([]), "no hours"),
        ("LOCATION,a\n" * 9, "LOCATION line"),
        (epw([hour(n) for n in range(24)], "LOCATION,a,b,c,d,e,95,0,0,0"), "no place"),
    ],
)
def test_broken_weather_files(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(BadData, match=words):
        read_climate(written(tmp_path, text, "a.epw"))
