"""A regular grid of numbers laid on the site's projected CRS. Georeferencing lives here only."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from canvas.base.errors import InputError

Floats = NDArray[np.float64]
Bounds = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """North-up, row 0 north, square cells, values at cell centres, NaN for no data.

    `z` has shape (rows, cols); `west_m`, `north_m` are the outer corner of cell (0, 0).
    """

    z: Floats
    west_m: float
    north_m: float
    cell_m: float

    def __post_init__(self) -> None:
        """Refuse what is not a grid."""
        if self.z.ndim != 2 or not self.cell_m > 0:
            raise InputError(f"need 2-D values and cell_m > 0, got {self.z.shape}, {self.cell_m}")

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.z.shape[0], self.z.shape[1]

    @property
    def bounds(self) -> Bounds:
        """West, south, east, north of the outer cell edges [m]."""
        rows, cols = self.shape
        east = self.west_m + cols * self.cell_m
        return self.west_m, self.north_m - rows * self.cell_m, east, self.north_m

    def like(self, z: ArrayLike) -> Grid:
        """Return other values on the same cells."""
        values = np.asarray(z, dtype=np.float64)
        if values.shape != self.z.shape:
            raise InputError(f"expected {self.z.shape} values, got {values.shape}")
        return replace(self, z=values)

    def x_m(self) -> Floats:
        """Return the eastings of the cell centres, shape (cols,)."""
        steps: Floats = np.arange(self.z.shape[1], dtype=np.float64) + 0.5
        return np.asarray(self.west_m + steps * self.cell_m, np.float64)

    def y_m(self) -> Floats:
        """Return the northings of the cell centres, shape (rows,), falling."""
        steps: Floats = np.arange(self.z.shape[0], dtype=np.float64) + 0.5
        return np.asarray(self.north_m - steps * self.cell_m, np.float64)

    def cell_at(self, x_m: float, y_m: float) -> tuple[int, int] | None:
        """Return (row, col) of the cell holding a point, or None outside."""
        col = int(np.floor((x_m - self.west_m) / self.cell_m))
        row = int(np.floor((self.north_m - y_m) / self.cell_m))
        rows, cols = self.shape
        return (row, col) if 0 <= row < rows and 0 <= col < cols else None

    def sample(self, x_m: ArrayLike, y_m: ArrayLike) -> Floats:
        """Return values at points, bilinear between cell centres; NaN outside and beside no data.

        Shapes as given, broadcast together. In the outer half cell the edge value holds.
        """
        x, y = np.broadcast_arrays(np.asarray(x_m, float), np.asarray(y_m, float))
        rows, cols = self.shape
        west, south, east, north = self.bounds
        inside = (x >= west) & (x <= east) & (y >= south) & (y <= north)
        c = np.clip(np.where(inside, (x - west) / self.cell_m - 0.5, 0.0), 0, cols - 1)
        r = np.clip(np.where(inside, (north - y) / self.cell_m - 0.5, 0.0), 0, rows - 1)
        c0 = np.minimum(c.astype(np.intp), max(cols - 2, 0))
        r0 = np.minimum(r.astype(np.intp), max(rows - 2, 0))
        c1, r1 = np.minimum(c0 + 1, cols - 1), np.minimum(r0 + 1, rows - 1)
        u, v = c - c0, r - r0
        z = self.z
        # A corner of weight nought must not spread its NaN.
        total = np.zeros(x.shape)
        for rr, cc, w in (
            (r0, c0, (1 - u) * (1 - v)),
            (r0, c1, u * (1 - v)),
            (r1, c0, (1 - u) * v),
            (r1, c1, u * v),
        ):
            total += np.where(w > 0, z[rr, cc] * w, 0.0)
        return np.where(inside, total, np.nan)

    def window(self, bounds: Bounds) -> Grid:
        """Return the cells that touch `bounds`, clipped to the grid; at least one cell."""
        rows, cols = self.shape
        west, south, east, north = bounds
        c0 = int(np.clip(np.floor((west - self.west_m) / self.cell_m), 0, cols - 1))
        c1 = int(np.clip(np.ceil((east - self.west_m) / self.cell_m), c0 + 1, cols))
        r0 = int(np.clip(np.floor((self.north_m - north) / self.cell_m), 0, rows - 1))
        r1 = int(np.clip(np.ceil((self.north_m - south) / self.cell_m), r0 + 1, rows))
        return Grid(
            self.z[r0:r1, c0:c1],
            self.west_m + c0 * self.cell_m,
            self.north_m - r0 * self.cell_m,
            self.cell_m,
        )

    def row_blocks(self, rows_each: int) -> Iterator[slice]:
        """Yield row slices of at most `rows_each`, top down."""
        for start in range(0, self.z.shape[0], rows_each):
            yield slice(start, min(start + rows_each, self.z.shape[0]))
