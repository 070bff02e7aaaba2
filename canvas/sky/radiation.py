"""Sunshine's energy under a clear sky: outside the air, on the level, on a slope.

Clear-sky figures rank places; they are not a forecast. Cloud, trees and far hills take away.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from canvas.base.errors import InputError
from canvas.base.grid import Floats, Grid
from canvas.base.pool import over_rows
from canvas.base.sources import cites
from canvas.sky import kernels
from canvas.sky.position import apparent_sun

#: Days of the year that stand for the months (the middle day of each).
DAYS_IN_MONTH = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
MID_MONTH_DAYS = (15, 46, 74, 105, 135, 166, 196, 227, 258, 288, 319, 349)

#: Solar constant of FAO-56 [MJ/m²/min], and the same in W/m².
GSC_MJ_MIN = 0.0820
GSC_W = GSC_MJ_MIN * 1e6 / 60

#: Haze of clean country air (Linke). From memory: 2 clean mountain, 3 clean rural, 4-5 hazy.
LINKE = 3.0
#: Share of light the ground around throws back (common practice).
ALBEDO = 0.2

#: Steps of a day's sum: every 5 minutes of solar time.
_STEPS = 288
#: Steps of the table over slope (0..90°) and aspect (0..360°).
_TILTS, _TURNS = 60, 120


@cites("fao56")
def extraterrestrial_mj(lat_deg: float, day_of_year: int) -> float:
    """Return Ra, the energy on a level surface outside the air [MJ/m²/day] (FAO-56 eqs 21-25)."""
    year = 2 * np.pi * day_of_year / 365
    distance = 1 + 0.033 * np.cos(year)
    declination = 0.409 * np.sin(year - 1.39)
    lat = np.radians(lat_deg)
    sunset = np.arccos(np.clip(-np.tan(lat) * np.tan(declination), -1.0, 1.0))
    sine = np.sin(lat) * np.sin(declination)
    cosine = np.cos(lat) * np.cos(declination)
    day = 24 * 60 / np.pi * GSC_MJ_MIN * distance
    return float(max(day * (sunset * sine + cosine * np.sin(sunset)), 0.0))


@cites("fao56")
def daylight_hours(lat_deg: float, day_of_year: int) -> float:
    """Return N, the hours the sun's centre is above the level horizon (FAO-56 eq. 34)."""
    declination = 0.409 * np.sin(2 * np.pi * day_of_year / 365 - 1.39)
    lat = np.radians(lat_deg)
    return float(24 / np.pi * np.arccos(np.clip(-np.tan(lat) * np.tan(declination), -1.0, 1.0)))


@dataclass(frozen=True, slots=True, eq=False)
class ClearSky:
    """Power under a clear sky [W/m²]; arrays of one shape."""

    #: On a level surface: beam and sky together.
    level: Floats
    #: On a surface that faces the sun.
    beam: Floats
    #: From the sky alone on a level surface.
    diffuse: Floats


@cites("kasten_young1989")
def air_mass(zenith_deg: Floats) -> Floats:
    """Return how much more air a ray crosses than from overhead, at sea level."""
    z = np.clip(np.asarray(zenith_deg, dtype=np.float64), 0.0, 90.0)
    return np.asarray(1 / (np.cos(np.radians(z)) + 0.50572 * (96.07995 - z) ** -1.6364))


@cites("fao56")
def pressure_kpa(height_m: float) -> float:
    """Return the usual air pressure at a height above the sea (FAO-56 eq. 7)."""
    return float(101.3 * ((293 - 0.0065 * height_m) / 293) ** 5.26)


