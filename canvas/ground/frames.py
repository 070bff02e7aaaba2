"""Cells of an earthwork's own size, and how each lies to its line or outline."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon

from canvas.base.errors import InputError
from canvas.base.grid import Bounds, Floats, Grid
from canvas.ground import earth_kernels as kernels
from canvas.ground.profile import Sampled

#: Least cells across an earthwork's section, so that its shape is there to be measured.
CELLS_ACROSS = 8
#: A patch of more cells than this is taken with larger ones.
MOST_CELLS = 4_000_000


class Standing(Sampled, Protocol):
    """Ground an earthwork can be built on: a grid, or the ground with earlier works on it."""

    @property
    def bounds(self) -> Bounds:
        """Return west, south, east, north of what is known."""

    def cells(self, bounds: Bounds, parts: int) -> Grid:
        """Return heights on cells of 1/`parts` of its own; see `lattice`."""


#: The survey alone, or the ground with earlier works on it.
AnyGround = Grid | Standing


def cells_of(ground: AnyGround, bounds: Bounds, parts: int) -> Grid:
    """Return the ground's heights on finer cells, earlier works at their own detail."""
    if isinstance(ground, Grid):
        return lattice(ground, bounds, parts)
    return ground.cells(bounds, parts)


def finer_by(base: Sampled, across_m: float, cells: int = CELLS_ACROSS) -> int:
    """Return into how many a base cell's side is parted for a section `across_m` wide."""
    if not across_m > 0:
        raise InputError(f"a section needs a width, got {across_m}")
    return max(math.ceil(base.cell_m * cells / across_m - 1e-9), 1)


def lattice(base: Grid, bounds: Bounds, parts: int) -> Grid:
    """Return cells of 1/`parts` of the base's over the base cells that touch `bounds`.

    They nest in the base's cells and carry the base's heights, bilinear. Outside the base there
    are none. Too many cells are refused by taking fewer parts.
    """
    window = base.window(bounds)
    rows, cols = window.shape
    while parts > 1 and rows * cols * parts**2 > MOST_CELLS:
        parts -= 1
    if parts == 1:
        return window.like(window.z.copy())
    return on_cells(base, window.west_m, window.north_m, base.cell_m / parts, rows, cols, parts)


def on_cells(
    base: Grid, west_m: float, north_m: float, cell_m: float, rows: int, cols: int, parts: int = 1
) -> Grid:
    """Return a grid's heights on `rows` x `cols` blocks of `parts` x `parts` other cells."""
    out = np.empty((rows * parts, cols * parts))
    z = np.ascontiguousarray(base.z, dtype=np.float64)
    kernels.resample(z, base.west_m, base.north_m, base.cell_m, west_m, north_m, cell_m, out)
    return Grid(out, west_m, north_m, cell_m)


def like_cells(base: Grid, cells: Grid) -> Grid:
    """Return a grid's heights at the centres of another's cells, bilinear."""
    rows, cols = cells.shape
    return on_cells(base, cells.west_m, cells.north_m, cells.cell_m, rows, cols)


@dataclass(frozen=True, slots=True, eq=False)
class LineFrame:
    """How cells lie to a line; all (rows, cols)."""

    #: Distance of the nearest place from the line's start.
    along_m: Floats
    #: Distance from the line, + to the right of its direction; infinite beyond reach.
    aside_m: Floats
    #: How far beyond an end; 0 beside the line.
    past_m: Floats

    def clipped(self, ends: bool) -> Floats:
        """Return `aside_m`, infinite beyond the line's ends unless `ends` are to be rounded."""
        return self.aside_m if ends else np.where(self.past_m > 0, np.inf, self.aside_m)


def line_points(line: LineString) -> tuple[Floats, Floats]:
    """Return a line's points without repeats, (n, 2), and their distances along it, (n,)."""
    xy = np.ascontiguousarray(shapely.get_coordinates(line), dtype=np.float64)
    steps = np.hypot(*np.diff(xy, axis=0).T) if len(xy) > 1 else np.zeros(0)
    xy = np.ascontiguousarray(xy[np.concatenate(([True], steps > 1e-9))]) if len(xy) else xy
    if len(xy) < 2:
        raise InputError("a line needs some length")
    run = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))))
    return xy, run


def frame_of_line(cells: Grid, line: LineString, reach_m: float) -> LineFrame:
    """Return how cells within `reach_m` of a line lie to it."""
    xy, run = line_points(line)
    along, aside, past = np.zeros(cells.shape), np.full(cells.shape, np.inf), np.zeros(cells.shape)
    kernels.line_frame(
        xy, run, cells.west_m, cells.north_m, cells.cell_m, reach_m, along, aside, past
    )
    return LineFrame(along, aside, past)


@dataclass(frozen=True, slots=True, eq=False)
class OutlineFrame:
    """How cells lie to an outline; all (rows, cols)."""

    #: Distance to the outline, − inside.
    outside_m: Floats
    #: The nearest point of the outline.
    near_x_m: Floats
    near_y_m: Floats
    #: Which edge it lies on: the i-th side of the outer ring, then of the inner rings.
    edge: NDArray[np.int32]


def frame_of_outline(cells: Grid, outline: Polygon) -> OutlineFrame:
    """Return how cells lie to an outline."""
    if outline.is_empty or not outline.area > 0:
        raise InputError("an outline needs some area")
    parts = []
    for ring in shapely.get_rings(outline):
        xy = shapely.get_coordinates(ring)
        parts.append(np.column_stack((xy[:-1], xy[1:])))
    outside, near_x, near_y = (np.empty(cells.shape) for _ in range(3))
    edge = np.empty(cells.shape, np.int32)
    kernels.outline_frame(
        np.ascontiguousarray(np.vstack(parts), dtype=np.float64),
        cells.west_m,
        cells.north_m,
        cells.cell_m,
        outside,
        near_x,
        near_y,
        edge,
    )
    return OutlineFrame(outside, near_x, near_y, edge)


def wider(bounds: Bounds, by_m: float) -> Bounds:
    """Return bounds grown on all sides."""
    west, south, east, north = bounds
    return west - by_m, south - by_m, east + by_m, north + by_m
