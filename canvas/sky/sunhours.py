"""Hours of direct sun and clear-sky energy of every cell, for any day, month, season or the year.

Everything is looked up in the horizons: a period's suns are sorted by direction and height once,
into a small table, which then serves a million cells in milliseconds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

import numpy as np

from canvas.base.errors import InputError
from canvas.base.grid import Floats, Grid
from canvas.base.sources import cites
from canvas.sky import kernels
from canvas.sky.horizon import BINS, SHIFT, Horizons, code_of, summed, summed_onto, view_table
from canvas.sky.position import apparent_sun, sun_position
from canvas.sky.radiation import ALBEDO, DAYS_IN_MONTH, LINKE, clear_sky

#: The year whose sun stands for any year: positions repeat within 0.3°.
YEAR = 2025
FIRST_DAYS = tuple(1 + sum(DAYS_IN_MONTH[:m]) for m in range(12))


@dataclass(frozen=True, slots=True)
class Period:
    """A stretch of the year, as days that stand for it."""

    label: str
    #: Days of the year (1 to 365), and how many days each stands for.
    days: tuple[int, ...]
    weights: tuple[float, ...]
    #: Steps the sun is looked at in [minutes].
    step_min: float = 10.0

    @property
    def length_days(self) -> float:
        """How many days it has."""
        return sum(self.weights)


MONTHS = (
    "January", "February", "March", "April", "May", "June", "July",
    "August", "September", "October", "November", "December",
)  # fmt: skip


def a_day(day: date | int) -> Period:
    """Return one day, looked at every 5 minutes."""
    number = day if isinstance(day, int) else min(day.timetuple().tm_yday, 365)
    if not 1 <= number <= 366:
        raise InputError(f"a year has no day {number}")
    return Period(f"day {number}", (min(number, 365),), (1.0,), 5.0)


def a_month(month: int) -> Period:
    """Return a month (1 to 12), by six of its days."""
    return some_months((month,))


def some_months(months: Sequence[int], label: str = "") -> Period:
    """Return a season of whole months, by six days of each; it may run over the new year."""
    if not months or any(not 1 <= m <= 12 for m in months):
        raise InputError(f"months are 1 to 12, got {tuple(months)}")
    days, weights = [], []
    for month in months:
        length = DAYS_IN_MONTH[month - 1]
        each = length / 6
        days += [FIRST_DAYS[month - 1] + int(each * (n + 0.5)) for n in range(6)]
        weights += [each] * 6
    names = label or (
        MONTHS[months[0] - 1]
        if len(months) == 1
        else f"{MONTHS[months[0] - 1]} to {MONTHS[months[-1] - 1]}"
    )
    return Period(names, tuple(days), tuple(weights))


def the_year() -> Period:
    """Return the whole year."""
    return some_months(range(1, 13), "the year")


@dataclass(frozen=True, slots=True, eq=False)
class Suns:
    """The sun whenever it is up in a period; arrays of one length."""

    period: Period
    elevation_deg: Floats
    #: From GRID north.
    azimuth_deg: Floats
    #: Hours of the whole period each stands for.
    hours: Floats
    #: Clear-sky power [W/m²]: facing the sun, from the sky on the level, both on the level.
    beam_w: Floats
    diffuse_w: Floats
    level_w: Floats


@lru_cache(maxsize=64)
def suns(
    period: Period,
    lat_deg: float,
    lon_deg: float,
    turn_deg: float = 0.0,
    height_m: float = 0.0,
    linke: float = LINKE,
) -> Suns:
    """Return a period's suns at a place.

    `turn_deg` is the grid's convergence: grid azimuth = true azimuth - turn. Elevations are
    geometric (refraction matters within minutes of sunrise only).
    """
    start = np.datetime64(f"{YEAR}-01-01", "us") - np.timedelta64(round(lon_deg * 240e6), "us")
    count = round(1440 / period.step_min)
    steps = (np.arange(count) + 0.5) * (1440 / count)
    days = np.array(period.days) - 1
    minutes = days[:, None] * 1440 + steps
    when = start + np.round(minutes.ravel() * 6e7).astype("timedelta64[us]")
    hours = np.repeat(np.array(period.weights) * 24 / count, count)
    found = sun_position(when, lat_deg, lon_deg)
    up = found.elevation_deg > 0
    elevation = found.elevation_deg[up]
    distance = apparent_sun(when[up]).distance_au
    sky = clear_sky(90 - elevation, height_m, linke)
    scale = 1 / distance**2
    return Suns(
        period,
        elevation,
        (found.azimuth_deg[up] - turn_deg) % 360.0,
        hours[up],
        sky.beam * scale,
        sky.diffuse * scale,
        sky.level * scale,
    )


def _table(found: Suns, directions: int, weights: Floats) -> Floats:
    """Return what is left of `weights` above each horizon, shape (columns x directions, BINS).

    A sun between two directions is shared between them by nearness.
    """
    place = found.azimuth_deg * directions / 360.0
    left = np.floor(place).astype(np.int64)
    share = place - left
    at = np.floor(code_of(found.elevation_deg) / (1 << SHIFT) + 0.5).astype(np.int64)
    total = np.zeros((weights.shape[1], directions * (BINS + 1)))
    for each, part in ((left % directions, 1 - share), ((left + 1) % directions, share)):
        cell = each * (BINS + 1) + at
        for n in range(weights.shape[1]):
            total[n] += np.bincount(cell, weights[:, n] * part, total.shape[1])
    total = total.reshape(-1, BINS + 1)
    # Lit where the sun's bin is above the horizon's.
    above = np.cumsum(total[:, ::-1], axis=1)[:, ::-1]
    return np.asarray(above[:, 1:])


def sun_hours(found: Horizons, of: Suns) -> Grid:
    """Return the mean hours of direct sun a day, cloud and plants aside.

    The terrain's shadow only; see `shadows` for that of crowns and buildings.
    """
    table = _table(of, found.codes.shape[0], of.hours[:, None] / of.period.length_days)
    return summed(found, table)


def open_hours(of: Suns) -> float:
    """Return the mean hours a day the sun is above a level horizon."""
    return float(of.hours.sum() / of.period.length_days)


@cites("dozier_frew1990", "ineichen_perez2002")
def sun_energy(
    found: Horizons, slope: Grid, aspect: Grid, of: Suns, albedo: float = ALBEDO
) -> Grid:
    """Return the mean clear-sky energy a day on each cell's own slope [MJ/m²/day].

    Beam while the sun is above the horizon, sky light by the sky-view factor, and light thrown
    back by the ground around.
    """
    elevation, azimuth = np.radians(of.elevation_deg), np.radians(of.azimuth_deg)
    level = np.cos(elevation)
    towards = np.stack(
        (level * np.sin(azimuth), level * np.cos(azimuth), np.sin(elevation)), axis=1
    )
    joules = of.hours * 3600e-6 / of.period.length_days
    beam = _table(of, found.codes.shape[0], towards * (of.beam_w * joules)[:, None])
    sky = float((of.diffuse_w * joules).sum())
    around = float((of.level_w * joules).sum()) * albedo
    # What is not sky is ground: both follow the sky view, so one look-up serves all.
    got = summed_onto(found, slope, aspect, beam + (sky - around) * view_table(found.azimuths_deg))
    return got.like(got.z + around)


@dataclass(frozen=True, slots=True)
class SunClass:
    """A class of light for plants."""

    label: str
    #: Hours of direct sun on a mid-season day, at least.
    hours: float


#: Common practice, no source: nursery labels speak of six, four and two hours.
SUN_CLASSES = (
    SunClass("full sun", 6.0),
    SunClass("part sun", 4.0),
    SunClass("part shade", 2.0),
    SunClass("shade", 0.0),
)


def sun_class(hours: float) -> SunClass:
    """Return the class of a spot by its hours on the growing season's middle day."""
    return next((c for c in SUN_CLASSES if hours >= c.hours), SUN_CLASSES[-1])


