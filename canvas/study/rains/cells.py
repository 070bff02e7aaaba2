"""The designed ground on cells of any size, as a run of water meets it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from canvas.base.errors import BadData
from canvas.base.grid import Floats, Grid
from canvas.ground.designed import Designed
from canvas.ground.faces import Faces, Held, HeldLine, hold
from canvas.ground.frames import on_cells
from canvas.ground.patch import Mask, Patch

#: A run of more cells than this is refused: it would not end today.
MOST_CELLS = 6_000_000


@dataclass(frozen=True, slots=True, eq=False)
class WetGround:
    """Levels and held faces on a run's cells, and whose each held face is."""

    levels: Grid
    faces: Faces
    #: Part of each held face's width that is open over a sill; shaped as the faces.
    share_east: Floats
    share_south: Floats
    #: Which of `owners` holds a face, 0 none; a sill's number is + , a crest's −.
    owner_east: NDArray[np.int32]
    owner_south: NDArray[np.int32]
    #: Identities of earthworks, counted from 1.
    owners: tuple[str, ...]

    def sills(self) -> NDArray[np.int32]:
        """Return the faces over sills: row, column, 0 east or 1 south; shape (n, 3)."""
        found = []
        for axis, owner in enumerate((self.owner_east, self.owner_south)):
            row, col = np.nonzero(owner > 0)
            found.append(np.column_stack((row, col, np.full(len(row), axis))))
        return np.concatenate(found).astype(np.int32)

    def window(self, rows: slice, cols: slice) -> WetGround:
        """Return a part of it."""
        z = np.ascontiguousarray(self.levels.z[rows, cols])
        grid = self.levels
        west, north = (
            grid.west_m + cols.start * grid.cell_m,
            grid.north_m - rows.start * grid.cell_m,
        )
        east = (rows, slice(cols.start, cols.stop - 1))
        south = (slice(rows.start, rows.stop - 1), cols)
        cut = np.ascontiguousarray
        return WetGround(
            Grid(z, west, north, grid.cell_m),
            Faces(cut(self.faces.east_m[east]), cut(self.faces.south_m[south])),
            cut(self.share_east[east]),
            cut(self.share_south[south]),
            cut(self.owner_east[east]),
            cut(self.owner_south[south]),
            self.owners,
        )


def wet_ground(ground: Designed, cell_m: float) -> WetGround:
    """Return the designed ground on cells of `cell_m`: the base's own, or a whole part or multiple.

    `BadData` for a size that does not fit the base's cells.
    """
    base = ground.base
    ratio = cell_m / base.cell_m
    if abs(ratio - 1.0) < 1e-6:
        levels, patches = ground.flow_levels, ground.patches
    elif ratio > 1.0 and abs(ratio - round(ratio)) < 1e-6:
        coarse = coarser(base, round(ratio))
        patches = tuple(_laid_on(patch, coarse) for patch in ground.patches)
        levels = Designed(coarse, patches).flow_levels
    elif ratio < 1.0 and abs(1.0 / ratio - round(1.0 / ratio)) < 1e-6:
        patches, levels = ground.patches, ground.on(_finer(base, round(1.0 / ratio)))
    else:
        raise BadData(
            f"cells of {cell_m:g} m do not fit the ground's of {base.cell_m:g} m",
            remedy="Take the ground's own cell, or a whole multiple or part of it.",
        )
    return _held(levels, patches)


def coarser(base: Grid, by: int) -> Grid:
    """Return the means of blocks of `by` x `by` cells; a block with no level has none."""
    rows, cols = (-(-n // by) for n in base.shape)
    whole = np.full((rows * by, cols * by), np.nan)
    whole[: base.shape[0], : base.shape[1]] = base.z
    blocks = whole.reshape(rows, by, cols, by)
    known = np.isfinite(blocks)
    count = known.sum(axis=(1, 3))
    total = np.where(known, blocks, 0.0).sum(axis=(1, 3))
    z = np.divide(total, count, out=np.full(count.shape, np.nan), where=count > 0)
    return Grid(z, base.west_m, base.north_m, base.cell_m * by)


def _finer(base: Grid, parts: int) -> Grid:
    rows, cols = base.shape
    if rows * cols * parts**2 > MOST_CELLS:
        raise BadData("these cells are too small for so large a ground", remedy="Take larger ones.")
    cell = base.cell_m / parts
    return on_cells(base, base.west_m, base.north_m, cell, rows * parts, cols * parts)


def _laid_on(patch: Patch, coarse: Grid) -> Patch:
    """Return a patch with empty cells round it, so that it nests in larger cells."""
    cell, parts = patch.levels.cell_m, round(coarse.cell_m / patch.levels.cell_m)
    top = round((coarse.north_m - patch.levels.north_m) / cell) % parts
    left = round((patch.levels.west_m - coarse.west_m) / cell) % parts
    rows, cols = patch.levels.shape
    below, right = -(rows + top) % parts, -(cols + left) % parts
    west, north = patch.levels.west_m - left * cell, patch.levels.north_m + top * cell

    def padded(values: Floats, outside: float) -> Floats:
        return np.pad(values, ((top, below), (left, right)), constant_values=outside)

    def grid(of: Grid) -> Grid:
        return Grid(padded(of.z, np.nan), west, north, cell)

    return replace(
        patch,
        levels=grid(patch.levels),
        ground=grid(patch.ground),
        core=np.pad(patch.core, ((top, below), (left, right))),
        bite=padded(patch.bite_m, 0.0),
        full=None if patch.full is None else grid(patch.full),
        cover_m=None if patch.cover_m is None else padded(patch.cover_m, 0.0),
    )


def _held(levels: Grid, patches: tuple[Patch, ...]) -> WetGround:
    lines = [line for patch in patches for line in patch.lines]
    faces = hold(levels, lines)
    share_east, share_south = np.ones(faces.east_m.shape), np.ones(faces.south_m.shape)
    owner_east = np.zeros(faces.east_m.shape, np.int32)
    owner_south = np.zeros(faces.south_m.shape, np.int32)
    owners = tuple(dict.fromkeys(patch.name for patch in patches if patch.name))
    for patch in patches:
        number = owners.index(patch.name) + 1 if patch.name else 0
        for held, sign in ((Held.CREST, -1), (Held.SILL, 1)):
            for line in patch.lines:
                if line.held is not held:
                    continue
                east, south = _crossed(levels, line)
                owner_east[east] = sign * number
                owner_south[south] = sign * number
                if held is Held.SILL:
                    share = min(_length(line) / max((east.sum() + south.sum()) * levels.cell_m,
                                                    1e-9), 1.0)  # fmt: skip
                    share_east[east], share_south[south] = share, share
    return WetGround(levels, faces, share_east, share_south, owner_east, owner_south, owners)


def _crossed(levels: Grid, line: HeldLine) -> tuple[Mask, Mask]:
    """Return which faces a line crosses."""
    alone = hold(levels, [HeldLine(Held.CREST, line.xyz_m)])
    return np.isfinite(alone.east_m), np.isfinite(alone.south_m)


def _length(line: HeldLine) -> float:
    step = np.diff(line.xyz_m[:, :2], axis=0)
    return float(np.hypot(step[:, 0], step[:, 1]).sum())
