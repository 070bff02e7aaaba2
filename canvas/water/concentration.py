"""Time of concentration: how long water needs from the farthest point to the outlet."""

from __future__ import annotations

import math
from collections.abc import Callable

from canvas.base import resources
from canvas.base.errors import InputError
from canvas.base.sources import cites
from canvas.water.runoff import retention_mm

#: Least time any method is used with [h]; commonly 5 minutes.
LEAST_H = 5.0 / 60.0


def sheet_roughness() -> dict[str, float]:
    """Return Manning's n of a thin sheet by cover."""
    return dict(resources.toml("storms.toml")["overland"]["sheet"])


def shallow_factors() -> dict[str, float]:
    """Return the factor of shallow flow's speed by cover: speed = k sqrt(slope in %)."""
    return dict(resources.toml("storms.toml")["overland"]["shallow"])


def _need(**values: float) -> None:
    for name, value in values.items():
        if not value > 0.0:
            raise InputError(f"{name} must be above 0, got {value}")


@cites("hec22")
def sheet_h(n: float, length_m: float, slope: float, rain_mm_h: float) -> float:
    """Return the time of a sheet [h] under a steady rain [mm/h]; to be used for up to 130 m."""
    _need(n=n, length_m=length_m, slope=slope, rain_mm_h=rain_mm_h)
    return float(6.92 / rain_mm_h**0.4 * (n * length_m / math.sqrt(slope)) ** 0.6 / 60.0)


@cites("hec22")
def sheet_by_table_h(
    n: float, length_m: float, slope: float, intensity: Callable[[float], float]
) -> float:
    """Return the time of a sheet [h] when rain's intensity [mm/h] depends on duration [min].

    Solved so that the rain lasts as long as the sheet takes.
    """
    low, high = math.log(0.1), math.log(24 * 60.0)
    for _ in range(60):
        middle = 0.5 * (low + high)
        if sheet_h(n, length_m, slope, intensity(math.exp(middle))) * 60.0 > math.exp(middle):
            low = middle
        else:
            high = middle
    return math.exp(0.5 * (low + high)) / 60.0


@cites("tr55_1986")
def sheet_by_day_h(n: float, length_m: float, slope: float, rain_2y_24h_mm: float) -> float:
    """Return the time of a sheet [h] from the 2-year 24-hour rain [mm]. From memory."""
    _need(n=n, length_m=length_m, slope=slope, rain=rain_2y_24h_mm)
    return float(0.0913 * (n * length_m) ** 0.8 / (math.sqrt(rain_2y_24h_mm) * slope**0.4))


@cites("hec22")
def shallow_speed(k: float, slope: float) -> float:
    """Return the speed [m/s] of shallow flow that has gathered."""
    _need(k=k, slope=slope)
    return k * math.sqrt(100.0 * slope)


def travel_h(length_m: float, speed_m_s: float) -> float:
    """Return the time [h] of a stretch."""
    _need(speed_m_s=speed_m_s)
    return length_m / speed_m_s / 3600.0


@cites("txdot_4")
def kirpich_h(length_m: float, slope: float, factor: float = 1.0) -> float:
    """Return Kirpich's time [h] for the longest watercourse.

    `factor`: 0.4 on paved ground, 0.2 in a paved channel, 2 over grass (from memory). Published
    metric constants differ by 1 to 2 %.
    """
    _need(length_m=length_m, slope=slope, factor=factor)
    return float(factor * 0.0195 * length_m**0.77 * slope**-0.385 / 60.0)


@cites("neh630_15")
def lag_h(length_m: float, cn: float, slope: float) -> float:
    """Return the lag [h] by flow length, curve number and mean slope of the catchment."""
    _need(length_m=length_m, slope=slope)
    held_in = float(retention_mm(cn)) / 25.4
    return float(
        (length_m / 0.3048) ** 0.8 * (held_in + 1.0) ** 0.7 / (1900.0 * math.sqrt(100.0 * slope))
    )


@cites("neh630_15")
def from_lag_h(length_m: float, cn: float, slope: float) -> float:
    """Return the time of concentration [h]: the lag over 0.6."""
    return lag_h(length_m, cn, slope) / 0.6
