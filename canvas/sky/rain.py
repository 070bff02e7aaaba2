"""What rain does for plants: effective rain, aridity, dry months and spells, dry years."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from canvas.base.errors import BadData, InputError
from canvas.base.grid import Floats
from canvas.base.sources import cites
from canvas.sky.climate_doubts import longest_run
from canvas.sky.climate_record import Daily, by_month

#: A month is dry below this share of evapotranspiration, humid above all of it (from memory:
#: FAO's growing-period rule).
DRY_SHARE = 0.5


@cites("smith1992")
def effective_scs(rain_mm: Floats | float) -> Floats:
    """Return the part of monthly rain that plants can use [mm], by the USDA-SCS monthly form.

    Not for carrying winter rain over in the soil:
    run a soil balance for that.
    """
    p = np.asarray(rain_mm, dtype=np.float64)
    return np.asarray(np.where(p <= 250, p * (125 - 0.2 * p) / 125, 125 + 0.1 * p))


@cites("aglw_rain")
def effective_dependable(rain_mm: Floats | float) -> Floats:
    """Return dependable monthly rain [mm] after FAO's water division (for dry, risky years)."""
    p = np.asarray(rain_mm, dtype=np.float64)
    return np.asarray(np.maximum(np.where(p <= 70, 0.6 * p - 10, 0.8 * p - 24), 0.0))


@cites("neh623_2")
def effective_by_store(rain_mm: Floats, et_crop_mm: Floats, store_mm: float) -> Floats:
    """Return effective monthly rain [mm] from rain, the crop's use and the soil's usable store.

    The full form of the Soil Conservation Service; never more than the rain or the use.
    """
    p, use = np.asarray(rain_mm, dtype=np.float64), np.asarray(et_crop_mm, dtype=np.float64)
    d = store_mm
    factor = 0.531747 + 0.011621 * d - 8.943e-5 * d**2 + 2.32e-7 * d**3
    got = factor * (1.25247 * p**0.82416 - 2.93522) * 10 ** (0.00095512 * use)
    return np.asarray(np.clip(got, 0.0, np.minimum(p, use)))


def effective_day(rain_mm: Floats, et_mm: Floats) -> Floats:
    """Return daily rain without what wets only leaves and dust: below a fifth of the day's ET0."""
    return np.asarray(np.where(rain_mm < 0.2 * np.asarray(et_mm), 0.0, rain_mm))


@dataclass(frozen=True, slots=True)
class Aridity:
    """A year's rain over its evapotranspiration."""

    index: float
    name: str


#: Upper ends of the classes.
ARIDITY = (
    (0.05, "hyper-arid"),
    (0.20, "arid"),
    (0.50, "semi-arid"),
    (0.65, "dry sub-humid"),
    (np.inf, "humid"),
)


@cites("unep1992")
def aridity(rain_mm: float, et_mm: float) -> Aridity:
    """Return the aridity index and its class (UNEP 1992).

    A whole year's figure: a place can be humid by it and dry for four months every summer.
    """
    if not et_mm > 0:
        raise InputError(f"need evapotranspiration above nought, got {et_mm}")
    index = rain_mm / et_mm
    return Aridity(index, next(name for end, name in ARIDITY if index < end))


def dry_months(rain_mm: Floats, et_mm: Floats) -> tuple[int, ...]:
    """Return the months (1 to 12) whose rain is below half their evapotranspiration."""
    return tuple(int(m) + 1 for m in np.flatnonzero(rain_mm < DRY_SHARE * et_mm))


def humid_months(rain_mm: Floats, et_mm: Floats) -> tuple[int, ...]:
    """Return the months whose rain is above their evapotranspiration."""
    return tuple(int(m) + 1 for m in np.flatnonzero(rain_mm > et_mm))


@cites("gaussen")
def dry_months_gaussen(rain_mm: Floats, mean_c: Floats) -> tuple[int, ...]:
    """Return the months whose rain [mm] is below twice their temperature [°C] (Gaussen)."""
    return tuple(int(m) + 1 for m in np.flatnonzero(rain_mm < 2 * np.asarray(mean_c)))


def as_span(months: tuple[int, ...]) -> tuple[tuple[int, int], ...]:
    """Return months as spans (first, last), running over the new year where they join there."""
    if not months or len(months) == 12:
        return ((1, 12),) if months else ()
    spans = []
    for m in months:
        if (m - 2) % 12 + 1 not in months:
            last = m
            while last % 12 + 1 in months:
                last = last % 12 + 1
            spans.append((m, last))
    return tuple(spans)


@dataclass(frozen=True, slots=True)
class Spell:
    """A run of days."""

    start: np.datetime64
    days: int


