"""Frost, hardiness bands and warmth: counted from days, or estimated from months and said so."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from canvas.base.errors import BadData
from canvas.base.grid import Floats
from canvas.base.sources import cites
from canvas.sky.climate_record import Daily, Normals
from canvas.sky.radiation import DAYS_IN_MONTH

#: Day-to-day spread of night temperatures where none is known [K] (common practice, no source).
SPREAD_HUMID_K, SPREAD_DRY_K = 3.0, 4.0
#: Years a "one in ten" needs (common practice).
LEAST_YEARS = 10


@dataclass(frozen=True, slots=True, eq=False)
class FrostDays:
    """Mean number of frost days in each month."""

    days: Floats
    #: "counted" or "estimated", and what from.
    how: str

    @property
    def year(self) -> float:
        """The year's total."""
        return float(self.days.sum())


def frost_days(record: Daily | Normals, spread_k: Floats | float = SPREAD_HUMID_K) -> FrostDays:
    """Return frost days (lowest temperature at or below 0 °C) by month.

    From days they are counted. From normals they are estimated: nights spread around the month's
    mean as a normal distribution of `spread_k` (no source; its figures are common practice).
    """
    if isinstance(record, Daily):
        low = record.need("tmin_c")
        known = np.isfinite(low)
        share = np.zeros(12)
        for month in range(1, 13):
            of = known & (record.months == month)
            share[month - 1] = float((low[of] <= 0).mean()) if of.any() else 0.0
        return FrostDays(share * np.array(DAYS_IN_MONTH), "counted from days")
    mean = record.need("tmin_c")
    days = np.array(DAYS_IN_MONTH) * ndtr((0 - mean) / np.asarray(spread_k, dtype=np.float64))
    return FrostDays(days, "estimated from monthly means")


def spread_of_nights(daily: Daily) -> Floats:
    """Return the day-to-day standard deviation of lowest temperatures by month [K], (12,)."""
    low = daily.need("tmin_c")
    return np.array(
        [np.nanstd(low[daily.months == month], ddof=1) for month in range(1, 13)], np.float64
    )


@dataclass(frozen=True, slots=True)
class FrostDates:
    """Last and first frost of one cold season, as days; None when it had none."""

    #: The year the growing season lies in (starts in, south of the equator).
    year: int
    last: np.datetime64 | None
    first: np.datetime64 | None


def frost_dates(daily: Daily, at_c: float = 0.0) -> tuple[FrostDates, ...]:
    """Return each growing season's last frost before and first frost after its middle.

    The middle is mid July north of the equator and mid January south of it; only seasons with
    half a year of record on both sides are given.
    """
    low, north = daily.need("tmin_c"), daily.station.lat_deg >= 0
    half = np.timedelta64(182, "D")
    found = []
    for year in range(int(daily.years.min()), int(daily.years.max()) + 2):
        middle = np.datetime64(f"{year}-07-15" if north else f"{year}-01-15", "D")
        if middle - half < daily.days[0] - np.timedelta64(14, "D"):
            continue
        if middle + half > daily.days[-1] + np.timedelta64(16, "D"):
            continue
        frost = low <= at_c
        before = daily.days[frost & (daily.days > middle - half) & (daily.days <= middle)]
        after = daily.days[frost & (daily.days > middle) & (daily.days < middle + half)]
        found.append(
            FrostDates(
                year,
                before[-1] if before.size else None,
                after[0] if after.size else None,
            )
        )
    return tuple(found)


@dataclass(frozen=True, slots=True)
class SafeDates:
    """Days of the year [1 to 366] after and before which frost comes in one year of ten."""

    last_frost_day: float
    first_frost_day: float
    years: int
    note: str


def safe_dates(dates: tuple[FrostDates, ...], chance: float = 0.1) -> SafeDates:
    """Return when tender plants can go out, and when they must be in (common practice).

    The days past which one last frost in ten falls, and before which one first frost in ten
    does. Raises `BadData` below ten seasons with frost.
    """
    last = [_day(d.last) for d in dates if d.last is not None]
    first = [_day(d.first) for d in dates if d.first is not None]
    if min(len(last), len(first)) < LEAST_YEARS:
        raise BadData(
            f"{min(len(last), len(first))} seasons with frost are too few for a date that holds "
            "nine years in ten",
            remedy=f"Give at least {LEAST_YEARS} years of days, or ask the neighbours.",
        )
    spring, autumn = _unwrapped(last), _unwrapped(first)
    return SafeDates(
        float(np.quantile(spring, 1 - chance)) % 365,
        float(np.quantile(autumn, chance)) % 365,
        len(dates),
        "A hollow may have frost weeks longer than the gauge.",
    )


