"""Weather files of a year's hours in the EPW format (EnergyPlus Auxiliary Programs, public)."""

from __future__ import annotations

import calendar
import math
from datetime import datetime, timedelta
from typing import Any

from canvas.base.errors import BadData

#: Column number -> (key, factor, code from which on a value is missing).
FIELDS: dict[int, tuple[str, float, float]] = {
    6: ("t_c", 1.0, 99.9),
    7: ("dew_c", 1.0, 99.9),
    8: ("rh_mean", 0.01, 999.0),
    9: ("pressure_kpa", 0.001, 999999.0),
    13: ("radiation_mj", 0.0036, 9999.0),
    14: ("beam_mj", 0.0036, 9999.0),
    15: ("diffuse_mj", 0.0036, 9999.0),
    20: ("wind_from_deg", 1.0, 999.0),
    21: ("wind_ms", 1.0, 999.0),
    33: ("rain_mm", 1.0, 999.0),
}
SHORTEST = 22
NORMAL_YEAR = 2025


def read_text(text: str) -> dict[str, Any]:
    """Read a weather file: hours of a composed year, each starting at its stamp.

    The file counts hours 1 to 24 by their ends and keeps no summer time; months often come from
    different years, so all are put on one year. Missing codes become no value. Rain is taken as
    missing altogether when the file says nothing but noughts and codes.
    """
    lines = text.splitlines()
    place = _place(lines)
    notes: list[str] = []
    skipped: list[tuple[str, str]] = []
    when: list[str] = []
    columns: dict[str, list[float | None]] = {key: [] for key, _, _ in FIELDS.values()}
    years: set[str] = set()
    for number, line in enumerate(lines[8:], 9):
        cells = line.split(",")
        if len(cells) < SHORTEST:
            if line.strip():
                skipped.append((f"line {number}", f"it has {len(cells)} values, not 35"))
            continue
        stamp = _stamp(cells)
        if stamp is None:
            skipped.append((f"line {number}", "its date can't be read"))
            continue
        years.add(cells[0].strip())
        when.append(stamp.isoformat(timespec="minutes"))
        for at, (key, factor, code) in FIELDS.items():
            columns[key].append(_value(cells, at, factor, code))
    if len(when) < 24:
        raise BadData("the weather file holds no hours", remedy="Fetch it again.")
    _tidy(columns, notes)
    if len(years) > 1:
        notes.append("The months come from different years: an ordinary year, not a real one.")
    if len(when) not in (8760, 8784):
        notes.append(f"The file holds {len(when)} hours; a year has 8760.")
    return {
        "kind": "hourly",
        "when": when,
        "columns": {k: v for k, v in columns.items() if any(x is not None for x in v)},
        "units": {"wind_ms": "m/s at 10 m"},
        "notes": notes,
        "skipped": skipped[:200],
        "unread": [],
        **place,
    }


def _place(lines: list[str]) -> dict[str, Any]:
    """Return the place named by the first line.

    Some files have a name with a comma in it, which moves what follows: the last four values are
    taken.
    """
    if len(lines) < 8 or not lines[0].startswith("LOCATION"):
        raise BadData(
            "the file doesn't begin with a LOCATION line", remedy="Choose a weather file (EPW)."
        )
    cells = [c.strip() for c in lines[0].split(",")]
    while cells and not cells[-1]:
        cells.pop()
    try:
        lat, lon, zone, height = (float(c) for c in cells[-4:])
    except ValueError:
        raise BadData(
            "the LOCATION line doesn't end in latitude, longitude, time zone and height",
            where="line 1",
            remedy="Fetch the file again.",
        ) from None
    if not (-90 <= lat <= 90 and -180 <= lon <= 180):
        raise BadData(f"there is no place at {lat}, {lon}", where="line 1", remedy="Correct it.")
    name = ", ".join(c for c in cells[1:4] if c and c not in ("-", "unknown"))
    return {"name": name, "lat_deg": lat, "lon_deg": lon, "zone_h": zone, "height_m": height}


def _stamp(cells: list[str]) -> datetime | None:
    """Return the start of an hour, on one ordinary year."""
    try:
        month, day, hour = int(cells[1]), int(cells[2]), int(cells[3])
        if (month, day) == (2, 29) and not calendar.isleap(NORMAL_YEAR):
            return None
        return datetime(NORMAL_YEAR, month, day) + timedelta(hours=hour - 1)
    except (ValueError, OverflowError):
        return None


def _value(cells: list[str], at: int, factor: float, code: float) -> float | None:
    try:
        value = float(cells[at])
    except (ValueError, IndexError):
        return None
    if not math.isfinite(value) or value >= code or (value <= -99.0):
        return None
    return value * factor


def _tidy(columns: dict[str, list[float | None]], notes: list[str]) -> None:
    """Take back what isn't there: silent rain columns, directions of still air."""
    rain = columns["rain_mm"]
    if not any(v for v in rain if v is not None):
        columns["rain_mm"] = [None] * len(rain)
        notes.append("The file has no rain: take it from elsewhere.")
    else:
        notes.append("Rain in weather files is often incomplete: check its total before use.")
    # Still air has no direction, whatever is written (0 by the format; 360 is north). Files that
    # write 0 for a wind that blows mean north.
    speed, origin = columns["wind_ms"], columns["wind_from_deg"]
    for n, v in enumerate(speed):
        if not v:
            origin[n] = None
