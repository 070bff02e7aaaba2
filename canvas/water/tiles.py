"""How the shallow-water grid is cut into tiles, and at which pace each tile steps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from canvas.base.grid import Floats
from canvas.water.kernels import TILE_COLS, TILE_ROWS

Ints = NDArray[np.int32]

#: A tile at level k steps 2^k times slower than the fastest.
MOST_LEVELS = 7


@dataclass(frozen=True, slots=True)
class Tiling:
    """Tiles over a grid of `shape` (rows, cols), inside a rim of walls one cell wide."""

    shape: tuple[int, int]

    @property
    def tiles(self) -> tuple[int, int]:
        """Rows and columns of tiles."""
        rows, cols = self.shape
        return -(-rows // TILE_ROWS), -(-cols // TILE_COLS)

    @property
    def count(self) -> int:
        """How many tiles there are."""
        return self.tiles[0] * self.tiles[1]

    @property
    def laid(self) -> tuple[int, int, int]:
        """Strips, rows and columns of a strip, with the walls all round."""
        down, along = self.tiles
        return along + 2, down * TILE_ROWS + 2, TILE_COLS

    def lay(self, values: ArrayLike, outside: float) -> Floats:
        """Return values of the grid as strips, shape `laid`, with `outside` all round."""
        strips, rows, cols = self.laid
        flat = np.full((rows, strips * cols), outside, np.float64)
        flat[1 : self.shape[0] + 1, cols : cols + self.shape[1]] = values
        return np.ascontiguousarray(flat.reshape(rows, strips, cols).transpose(1, 0, 2))

    def grid(self, laid: NDArray[np.floating]) -> Floats:
        """Return strips, shape `laid`, as values of the grid."""
        strips, rows, cols = self.laid
        flat = laid.transpose(1, 0, 2).reshape(rows, strips * cols)
        return np.asarray(flat[1 : self.shape[0] + 1, cols : cols + self.shape[1]], np.float64)

    def places(self, row: NDArray[np.integer], col: NDArray[np.integer]) -> Ints:
        """Return strip, row and column in the strips of cells of the grid, shape (n, 3)."""
        strip, inside = np.divmod(np.asarray(col) + TILE_COLS, TILE_COLS)
        return np.column_stack((strip, np.asarray(row) + 1, inside)).astype(np.int32)

    def first(self) -> Ints:
        """Return each tile's strip and first row in the strips, shape (tiles, 2)."""
        down, along = self.tiles
        rows, cols = np.divmod(np.arange(down * along), along)
        return np.column_stack((cols + 1, rows * TILE_ROWS + 1)).astype(np.int32)

    def beside(self) -> Ints:
        """Return the tile west and the tile north of each, -1 where there is none."""
        down, along = self.tiles
        ident = np.arange(down * along).reshape(down, along)
        west = np.full_like(ident, -1)
        north = np.full_like(ident, -1)
        west[:, 1:] = ident[:, :-1]
        north[1:] = ident[:-1]
        return np.column_stack((west.ravel(), north.ravel())).astype(np.int32)

    def tile_of(self, place: Ints) -> Ints:
        """Return the tile of cells given by their places in the strips."""
        found = (place[:, 1] - 1) // TILE_ROWS * self.tiles[1] + place[:, 0] - 1
        return np.asarray(found, np.int32)

    def grouped(self, tile: Ints) -> tuple[Ints, Ints]:
        """Return the order that sorts items by tile, and where each tile's items start."""
        order = np.argsort(tile, kind="stable").astype(np.int32)
        start = np.searchsorted(tile[order], np.arange(self.count + 1)).astype(np.int32)
        return order, start


@dataclass(frozen=True, slots=True)
class Pace:
    """One long beat: `2 ** top` short steps of `dt_s`, and what is due when."""

    dt_s: float
    top: int
    #: Rows as `kernels.step_faces` reads them, those due most often first.
    task: Ints
    #: `due[k]`: how many tasks are due at a beat of level k.
    due: Ints
    #: Cells to be stepped in one long beat.
    work: int

    @property
    def long_s(self) -> float:
        """Length of the long beat [s]."""
        return self.dt_s * float(2**self.top)


