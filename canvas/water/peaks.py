"""Peak flow of a small catchment by several methods, and the range between them."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from canvas.base import resources
from canvas.base.errors import InputError
from canvas.base.sources import cites
from canvas.water.runoff import initial_loss_mm, runoff_mm
from canvas.water.storms import TYPES


@dataclass(frozen=True, slots=True)
class Peak:
    """A peak flow and how it was found."""

    flow_m3s: float
    method: str
    source: str
    #: Where the method was used outside what it was made for; "" when not.
    remark: str = ""


@dataclass(frozen=True, slots=True)
class PeakRange:
    """Peaks by several methods: the spread is part of the answer."""

    peaks: tuple[Peak, ...]

    @property
    def low_m3s(self) -> float:
        """The least of them."""
        return min(p.flow_m3s for p in self.peaks)

    @property
    def high_m3s(self) -> float:
        """The greatest of them: what a spillway is sized on."""
        return max(p.flow_m3s for p in self.peaks)


@cites("hec22")
def unit_peak(loss_ratio: float, tc_h: float, kind: str) -> float:
    """Return the unit peak of the graphical method [m³/s per km² and mm].

    `loss_ratio`: initial loss over rain, held to 0.1 to 0.5 as the source asks; coefficients are
    interpolated between its rows.
    """
    if kind not in TYPES:
        raise InputError(f"storm types are {', '.join(TYPES)}, got {kind!r}")
    rows = np.asarray(resources.toml("storms.toml")["peak"][kind], float)
    ratio = min(max(loss_ratio, 0.1), 0.5)
    c0, c1, c2 = (float(np.interp(ratio, rows[:, 0], rows[:, i])) for i in (1, 2, 3))
    log = math.log10(tc_h)
    return float(0.000431 * 10.0 ** (c0 + c1 * log + c2 * log * log))


@cites("hec22")
def pond_factor(pond_share: float) -> float:
    """Return the factor for ponds and swamps spread over the catchment (share of its area)."""
    table = np.asarray(resources.toml("storms.toml")["peak"]["ponds"], float)
    return float(np.interp(100.0 * pond_share, table[:, 0], table[:, 1]))


@cites("hec22", "ponce_tr55")
def graphical_peak(
    area_m2: float,
    rain_24h_mm: float,
    cn: float,
    tc_h: float,
    kind: str,
    *,
    pond_share: float = 0.0,
    runoff: float | None = None,
) -> Peak:
    """Return the peak by the graphical method.

    `runoff` [mm], when given, stands for the runoff of the curve number: the sum over unlike
    patches is right where one number would not be.
    """
    if not (area_m2 > 0.0 and rain_24h_mm > 0.0 and tc_h > 0.0):
        raise InputError("a peak needs an area, rain and a time of concentration")
    depth = float(runoff_mm(rain_24h_mm, cn)) if runoff is None else runoff
    ratio = float(initial_loss_mm(cn)) / rain_24h_mm
    held = min(max(tc_h, 0.1), 10.0)
    flow = unit_peak(ratio, held, kind) * area_m2 / 1e6 * depth * pond_factor(pond_share)
    notes = []
    if cn < 40.0:
        notes.append("curve number below 40")
    if held != tc_h:
        notes.append("time of concentration held to 0.1 to 10 h")
    if depth < 12.7:
        notes.append("runoff under 13 mm: less certain")
    return Peak(flow, f"graphical, storm type {kind}", "hec22", "; ".join(notes))


#: Factor on the runoff coefficient by return period [years].
_RARE = ((0.0, 1.0), (25.0, 1.1), (50.0, 1.2), (100.0, 1.25))


def rational_coefficient(cover: str, slope: float, soil: int) -> float:
    """Return the runoff coefficient of woods, pasture or cultivated land.

    `slope` as a ratio picks flat (to 5 %), rolling (to 10 %) or hilly; `soil`: 0 sandy loam, 1 clay
    or silt loam, 2 tight clay.
    """
    table = resources.toml("storms.toml")["rational"]
    if cover not in ("woods", "pasture", "cultivated") or soil not in (0, 1, 2):
        raise InputError(f"no runoff coefficient for {cover!r}, soil {soil}")
    lie = "flat" if slope <= 0.05 else "rolling" if slope <= 0.10 else "hilly"
    return float(table[cover][lie][soil])


def weighted_coefficient(parts: Iterable[tuple[float, float]]) -> float:
    """Return the area-weighted coefficient of (area, coefficient) pairs."""
    listed = list(parts)
    return sum(a * c for a, c in listed) / sum(a for a, _ in listed)


@cites("hec22")
def rational_peak(
    coefficient: float, rain_mm_h: float, area_m2: float, return_years: float = 10.0
) -> Peak:
    """Return the peak by the rational method; rain is the intensity over the time of concentration.

    Rare storms raise the coefficient, to 1 at most; for up to 80 ha.
    """
    if not (0.0 < coefficient <= 1.0 and rain_mm_h >= 0.0 and area_m2 > 0.0):
        raise InputError("a coefficient up to 1, rain and an area are needed")
    factor = [f for years, f in _RARE if return_years >= years][-1]
    flow = min(coefficient * factor, 1.0) * rain_mm_h / 3.6e6 * area_m2
    remark = "over 80 ha: outside the method" if area_m2 > 800_000.0 else ""
    return Peak(flow, "rational", "hec22", remark)