def longest_dry_spell(daily: Daily, year: int, wet_mm: float = 1.0) -> Spell:
    """Return the longest run of days below `wet_mm` of rain in a calendar year."""
    of = daily.years == year
    if not of.any():
        raise BadData(f"the record has no days of {year}", remedy="Choose a year it has.")
    start, length = longest_run(daily.need("rain_mm")[of] < wet_mm)
    return Spell(daily.days[of][start], length)


def wet_days(daily: Daily, at_least_mm: float) -> Floats:
    """Return the mean number of days a month with at least so much rain, (12,)."""
    rain = daily.need("rain_mm")
    years = max(len(daily.whole_years), 1)
    of = np.isin(daily.years, daily.whole_years) if daily.whole_years else np.ones(rain.size, bool)
    hit = of & (rain >= at_least_mm)
    return np.bincount(daily.months[hit] - 1, minlength=12) / years


@cites("common_practice_rain")
def onsets(
    daily: Daily, from_month: int, from_day: int = 1, total_mm: float = 25.0, days: int = 3
) -> dict[int, np.datetime64 | None]:
    """Return when the rains begin each year: the first day that completes 25 mm in three days.

    Looked for from `from_month` (the end of the usual dry season) over the year that follows.
    None in a year without.
    """
    rain = np.nan_to_num(daily.need("rain_mm"))
    sums = np.convolve(rain, np.ones(days))[: rain.size]
    found: dict[int, np.datetime64 | None] = {}
    for year in range(int(daily.years.min()), int(daily.years.max()) + 1):
        start = np.datetime64(f"{year}-{from_month:02d}-{from_day:02d}", "D")
        end = start + np.timedelta64(365, "D")
        within = (daily.days >= start) & (daily.days < end)
        if not within.any():
            continue
        hit = np.flatnonzero(within & (sums >= total_mm))
        found[year] = daily.days[hit[0]] if hit.size else None
    return found


def mean_onset(found: dict[int, np.datetime64 | None]) -> tuple[int, float] | None:
    """Return the mean day of the year rains begin, and its standard deviation [days].

    Days after the new year count on from the year looked at.
    """
    days = [
        float((when - np.datetime64(f"{year}-01-01", "D")).astype(np.int64)) + 1
        for year, when in found.items()
        if when is not None
    ]
    if not days:
        return None
    return round(float(np.mean(days))), float(np.std(days, ddof=1)) if len(days) > 1 else 0.0


@dataclass(frozen=True, slots=True, eq=False)
class DryYears:
    """How rain varies from year to year."""

    #: Years that begin with `first_month`, named by where they begin; rain of each [mm].
    years: NDArray[np.int64]
    rain_mm: Floats
    first_month: int
    driest: int
    mean_mm: float
    #: Rain reached in 4 of 5 and in 9 of 10 years [mm].
    four_of_five_mm: float
    nine_of_ten_mm: float
    note: str


def dry_years(daily: Daily, first_month: int = 1) -> DryYears:
    """Return the rain of years that begin with a month, the driest, and dependable rain.

    Start with the first wet month, so that one winter's rain stays together. Quantiles are
    between the sorted years (Weibull places).
    """
    got = by_month(daily, "rain_mm")
    months = got.values.ravel()[first_month - 1 :]
    count = months.size // 12
    totals = months[: count * 12].reshape(count, 12).sum(axis=1) if count else np.zeros(0)
    whole = np.isfinite(totals)
    years, rain = got.years[:count][whole], totals[whole]
    if not rain.size:
        raise BadData("the record holds no whole year of rain", remedy="Give a longer record.")
    note = ""
    if rain.size < 10:
        note = f"Only {rain.size} years: a drier one than these is likely within ten."
    order = np.sort(rain)
    place = np.arange(1, rain.size + 1) / (rain.size + 1)

    def reached(share: float) -> float:
        return float(np.interp(1 - share, place, order))

    return DryYears(
        years, rain, first_month, int(years[np.argmin(rain)]), float(rain.mean()),
        reached(0.8), reached(0.9), note,
    )  # fmt: skip


def first_wet_month(rain_mm: Floats, et_mm: Floats) -> int:
    """Return the month the wet season starts with: first after the driest with P >= 0.5 ET0.

    The driest month is the one with the least rain for its evapotranspiration. January where
    every month is wet, or none.
    """
    wet = np.asarray(rain_mm) >= DRY_SHARE * np.asarray(et_mm)
    if wet.all() or not wet.any():
        return 1
    driest = int(np.argmin(np.asarray(rain_mm) / np.maximum(et_mm, 1e-9)))
    return next((driest + n) % 12 + 1 for n in range(1, 13) if wet[(driest + n) % 12])
