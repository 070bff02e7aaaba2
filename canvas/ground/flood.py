"""One flood of a ground: the work arrays around the flow kernels, and what they leave behind."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from canvas.base.grid import Floats
from canvas.base.pool import over_rows
from canvas.ground import drain_kernels as drains
from canvas.ground import flow_kernels as kernels
from canvas.ground import step_kernels as scales
from canvas.ground.faces import Faces

Bytes = NDArray[np.uint8]
Ints = NDArray[np.int32]
Longs = NDArray[np.int64]
Steps = NDArray[np.uint32]
Number = TypeVar("Number", bound=np.generic)

#: Row and column steps of the eight directions, clockwise from north.
ROW_STEP = np.array([-1, -1, 0, 1, 1, 1, 0, -1])
COL_STEP = np.array([0, 1, 1, 1, 0, -1, -1, -1])
#: Whole steps the heights of a ground are told apart by: under 0.03 µm for a hill of 100 m.
_STEPS = 2.0**32 - 16
#: The finest step [m]: flat ground has no range to take it from.
_FINEST = 2.0**-60


def steps_of(width: int) -> Longs:
    """Return how far the eight neighbours are in a flat array of rows `width` long."""
    return np.asarray(ROW_STEP * width + COL_STEP, np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class Levels:
    """The water's levels as the kernels hold them: rimmed, flat, in whole steps."""

    water: Steps
    #: A bit for each direction water cannot pass because a link is held above it; empty if none.
    shut: Bytes
    step_m: float


@dataclass(frozen=True, slots=True, eq=False)
class Lakes:
    """What the flood filled, as columns; cells are numbers in the rimmed arrays."""

    level_m: Floats
    spill: Steps
    deepest: Steps
    count: Steps
    #: Sum of the cells' depths.
    depths_m: Floats


@dataclass(frozen=True, slots=True)
class _Scale:
    """Heights to whole steps and back."""

    base_m: float
    step_m: float

    @classmethod
    def over(cls, low_m: float, high_m: float) -> _Scale:
        """Return the finest power of two that tells a range of heights apart."""
        span = high_m - low_m
        step = max(2.0 ** math.ceil(math.log2(span / _STEPS)), _FINEST) if span > 0 else _FINEST
        return cls(math.floor(low_m / step) * step, step)

    def held(self, levels_m: Floats) -> Steps:
        """Return held levels in steps: what lies below all ground holds nothing."""
        steps = np.rint((levels_m - self.base_m) / self.step_m) + float(scales.LOWEST)
        return np.where(steps > float(scales.LOWEST), steps, 0.0).astype(np.uint32)

    def metres(self, steps: Steps) -> Floats:
        """Return levels in steps as heights."""
        return self.base_m + (steps.astype(np.float64) - float(scales.LOWEST)) * self.step_m


