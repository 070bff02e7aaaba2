"""How high the land stands all round every cell, and how much of the sky it leaves.

Heights of the horizon in evenly spaced directions are kept as 16-bit codes; every map of sun hours,
energy and sky view is read from them.
"""

from __future__ import annotations

import math
import os
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from canvas.base.errors import InputError
from canvas.base.grid import Floats, Grid
from canvas.base.pool import over_rows
from canvas.base.progress import Progress, silent
from canvas.base.sources import cites
from canvas.sky import kernels

Codes = NDArray[np.uint16]

#: Directions enough for terrain: a spot's sun hours come within 0.1 h of those from 360, a map's
#: within 0.06 h on average and 0.3 h in 99 of 100 cells (tested on real relief).
DIRECTIONS = 32
#: Entries of a table over horizon codes.
SHIFT = kernels.SHIFT
BINS = 65536 >> SHIFT
#: Ground known less far than this from the middle may hide hills that matter (measured on real
#: relief: 4 km misses 0.1° on average, 3.5° at worst, of what 8 km shows).
WANTED_REACH_M = 4000.0


def code_of(height_deg: Floats | float) -> Floats:
    """Return the code (0 to 65534, not rounded) of heights above level; nought below it."""
    height = np.clip(np.asarray(height_deg, dtype=np.float64), 0.0, 90.0)
    t = np.tan(np.radians(height))
    return np.asarray(np.where(height >= 90.0, 1.0, t / (1 + t)) * kernels.TOP)


def height_of(code: Codes | Floats) -> Floats:
    """Return the height above level [degrees] of horizon codes."""
    u = np.asarray(code, dtype=np.float64) / kernels.TOP
    return np.asarray(np.degrees(np.arctan2(u, 1 - u)))


@dataclass(frozen=True, slots=True, eq=False)
class Horizons:
    """The horizon of every cell of a grid."""

    #: Shape (directions, rows, cols); direction k looks to azimuth k x 360 / directions from GRID
    #: north. 65535 where there is no ground.
    codes: Codes
    west_m: float
    north_m: float
    cell_m: float
    #: How far from the middle of the grid ground was known, at the least [m].
    reach_m: float

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.codes.shape[1], self.codes.shape[2]

    @property
    def azimuths_deg(self) -> Floats:
        """Azimuths looked to, from grid north, shape (directions,)."""
        count = self.codes.shape[0]
        return np.asarray(np.arange(count) * 360.0 / count)

    @property
    def note(self) -> str:
        """What the reader must know about far ground; "" when enough of it was there."""
        if self.reach_m >= WANTED_REACH_M:
            return ""
        return f"ground is known {self.reach_m:.0f} m around; hills beyond may hide the sun longer"

    def like(self, z: Floats) -> Grid:
        """Return values on the cells."""
        return Grid(z, self.west_m, self.north_m, self.cell_m)

    def heights(self, direction: int) -> Grid:
        """Return the horizon's height [degrees] in one direction; NaN without ground."""
        codes = self.codes[direction]
        return self.like(np.where(codes == kernels.NO_DATA, np.nan, height_of(codes)))

    def profile(self, x_m: float, y_m: float) -> Floats | None:
        """Return the heights [degrees] all round the cell at a point, or None without one."""
        cell = self.like(self.codes[0].astype(np.float64)).cell_at(x_m, y_m)
        if cell is None or self.codes[0][cell] == kernels.NO_DATA:
            return None
        return height_of(self.codes[:, cell[0], cell[1]])


@dataclass(frozen=True, slots=True, eq=False)
class _Work:
    """Ground laid out for the sweeps: as it is and transposed, with the far ground."""

    grid: Grid
    plain: Floats
    turned: Floats
    far: Floats
    far_grid: Grid | None

    def sweep(self, azimuth_deg: float, codes: Codes) -> None:
        """Write the codes of one direction into an array of the grid's shape."""
        east, north = math.sin(math.radians(azimuth_deg)), math.cos(math.radians(azimuth_deg))
        # Rows fall to the south; lines run away from where we look.
        turned = abs(north) > abs(east)
        along, across = (-north, east) if turned else (east, -north)
        tilt = -across / abs(along)
        z = self.turned if turned else self.plain
        minors, majors = z.shape
        shift = (majors - 1) * tilt
        first, end = -math.floor(max(shift, 0.0) + 0.5), minors + math.ceil(max(-shift, 0.0)) + 1
        out = np.empty(z.shape, np.uint16) if turned else codes
        place = self._place(east, north)

        def work(low: int, high: int) -> None:
            kernels.sweep(
                z, along > 0, turned, tilt, self.grid.cell_m, self.far, place,
                first + low, first + high, out,
            )  # fmt: skip

        over_rows((end - first, majors), work)
        if turned:
            codes[...] = out.T

    def _place(self, east: float, north: float) -> Floats:
        if self.far_grid is None:
            return np.zeros(6)
        far, cell = self.far_grid, self.grid.cell_m
        row = (far.north_m - (self.grid.north_m - cell / 2)) / far.cell_m - 0.5
        col = (self.grid.west_m + cell / 2 - far.west_m) / far.cell_m - 0.5
        return np.array([row, col, cell / far.cell_m, -north, east, far.cell_m])


def _laid_out(ground: Grid, far: Grid | None) -> _Work:
    if far is not None and min(far.shape) < 2:
        far = None
    plain = np.ascontiguousarray(ground.z, dtype=np.float64)
    around = np.zeros((0, 0)) if far is None else np.ascontiguousarray(far.z, dtype=np.float64)
    return _Work(ground, plain, np.ascontiguousarray(plain.T), around, far)


