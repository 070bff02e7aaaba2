"""The bank carried round a channel's end, and on uphill until the ground stands as high."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import LineString

from canvas.base.grid import Floats, Grid
from canvas.ground import earth_kernels as kernels
from canvas.ground.bank import Works
from canvas.ground.crosssection import FREE_M, bound, run_out
from canvas.ground.frames import AnyGround, frame_of_line, line_points
from canvas.ground.patch import Shaper

#: A wing this long that hasn't met the hill is given up [m].
LONGEST_M = 40.0


@dataclass(frozen=True, slots=True)
class Wing:
    """One return of a bank: straight uphill from just beyond the channel's end."""

    line: LineString
    crest_m: float
    #: The wet side is on the line's left.
    wet_left: bool
    #: It reaches ground as high as its crest.
    meets: bool


def wings(
    ground: AnyGround, line: LineString, lip_m: Floats, works: Works, right: bool
) -> tuple[Wing | None, Wing | None]:
    """Return the wings at a line's start and end; None for an open end.

    `right` tells the bank's side; the wings run to the other, the hill's.
    """
    xy, _ = line_points(line)
    found: list[Wing | None] = []
    for last, closed in zip((False, True), works.end_blocks, strict=True):
        if not closed:
            found.append(None)
            continue
        leg = xy[-1] - xy[-2] if last else xy[1] - xy[0]
        leg = leg / np.hypot(leg[0], leg[1])
        uphill = np.array([-leg[1], leg[0]]) * (1.0 if right else -1.0)
        out = leg if last else -leg
        start = (xy[-1] if last else xy[0]) + out * works.crest_m
        crest = float(lip_m[-1] if last else lip_m[0]) + works.bank.height_m
        step = ground.cell_m / 4
        far = np.arange(0.0, LONGEST_M, step)
        way = start + far[:, None] * uphill
        z = ground.sample(way[:, 0], way[:, 1])
        high = np.flatnonzero(z >= crest)
        reach = float(far[high[0]]) + step if len(high) else LONGEST_M
        end = start + uphill * max(reach, step)
        found.append(Wing(LineString([start, end]), crest, last == right, bool(len(high))))
    return found[0], found[1]


def raise_wing(shaper: Shaper, wing: Wing, works: Works, reach_m: float) -> None:
    """Raise a shaper's bounds to a wing, save where the channel itself is shaped."""
    whole: Grid = shaper.ground
    west, south, east, north = wing.line.bounds
    cells = whole.window((west - reach_m, south - reach_m, east + reach_m, north + reach_m))
    row = round((whole.north_m - cells.north_m) / whole.cell_m)
    col = round((cells.west_m - whole.west_m) / whole.cell_m)
    part = slice(row, row + cells.shape[0]), slice(col, col + cells.shape[1])
    frame = frame_of_line(cells, wing.line, reach_m)
    bank, half = works.bank, works.bank.top_m / 2
    left, right = (bank.inner, bank.outer) if wing.wet_left else (bank.outer, bank.inner)
    table = bound(
        [
            run_out(-half, 0.0, -1 / max(left, 0.02), -1),
            (-half, 0.0),
            (half, 0.0),
            run_out(half, 0.0, -1 / max(right, 0.02), 1),
        ]
    )
    top = np.full(cells.shape, float(wing.crest_m))
    low = np.empty(cells.shape)
    kernels.add_table(frame.aside_m, table, top, low)
    own_low, own_high = shaper.low[part], shaper.high[part]
    low[shaper.core[part]] = np.nan
    here = ~np.isnan(low)
    own_low[here] = np.fmax(own_low[here], low[here])
    high = np.where(np.isnan(own_high[here]), FREE_M, own_high[here])
    own_high[here] = np.maximum(high, own_low[here])
