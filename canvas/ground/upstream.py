"""Which of many places water comes to first, how far it runs to them, and by which way."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from canvas.base.errors import InputError
from canvas.base.grid import Floats
from canvas.ground import upstream_kernels as kernels
from canvas.ground.flood import Ints, Longs, steps_of
from canvas.ground.flow import Flow


@dataclass(frozen=True, slots=True, eq=False)
class Upstream:
    """The ground shared out among marked places: each cell belongs to the first one below it."""

    flow: Flow
    #: Marks of the places, from 1; 0 elsewhere: shape (rows, cols).
    marks: Ints
    #: The first mark each cell's water meets; 0 where it leaves the data without one.
    met: Ints
    #: Length of the way to it, from cell to cell [m].
    far_m: NDArray[np.float32]
    #: Flat cells that were looked at, outlets first.
    cells: Ints

    def farthest(self) -> Longs:
        """Return the flat cell from which water runs longest to each mark; -1 for none."""
        most = int(self.marks.max(initial=0))
        found = np.full(most + 1, -1, np.int64)
        kernels.farthest(self.cells, self.met.ravel(), self.far_m.ravel(), found)
        return found

    def way_from(self, cell: int) -> Longs:
        """Return the flat cells from one down to the first marked one or out of the data."""
        out = np.empty(len(self.cells) + 1, np.int64)
        steps = steps_of(self.flow.ground.shape[1])
        count = kernels.walk(self.flow.way.ravel(), steps, self.marks.ravel(), cell, out)
        return out[:count].copy()

    def run_m(self, cells: Longs) -> Floats:
        """Return the length run at each cell of a way, from its first [m]."""
        cols = self.flow.ground.shape[1]
        row, col = np.divmod(cells, cols)
        step = np.hypot(np.diff(row), np.diff(col)) * self.flow.ground.cell_m
        return np.concatenate(([0.0], np.cumsum(step)))


def upstream(flow: Flow, marks: Ints, cells: Ints | None = None) -> Upstream:
    """Share the ground out among marked cells.

    `marks`: numbers from 1, shape (rows, cols); water does not go on past a mark. `cells`: only
    these, whole catchments with outlets first (as `Catchment.cells` lists them); all when None.
    """
    if marks.shape != flow.ground.shape:
        raise InputError(f"marks of {marks.shape} on a ground of {flow.ground.shape}")
    order = flow.order if cells is None else np.ascontiguousarray(cells, np.int32)
    held = np.ascontiguousarray(marks, np.int32)
    met, far = np.zeros(marks.shape, np.int32), np.zeros(marks.shape, np.float32)
    steps = steps_of(flow.ground.shape[1])
    cell_m = flow.ground.cell_m
    kernels.first_met(
        flow.way.ravel(), steps, order, held.ravel(), cell_m, met.ravel(), far.ravel()
    )
    return Upstream(flow, held, met, far, order)