def _day(when: np.datetime64) -> float:
    return float((when - when.astype("datetime64[Y]").astype("M8[D]")).astype(np.int64)) + 1


def _unwrapped(days: list[float]) -> Floats:
    """Return days of the year as numbers that don't break at the new year."""
    values = np.array(days)
    return np.where(values > np.median(values) + 183, values - 365, values)


def coldest_of_years(daily: Daily) -> Floats:
    """Return the lowest temperature of each calendar year with days enough [°C]."""
    low = daily.need("tmin_c")
    found = []
    for year in np.unique(daily.years):
        of = low[daily.years == year]
        if np.isfinite(of).sum() >= 350:
            found.append(float(np.nanmin(of)))
    if not found:
        raise BadData("the record has no whole year", remedy="Give a longer record.")
    return np.array(found)


@dataclass(frozen=True, slots=True)
class Hardiness:
    """How cold it gets, as growers' bands."""

    #: Mean of the years' lowest temperatures [°C].
    coldest_c: float
    #: "9a".
    usda: str
    #: The least hardy rating that stands it: "H4".
    rhs: str
    note: str


#: Upper temperature of each rating [°C], least hardy first.
RHS = (
    ("H1a", np.inf), ("H1b", 15.0), ("H1c", 10.0), ("H2", 5.0), ("H3", 1.0), ("H4", -5.0),
    ("H5", -10.0), ("H6", -15.0), ("H7", -20.0),
)  # fmt: skip


@cites("usda_zones", "rhs_hardiness")
def hardiness(coldest_c: float, years: int = 30, estimated: bool = False) -> Hardiness:
    """Return the bands for a mean yearly minimum [°C].

    Monthly means don't tell extremes: `estimated` marks a figure that was guessed from them.
    """
    f = round(1.8 * coldest_c + 32 + 60, 6)
    zone = int(np.clip(f // 10 + 1, 1, 13))
    letter = "a" if f % 10 < 5 else "b"
    rating = [name for name, top in RHS if coldest_c < top or name == "H1a"][-1]
    note = ""
    if estimated:
        note = "Estimated from monthly means: ask for the coldest nights on record."
    elif years < 10:
        note = f"From {years} years only; the bands are meant for thirty."
    return Hardiness(coldest_c, f"{zone}{letter}", rating, note)


def coldest_from_normals(normals: Normals, dry: bool = False) -> float:
    """Return a guess at the mean yearly minimum [°C] from monthly means (common practice).

    The coldest month's mean night less 2.1 spreads: about the lowest of thirty nights.
    """
    spread = SPREAD_DRY_K if dry else SPREAD_HUMID_K
    return float(normals.need("tmin_c").min()) - 2.1 * spread


@cites("mcmaster_wilhelm1997")
def degree_days(
    tmax_c: Floats, tmin_c: Floats, base_c: float = 10.0, clip_first: bool = False
) -> Floats:
    """Return each day's growing degree days [K day]: the mean above a base.

    `clip_first` lifts both ends to the base before averaging (method 2 of McMaster & Wilhelm).
    """
    hot, cold = np.asarray(tmax_c, dtype=np.float64), np.asarray(tmin_c, dtype=np.float64)
    if clip_first:
        hot, cold = np.maximum(hot, base_c), np.maximum(cold, base_c)
    return np.asarray(np.maximum((hot + cold) / 2 - base_c, 0.0))


def degree_days_of_years(daily: Daily, base_c: float = 10.0) -> dict[int, float]:
    """Return the growing degree days of each whole calendar year [K day]."""
    each = np.nan_to_num(degree_days(daily.need("tmax_c"), daily.need("tmin_c"), base_c))
    return {year: float(each[daily.years == year].sum()) for year in daily.whole_years}


def at_height(tmax_c: Floats, from_m: float, to_m: float) -> Floats:
    """Return highest temperatures moved from one height to another, 6.5 K a kilometre.

    Never use it for nights: in still weather valleys are colder than the slopes above them.
    """
    return np.asarray(np.asarray(tmax_c) - 0.0065 * (to_m - from_m))
