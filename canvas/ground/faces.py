"""Levels held between cells: crests and sills that water must rise to before it passes.

A 0.6 m bank vanishes in a 2 m cell. So its crest is not a cell's level: it is held on the link
between two neighbouring cells, and holds at any cell size.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from canvas.base.errors import InputError
from canvas.base.grid import Floats, Grid
from canvas.ground import earth_kernels as kernels


class Held(StrEnum):
    """What a line of levels does to water."""

    #: Water must rise to it to pass: the top of a bank or dam. Where lines cross, the higher holds.
    CREST = "crest"
    #: A lowered stretch of a crest, where water is let over. Holds against the crest it lies in.
    SILL = "sill"
    #: The lowest line of a channel or pipe. Not a barrier; channels are burnt into the cells.
    INVERT = "invert"


@dataclass(frozen=True, slots=True, eq=False)
class HeldLine:
    """A line with levels, `xyz_m` of shape (points, 3), straight between its points."""

    held: Held
    xyz_m: Floats

    def __post_init__(self) -> None:
        """Refuse what is not a line in space."""
        if self.xyz_m.ndim != 2 or self.xyz_m.shape[1] != 3 or len(self.xyz_m) < 2:
            raise InputError(f"a held line needs (points, 3) with 2 points, got {self.xyz_m.shape}")

    @property
    def lowest_m(self) -> float:
        """The lowest level along it."""
        return float(self.xyz_m[:, 2].min())


@dataclass(frozen=True, slots=True, eq=False)
class Faces:
    """Levels held on the links between neighbouring cells of a grid of `shape` (rows, cols).

    Water passes from one cell to the next only above the highest of both cells' levels and the
    link's. `-inf` where nothing is held. A link joins two cell centres; a line holds a link when
    it crosses it, so no way from cell to cell slips past a line between its two ends. For a step
    to a diagonal neighbour use `diagonal_m`: the easier of the two ways round the corner.
    """

    #: Between (r, c) and (r, c + 1): shape (rows, cols - 1).
    east_m: Floats
    #: Between (r, c) and (r + 1, c): shape (rows - 1, cols).
    south_m: Floats

    @classmethod
    def none(cls, shape: tuple[int, int]) -> Faces:
        """Return links that hold nothing."""
        rows, cols = shape
        return cls(
            np.full((rows, max(cols - 1, 0)), -np.inf), np.full((max(rows - 1, 0), cols), -np.inf)
        )

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns of the grid they belong to."""
        return self.east_m.shape[0], self.south_m.shape[1]

    @property
    def any(self) -> bool:
        """Whether anything is held at all."""
        return bool((self.east_m > -np.inf).any() or (self.south_m > -np.inf).any())

    def diagonal_m(self) -> tuple[Floats, Floats]:
        """Return what is held between diagonal neighbours, each (rows - 1, cols - 1).

        First between (r, c) and (r + 1, c + 1), then between (r, c + 1) and (r + 1, c).
        """
        east, south = self.east_m, self.south_m
        top, foot, left, right = east[:-1], east[1:], south[:, :-1], south[:, 1:]
        falling = np.minimum(np.maximum(top, right), np.maximum(left, foot))
        rising = np.minimum(np.maximum(top, left), np.maximum(right, foot))
        return falling, rising


def hold(base: Grid, lines: Sequence[HeldLine]) -> Faces:
    """Return what the lines hold on the links of a grid.

    Crests are laid first, each link keeping the highest; then every sill sets its level on the
    links it crosses. A sill shorter than a cell may cross none: then the nearest link that holds
    a crest gets its level, so that no sill is lost between two cells.
    """
    faces = Faces.none(base.shape)
    where = (base.west_m, base.north_m, base.cell_m)
    for line in lines:
        if line.held is Held.CREST:
            kernels.hold_line(_points(line), *where, False, faces.east_m, faces.south_m)
    for line in lines:
        if line.held is not Held.SILL:
            continue
        if not kernels.hold_line(_points(line), *where, True, faces.east_m, faces.south_m):
            _hold_nearest(base, faces, line)
    return faces


def _points(line: HeldLine) -> Floats:
    return np.ascontiguousarray(line.xyz_m, dtype=np.float64)


def _hold_nearest(base: Grid, faces: Faces, sill: HeldLine) -> None:
    """Give a sill that crosses no link to the nearest link that holds a crest."""
    x, y, z = sill.xyz_m[:, 0].mean(), sill.xyz_m[:, 1].mean(), sill.lowest_m
    col, row = (x - base.west_m) / base.cell_m, (base.north_m - y) / base.cell_m
    best, chosen = np.inf, None
    for levels, down, right in ((faces.east_m, 0.5, 1.0), (faces.south_m, 1.0, 0.5)):
        r0, c0 = max(int(row) - 3, 0), max(int(col) - 3, 0)
        near = levels[r0 : r0 + 7, c0 : c0 + 7]
        rows, cols = np.nonzero(near > -np.inf)
        if not len(rows):
            continue
        far = np.hypot(rows + r0 + down - row, cols + c0 + right - col)
        k = int(np.argmin(far))
        if far[k] < best:
            best, chosen = float(far[k]), (levels, rows[k] + r0, cols[k] + c0)
    if chosen is not None:
        chosen[0][chosen[1], chosen[2]] = z
