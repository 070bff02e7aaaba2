"""Design rainfall from the largest days of many years."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from canvas.base.errors import BadData, InputError
from canvas.base.grid import Floats
from canvas.base.sources import cites
from canvas.sky.climate_record import Daily

LEAST_YEARS, WANTED_YEARS = 10, 20
#: A day from clock to clock catches less than the worst 24 hours (from memory: WMO-168).
ANY_24_H = 1.13
PERIODS = (2.0, 5.0, 10.0, 25.0, 50.0, 100.0)
_EULER = 0.5772156649015329


@cites("chow1951")
def gumbel_factor(return_years: float) -> float:
    """Return K: how many standard deviations above the mean a Gumbel event lies (Chow)."""
    if not return_years > 1:
        raise InputError(f"a return period is above one year, got {return_years}")
    rare = np.log(np.log(return_years / (return_years - 1)))
    return float(-np.sqrt(6) / np.pi * (0.5772 + rare))


@dataclass(frozen=True, slots=True, eq=False)
class DesignRain:
    """Depths of rain by return period."""

    periods_years: Floats
    #: By Chow's frequency factors (moments), and by L-moments, which heed outliers less [mm].
    depth_mm: Floats
    depth_lmoments_mm: Floats
    #: Standard error of the first [mm].
    error_mm: Floats
    years: int
    note: str

    def of(self, return_years: float) -> float:
        """Return the depth of one of the periods [mm]."""
        at = np.flatnonzero(np.isclose(self.periods_years, return_years))
        if not at.size:
            raise InputError(f"no depth for {return_years} years; see periods_years")
        return float(self.depth_mm[at[0]])


@cites("chow1951", "hosking1990")
def design_rain(
    maxima_mm: Sequence[float] | Floats,
    periods: Sequence[float] = PERIODS,
    any_24_h: bool = False,
) -> DesignRain:
    """Return depths of rain by return period from the largest day of each year.

    A Gumbel distribution, fitted twice. Refuses fewer than ten years: ask for the national
    intensity tables instead, which are better in any case. `any_24_h` raises clock days to the
    worst 24 hours.
    """
    top = np.asarray(maxima_mm, dtype=np.float64)
    if not np.isfinite(top).all() or (top <= 0).any():
        raise BadData("a year's largest rain must be a depth above nought", remedy="Correct it.")
    n = top.size
    if n < LEAST_YEARS:
        raise BadData(
            f"{n} years are too few to tell how hard it can rain",
            kept="No design rainfall was worked out.",
            remedy=f"Give at least {LEAST_YEARS} years ({WANTED_YEARS} are wanted), or use your "
            "country's published intensity tables.",
        )
    t = np.asarray(periods, dtype=np.float64)
    k = np.array([gumbel_factor(float(each)) for each in t])
    scale = ANY_24_H if any_24_h else 1.0
    mean, spread = float(top.mean()), float(top.std(ddof=1))
    # Of the moments' estimate (Kite), for a Gumbel parent.
    error = spread / np.sqrt(n) * np.sqrt(1 + 1.1396 * k + 1.1 * k**2)
    note = "Use your country's published tables where there are any."
    if n < WANTED_YEARS:
        note = f"From {n} years only; twenty are wanted. {note}"
    if t.max() > 2 * n:
        note += f" Beyond {2 * n} years the figures are guesses."
    return DesignRain(
        t, scale * (mean + k * spread), scale * _by_lmoments(top, t), scale * error, n, note
    )


def _by_lmoments(top: Floats, periods: Floats) -> Floats:
    order = np.sort(top)
    n = order.size
    first = float(order.mean())
    second = float(2 * np.sum(np.arange(n) * order) / (n * (n - 1)) - first)
    scale = second / np.log(2)
    place = first - _EULER * scale
    return np.asarray(place - scale * np.log(-np.log(1 - 1 / periods)))


def annual_maxima(daily: Daily) -> tuple[tuple[int, ...], Floats]:
    """Return the years with days enough and the largest day's rain of each [mm]."""
    rain = daily.need("rain_mm")
    years, top = [], []
    for year in np.unique(daily.years):
        of = rain[daily.years == year]
        if np.isfinite(of).sum() >= 350:
            years.append(int(year))
            top.append(float(np.nanmax(of)))
    return tuple(years), np.array(top)


def plotting_years(maxima_mm: Floats) -> Floats:
    """Return each year's place as a return period: (n + 1) / rank (Weibull)."""
    order = np.argsort(np.argsort(-np.asarray(maxima_mm)))
    return np.asarray((order.size + 1) / (order + 1))
