"""Dry, hot weather as a caution: never a fire-danger rating; authorities' dates override."""

from __future__ import annotations

import numpy as np

from canvas.base.grid import Floats
from canvas.base.sources import cites
from canvas.sky.climate_record import Daily
from canvas.sky.rain import DRY_SHARE

CAUTION = (
    "A rule of thumb from monthly means, not a fire-danger rating. The authorities' dates, bans "
    "and permits always override it."
)
#: A month is hot from this mean of highest temperatures (common practice, no source).
HOT_C = 25.0


def dry_hot_months(rain_mm: Floats, et_mm: Floats, tmax_c: Floats) -> tuple[int, ...]:
    """Return the months to expect restrictions in: rain below half of ET0 and 25 °C by day.

    Common practice, no source.
    """
    flags = (np.asarray(rain_mm) < DRY_SHARE * np.asarray(et_mm)) & (np.asarray(tmax_c) >= HOT_C)
    return tuple(int(m) + 1 for m in np.flatnonzero(flags))


@cites("finkele2006")
def drought_index_step(deficit_mm: float, tmax_c: float, rain_year_mm: float) -> float:
    """Return a day's drying [mm] of the Keetch-Byram drought index."""
    heat = 0.968 * np.exp(0.0875 * tmax_c + 1.5552) - 8.30
    cover = 1 + 10.88 * np.exp(-0.001736 * rain_year_mm)
    return float(1e-3 * (203.2 - deficit_mm) * heat / cover)


@cites("finkele2006")
def drought_index(daily: Daily, rain_year_mm: float, start_mm: float = 0.0) -> Floats:
    """Return the Keetch-Byram drought index of each day [mm of deficit, 0 to 203.2].

    Each day dries by the day before's heat; the first 5 mm of a run of rain days wet only
    leaves. Days without a temperature keep the last one's.
    """
    rain = np.nan_to_num(daily.need("rain_mm"))
    hot = daily.need("tmax_c")
    out = np.zeros(rain.size)
    deficit, left, last = start_mm, 5.0, np.nan
    for n in range(rain.size):
        if rain[n] == 0:
            left = 5.0
        lost = min(left, rain[n])
        left -= lost
        drying = 0.0
        if n and np.isfinite(last):
            drying = drought_index_step(deficit, float(last), rain_year_mm)
        deficit = float(np.clip(deficit - (rain[n] - lost) + drying, 0.0, 203.2))
        out[n] = deficit
        if np.isfinite(hot[n]):
            last = hot[n]
    return out
