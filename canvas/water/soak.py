"""Water soaking into the ground: rates by texture, drawdown, Green–Ampt."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from functools import cache

from canvas.base import resources
from canvas.base.errors import InputError
from canvas.base.sources import cites
from canvas.water.sections import Section


@dataclass(frozen=True, slots=True)
class Texture:
    """How fast water soaks into soil of one texture, by two sources that differ widely."""

    key: str
    label: str
    #: Saturated conductivity [mm/h].
    ksat_mm_h: float
    #: Spread of basic infiltration rates [mm/h], where the second source gives one.
    basic_mm_h: tuple[float, float] | None
    #: Suction at the wetting front [mm], Green–Ampt.
    suction_mm: float


#: Suction at the wetting front [mm], Rawls et al. 1983; of clay from memory.
_SUCTION = {
    "sand": 49.5, "loamy_sand": 61.3, "sandy_loam": 110.1, "loam": 88.9, "silt_loam": 166.8,
    "sandy_clay_loam": 218.5, "clay_loam": 208.8, "silty_clay_loam": 273.0, "sandy_clay": 239.0,
    "silty_clay": 292.2, "clay": 316.3,
}  # fmt: skip


@cache
def textures() -> dict[str, Texture]:
    """Return every soil texture of the table by key."""
    rows = resources.toml("hydraulics.toml")["soils"]["texture"]
    return {
        key: Texture(
            key,
            row["label"],
            float(row["ksat"]),
            (float(row["basic"][0]), float(row["basic"][1])) if "basic" in row else None,
            _SUCTION[key],
        )
        for key, row in rows.items()
    }


@cites("common_practice_water")
def design_rate_mm_h(measured_mm_h: float, factor: float = 2.0) -> float:
    """Return the rate to design with: half of what was measured, since soils clog."""
    if not (measured_mm_h >= 0.0 and factor >= 1.0):
        raise InputError(f"no rate: {measured_mm_h} mm/h over {factor}")
    return measured_mm_h / factor


def drawdown_bottom_h(depth_m: float, rate_mm_h: float) -> float:
    """Return the hours until a level store is empty, soaking through its bottom only."""
    return math.inf if rate_mm_h <= 0.0 else 1000.0 * depth_m / rate_mm_h


def drawdown_h(section: Section, depth_m: float, rate_mm_h: float) -> float:
    """Return the hours until a section is empty, soaking through all its wetted perimeter."""
    if rate_mm_h <= 0.0:
        return math.inf
    # Gauss–Legendre on panels that shrink towards the bottom, where a section may come to a point.
    nodes = ((-0.7745966692414834, 5 / 9), (0.0, 8 / 9), (0.7745966692414834, 5 / 9))
    total, edges = 0.0, [depth_m * (i / 60) ** 2 for i in range(61)]
    for low, high in itertools.pairwise(edges):
        for x, weight in nodes:
            y = 0.5 * (low + high) + 0.5 * (high - low) * x
            total += 0.5 * (high - low) * weight * section.top_m(y) / section.wetted_m(y)
    return 1000.0 * total / rate_mm_h


@cites("green_ampt1911", "rawls1983")
def green_ampt_mm(ksat_mm_h: float, suction_mm: float, deficit: float, hours: float) -> float:
    """Return the depth soaked in [mm] under a thin sheet of water after some hours.

    Solves F - s ln(1 + F / s) = K t, with s = suction times moisture deficit.
    """
    s, kt = suction_mm * deficit, ksat_mm_h * hours
    if kt <= 0.0 or s <= 0.0:
        return max(kt, 0.0)
    depth = kt + math.sqrt(2.0 * s * kt)
    for _ in range(50):
        off = depth - s * math.log1p(depth / s) - kt
        depth -= off * (depth + s) / depth
        if abs(off) < 1e-12 * max(kt, 1.0):
            break
    return depth


@cites("green_ampt1911")
def ponding_h(ksat_mm_h: float, suction_mm: float, deficit: float, rain_mm_h: float) -> float:
    """Return the hours of steady rain until water stands; inf when all of it soaks in."""
    if rain_mm_h <= ksat_mm_h:
        return math.inf
    return ksat_mm_h * suction_mm * deficit / (rain_mm_h * (rain_mm_h - ksat_mm_h))
