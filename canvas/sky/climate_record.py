"""Climate records: monthly normals, years of days, a year of hours; and how one becomes another."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from canvas.base.errors import BadData, InputError
from canvas.base.grid import Floats
from canvas.base.sources import cites
from canvas.exchange.climate import ClimateTable
from canvas.sky.radiation import DAYS_IN_MONTH

Days = NDArray[np.datetime64]

#: Columns that add up over a month; the others are averaged.
SUMS = frozenset(("rain_mm", "et_mm"))
#: Days a month may miss and still count (WMO's older rule of five, from memory).
MOST_MISSING = 5


@dataclass(frozen=True, slots=True)
class Station:
    """Where a record was taken."""

    lat_deg: float
    height_m: float = 0.0
    lon_deg: float = 0.0
    #: Height of the wind gauge above ground.
    wind_height_m: float = 10.0
    #: Whether large water tempers it: within some tens of km of a coast.
    coastal: bool = False
    name: str = ""

    def __post_init__(self) -> None:
        """Refuse a place that isn't on the Earth."""
        if not (-90 <= self.lat_deg <= 90 and -430 <= self.height_m <= 9000):
            raise InputError(f"no station at {self.lat_deg}°, {self.height_m} m")


@dataclass(frozen=True, slots=True, eq=False)
class Normals:
    """Mean months of a climate; columns as in `exchange.climate.COLUMNS`, each (12,).

    Rain is the month's total, all else the month's mean day.
    """

    station: Station
    columns: Mapping[str, Floats]
    #: "1991-2020", "2012-2015", "" unknown.
    years: str = ""
    source: str = ""
    #: Invented, to be edited: never taken for a place's own climate.
    example: bool = False

    def get(self, key: str) -> Floats | None:
        """Return a column, or None where it is missing or has gaps."""
        values = self.columns.get(key)
        return values if values is not None and bool(np.isfinite(values).all()) else None

    def need(self, key: str) -> Floats:
        """Return a column, or raise `BadData` naming it."""
        values = self.get(key)
        if values is None:
            raise BadData(
                f"the climate has no complete {_WORDS.get(key, key)}",
                remedy="Fill in all twelve months.",
            )
        return values

    @property
    def mean_c(self) -> Floats:
        """Mean temperature of each month; of highest and lowest where there is no other."""
        given = self.get("tmean_c")
        return given if given is not None else (self.need("tmax_c") + self.need("tmin_c")) / 2

    def rolled(self, months: int) -> Normals:
        """Return the climate moved later in the year by whole months."""
        return replace(self, columns={k: np.roll(v, months) for k, v in self.columns.items()})


