"""Reference evapotranspiration: FAO-56 Penman-Monteith with its ladder for missing data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from canvas.base.grid import Floats
from canvas.base.sources import cites
from canvas.sky.climate_record import Daily, Normals, Station
from canvas.sky.radiation import (
    DAYS_IN_MONTH,
    MID_MONTH_DAYS,
    daylight_hours,
    extraterrestrial_mj,
    pressure_kpa,
)

#: FAO-56: albedo of the reference grass, and Stefan and Boltzmann's constant [MJ/K⁴/m²/day].
GRASS_ALBEDO = 0.23
SIGMA = 4.903e-9
#: Wind taken where none is known [m/s at 2 m], and the least that is counted (FAO-56 p. 63).
USUAL_WIND, LEAST_WIND = 2.0, 0.5
#: k of sunshine from the range of temperatures (FAO-56 eq. 50): inland and by the coast.
K_INLAND, K_COAST = 0.16, 0.19
#: How far the dew point lies below the night's lowest in dry country [K] (FAO-56 p. 58: 2 to 3).
DRY_AIR_K = 2.5
#: 1 / latent heat: mm of water a MJ/m² evaporates.
MM_PER_MJ = 0.408


@cites("fao56")
def vapour_kpa(t_c: Floats | float) -> Floats:
    """Return the pressure of saturated vapour [kPa] (FAO-56 eq. 11)."""
    t = np.asarray(t_c, dtype=np.float64)
    return np.asarray(0.6108 * np.exp(17.27 * t / (t + 237.3)))


@cites("fao56")
def saturation_kpa(tmax_c: Floats | float, tmin_c: Floats | float) -> Floats:
    """Return a day's mean saturation pressure (eq. 12): of both ends, not of the mean."""
    return np.asarray((vapour_kpa(tmax_c) + vapour_kpa(tmin_c)) / 2)


@cites("fao56")
def vapour_slope(t_c: Floats | float) -> Floats:
    """Return how fast saturation grows with temperature [kPa/K] (eq. 13)."""
    t = np.asarray(t_c, dtype=np.float64)
    return np.asarray(4098 * vapour_kpa(t) / (t + 237.3) ** 2)


@cites("fao56")
def psychrometric(height_m: float) -> float:
    """Return the psychrometric constant at a height [kPa/K] (eq. 8)."""
    return 0.665e-3 * pressure_kpa(height_m)


@cites("fao56")
def vapour_by_bulbs(dry_c: float, wet_c: float, height_m: float, a: float = 0.000662) -> float:
    """Return the vapour pressure from a ventilated psychrometer [kPa] (eqs 15 and 16)."""
    return float(vapour_kpa(wet_c)) - a * pressure_kpa(height_m) * (dry_c - wet_c)


@cites("fao56")
def vapour_by_humidity(
    tmax_c: Floats | float,
    tmin_c: Floats | float,
    rh_max: Floats | float | None = None,
    rh_min: Floats | float | None = None,
    rh_mean: Floats | float | None = None,
) -> Floats:
    """Return the actual vapour pressure [kPa] from humidities (fractions), the surest way there is.

    Highest and lowest (eq. 17), the highest alone (18), or the mean (19).
    """
    if rh_max is not None and rh_min is not None:
        warm = vapour_kpa(tmax_c) * np.asarray(rh_min)
        return np.asarray((vapour_kpa(tmin_c) * np.asarray(rh_max) + warm) / 2)
    if rh_max is not None:
        return np.asarray(vapour_kpa(tmin_c) * np.asarray(rh_max))
    if rh_mean is None:
        raise ValueError("no humidity was given")
    return np.asarray(saturation_kpa(tmax_c, tmin_c) * np.asarray(rh_mean))


@cites("fao56")
def wind_at_2m(speed_ms: Floats | float, height_m: float) -> Floats:
    """Return the wind at 2 m from that at another height over grass (eq. 47)."""
    if height_m == 2.0:
        return np.asarray(speed_ms, dtype=np.float64)
    return np.asarray(np.asarray(speed_ms) * 4.87 / np.log(67.8 * height_m - 5.42))


@cites("fao56")
def sun_by_hours(sun_h: Floats, daylight_h: Floats, outside_mj: Floats) -> Floats:
    """Return the sun's energy from hours of sunshine [MJ/m²/day] (eq. 35, a 0.25, b 0.50)."""
    return np.asarray((0.25 + 0.50 * np.minimum(sun_h / daylight_h, 1.0)) * outside_mj)


@cites("fao56")
def clear_mj(outside_mj: Floats, height_m: float) -> Floats:
    """Return the energy of a day without cloud [MJ/m²/day] (eq. 37)."""
    return np.asarray((0.75 + 2e-5 * height_m) * outside_mj)


@cites("fao56")
def sun_by_range(
    tmax_c: Floats, tmin_c: Floats, outside_mj: Floats, clear: Floats, k: float
) -> Floats:
    """Return the sun's energy from the day's range of temperature (eq. 50), clear sky at most."""
    span = np.maximum(np.asarray(tmax_c) - np.asarray(tmin_c), 0.0)
    return np.asarray(np.minimum(k * np.sqrt(span) * outside_mj, clear))


