"""What is wrong, odd or missing in a climate record, named before anyone relies on it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from canvas.base.grid import Floats
from canvas.exchange.climate import COLUMNS
from canvas.sky.climate_record import Daily, Normals
from canvas.sky.radiation import (
    MID_MONTH_DAYS,
    daylight_hours,
    extraterrestrial_mj,
)
from canvas.sky.sunhours import MONTHS

#: Values no weather has had, at the surface: outside them a figure is impossible. Rounded out
#: from records known by heart (from memory: 56.7 °C, -89.2 °C, 1825 mm a day, 113 m/s).
POSSIBLE = {
    "tmax_c": (-90.0, 57.0),
    "tmin_c": (-90.0, 45.0),
    "tmean_c": (-90.0, 50.0),
    "t_c": (-90.0, 57.0),
    "dew_c": (-95.0, 36.0),
    "rain_mm": (0.0, 1850.0),
    "rh_max": (0.0, 1.001),
    "rh_min": (0.0, 1.001),
    "rh_mean": (0.0, 1.001),
    "wind_ms": (0.0, 113.0),
    "wind_from_deg": (0.0, 360.0),
    "sun_h": (0.0, 24.0),
    "radiation_mj": (0.0, 45.0),
    "pressure_kpa": (45.0, 109.0),
}
_TEMPERATURES = ("tmax_c", "tmin_c", "tmean_c", "t_c", "dew_c")
#: A gauge that stands still: as many equal days running (common practice, no source).
STUCK_DAYS = 8


class How(StrEnum):
    """How bad a doubt is."""

    IMPOSSIBLE = "impossible"
    SUSPICIOUS = "suspicious"
    GAP = "gap"


@dataclass(frozen=True, slots=True)
class Doubt:
    """One thing to look at in a record."""

    how: How
    #: Column key, "" for the record as a whole.
    column: str
    message: str
    #: What to try.
    remedy: str = ""
    #: How many values are concerned.
    count: int = 0
    #: The unit the column may really be in, when that is the suspicion ("°F", "in" …).
    unit: str = ""


def doubts(record: Daily | Normals) -> tuple[Doubt, ...]:
    """Return what is doubtful in a record, worst first."""
    found = _units(record.columns, _rain_of_a_year(record), isinstance(record, Normals))
    wrong_unit = {d.column for d in found}
    found += _impossible(record, wrong_unit)
    found += _hemisphere(record)
    found += _gaps(record)
    if isinstance(record, Daily):
        found += _stuck(record)
    order = list(How)
    return tuple(sorted(found, key=lambda d: order.index(d.how)))


def _label(key: str) -> str:
    return COLUMNS[key].label if key in COLUMNS else key


def _rain_of_a_year(record: Daily | Normals) -> float | None:
    rain = record.columns.get("rain_mm")
    if rain is None or not np.isfinite(rain).any():
        return None
    mean = float(np.nanmean(rain))
    return mean * (12 if isinstance(record, Normals) else 365.25)


def _units(columns: Mapping[str, Floats], rain_year: float | None, monthly: bool) -> list[Doubt]:
    """Suspect units from sizes no climate in the unit taken has."""
    found = []
    for key in _TEMPERATURES:
        known = _known(columns, key)
        if not known.size:
            continue
        # Not the very highest: a slip of the pen is not a unit.
        middle, high = np.quantile(known, (0.5, 0.98))
        if middle > 200:
            found.append(_unit_doubt(key, "K", f"a median of {middle:.0f}"))
        elif high > (52 if key in ("tmax_c", "t_c") else 40) or middle > 42:
            found.append(_unit_doubt(key, "°F", f"values up to {high:.0f}"))
    rain = _known(columns, "rain_mm")
    if rain_year is not None and rain_year > 0:
        wet = rain[rain > 0]
        small = float(np.median(wet)) < (6.0 if monthly else 0.6)
        if rain_year < 150 and small:
            found.append(_unit_doubt("rain_mm", "in", f"{rain_year:.0f} mm a year"))
        elif rain_year > 12_500:
            found.append(_unit_doubt("rain_mm", "0.1 mm", f"{rain_year:.0f} mm a year"))
    wind = _known(columns, "wind_ms")
    if wind.size and float(np.mean(wind)) > (9.0 if monthly else 10.0):
        found.append(_unit_doubt("wind_ms", "km/h", f"a mean of {np.mean(wind):.1f} m/s"))
    sun = _known(columns, "radiation_mj")
    if sun.size and float(sun.max()) > 50:
        found.append(_unit_doubt("radiation_mj", "W/m²", f"values up to {sun.max():.0f}"))
    elif sun.size > 11 and float(sun.max()) < 9.5:
        found.append(_unit_doubt("radiation_mj", "kWh/m²", f"values only up to {sun.max():.1f}"))
    return found


def _known(columns: Mapping[str, Floats], key: str) -> Floats:
    values = columns.get(key, np.zeros(0))
    return values[np.isfinite(values)]


def _unit_doubt(key: str, unit: str, why: str) -> Doubt:
    return Doubt(
        How.SUSPICIOUS,
        key,
        f"{_label(key)} looks as if it were in {unit}: {why}",
        f"Read it again as {unit}, or keep it if it is right.",
        unit=unit,
    )


def _impossible(record: Daily | Normals, wrong_unit: set[str]) -> list[Doubt]:
    found = []
    limits = POSSIBLE | ({"rain_mm": (0.0, 5000.0)} if isinstance(record, Normals) else {})
    for key, (low, high) in limits.items():
        values = record.columns.get(key)
        if values is None or key in wrong_unit:
            continue
        with np.errstate(invalid="ignore"):
            bad = (values < low) | (values > high)
        found += _where(record, bad, key, f"outside {low:g} to {high:g} {COLUMNS[key].unit}")
    columns = record.columns
    pairs = (
        ("tmin_c", "tmax_c", "is above the highest"),
        ("rh_min", "rh_max", "is above the highest"),
        ("dew_c", "tmax_c", "is above the highest temperature"),
    )
    for low_key, high_key, said in pairs:
        if low_key in columns and high_key in columns and not wrong_unit & {low_key, high_key}:
            with np.errstate(invalid="ignore"):
                bad = columns[low_key] > columns[high_key] + 0.05
            found += _where(record, bad, low_key, said)
    return found + _beyond_the_sun(record, wrong_unit)


def _beyond_the_sun(record: Daily | Normals, wrong_unit: set[str]) -> list[Doubt]:
    """Find more sunshine than daylight, and more energy than comes from outside the air."""
    days = np.array(MID_MONTH_DAYS) if isinstance(record, Normals) else record.day_of_year
    lat, found = record.station.lat_deg, []
    each = np.arange(1, 367)
    for key, most, said in (
        ("sun_h", daylight_hours, "is longer than the day"),
        ("radiation_mj", extraterrestrial_mj, "is more than reaches the air"),
    ):
        values = record.columns.get(key)
        if values is not None and key not in wrong_unit:
            limit = np.array([most(lat, int(d)) for d in each])[days - 1]
            with np.errstate(invalid="ignore"):
                found += _where(record, values > limit * 1.03 + 0.5, key, said)
    return found


def _where(record: Daily | Normals, bad: NDArray[np.bool_], key: str, said: str) -> list[Doubt]:
    count = int(bad.sum())
    if not count:
        return []
    places = _places(record, np.flatnonzero(bad))
    values = record.columns[key][bad][:3]
    shown = ", ".join(f"{v:g}" for v in values)
    return [
        Doubt(
            How.IMPOSSIBLE,
            key,
            f"{_label(key)} {said} on {places} ({shown})",
            "Correct these, or leave them out.",
            count,
        )
    ]


def _places(record: Daily | Normals, at: NDArray[np.int64]) -> str:
    if isinstance(record, Normals):
        names = [MONTHS[int(i)] for i in at]
    else:
        names = [str(record.days[int(i)]) for i in at[:3]]
    more = f" and {len(at) - 3} more" if len(at) > 3 and not isinstance(record, Normals) else ""
    return ", ".join(names) + more


def _hemisphere(record: Daily | Normals) -> list[Doubt]:
    """Find a warm half-year in the wrong half of the year."""
    lat = record.station.lat_deg
    warm = record.columns.get("tmax_c", record.columns.get("tmean_c"))
    if warm is None or abs(lat) < 15:
        return []
    months = np.arange(1, 13) if isinstance(record, Normals) else record.months
    summer, winter = np.isin(months, (6, 7, 8)), np.isin(months, (12, 1, 2))
    if not (np.isfinite(warm[summer]).any() and np.isfinite(warm[winter]).any()):
        return []
    ahead = float(np.nanmean(warm[summer]) - np.nanmean(warm[winter]))
    if ahead * lat >= 0 or abs(ahead) < 2:
        return []
    side = "north" if lat > 0 else "south"
    return [
        Doubt(
            How.SUSPICIOUS,
            "tmax_c",
            "the warm months are those of the other hemisphere, but the latitude is "
            f"{abs(lat):.1f}° {side}",
            "Check the sign of the latitude, or whose record this is.",
        )
    ]


def _gaps(record: Daily | Normals) -> list[Doubt]:
    found = []
    for key, values in record.columns.items():
        missing = ~np.isfinite(values)
        count = int(missing.sum())
        if not count:
            continue
        if isinstance(record, Normals):
            names = ", ".join(MONTHS[int(i)] for i in np.flatnonzero(missing))
            said = f"{_label(key)}: no value for {names}"
        else:
            start, length = longest_run(missing)
            said = (
                f"{_label(key)}: {count} of {values.size} days missing; the longest gap is "
                f"{length} days from {record.days[start]}"
            )
        found.append(Doubt(How.GAP, key, said, "Fill it in, or go on without it.", count))
    return found


def longest_run(flags: NDArray[np.bool_]) -> tuple[int, int]:
    """Return where the longest run of true values starts, and its length."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(np.int8), [0]))))
    if not edges.size:
        return 0, 0
    starts, ends = edges[::2], edges[1::2]
    best = int(np.argmax(ends - starts))
    return int(starts[best]), int(ends[best] - starts[best])


def _stuck(record: Daily) -> list[Doubt]:
    """Find gauges that show the same for days on end (for rain: the same amount, not nought)."""
    found = []
    for key in ("tmax_c", "tmin_c", "rain_mm", "wind_ms"):
        values = record.columns.get(key)
        if values is None or values.size < 2:
            continue
        with np.errstate(invalid="ignore"):
            same = np.diff(values) == 0
            if key == "rain_mm":
                same &= values[1:] > 0
        start, length = longest_run(same)
        if length + 1 >= STUCK_DAYS:
            found.append(
                Doubt(
                    How.SUSPICIOUS,
                    key,
                    f"{_label(key)}: {values[start]:g} on {length + 1} days running from "
                    f"{record.days[start]}",
                    "Check whether the gauge stood still.",
                    length + 1,
                )
            )
    return found