@dataclass(frozen=True, slots=True, eq=False)
class Daily:
    """Days without a gap in their count (values may be missing); columns each (n,)."""

    station: Station
    days: Days
    columns: Mapping[str, Floats]
    source: str = ""
    months: NDArray[np.int64] = field(init=False)
    years: NDArray[np.int64] = field(init=False)

    def __post_init__(self) -> None:
        """Work out each day's month and year."""
        month = self.days.astype("datetime64[M]").astype(np.int64)
        object.__setattr__(self, "months", month % 12 + 1)
        object.__setattr__(self, "years", month // 12 + 1970)

    def need(self, key: str) -> Floats:
        """Return a column, or raise `BadData` naming it."""
        if key not in self.columns:
            raise BadData(f"the record has no {_WORDS.get(key, key)}", remedy="Add that column.")
        return self.columns[key]

    @property
    def day_of_year(self) -> NDArray[np.int64]:
        """1 to 366."""
        start = self.days.astype("datetime64[Y]").astype("datetime64[D]")
        return np.asarray((self.days - start).astype(np.int64) + 1)

    @property
    def whole_years(self) -> tuple[int, ...]:
        """Calendar years with every day in the record."""
        every, count = np.unique(self.years, return_counts=True)
        length = 365 + (every % 4 == 0) - (every % 100 == 0) + (every % 400 == 0)
        return tuple(int(year) for year in every[count == length])


@dataclass(frozen=True, slots=True, eq=False)
class Hourly:
    """A year of hours (starts, local standard time); columns each (n,)."""

    station: Station
    when: Days
    columns: Mapping[str, Floats]
    source: str = ""

    @property
    def months(self) -> NDArray[np.int64]:
        """1 to 12."""
        return self.when.astype("datetime64[M]").astype(np.int64) % 12 + 1

    @property
    def hours(self) -> NDArray[np.int64]:
        """0 to 23."""
        clock = self.when - self.when.astype("datetime64[D]")
        return np.asarray(clock.astype("m8[h]").astype(np.int64))


_WORDS = {
    "tmax_c": "highest temperatures",
    "tmin_c": "lowest temperatures",
    "tmean_c": "mean temperatures",
    "t_c": "temperatures",
    "rain_mm": "rain",
    "wind_ms": "wind",
    "wind_from_deg": "wind direction",
    "et_mm": "evapotranspiration",
}


def station_of(table: ClimateTable, lat_deg: float, height_m: float, **more: object) -> Station:
    """Return where a table was taken: what the file says, else the site's own place."""
    lat = table.lat_deg if table.lat_deg is not None else lat_deg
    height = table.height_m if table.height_m is not None else height_m
    lon = table.lon_deg if table.lon_deg is not None else 0.0
    return Station(lat, height, lon, name=table.name, **more)  # type: ignore[arg-type]


def normals_of_table(table: ClimateTable, station: Station, **more: object) -> Normals:
    """Return monthly normals from a table of twelve months."""
    if table.kind != "monthly":
        raise InputError(f"a {table.kind} table is not monthly")
    return Normals(station, dict(table.columns), **more)  # type: ignore[arg-type]


def daily_of_table(table: ClimateTable, station: Station, source: str = "") -> Daily:
    """Return a daily record with a place for every day between first and last."""
    if table.kind != "daily":
        raise InputError(f"an {table.kind} table is not daily")
    days = table.when.astype("datetime64[D]")
    every = np.arange(days.min(), days.max() + np.timedelta64(1, "D"))
    at = (days - every[0]).astype(np.int64)
    columns = {}
    for key, values in table.columns.items():
        filled = np.full(every.size, np.nan)
        filled[at] = values
        columns[key] = filled
    return Daily(station, every, columns, source)


def hourly_of_table(table: ClimateTable, station: Station, source: str = "") -> Hourly:
    """Return an hourly record."""
    if table.kind != "hourly":
        raise InputError(f"a {table.kind} table is not hourly")
    return Hourly(station, table.when.astype("datetime64[m]"), dict(table.columns), source)


def daily_of_hourly(hourly: Hourly) -> Daily:
    """Return days of a record of hours: highest, lowest, mean, sums; NaN without 20 hours."""
    day = hourly.when.astype("datetime64[D]")
    every, place = np.unique(day, return_inverse=True)
    out: dict[str, Floats] = {}

    def gathered(values: Floats, how: str) -> Floats:
        known = np.isfinite(values)
        count = np.bincount(place[known], minlength=every.size)
        got: Floats
        if how == "mean":
            total = np.bincount(place[known], values[known], every.size)
            got = total / np.maximum(count, 1)
        elif how == "sum":
            got = np.asarray(np.bincount(place[known], values[known], every.size), np.float64)
        else:
            edge = np.maximum if how == "max" else np.minimum
            got = np.full(every.size, -np.inf if how == "max" else np.inf)
            edge.at(got, place[known], values[known])
        return np.where(count >= 20, got, np.nan)

    plans = {
        "t_c": (("tmax_c", "max"), ("tmin_c", "min"), ("tmean_c", "mean")),
        "rh_mean": (("rh_mean", "mean"), ("rh_max", "max"), ("rh_min", "min")),
        **{k: ((k, "sum"),) for k in ("rain_mm", "radiation_mj", "beam_mj", "diffuse_mj")},
        **{k: ((k, "mean"),) for k in ("dew_c", "wind_ms", "pressure_kpa")},
    }
    for key, makes in plans.items():
        if key in hourly.columns:
            for name, how in makes:
                out[name] = gathered(hourly.columns[key], how)
    return Daily(hourly.station, every, out, hourly.source)


@dataclass(frozen=True, slots=True, eq=False)
class MonthByMonth:
    """Each calendar month of a record: (years, 12), NaN where too few days are there."""

    years: NDArray[np.int64]
    values: Floats


def by_month(daily: Daily, key: str) -> MonthByMonth:
    """Return a column's monthly totals (rain) or means, year by year.

    A month with more than five days missing has no value; with fewer, the rest stands for it.
    """
    values = daily.need(key)
    first = int(daily.years.min())
    span = int(daily.years.max()) - first + 1
    at = (daily.years - first) * 12 + daily.months - 1
    known = np.isfinite(values)
    count = np.bincount(at[known], minlength=span * 12)
    total = np.bincount(at[known], values[known], span * 12)
    length = _lengths(first, span)
    mean = total / np.maximum(count, 1)
    got = np.where(length - count <= MOST_MISSING, mean, np.nan)
    if key in SUMS:
        got = got * length
    return MonthByMonth(np.arange(first, first + span), got.reshape(span, 12))


def _lengths(first_year: int, years: int) -> Floats:
    months = np.arange(f"{first_year:04d}-01", f"{first_year + years:04d}-01", dtype="M8[M]")
    days = (months + 1).astype("M8[D]") - months.astype("M8[D]")
    return np.asarray(days.astype(np.float64))


@cites("wmo_missing_days")
def normals(daily: Daily) -> Normals:
    """Return the mean months of a daily record, each month over the years that have it."""
    columns = {}
    for key in daily.columns:
        if key == "wind_from_deg":
            continue
        values = by_month(daily, key).values
        known = np.isfinite(values)
        count = known.sum(axis=0)
        total = np.where(known, values, 0.0).sum(axis=0)
        columns[key] = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    years = f"{daily.years.min()}–{daily.years.max()}"
    return Normals(daily.station, columns, years, daily.source)


def annual_mm(monthly: Floats) -> float:
    """Return a year's total of monthly totals."""
    return float(np.sum(monthly))


def annual_mean(monthly: Floats) -> float:
    """Return the year's mean of monthly means, months weighted by their days."""
    return float(np.average(monthly, weights=np.array(DAYS_IN_MONTH)))
