"""Winter chill for fruit trees, hour by hour: three models and two ways to get the hours."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from canvas.base.grid import Floats
from canvas.base.sources import cites
from canvas.sky.climate_record import Daily, Hourly
from canvas.sky.position import HORIZON_DEG, apparent_sun
from canvas.sky.sunhours import YEAR

#: Chilling counts between these [°C].
CHILL_LOW_C, CHILL_HIGH_C = 0.0, 7.2
#: Upper ends of the Utah model's bands [°C] and what an hour in each counts.
UTAH = (
    (1.4, 0.0), (2.4, 0.5), (9.1, 1.0), (12.4, 0.5), (15.9, 0.0), (18.0, -0.5), (np.inf, -1.0),
)  # fmt: skip


@cites("weinberger1950")
def chilling_hours(t_c: Floats, low_c: float = CHILL_LOW_C) -> Floats:
    """Return 1 for each hour of chill: from `low_c` (0 °C) to 7.2 °C."""
    t = np.asarray(t_c, dtype=np.float64)
    return np.asarray(((t >= low_c) & (t <= CHILL_HIGH_C)).astype(np.float64))


@cites("richardson1974")
def utah_units(t_c: Floats) -> Floats:
    """Return each hour's chill units of the Utah model; warm hours take some back."""
    ends = np.array([end for end, _ in UTAH])
    values = np.array([value for _, value in UTAH])
    t = np.asarray(t_c, dtype=np.float64)
    return np.asarray(np.where(np.isnan(t), 0.0, values[np.searchsorted(ends, t, side="left")]))


@cites("fishman1987")
def chill_portions(t_c: Floats) -> Floats:
    """Return the portions completed in each hour by the dynamic model.

    A product is built up by cold and undone by warmth; each time it is complete, a share of it
    is laid by as a portion for good. Hours in order, without gaps.
    """
    k = np.asarray(t_c, dtype=np.float64) + 273.0
    melt = 1.6 * 277.0 * (k - 277.0) / k
    kept = 1 / (1 + np.exp(-melt))
    level = 139500 / 2.567e18 * np.exp((12888.8 - 4153.5) / k)
    rest = np.exp(-2.567e18 * np.exp(-12888.8 / k))
    portions = np.zeros(k.size)
    product = 0.0
    for n in range(1, k.size):
        start = product if product < 1 else product - product * kept[n - 1]
        product = level[n] - (level[n] - start) * rest[n]
        if product >= 1:
            portions[n] = product * kept[n]
    return portions


@cites("crossa_raynaud1955")
def chill_of_day(tmax_c: Floats, tmin_c: Floats) -> Floats:
    """Return a day's chilling hours from its ends alone (Crossa-Raynaud)."""
    hot, cold = np.asarray(tmax_c, dtype=np.float64), np.asarray(tmin_c, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        part = 24 * (CHILL_HIGH_C - cold) / (hot - cold)
    whole = np.where(hot <= CHILL_HIGH_C, 24.0, np.where(cold >= CHILL_HIGH_C, 0.0, part))
    return np.asarray(whole)


@cites("linvill1990")
def hours_of_days(tmax_c: Floats, tmin_c: Floats, lat_deg: float, day_of_year: Floats) -> Floats:
    """Return hourly temperatures (days x 24, hours 0 to 23 of solar time) from days' ends.

    A sine by day, a logarithm by night (Linvill 1990), running into the next day's lowest; the
    morning before sunrise follows from the day before.
    """
    hot, cold = np.asarray(tmax_c, dtype=np.float64), np.asarray(tmin_c, dtype=np.float64)
    length = np.array([_day_length(lat_deg, int(d)) for d in np.asarray(day_of_year)])
    rise, sets = 12 - length / 2, 12 + length / 2
    h = np.arange(24.0)[None, :]
    day = cold[:, None] + (hot - cold)[:, None] * np.sin(
        np.pi * (h - rise[:, None]) / (length[:, None] + 4)
    )
    dusk = cold + (hot - cold) * np.sin(np.pi * length / (length + 4))
    after, before = np.append(cold[1:], cold[-1]), np.append(dusk[0], dusk[:-1])
    night = 24 - length
    with np.errstate(divide="ignore", invalid="ignore"):
        evening = dusk[:, None] - (dusk - after)[:, None] / np.log(night + 1)[:, None] * np.log(
            h - sets[:, None] + 1
        )
        set_before = np.append(sets[0], sets[:-1])
        morning = before[:, None] - (before - cold)[:, None] / np.log(night + 1)[:, None] * np.log(
            h + 24 - set_before[:, None] + 1
        )
    out = np.where(h < rise[:, None], morning, np.where(h > sets[:, None], evening, day))
    return np.asarray(out)


@lru_cache(maxsize=800)
def _day_length(lat_deg: float, day_of_year: int) -> float:
    """Return the hours from sunrise to sunset, the upper limb's; 0.5 to 23.5 near the poles."""
    noon = np.datetime64(f"{YEAR}-01-01T12:00", "us") + np.timedelta64(day_of_year - 1, "D")
    d = np.radians(float(apparent_sun(np.asarray(noon)).declination_deg))
    lat = np.radians(np.clip(lat_deg, -89.9, 89.9))
    cosine = np.sin(np.radians(HORIZON_DEG)) - np.sin(lat) * np.sin(d)
    cosine /= np.cos(lat) * np.cos(d)
    return float(np.clip(np.arccos(np.clip(cosine, -1, 1)) * 24 / np.pi, 0.5, 23.5))


@dataclass(frozen=True, slots=True)
class Chill:
    """A winter's chill."""

    #: The winter is named by the year it begins in.
    year: int
    hours: float
    utah: float
    portions: float
    #: "hourly record" or "from daily highest and lowest".
    how: str


def winter_months(lat_deg: float) -> tuple[int, ...]:
    """Return the months chill is counted in: November to February, May to August in the south."""
    return (11, 12, 1, 2) if lat_deg >= 0 else (5, 6, 7, 8)


def chill_of_winters(record: Daily | Hourly) -> tuple[Chill, ...]:
    """Return the chill of each winter of a record.

    From days, hours are first made by Linvill's curves: an estimate. A year of hours is taken as
    one winter: its end joined to its beginning, for it stands for any year.
    """
    months = winter_months(record.station.lat_deg)
    if isinstance(record, Hourly):
        order = np.concatenate([np.flatnonzero(record.months == m) for m in months])
        year = int(record.when[0].astype("datetime64[Y]").astype(np.int64)) + 1970
        return (_chill(record.columns["t_c"][order], year, "hourly record"),)
    hot, cold = record.need("tmax_c"), record.need("tmin_c")
    hours = hours_of_days(hot, cold, record.station.lat_deg, record.day_of_year.astype(float))
    # Winters that run over the new year belong to the year they begin in.
    begun = record.years - ((record.months < months[0]) if months[0] > months[-1] else 0)
    found = []
    for winter in np.unique(begun):
        of = (begun == winter) & np.isin(record.months, months)
        if of.sum() >= 115 and np.isfinite(hot[of] + cold[of]).all():
            found.append(_chill(hours[of].ravel(), int(winter), "from daily highest and lowest"))
    return tuple(found)


def _chill(t: Floats, year: int, how: str) -> Chill:
    return Chill(
        year,
        float(chilling_hours(t).sum()),
        float(utah_units(t).sum()),
        float(chill_portions(t).sum()),
        how,
    )