@cites("fao56")
def net_long_mj(
    tmax_c: Floats, tmin_c: Floats, vapour: Floats, sun_mj: Floats, clear: Floats
) -> Floats:
    """Return the net heat lost by long waves [MJ/m²/day] (eq. 39)."""
    warm, cold = np.asarray(tmax_c) + 273.16, np.asarray(tmin_c) + 273.16
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(clear > 0, np.minimum(sun_mj / clear, 1.0), 0.7)
    air = 0.34 - 0.14 * np.sqrt(vapour)
    return np.asarray(SIGMA * (warm**4 + cold**4) / 2 * air * (1.35 * share - 0.35))


@cites("fao56")
def penman_monteith(
    t_c: Floats,
    net_mj: Floats,
    soil_mj: Floats | float,
    wind_ms: Floats,
    saturation: Floats,
    vapour: Floats,
    gamma: float,
) -> Floats:
    """Return reference evapotranspiration [mm/day] (eq. 6), never below nought."""
    slope = vapour_slope(t_c)
    heat = MM_PER_MJ * slope * (net_mj - soil_mj)
    air = gamma * 900 / (np.asarray(t_c) + 273) * wind_ms * (saturation - vapour)
    return np.asarray(np.maximum((heat + air) / (slope + gamma * (1 + 0.34 * wind_ms)), 0.0))


@cites("fao56")
def hargreaves_mm(
    tmax_c: Floats, tmin_c: Floats, outside_mj: Floats, mean_c: Floats | None = None
) -> Floats:
    """Return Hargreaves' evapotranspiration [mm/day] (eq. 52) from temperatures alone.

    Low in wind above 3 m/s, high in humid air. The mean is that of both ends unless given.
    """
    hot, cold = np.asarray(tmax_c, dtype=np.float64), np.asarray(tmin_c, dtype=np.float64)
    mean = (hot + cold) / 2 if mean_c is None else mean_c
    root = np.sqrt(np.maximum(hot - cold, 0.0))
    got = 0.0023 * (mean + 17.8) * root * outside_mj * MM_PER_MJ
    return np.asarray(np.maximum(got, 0.0))


@dataclass(frozen=True, slots=True, eq=False)
class Reference:
    """Reference evapotranspiration with what it rests on."""

    #: Monthly totals [mm] (12,), or each day's [mm] (n,).
    mm: Floats
    #: "Penman-Monteith (FAO-56)" or "Hargreaves".
    method: str
    #: What was estimated and how, in plain sentences; empty when everything was measured.
    estimated: tuple[str, ...]
    #: Net radiation [MJ/m²/day] and wind at 2 m [m/s] that went in.
    net_mj: Floats
    wind_ms: Floats


@lru_cache(maxsize=16)
def _outside(lat_deg: float) -> tuple[Floats, Floats]:
    """Return energy outside the air and daylight of each day of the year, index 0 unused."""
    days = range(1, 367)
    outside = [extraterrestrial_mj(lat_deg, d) for d in days]
    light = [daylight_hours(lat_deg, d) for d in days]
    return np.array([0.0, *outside]), np.array([0.0, *light])


def outside_of(station: Station, day_of_year: NDArray[np.int64]) -> Floats:
    """Return the energy outside the air on days of the year [MJ/m²/day]."""
    return _outside(station.lat_deg)[0][day_of_year]


def _vapour(
    columns: Mapping[str, Floats], hot: Floats, cold: Floats, dry: bool, said: list[str]
) -> Floats:
    """Take the highest rung of the humidity ladder there is, day by day."""
    drop = DRY_AIR_K if dry else 0.0
    got = vapour_kpa(cold - drop)
    usual = np.ones(got.shape, dtype=bool)

    def take(better: Floats) -> None:
        nonlocal got, usual
        known = np.isfinite(better)
        got, usual = np.where(known, better, got), usual & ~known

    if "rh_mean" in columns:
        take(vapour_by_humidity(hot, cold, rh_mean=columns["rh_mean"]))
    if "rh_max" in columns:
        take(vapour_by_humidity(hot, cold, rh_max=columns["rh_max"]))
        if "rh_min" in columns:
            take(vapour_by_humidity(hot, cold, columns["rh_max"], columns["rh_min"]))
    if "dew_c" in columns:
        take(vapour_kpa(columns["dew_c"]))
    if usual.any():
        where = _share(usual)
        below = f"{DRY_AIR_K} K below the lowest temperature" if dry else "the lowest temperature"
        said.append(f"Humidity{where}: the dew point was taken as {below}.")
    return np.asarray(np.minimum(got, saturation_kpa(hot, cold)))