def sun_classes(hours: Grid) -> Grid:
    """Return the number of each cell's class in `SUN_CLASSES`; NaN where hours are."""
    number = sum((hours.z < c.hours).astype(np.float64) for c in SUN_CLASSES[:-1])
    return hours.like(np.where(np.isnan(hours.z), np.nan, number))


def mid_season_day(lat_deg: float) -> int:
    """Return the middle day of the growing season (common practice, no source).

    Mid July north of the tropics, mid January south of them, an equinox between, where plants
    grow all year.
    """
    if abs(lat_deg) < 23.44:
        return 80
    return 196 if lat_deg > 0 else 15


def lit_now(found: Horizons, elevation_deg: float, azimuth_deg: float) -> Grid:
    """Return 1 where this sun (azimuth from grid north) is above the horizon, 0 elsewhere.

    The horizon between two directions is taken straight; see `terrain_shadow` for the exact one.
    """
    count = found.codes.shape[0]
    place = azimuth_deg % 360.0 * count / 360.0
    left = int(place) % count
    out = np.zeros(found.shape)
    ones = np.ones(found.shape, np.float32)
    kernels.add_lit_rows(
        found.codes[left],
        found.codes[(left + 1) % count],
        place - int(place),
        float(code_of(elevation_deg)),
        1.0,
        ones,
        0,
        found.shape[0],
        out,
    )
    return found.like(out)
