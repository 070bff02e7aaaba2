"""Time of concentration along the longest way water takes to a place."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from shapely import LineString

from canvas.base.grid import Floats
from canvas.base.sources import cites
from canvas.ground.flood import Longs
from canvas.ground.flow import Flow
from canvas.study.storm.cover import CoverMap, Ground
from canvas.water.concentration import (
    LEAST_H,
    kirpich_h,
    shallow_factors,
    shallow_speed,
    sheet_by_table_h,
    sheet_roughness,
    travel_h,
)

#: A sheet gathers into rills within so far [m]; from memory of current practice.
SHEET_M = 30.0
#: Shallow flow becomes a channel once so much drains through [m²]; common practice, no source.
CHANNEL_M2 = 20_000.0
#: A small gully in flood: hydraulic radius [m] and roughness; common practice, no source.
GULLY_RADIUS_M, GULLY_N = 0.2, 0.05
#: Slopes are taken no gentler: level stretches of the filled ground would hold water for ever.
LEAST_SLOPE = 0.002

#: Roughness of a sheet and factor of shallow flow by cover, in the words of their tables.
SHEET_OF = {
    "woods": "woods, light undergrowth", "brush": "dense grass", "orchard": "short grass",
    "meadow": "dense grass", "pasture": "short grass", "lawn": "short grass", "bare": "bare fallow",
    "row_crop": "cultivated, little residue", "row_crop_contour": "cultivated, little residue",
    "row_crop_terraced": "cultivated, much residue",
    "small_grain_contour": "cultivated, much residue", "paved": "smooth asphalt",
    "gravel_road": "bare fallow", "dirt_road": "bare fallow", "paved_road": "smooth asphalt",
    "water": "smooth asphalt",
}  # fmt: skip
_SHALLOW = {
    "woods": "woods, trash fallow", "brush": "short-grass pasture", "meadow":
    "forest litter, hay meadow", "bare": "bare soil", "row_crop": "cultivated, straight rows",
    "paved": "paved, small gullies", "paved_road": "paved, small gullies", "gravel_road": "unpaved",
    "dirt_road": "unpaved", "water": "paved, small gullies",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Stretch:
    """One part of the way: a sheet, shallow flow or a channel."""

    kind: str
    length_m: float
    slope: float
    hours: float


@dataclass(frozen=True, slots=True, eq=False)
class Travel:
    """How long water needs from the farthest place."""

    line: LineString
    stretches: tuple[Stretch, ...]
    #: Not less than the least any method is used with.
    hours: float
    #: The same by the length and fall of the whole way, to compare with.
    kirpich_hours: float

    @property
    def length_m(self) -> float:
        """Length of the way, from cell to cell."""
        return sum(each.length_m for each in self.stretches)

    def said(self) -> str:
        """Return the stretches in words."""
        return ", ".join(f"{each.kind} {each.length_m:.0f} m" for each in self.stretches)


@cites("hec22")
def travel(
    flow: Flow, cover: CoverMap, cells: Longs, run_m: Floats, intensity: Callable[[float], float]
) -> Travel:
    """Return the time along a way of flat cells from its top; `intensity` [mm/h] by minutes."""
    z = flow.filled.z.ravel()[cells]
    drained = flow.count.ravel()[cells] * flow.ground.cell_m**2
    total = float(run_m[-1])
    sheet_end = min(SHEET_M, total)
    deep = np.flatnonzero(drained >= CHANNEL_M2)
    channel = max(float(run_m[deep[0]]), sheet_end) if len(deep) else total
    what = Ground.of(int(cover.code.ravel()[cells[0]])).cover
    middle = int(np.searchsorted(run_m, (sheet_end + channel) / 2).clip(0, len(cells) - 1))
    below = Ground.of(int(cover.code.ravel()[cells[middle]])).cover
    found = []
    for kind, start, end in (
        ("sheet", 0.0, sheet_end),
        ("shallow", sheet_end, channel),
        ("channel", channel, total),
    ):
        length = end - start
        if length <= 0.0:
            continue
        fall = float(np.interp(start, run_m, z) - np.interp(end, run_m, z))
        slope = max(fall / length, LEAST_SLOPE)
        hours = _hours(kind, length, slope, what if kind == "sheet" else below, intensity)
        found.append(Stretch(kind, length, slope, hours))
    mean_slope = max(float(z[0] - z[-1]) / total, LEAST_SLOPE) if total > 0 else 1.0
    cols = flow.ground.shape[1]
    row, col = np.divmod(cells, cols)
    xy = np.column_stack((flow.ground.x_m()[col], flow.ground.y_m()[row]))
    line = LineString(xy if len(xy) > 1 else np.vstack((xy, xy + 1e-6)))
    hours = max(sum(each.hours for each in found), LEAST_H)
    kirpich = max(kirpich_h(total, mean_slope), LEAST_H) if total > 0 else LEAST_H
    return Travel(line, tuple(found), hours, kirpich)


def _hours(
    kind: str, length_m: float, slope: float, cover: str, intensity: Callable[[float], float]
) -> float:
    if kind == "sheet":
        rough = sheet_roughness()[SHEET_OF.get(cover, "natural range")]
        return sheet_by_table_h(rough, length_m, slope, lambda m: max(intensity(m), 0.1))
    if kind == "shallow":
        factor = shallow_factors()[_SHALLOW.get(cover, "short-grass pasture")]
        return travel_h(length_m, shallow_speed(factor, slope))
    speed = GULLY_RADIUS_M ** (2.0 / 3.0) * math.sqrt(slope) / GULLY_N
    return travel_h(length_m, speed)
