"""Standing water: the pool at a level on any ground, its depths, what it holds at each level."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import MultiPolygon

from canvas.base.errors import BadData
from canvas.base.grid import Floats, Grid
from canvas.ground import pond_kernels as kernels
from canvas.ground.patch import region

#: Levels a storage curve is drawn with.
LEVELS = 50
#: A pool of more cells than this has escaped: a dam's valley is smaller.
MOST_CELLS = 2_000_000


@dataclass(frozen=True, slots=True, eq=False)
class StageStorage:
    """What a pool holds at each level; arrays are (levels,), rising from its lowest place."""

    level_m: Floats
    area_m2: Floats
    volume_m3: Floats

    def volume_at(self, level_m: float) -> float:
        """Return the volume at a level; 0 below the lowest, as at the highest above it."""
        return float(np.interp(level_m, self.level_m, self.volume_m3))

    def area_at(self, level_m: float) -> float:
        """Return the water's area at a level."""
        return float(np.interp(level_m, self.level_m, self.area_m2))

    def level_for(self, volume_m3: float) -> float:
        """Return the level at which a volume stands."""
        return float(np.interp(volume_m3, self.volume_m3, self.level_m))


@dataclass(frozen=True, slots=True, eq=False)
class Pool:
    """Water standing at a level: every cell below it that hangs together with the seed."""

    level_m: float
    #: The ground under and round it, one cell wider than the water.
    ground: Grid
    #: Which of its cells are under water.
    wet: NDArray[np.bool_]
    #: It reaches the edge of the data: there is more of it than is known.
    open: bool
    #: It runs round what was to hold it.
    escaped: bool

    @property
    def _under(self) -> Floats:
        return np.ascontiguousarray(self.ground.z[self.wet])

    @property
    def area_m2(self) -> float:
        """Area of the water."""
        return float(self.wet.sum()) * self.ground.cell_m**2

    @property
    def volume_m3(self) -> float:
        """Volume of the water."""
        return float((self.level_m - self._under).sum()) * self.ground.cell_m**2

    @property
    def deepest_m(self) -> float:
        """Greatest depth; 0 without water."""
        under = self._under
        return float(self.level_m - under.min()) if len(under) else 0.0

    def depth(self) -> Grid:
        """Return depths, NaN where it is dry."""
        return self.ground.like(np.where(self.wet, self.level_m - self.ground.z, np.nan))

    def share_deeper(self, than_m: float) -> float:
        """Return the share of the area deeper than a depth."""
        under = self._under
        return float((self.level_m - under >= than_m).mean()) if len(under) else 0.0

    def storage(self, levels: int = LEVELS) -> StageStorage:
        """Return what it holds at evenly rising levels, from its own cells."""
        under = self._under
        if not len(under):
            at = np.array([self.level_m])
            return StageStorage(at, np.zeros(1), np.zeros(1))
        at = np.linspace(float(under.min()), self.level_m, levels)
        area, volume = np.empty(levels), np.empty(levels)
        kernels.curve(under, at, area, volume)
        cell = self.ground.cell_m**2
        return StageStorage(at, area * cell, volume * cell)

    def edge(self) -> MultiPolygon:
        """Return the water's edge, drawn between the cells where the ground reaches its level."""
        depth = self.level_m - self.ground.z
        return region(self.ground, np.where(self.wet, depth, np.minimum(depth, -1e-9)))


class Basin:
    """Ground on which pools are filled again and again, as while a dam is dragged.

    Keeps its work space, and a copy of the levels that an earthwork may be laid on for one
    filling and is taken off again: cost goes with the water's own cells.
    """

    def __init__(self, ground: Grid) -> None:
        self.ground = ground
        self._z: Floats = np.array(ground.z, dtype=np.float64, order="C")
        self._seen: NDArray[np.int32] = np.zeros(ground.shape, np.int32)
        self._queue: NDArray[np.int32] = np.empty(ground.z.size, np.int32)
        self._stamp = 0

    def pool(
        self,
        seed_xy_m: tuple[float, float],
        level_m: float,
        *,
        change: tuple[slice, slice, Floats] | None = None,
        wall_xyz_m: Floats | None = None,
        beyond_xy_m: tuple[float, float] | None = None,
    ) -> Pool:
        """Return the pool at a level round a seed.

        `change` (rows, columns, metres) is added to the ground for this filling, and every cell
        `wall_xyz_m` (points, 3) runs through is raised to its level there. Water that comes to
        `beyond_xy_m`, a place on the other side, has escaped.
        """
        seed = self._cell(seed_xy_m)
        if seed is None:
            raise BadData("the water lies beyond the known ground", remedy="Move it.")
        beyond = self._cell(beyond_xy_m) if beyond_xy_m is not None else None
        flat = self._z.reshape(-1)
        before = None
        if change is not None:
            rows, cols, metres = change
            before = self._z[rows, cols].copy()
            self._z[rows, cols] += metres
        cells, levels = self._wall(wall_xyz_m)
        dry = flat[cells].copy()
        np.maximum.at(flat, cells, levels)
        try:
            return self._fill(seed, level_m, -1 if beyond is None else beyond)
        finally:
            flat[cells] = dry
            if change is not None:
                self._z[change[0], change[1]] = before

    def _cell(self, xy_m: tuple[float, float]) -> int | None:
        cell = self.ground.cell_at(*xy_m)
        return None if cell is None else cell[0] * self.ground.shape[1] + cell[1]

    def _fill(self, seed: int, level_m: float, beyond: int) -> Pool:
        self._stamp += 1
        count, edge, escaped = kernels.pool(
            self._z,
            seed,
            level_m,
            self._seen,
            self._stamp,
            self._queue,
            min(MOST_CELLS, self._queue.size),
            beyond,
        )
        cells = self._queue[:count]
        rows, cols = self.ground.shape
        g = self.ground
        if count == 0:
            here = Grid(np.full((1, 1), level_m), g.west_m, g.north_m, g.cell_m)
            return Pool(level_m, here, np.zeros((1, 1), bool), False, False)
        row, col = cells // cols, cells % cols
        r0, c0 = max(int(row.min()) - 1, 0), max(int(col.min()) - 1, 0)
        r1, c1 = min(int(row.max()) + 2, rows), min(int(col.max()) + 2, cols)
        window = Grid(
            self._z[r0:r1, c0:c1].copy(),
            g.west_m + c0 * g.cell_m,
            g.north_m - r0 * g.cell_m,
            g.cell_m,
        )
        wet = np.zeros(window.shape, bool)
        wet[row - r0, col - c0] = True
        return Pool(level_m, window, wet, edge, escaped)

    def _wall(self, xyz_m: Floats | None) -> tuple[NDArray[np.int64], Floats]:
        """Return the cells a line runs through and its level in each."""
        g = self.ground
        cells, levels = [np.empty(0, np.int64)], [np.empty(0)]
        for a, b in itertools.pairwise(() if xyz_m is None else xyz_m):
            out = np.empty(2 * int(math.dist(a[:2], b[:2]) / g.cell_m + 4), np.int64)
            place = (g.west_m, g.north_m, g.cell_m, *g.shape)
            n = kernels.cells_on(a[0], a[1], b[0], b[1], *place, out)
            cells.append(out[:n])
            levels.append(np.full(n, max(a[2], b[2])))
        return np.concatenate(cells), np.concatenate(levels)


def pool(ground: Grid, seed_xy_m: tuple[float, float], level_m: float) -> Pool:
    """Return the pool at a level round a seed, once."""
    return Basin(ground).pool(seed_xy_m, level_m)