@cites("ineichen_perez2002")
def clear_sky(
    zenith_deg: Floats, height_m: float = 0.0, linke: float = LINKE, outside_w: float = GSC_W
) -> ClearSky:
    """Return clear-sky power for the sun's zenith angle: the Ineichen-Perez model.

    `outside_w` is the power outside the air on a surface facing the sun. All nought from
    sunset on.
    """
    zenith = np.asarray(zenith_deg, dtype=np.float64)
    up = zenith < 90.0
    cosine = np.where(up, np.cos(np.radians(zenith)), 1.0)
    air = air_mass(zenith) * pressure_kpa(height_m) / 101.325
    high, low = np.exp(-height_m / 8000), np.exp(-height_m / 1250)
    gain, fade = 5.09e-5 * height_m + 0.868, 3.92e-5 * height_m + 0.0387
    level = gain * outside_w * cosine * np.exp(-fade * air * (high + low * (linke - 1)))
    clear = (0.664 + 0.163 / high) * outside_w * np.exp(-0.09 * air * (linke - 1))
    # The sky always keeps a share of the whole, so the beam can't take more than the rest.
    sky = (0.1 - 0.2 * np.exp(-linke)) / (0.1 + 0.882 / high)
    beam = np.minimum(clear, level * max(1 - sky, 0.0) / cosine)
    level, beam = np.where(up, level, 0.0), np.where(up, beam, 0.0)
    return ClearSky(level, beam, np.where(up, level - beam * cosine, 0.0))


@cites("liu_jordan1963")
def on_slope(
    sky: ClearSky,
    zenith_deg: Floats,
    azimuth_deg: Floats,
    slope_deg: Floats | float,
    aspect_deg: Floats | float,
    albedo: float = ALBEDO,
) -> Floats:
    """Return the power on a slope [W/m²] under a sky equally bright all over; shapes broadcast.

    Beam at its angle, the part of the sky the slope sees, and light thrown back by level ground.
    Azimuth and aspect from the same north.
    """
    z, b = np.radians(zenith_deg), np.radians(slope_deg)
    off = np.radians(np.asarray(azimuth_deg) - np.asarray(aspect_deg))
    facing = np.cos(b) * np.cos(z) + np.sin(b) * np.sin(z) * np.cos(off)
    seen = (1 + np.cos(b)) / 2
    found = (
        sky.beam * np.maximum(facing, 0.0) + sky.diffuse * seen + albedo * sky.level * (1 - seen)
    )
    return np.asarray(found)


@lru_cache(maxsize=400)
def _mid_day(day_of_year: int) -> tuple[float, float]:
    """Return the sun's declination [degrees] and distance [au] at noon UTC of a day of 2025."""
    noon = np.datetime64("2025-01-01T12:00", "us") + np.timedelta64(day_of_year - 1, "D")
    sun = apparent_sun(np.asarray(noon))
    return float(sun.declination_deg), float(sun.distance_au)


def daily_clear_sky(
    lat_deg: float,
    day_of_year: int,
    height_m: float,
    slope_deg: Floats | float,
    aspect_true_deg: Floats | float,
    linke: float = LINKE,
    albedo: float = ALBEDO,
) -> Floats:
    """Return a day's clear-sky energy on slopes [MJ/m²/day], open to the whole sky.

    Slope and aspect (downhill, from TRUE north) broadcast to the result's shape. Every five
    minutes of solar time are summed, wherever the sun passes: also north and south of overhead
    in the tropics, and all round in polar summer.
    """
    declination, distance = _mid_day(day_of_year)
    hour = np.radians((np.arange(_STEPS) + 0.5) * 360 / _STEPS - 180)
    lat, d = np.radians(lat_deg), np.radians(declination)
    sine = np.sin(lat) * np.sin(d) + np.cos(lat) * np.cos(d) * np.cos(hour)
    up = sine > 0
    hour, sine = hour[up], sine[up]
    zenith = np.degrees(np.arccos(np.clip(sine, -1, 1)))
    azimuth = np.degrees(
        np.arctan2(
            -np.cos(d) * np.sin(hour),
            np.sin(d) * np.cos(lat) - np.cos(d) * np.sin(lat) * np.cos(hour),
        )
    )
    sky = clear_sky(zenith, height_m, linke, GSC_W / distance**2)
    slope, aspect = np.broadcast_arrays(np.asarray(slope_deg), np.asarray(aspect_true_deg))
    power = on_slope(sky, zenith, azimuth, slope[..., None], aspect[..., None], albedo)
    return np.asarray(power.sum(axis=-1) * (86400 / _STEPS) * 1e-6)