def reach_m(ground: Grid, far: Grid | None = None) -> float:
    """Return how far from the middle of `ground` the nearest edge of what is known lies [m]."""
    west, south, east, north = ground.bounds
    x, y = (west + east) / 2, (south + north) / 2
    best = min(east - x, north - y)
    if far is not None:
        fw, fs, fe, fn = far.bounds
        best = max(best, min(x - fw, fe - x, y - fs, fn - y))
    return best


def horizons(
    ground: Grid,
    far: Grid | None = None,
    directions: int = DIRECTIONS,
    progress: Progress = silent,
) -> Horizons:
    """Return the horizon of every cell: the highest line of sight to the ground around.

    Each direction is swept along parallel lines with a convex hull of what was passed. `far` is
    coarser ground around the site (heights on the same datum, any cell size): each line takes
    its hull along from there. The Earth's round and the usual refraction are counted. Heights
    are those for an eye on the ground, at most half a cell beside the cell's middle, and never
    below level; at the edge of all that is known the slope is taken to go on. Trees and
    buildings are far too narrow for this: see `shade`.
    """
    if directions < 4:
        raise InputError(f"need at least 4 directions, got {directions}")
    work = _laid_out(ground, far)
    codes = np.empty((directions, *ground.shape), np.uint16)
    batch = 2 * (os.cpu_count() or 1)
    cells = ground.z.size

    for start in range(0, directions, batch):
        count = min(batch, directions - start)

        def some(first: int, end: int, start: int = start) -> None:
            for k in range(start + first, start + end):
                work.sweep(k * 360.0 / directions, codes[k])

        over_rows((count, cells), some)
        progress((start + count) / directions, "Looking round for the horizon")
    return Horizons(codes, ground.west_m, ground.north_m, ground.cell_m, reach_m(ground, far))


def terrain_shadow(
    ground: Grid, azimuth_deg: float, elevation_deg: float, far: Grid | None = None
) -> Grid:
    """Return where the land's own shadow lies for one sun: 1 in shadow, 0 in sun, NaN unknown.

    Azimuth from grid north. Everything is in shadow once the sun is down.
    """
    codes = np.empty(ground.shape, np.uint16)
    _laid_out(ground, far).sweep(azimuth_deg, codes)
    shadow = (codes >= code_of(elevation_deg)).astype(np.float64)
    shadow[codes == kernels.NO_DATA] = np.nan
    return ground.like(shadow)


def _facing(found: Horizons, slope: Grid, aspect: Grid) -> tuple[Floats, Floats]:
    shape = found.shape
    if slope.shape != shape or aspect.shape != shape:
        raise InputError(f"slope {slope.shape} and aspect {aspect.shape} need cells {shape}")
    return (
        np.ascontiguousarray(slope.z, dtype=np.float64),
        np.ascontiguousarray(aspect.z, dtype=np.float64),
    )


def summed_onto(found: Horizons, slope: Grid, aspect: Grid, table: Floats) -> Grid:
    """Return vectors looked up by direction and code, summed and taken along each normal.

    `table` has shape (3 x directions, BINS): parts to the east, then north, then up. `slope` is
    rise over run, `aspect` the downhill azimuth from grid north. NaN without ground.
    """
    s, a = _facing(found, slope, aspect)
    out = np.empty(s.shape)
    small = np.ascontiguousarray(table, dtype=np.float32)

    def work(first: int, end: int) -> None:
        kernels.sum_facing_rows(found.codes, s, a, small, first, end, out)

    over_rows(found.shape, work)
    return slope.like(out)


def summed(found: Horizons, table: Floats) -> Grid:
    """Return figures looked up by direction and code, shape (directions, BINS), summed."""
    out = np.empty(found.shape)
    small = np.ascontiguousarray(table, dtype=np.float32)

    def work(first: int, end: int) -> None:
        kernels.sum_rows(found.codes, small, first, end, out)

    over_rows(found.shape, work)
    return found.like(out)


def bin_heights() -> Floats:
    """Return the horizon heights [degrees] the entries of a table stand for, shape (BINS,)."""
    middle = np.minimum((np.arange(BINS) << SHIFT) + (1 << SHIFT) / 2, kernels.TOP)
    middle[0] = 0.0  # level ground is common, and means exactly that
    return height_of(middle)


def view_table(azimuths_deg: Floats) -> Floats:
    """Return the sky's light by direction and horizon, shape (3 x directions, BINS).

    East, north and up parts under a sky of brightness 1 / pi, for `summed_onto`.
    """
    count = azimuths_deg.size
    hidden = np.radians(90.0 - bin_heights())
    level = hidden - np.sin(hidden) * np.cos(hidden)
    azimuth = np.radians(azimuths_deg)[:, None]
    up = np.broadcast_to(np.sin(hidden) ** 2, (count, BINS))
    return np.concatenate((np.sin(azimuth) * level, np.cos(azimuth) * level, up)) / count


@cites("dozier_frew1990")
def sky_view(found: Horizons, slope: Grid, aspect: Grid) -> Grid:
    """Return the share of an evenly bright sky's light that reaches each cell's surface.

    The sky-view factor of Dozier & Frew: 1 on an open plain, (1 + cos slope) / 2 on an open
    slope, less under hills.
    """
    return summed_onto(found, slope, aspect, view_table(found.azimuths_deg))