def _around(values: Floats) -> Floats:
    """Return the least of each tile's four neighbours."""
    padded = np.pad(values, 1, constant_values=np.inf)
    least = np.minimum(padded[:-2, 1:-1], padded[2:, 1:-1])
    return np.asarray(np.minimum(least, np.minimum(padded[1:-1, :-2], padded[1:-1, 2:])))


def _levels(
    allowed: Floats, active: NDArray[np.bool_], longest_s: float
) -> tuple[float, int, Ints]:
    """Return the shortest step, how often it doubles in a beat, and each tile's level.

    The shortest step is the one that makes the least work of all tiles' levels.
    """
    least = float(allowed[active].min())
    best = (np.inf, least, 0, np.zeros(allowed.shape, np.int32))
    for i in range(6):
        dt = least * float(2.0 ** (-i / 6.0))
        top = min(MOST_LEVELS, max(int(np.log2(longest_s / dt)), 0))
        level = np.clip(np.floor(np.log2(allowed / dt) + 1e-9), 0, top).astype(np.int32)
        work = float((1.0 / (dt * 2.0 ** level[active])).sum())
        if work < best[0]:
            best = (work, dt, top, level)
    return best[1], best[2], best[3]


def _foreseen(allowed: Floats) -> Floats:
    """Return each tile's own longest step, or that of the edges that face it if shorter.

    `allowed` (5, rows, cols): of the whole tile, then of its north, south, west and east edge.
    """
    found: Floats = allowed[0].copy()
    found[1:] = np.minimum(found[1:], allowed[2, :-1])
    found[:-1] = np.minimum(found[:-1], allowed[1, 1:])
    found[:, 1:] = np.minimum(found[:, 1:], allowed[4, :, :-1])
    found[:, :-1] = np.minimum(found[:, :-1], allowed[3, :, 1:])
    return found


def pace(tiling: Tiling, allowed_s: Floats, active: NDArray[np.bool_], longest_s: float) -> Pace:
    """Plan one long beat.

    `allowed_s` (tiles, 5): longest stable step of the tile and of its north, south, west and east
    edge; `active` (tiles,): whether it takes part. Neighbours differ by at most one level, so that
    a front meets the next tile awake.
    """
    shape = tiling.tiles
    awake = active.reshape(shape)
    allowed = _foreseen(np.ascontiguousarray(allowed_s.T).reshape(5, *shape))
    allowed = np.where(awake, np.minimum(allowed, longest_s), np.inf)
    while True:
        limited = np.where(awake, np.minimum(allowed, 2.0 * _around(allowed)), np.inf)
        if np.array_equal(limited, allowed):
            break
        allowed = limited
    dt, top, level = _levels(allowed, awake, longest_s)
    # A rim face steps with the faster of its two tiles; toward a sleeping tile it stays shut.
    shut = np.int32(99)
    east = np.full(shape, shut, np.int32)
    south = np.full(shape, shut, np.int32)
    both = awake[:, :-1] & awake[:, 1:]
    east[:, :-1][both] = np.minimum(level[:, :-1], level[:, 1:])[both]
    both = awake[:-1] & awake[1:]
    south[:-1][both] = np.minimum(level[:-1], level[1:])[both]
    lowest = np.minimum(level, np.minimum(east, south))
    ident = np.flatnonzero(awake)
    columns = [level.ravel(), east.ravel(), south.ravel(), lowest.ravel()]
    task = np.column_stack((ident, tiling.first()[ident], *(c[ident] for c in columns)))
    task = np.ascontiguousarray(task[np.argsort(lowest.ravel()[ident], kind="stable")], np.int32)
    due = np.searchsorted(task[:, 6], np.arange(top + 1), side="right").astype(np.int32)
    cells = int((2.0 ** (top - level[awake])).sum()) * TILE_ROWS * TILE_COLS
    return Pace(dt, top, task, due, cells)