@dataclass(frozen=True, slots=True, eq=False)
class MonthlyEnergy:
    """Clear-sky energy of the twelve months; arrays (12,)."""

    #: On the slope [MJ/m²/day].
    slope_mj: Floats
    #: On level ground at the same place [MJ/m²/day].
    flat_mj: Floats

    @property
    def ratio(self) -> Floats:
        """Slope over level; NaN in months without sun."""
        flat = np.where(self.flat_mj > 0, self.flat_mj, np.nan)
        return np.asarray(self.slope_mj / flat)


def monthly_clear_sky(
    lat_deg: float,
    height_m: float,
    slope_deg: float,
    aspect_true_deg: float,
    linke: float = LINKE,
) -> MonthlyEnergy:
    """Return each month's mean daily clear-sky energy on a slope and on the level.

    Each month is taken at its middle day.
    """
    days = [
        daily_clear_sky(
            lat_deg,
            day,
            height_m,
            np.array([slope_deg, 0.0]),
            np.array([aspect_true_deg, 0.0]),
            linke,
        )
        for day in MID_MONTH_DAYS
    ]
    both = np.array(days)
    return MonthlyEnergy(both[:, 0], both[:, 1])


@lru_cache(maxsize=32)
def _table(lat_deg: float, height_m: float, day_of_year: int, linke: float) -> tuple[Floats, float]:
    """Return energy over slope 0..90° x aspect 0..360°, and on the level [MJ/m²/day]."""
    slope = np.linspace(0, 90, _TILTS + 1)[:, None]
    # Morning and afternoon mirror each other in solar time: half the circle is enough.
    half = np.linspace(0, 180, _TURNS // 2 + 1)[None, :]
    east = daily_clear_sky(lat_deg, day_of_year, height_m, slope, half, linke)
    table = np.ascontiguousarray(np.concatenate((east, east[:, -2::-1]), axis=1))
    return table, float(table[0, 0])


def relative_energy(
    slope: Grid,
    aspect: Grid,
    lat_deg: float,
    month: int,
    height_m: float = 0.0,
    turn_deg: float = 0.0,
    linke: float = LINKE,
) -> Grid:
    """Return a month's clear-sky energy of every cell relative to level ground there.

    `slope` is rise over run, `aspect` the downhill azimuth; `turn_deg` is added to it first
    (the grid convergence when aspects count from grid north, for the sun's count from true
    north). Read from a table every 1.5° of slope and 3° of aspect: within 0.005 of the direct
    sum up to 60° of latitude, half a percent beyond (tested). NaN for no data, and everywhere
    in a month without sun.
    """
    if not 1 <= month <= 12:
        raise InputError(f"month must be 1 to 12, got {month}")
    if slope.shape != aspect.shape:
        raise InputError(f"slope {slope.shape} and aspect {aspect.shape} must share cells")
    table, level = _table(float(lat_deg), float(height_m), MID_MONTH_DAYS[month - 1], linke)
    if not level > 0:
        return slope.like(np.full(slope.shape, np.nan))
    s = np.ascontiguousarray(slope.z, dtype=np.float64)
    a = np.ascontiguousarray(aspect.z, dtype=np.float64)
    out = np.empty(slope.shape)
    share = table / level

    def work(first: int, end: int) -> None:
        kernels.look_up_rows(s, a, turn_deg, share, 1.0, first, end, out)

    over_rows(slope.shape, work)
    return slope.like(out)


def relative_energy_of_year(
    slope: Grid,
    aspect: Grid,
    lat_deg: float,
    height_m: float = 0.0,
    turn_deg: float = 0.0,
    linke: float = LINKE,
) -> Grid:
    """Return the year's clear-sky energy of every cell relative to level ground there.

    The months' shares weighted by what level ground receives in each; months without sun add
    nothing. Arguments as in `relative_energy`.
    """
    flat = monthly_clear_sky(lat_deg, height_m, 0.0, 0.0, linke).flat_mj
    total = np.zeros(slope.shape)
    weight = 0.0
    for month, energy in enumerate(flat, start=1):
        if energy > 0:
            share = float(energy) * DAYS_IN_MONTH[month - 1]
            total += (
                share * relative_energy(slope, aspect, lat_deg, month, height_m, turn_deg, linke).z
            )
            weight += share
    return slope.like(total / weight if weight > 0 else np.full(slope.shape, np.nan))