def _sun(
    columns: Mapping[str, Floats],
    hot: Floats,
    cold: Floats,
    station: Station,
    days: NDArray[np.int64],
    said: list[str],
) -> Floats:
    """Take the highest rung of the radiation ladder there is, day by day."""
    outside, light = (each[days] for each in _outside(station.lat_deg))
    k = K_COAST if station.coastal else K_INLAND
    clear = clear_mj(outside, station.height_m)
    got = sun_by_range(hot, cold, outside, clear, k)
    usual = np.ones(got.shape, dtype=bool)
    if "sun_h" in columns:
        better = sun_by_hours(columns["sun_h"], np.maximum(light, 0.1), outside)
        known = np.isfinite(better)
        got, usual = np.where(known, better, got), usual & ~known
    if "radiation_mj" in columns:
        known = np.isfinite(columns["radiation_mj"])
        got, usual = np.where(known, columns["radiation_mj"], got), usual & ~known
    if usual.any():
        place = "by the coast" if station.coastal else "inland"
        said.append(f"Sunshine{_share(usual)}: from the range of temperature (k = {k} {place}).")
    return np.asarray(got)


def _wind(
    columns: Mapping[str, Floats], station: Station, shape: tuple[int, ...], said: list[str]
) -> Floats:
    given = columns.get("wind_ms")
    if given is None:
        said.append(f"Wind: {USUAL_WIND} m/s at 2 m was taken, the world's mean.")
        return np.full(shape, USUAL_WIND)
    wind = wind_at_2m(given, station.wind_height_m)
    missing = ~np.isfinite(wind)
    if missing.any():
        mean = float(np.nanmean(wind)) if not missing.all() else USUAL_WIND
        said.append(f"Wind{_share(missing)}: {mean:.1f} m/s at 2 m was taken, the record's mean.")
        wind = np.where(missing, mean, wind)
    return np.asarray(np.maximum(wind, LEAST_WIND))


def _share(flags: NDArray[np.bool_]) -> str:
    count = int(flags.sum())
    return "" if count == flags.size else f" ({count} of {flags.size})"


def _reference(
    columns: Mapping[str, Floats],
    hot: Floats,
    cold: Floats,
    mean: Floats,
    soil_mj: Floats | float,
    station: Station,
    days: NDArray[np.int64],
    dry: bool,
) -> Reference:
    said: list[str] = []
    vapour = _vapour(columns, hot, cold, dry, said)
    sun = _sun(columns, hot, cold, station, days, said)
    wind = _wind(columns, station, hot.shape, said)
    clear = clear_mj(outside_of(station, days), station.height_m)
    lost = net_long_mj(hot, cold, vapour, sun, clear)
    net = (1 - GRASS_ALBEDO) * sun - lost
    gamma = psychrometric(station.height_m)
    mm = penman_monteith(mean, net, soil_mj, wind, saturation_kpa(hot, cold), vapour, gamma)
    return Reference(mm, "Penman-Monteith (FAO-56)", tuple(said), net, wind)


@cites("fao56")
def reference_of_months(
    normals: Normals, *, dry: bool = False, soil_heat: bool = True
) -> Reference:
    """Return each month's reference evapotranspiration [mm, totals] from normals.

    Highest and lowest temperatures are the least there must be; every other input missing is
    estimated as FAO-56 advises, and named. `dry` country has its dew point below the lowest
    temperature. Soil heat follows the months before and after (eq. 43).
    """
    hot, cold = normals.need("tmax_c"), normals.need("tmin_c")
    columns = {k: v for k in normals.columns if (v := normals.get(k)) is not None}
    mean = (hot + cold) / 2
    soil = 0.07 * (np.roll(mean, -1) - np.roll(mean, 1)) if soil_heat else 0.0
    days = np.array(MID_MONTH_DAYS)
    found = _reference(columns, hot, cold, mean, soil, normals.station, days, dry)
    mm = found.mm * np.array(DAYS_IN_MONTH)
    return Reference(mm, found.method, found.estimated, found.net_mj, found.wind_ms)


@cites("fao56")
def reference_of_days(daily: Daily, *, dry: bool = False) -> Reference:
    """Return each day's reference evapotranspiration [mm]; NaN where temperatures are missing."""
    hot, cold = daily.need("tmax_c"), daily.need("tmin_c")
    return _reference(
        daily.columns, hot, cold, (hot + cold) / 2, 0.0, daily.station, daily.day_of_year, dry
    )


@cites("fao56")
def hargreaves_of_months(normals: Normals) -> Reference:
    """Return each month's evapotranspiration after Hargreaves [mm, totals]."""
    hot, cold = normals.need("tmax_c"), normals.need("tmin_c")
    outside = outside_of(normals.station, np.array(MID_MONTH_DAYS))
    mm = hargreaves_mm(hot, cold, outside) * np.array(DAYS_IN_MONTH)
    return Reference(mm, "Hargreaves", ("All but temperatures.",), outside * 0, outside * 0)


@cites("fao56")
def hargreaves_of_days(daily: Daily) -> Reference:
    """Return each day's evapotranspiration after Hargreaves [mm]."""
    hot, cold = daily.need("tmax_c"), daily.need("tmin_c")
    outside = outside_of(daily.station, daily.day_of_year)
    mm = hargreaves_mm(hot, cold, outside)
    return Reference(mm, "Hargreaves", ("All but temperatures.",), outside * 0, outside * 0)
