"""Wording shared by the desk's parts: counts, positions, times."""

from __future__ import annotations

import datetime
import math

from canvas.base.quantity import show
from canvas.site.records import Element, kind_of


def plural(count: int, one: str, many: str = "") -> str:
    """Return "1 finding", "3 findings"."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def degrees(lat_deg: float, lon_deg: float) -> str:
    """Return a geographic position as people read it."""
    north = "N" if lat_deg >= 0 else "S"
    east = "E" if lon_deg >= 0 else "W"
    return f"{abs(lat_deg):.5f}° {north}  {abs(lon_deg):.5f}° {east}"


def called(item: Element) -> str:
    """Return an element's name, or its kind's when it has none."""
    return item.name or kind_of(item).label


def clock(when: datetime.datetime) -> str:
    """Return a time of day in the computer's own zone, with the date if it is not today."""
    local = when.astimezone()
    if local.date() == datetime.datetime.now().astimezone().date():
        return local.strftime("%H:%M:%S")
    return local.strftime("%Y-%m-%d %H:%M")


def steepness(ratio: float) -> str:
    """Return a slope both ways: per cent and degrees."""
    return f"{show(ratio, '%', decimals=0)} · {show(math.degrees(math.atan(ratio)), 'deg')}"
