"""Where water runs: hollows and the filled surface, flow directions, how much lies uphill."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from canvas.base.errors import InputError
from canvas.base.grid import Floats, Grid
from canvas.base.progress import Progress, silent
from canvas.base.sources import cites
from canvas.ground import drain_kernels as drains
from canvas.ground import flow_kernels as kernels
from canvas.ground.faces import Faces
from canvas.ground.flood import Bytes, Flood, Ints, Levels, steps_of

Flags = NDArray[np.bool_]

#: The direction of a cell whose water leaves the data there, and that of a cell without data.
LEAVES, VOID = int(kernels.LEAVES), int(kernels.VOID)
#: More cells than this cannot be numbered in 32 bits with the deferred ones of the flood.
MOST_CELLS = 400_000_000


@dataclass(frozen=True, slots=True)
class Hollow:
    """Ground that holds water before it spills."""

    level_m: float
    #: Greatest depth of water when full.
    depth_m: float
    area_m2: float
    volume_m3: float
    #: The first cell outside it on the water's way out: row, col.
    spill: tuple[int, int]
    deepest: tuple[int, int]
    #: It spills over the data's edge, where ground beyond may hold more: figures are "at least".
    at_edge: bool


@dataclass(frozen=True, slots=True, eq=False)
class Hollows:
    """All hollows of a ground, as columns: hollow `i` has the number `i + 1` in `number`."""

    level_m: Floats
    depth_m: Floats
    area_m2: Floats
    volume_m3: Floats
    #: Row and column, shape (hollows, 2).
    spill: NDArray[np.int64]
    deepest: NDArray[np.int64]
    at_edge: Flags
    #: Which hollow each cell lies in, 0 for none: shape (rows, cols).
    number: Ints

    def __len__(self) -> int:
        return len(self.level_m)

    def __getitem__(self, i: int) -> Hollow:
        row, col = self.spill[i]
        low_row, low_col = self.deepest[i]
        return Hollow(
            float(self.level_m[i]),
            float(self.depth_m[i]),
            float(self.area_m2[i]),
            float(self.volume_m3[i]),
            (int(row), int(col)),
            (int(low_row), int(low_col)),
            bool(self.at_edge[i]),
        )

    def __iter__(self) -> Iterator[Hollow]:
        for i in range(len(self)):
            yield self[i]

    def worth(self, depth_m: float = 0.0, area_m2: float = 0.0) -> NDArray[np.int64]:
        """Return the indices of hollows at least so deep and wide, the most water first."""
        enough = np.flatnonzero((self.depth_m >= depth_m) & (self.area_m2 >= area_m2))
        return enough[np.argsort(-self.volume_m3[enough], kind="stable")]


@dataclass(frozen=True, slots=True, eq=False)
class Flow:
    """The flow over a ground. All arrays have the ground's shape unless said otherwise."""

    ground: Grid
    #: The ground with every hollow filled to its level.
    filled: Grid
    hollows: Hollows
    #: 0 to 7 clockwise from north, `LEAVES` where water leaves the data, `VOID` for no data.
    way: Bytes
    #: Cells that drain through each cell, itself included; 0 for no data.
    count: Ints
    #: Cells at the data's edge: ground beyond them is unknown.
    edge: Flags
    #: Cells whose catchment touches the data's edge: its area and all reckoned from it are "at
    #: least".
    at_least: Flags
    #: Flat cell numbers so lined up that each catchment is one stretch, the outlet first.
    order: Ints
    #: Where each cell stands in `order`; -1 for no data.
    place: Ints
    levels: Levels

    def area_m2(self) -> Grid:
        """Return the plan area that drains through each cell, itself included."""
        cell = self.ground.cell_m**2
        return self.ground.like(np.where(self.count > 0, self.count * cell, np.nan))

    def depth_m(self) -> Grid:
        """Return how deep water can stand: the filled surface less the ground."""
        return self.ground.like(self.filled.z - self.ground.z)

    def pass_down(self, amount: Grid) -> Grid:
        """Return, for each cell, the sum of an amount over its catchment; no data counts as none.

        For runoff: the depth that runs off each cell times the cell's area gives the volume that
        comes through every cell.
        """
        if amount.shape != self.ground.shape:
            raise InputError(f"amounts of {amount.shape} on a ground of {self.ground.shape}")
        total = np.where(np.isfinite(amount.z), amount.z, 0.0)
        steps = steps_of(self.ground.shape[1])
        drains.pass_down(self.way.ravel(), steps, self.order, total.ravel())
        total[self.count == 0] = np.nan
        return self.ground.like(total)


@cites("barnes2014", "zhou2016", "barnes_flats2014", "ocallaghan_mark1984")
def flow(ground: Grid, faces: Faces | None = None, progress: Progress = silent) -> Flow:
    """Return where water runs over a ground.

    Hollows fill from the data's edge inwards (priority-flood), so water leaves only there. A cell
    drains to the neighbour it falls to most steeply on the filled surface; within a hollow down
    the bed to its deepest place and on by the lowest way to the spill; over level ground away from
    rises and towards the nearest exit. `faces` hold levels on the links between cells: a link is
    passed only by water that stands at least that high. Heights are told apart to 2^-32 of the
    ground's range. Raises `InputError` on a ground without cells or too large, or faces of another
    shape.
    """
    z = np.ascontiguousarray(ground.z, dtype=np.float64)
    if z.size == 0 or z.size > MOST_CELLS:
        raise InputError(f"flow needs 1 to {MOST_CELLS} cells, got {z.size}")
    if faces is not None and faces.shape != z.shape:
        raise InputError(f"faces of {faces.shape} on a ground of {z.shape}")
    progress(0.0, "Filling hollows")
    flood = Flood(z, faces if faces is not None and faces.any else None)
    flood.fill()
    progress(0.6, "Flow directions")
    flood.direct()
    progress(0.8, "Adding up catchments")
    way = np.ascontiguousarray(flood.inner(flood.way))
    edge = np.ascontiguousarray(flood.inner(flood.edge)).view(np.bool_)
    count, place = np.empty(z.shape, np.int32), np.empty(z.shape, np.int32)
    order = np.empty(int(np.count_nonzero(way != VOID)), np.int32)
    beyond = edge.view(np.uint8).copy()
    drains.accumulate(
        *(way.ravel(), steps_of(z.shape[1]), count.ravel(), beyond.ravel()), *(order, place.ravel())
    )
    hollows = _hollows(flood, ground.cell_m, edge)
    filled = ground.like(flood.filled(hollows.level_m))
    progress(1.0)
    at_least, levels = beyond.view(np.bool_), flood.levels()
    return Flow(ground, filled, hollows, way, count, edge, at_least, order, place, levels)


def _hollows(flood: Flood, cell_m: float, edge: Flags) -> Hollows:
    """Turn the flood's lakes into measured hollows."""
    lakes, area = flood.lakes, cell_m**2
    spill, deepest = flood.cells(lakes.spill), flood.cells(lakes.deepest)
    return Hollows(
        level_m=lakes.level_m,
        depth_m=lakes.level_m - flood.z[deepest[:, 0], deepest[:, 1]],
        area_m2=lakes.count.astype(np.float64) * area,
        volume_m3=lakes.depths_m * area,
        spill=spill,
        deepest=deepest,
        at_edge=edge[spill[:, 0], spill[:, 1]],
        number=flood.inner(flood.label),
    )