class Flood:
    """The arrays of one run, rimmed by one cell and flat, filled step by step.

    `z` are the heights (contiguous), `faces` the held links, if any.
    """

    def __init__(self, z: Floats, faces: Faces | None) -> None:
        self.z = z
        self.shape = (z.shape[0], z.shape[1])
        self.width = z.shape[1] + 2
        self.size = (z.shape[0] + 2) * self.width
        # Unsigned on purpose: sums wrap round, and the compiler need not test for negative indices.
        self.steps = steps_of(self.width).view(np.uint64)
        self.scale = self._range(faces)
        self.raw, self.water = self._rimmed(np.uint32), self._rimmed(np.uint32)
        self.back, self.way = self._rimmed(np.uint8), self._rimmed(np.uint8)
        self.edge = np.zeros(self.size, np.uint8)
        self.label = np.zeros(self.size, np.int32)
        base, per_step = self.scale.base_m, 1.0 / self.scale.step_m

        def quantise(first: int, end: int) -> None:
            scales.quantise_rows(z, base, per_step, first, end, self.raw, self.water)

        def mark(first: int, end: int) -> None:
            scales.edge_rows(self.raw, z.shape[1], first, end, self.edge, self.back)

        over_rows(self.shape, quantise)
        over_rows(self.shape, mark)
        self._hold(faces)
        self.shut = np.zeros(self.size if faces is not None else 0, np.uint8)
        self.lakes: Lakes

    def _range(self, faces: Faces | None) -> _Scale:
        ends = np.empty((self.shape[0], 2))
        over_rows(self.shape, lambda first, end: scales.range_rows(self.z, first, end, ends))
        low, high = float(ends[:, 0].min()), float(ends[:, 1].max())
        if faces is not None:
            high = max(high, faces.east_m.max(initial=-np.inf), faces.south_m.max(initial=-np.inf))
        return _Scale.over(low, high) if low <= high < np.inf else _Scale(0.0, 1.0)

    def _rimmed(self, kind: type[Number]) -> NDArray[Number]:
        """Return an array of which the rim alone is set: higher than any cell, without data."""
        out = np.empty((self.shape[0] + 2, self.width), kind)
        rim = np.iinfo(kind).max  # type: ignore[type-var]
        out[0], out[-1], out[:, 0], out[:, -1] = rim, rim, rim, rim
        return out.ravel()

    def inner(self, rimmed: NDArray[Number]) -> NDArray[Number]:
        """Return a rimmed array as rows and columns without its rim; a view."""
        return rimmed.reshape(-1, self.width)[1:-1, 1:-1]

    def cells(self, numbers: Steps) -> Longs:
        """Return the row and column of cells numbered in the rimmed arrays, shape (n, 2)."""
        at = numbers.astype(np.int64)
        return np.column_stack((at // self.width - 1, at % self.width - 1))

    def _hold(self, faces: Faces | None) -> None:
        """Lay held links out on the rimmed arrays and list the cells they touch."""
        if faces is None:
            self.held = (np.zeros(0, np.uint8), np.zeros(0, np.uint32), np.zeros(0, np.uint32))
            self.near = np.zeros(0, np.uint32)
            return
        east, south = np.zeros(self.size, np.uint32), np.zeros(self.size, np.uint32)
        self.inner(east)[:, :-1] = self.scale.held(faces.east_m)
        self.inner(south)[:-1] = self.scale.held(faces.south_m)
        near = np.zeros(self.size, np.uint8)
        # A held link bears on the two cells it joins and, by the diagonals, on those beside them.
        for link, along, across in ((east, 1, self.width), (south, self.width, 1)):
            at = np.flatnonzero(link)
            for cell in (at, at + along):
                for beside in (-across, 0, across):
                    near[cell + beside] = 1
        self.held, self.near = (near, east, south), np.flatnonzero(near).astype(np.uint32)

    def fill(self) -> None:
        """Raise the water in every hollow to where it spills."""
        rows, cols = self.shape
        most = rows * cols if len(self.near) else ((rows + 1) // 2) * ((cols + 1) // 2)
        cells = (np.empty(rows * cols, np.uint32) for _ in range(3))
        heaps = (np.empty(rows * cols + 8 * len(self.near), np.uint64), np.empty(most * 4, "u8"))
        deferred = np.empty((8 * len(self.near), 2), np.uint32)
        trace, equal, raised = cells
        work = (heaps[0], trace, equal, raised, heaps[1], deferred, np.zeros(7, np.int64))
        level, spill, deepest, count = (np.empty(most, np.uint32) for _ in range(4))
        rim, total = np.empty(most, np.int32), np.empty(most, np.uint64)
        land = (self.raw, self.water, self.back, self.label, self.steps)
        lake = (level, spill, deepest, count, rim, total)
        n = kernels.fill(land, self.held, work, lake, self.edge)
        level_m, by_cell = self.scale.metres(level[:n]), rim[:n] >= 0
        at = self.cells(rim[:n][by_cell].astype(np.uint32))
        level_m[by_cell] = self.z[at[:, 0], at[:, 1]]
        depths = total[:n].astype(np.float64) * self.scale.step_m
        self.lakes = Lakes(level_m, spill[:n].copy(), deepest[:n].copy(), count[:n].copy(), depths)

    def direct(self) -> None:
        """Give every cell its direction."""

        def steepest(first: int, end: int) -> None:
            kernels.steepest_rows(self.water, self.edge, self.shape[1], first, end, self.way)

        over_rows(self.shape, steepest)
        if len(self.near):
            kernels.steepest_held(
                self.water, self.held, self.edge, self.steps, self.near, self.way, self.shut
            )
        cells = np.empty(self.z.size, np.uint32)
        count = drains.list_level(self.raw, self.water, self.back, self.way, cells)
        if count:
            level, queue, rank = cells[:count], np.empty(count, "u4"), np.zeros(self.size, "i4")
            drains.cross_level(
                *(self.raw, self.water, self.back, self.shut, self.steps),
                *(level, queue, rank, self.way),
            )

    def filled(self, level_m: Floats) -> Floats:
        """Return the filled surface [m], shape (rows, cols)."""
        out = np.empty_like(self.z)

        def work(first: int, end: int) -> None:
            scales.raise_rows(self.z, self.label, level_m, first, end, out)

        over_rows(self.shape, work)
        return out

    def levels(self) -> Levels:
        """Return the water's levels for later walks over the filled surface."""
        return Levels(self.water, self.shut, self.scale.step_m)
