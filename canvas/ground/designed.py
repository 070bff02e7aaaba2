"""The ground at a time: the survey with the earthworks built by then laid over it.

Three grounds follow from the same patches:

- `levels`: the base grid with each cell changed by the mean change of the patch under it, so
  that cut and fill add up to the patches' own;
- `flow_levels` and `faces`: what water meets. A channel's cells are set so that they hold the
  channel's own volume up to its full level, and crests and sills stand on the links between the
  cells, so that a bank narrower than a cell holds to its sill;
- `on`: levels on any other cells, each patch at its own detail.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike
from shapely import MultiPolygon

from canvas.base.errors import InputError
from canvas.base.grid import Bounds, Floats, Grid
from canvas.ground import earth_kernels as kernels
from canvas.ground.faces import Faces, Held, HeldLine, hold
from canvas.ground.frames import lattice, like_cells
from canvas.ground.patch import SAME_M, Mask, Patch, region


@dataclass(frozen=True, slots=True)
class Conflict:
    """Two patches that ask different levels of the same place; the later one has its way."""

    first: str
    second: str
    area_m2: float
    #: Greatest difference of the two levels.
    largest_m: float
    where: MultiPolygon
    #: True where both are built in the same phase: then one of the two will not be as drawn.
    same_phase: bool


@dataclass(frozen=True, eq=False)
class Designed:
    """The ground with patches, in the order they are built."""

    base: Grid
    patches: tuple[Patch, ...]

    @classmethod
    def of(cls, base: Grid, patches: Sequence[Patch] = (), until: int | None = None) -> Designed:
        """Return the ground with the patches of the phases up to `until` (all when None)."""
        built = [p for p in patches if until is None or p.phase <= until]
        for patch in built:
            parts = base.cell_m / patch.levels.cell_m
            off = (patch.levels.west_m - base.west_m) / base.cell_m
            if abs(parts - round(parts)) > 1e-6 or abs(off - round(off)) > 1e-6:
                raise InputError(f"patch {patch.name!r} does not nest in the ground's cells")
        return cls(base, tuple(sorted(built, key=lambda p: p.phase)))

    @property
    def cell_m(self) -> float:
        """The base's cell size."""
        return self.base.cell_m

    @property
    def bounds(self) -> Bounds:
        """West, south, east, north of the base."""
        return self.base.bounds

    def cells(self, bounds: Bounds, parts: int) -> Grid:
        """Return the levels on cells of 1/`parts` of the base's: to build the next work on."""
        ground = lattice(self.base, bounds, parts)
        for patch in self.patches:
            _overlay(ground, patch)
        return ground

    def on(self, cells: Grid) -> Grid:
        """Return the levels at the centres of other cells, each patch at its own detail."""
        ground = like_cells(self.base, cells)
        for patch in self.patches:
            _overlay(ground, patch)
        return ground

    def sample(self, x_m: ArrayLike, y_m: ArrayLike) -> Floats:
        """Return levels at points: the last patch over a point decides, else the base."""
        x, y = np.broadcast_arrays(np.asarray(x_m, float), np.asarray(y_m, float))
        z = self.base.sample(x, y)
        for patch in self.patches:
            z = np.where(_within(patch.levels, x, y), _patch_sample(patch, x, y, z), z)
        return z

    @cached_property
    def levels(self) -> Grid:
        """Levels on the base cells; volumes against the base are the patches' own."""
        return self.base.like(self.base.z + self.change.z)

    @cached_property
    def change(self) -> Grid:
        """Designed less existing on the base cells, − cut, + fill."""
        change = np.zeros(self.base.shape)
        for i, patch in enumerate(self.patches):
            before = Designed(self.base, self.patches[:i]).on(patch.levels)
            step = np.where(patch.mask, patch.levels.z - before.z, 0.0)
            rows, cols, mean = block_mean(self.base, patch.levels, step)
            change[rows, cols] += mean
        return self.base.like(change)

    @cached_property
    def lines(self) -> tuple[HeldLine, ...]:
        """Crests, sills and inverts of all patches."""
        return tuple(line for patch in self.patches for line in patch.lines)

    @cached_property
    def faces(self) -> Faces:
        """What is held on the links between the base's cells."""
        return hold(self.base, self.lines)

    @cached_property
    def flow_levels(self) -> Grid:
        """Levels for water on the base cells: channels hold their own volume."""
        z = self.levels.z.copy()
        for patch in self.patches:
            if patch.full is not None:
                _burn(self.base, patch.full, self.on(patch.full).z, z)
            else:
                _carve(self.base, patch.lines, z)
        return self.base.like(z)

    def conflicts(self) -> list[Conflict]:
        """Return where patches ask different levels of the same place."""
        found = []
        for j, later in enumerate(self.patches):
            for first in self.patches[:j]:
                # Benches of one flight, arms of one track: they know each other.
                if first.name and first.name == later.name:
                    continue
                conflict = _conflict(first, later)
                if conflict is not None:
                    found.append(conflict)
        return found


def _within(cells: Grid, x: Floats, y: Floats) -> Mask:
    west, south, east, north = cells.bounds
    return np.asarray((x >= west) & (x <= east) & (y >= south) & (y <= north), bool)


def _patch_sample(patch: Patch, x: Floats, y: Floats, otherwise: Floats) -> Floats:
    """Return a patch's levels at points; where it leaves the ground, `otherwise`."""
    cells = patch.levels
    rows, cols = cells.shape
    col = np.clip(((x - cells.west_m) / cells.cell_m).astype(int), 0, cols - 1)
    row = np.clip(((cells.north_m - y) / cells.cell_m).astype(int), 0, rows - 1)
    own = cells.z[row, col]
    # Beside the patch's edge one corner has no level: the cell's own holds there.
    smooth = cells.sample(x, y)
    value = np.where(np.isnan(smooth), own, smooth)
    return np.where(np.isnan(own), otherwise, value)


def patch_levels(patch: Patch, cells: Grid) -> Floats:
    """Return a patch's levels at the centres of other cells; NaN where it has none."""
    return patch_levels_at(patch, *np.meshgrid(cells.x_m(), cells.y_m()))


def patch_levels_at(patch: Patch, x_m: Floats, y_m: Floats) -> Floats:
    """Return a patch's levels at points; NaN where it has none."""
    nothing = np.full(x_m.shape, np.nan)
    found = _patch_sample(patch, x_m, y_m, nothing)
    return np.where(_within(patch.levels, x_m, y_m), found, np.nan)


def _overlay(ground: Grid, patch: Patch) -> None:
    """Lay a patch over levels on any cells, in place."""
    cells = patch.levels
    kernels.overlay(
        np.ascontiguousarray(cells.z),
        *(cells.west_m, cells.north_m, cells.cell_m),
        *(ground.west_m, ground.north_m, ground.cell_m),
        ground.z,
    )


def _blocks(base: Grid, cells: Grid) -> tuple[slice, slice, int]:
    """Return the base rows and columns that nesting cells cover, and the cells per side."""
    parts = round(base.cell_m / cells.cell_m)
    row = round((base.north_m - cells.north_m) / base.cell_m)
    col = round((cells.west_m - base.west_m) / base.cell_m)
    rows, cols = cells.shape
    return slice(row, row + rows // parts), slice(col, col + cols // parts), parts


def block_mean(base: Grid, cells: Grid, values: Floats) -> tuple[slice, slice, Floats]:
    """Return the mean of nesting cells' values over each base cell, and which cells those are."""
    rows, cols, parts = _blocks(base, cells)
    shape = (rows.stop - rows.start, parts, cols.stop - cols.start, parts)
    return rows, cols, np.asarray(values.reshape(shape).mean(axis=(1, 3)), np.float64)


def _burn(base: Grid, full: Grid, surface: Floats, z: Floats) -> None:
    """Set the base cells of a channel so that they hold what it holds up to its full level.

    `surface` is the designed ground on the cells of `full`. Water that lies in a base cell whose
    centre is beyond the crest goes to the nearest wet-side cell: across the crest it would be
    lost.
    """
    depth = np.nan_to_num(np.maximum(full.z - surface, 0.0))
    rows, cols, held = block_mean(base, full, depth)
    level_sum = block_mean(base, full, np.where(depth > 0, full.z, 0.0))[2]
    share = block_mean(base, full, (depth > 0).astype(float))[2]
    level = np.divide(level_sum, share, out=np.full(held.shape, np.nan), where=share > 0)
    inside = _centre_wet(base, full, rows, cols)
    _move_across(held, level, inside)
    part = z[rows, cols]
    set_here = (held > 0) & inside
    part[set_here] = level[set_here] - held[set_here]


def _carve(base: Grid, lines: Sequence[HeldLine], z: Floats) -> None:
    """Lower the base cells an open channel's bed runs through to the bed, in place."""
    for line in lines:
        if line.held is not Held.INVERT:
            continue
        run = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(line.xyz_m[:, :2], axis=0).T))))
        at = np.linspace(0.0, run[-1], max(int(4 * run[-1] / base.cell_m), 1) + 1)
        x, y, level = (np.interp(at, run, line.xyz_m[:, i]) for i in range(3))
        col = ((x - base.west_m) / base.cell_m).astype(int)
        row = ((base.north_m - y) / base.cell_m).astype(int)
        here = (col >= 0) & (row >= 0) & (col < base.shape[1]) & (row < base.shape[0])
        # A cell keeps the highest bed it sees, lest the next reach's fall be dug into it.
        cells, back = np.unique(row[here] * base.shape[1] + col[here], return_inverse=True)
        low = np.full(len(cells), -np.inf)
        np.maximum.at(low, back, level[here])
        spots = np.divmod(cells, base.shape[1])
        z[spots] = np.minimum(z[spots], low)


def _centre_wet(base: Grid, full: Grid, rows: slice, cols: slice) -> Mask:
    """Return the base cells whose centre lies on the wet side of a channel's crest."""
    x, y = base.x_m()[cols], base.y_m()[rows]
    col = np.clip(((x - full.west_m) / full.cell_m).astype(int), 0, full.shape[1] - 1)
    row = np.clip(((full.north_m - y) / full.cell_m).astype(int), 0, full.shape[0] - 1)
    return ~np.isnan(full.z[np.ix_(row, col)])


def _move_across(held: Floats, level: Floats, inside: Mask) -> None:
    """Give water in cells beyond the crest to the nearest inside cells that hold some; in place."""
    from scipy.ndimage import distance_transform_edt

    lost = (held > 0) & ~inside
    takers = (held > 0) & inside
    if not lost.any():
        return
    if not takers.any():
        takers = inside.copy()
        if not takers.any():
            return
    near = distance_transform_edt(~takers, return_distances=False, return_indices=True)
    for r, c in zip(*np.nonzero(lost), strict=True):
        to = near[0, r, c], near[1, r, c]
        if np.isnan(level[to]):
            level[to] = level[r, c]
        held[to] += held[r, c]
        held[r, c] = 0.0


def _conflict(first: Patch, later: Patch) -> Conflict | None:
    """Return where a later patch changes what an earlier one made; None where it doesn't."""
    a, b = first.levels.bounds, later.levels.bounds
    if a[0] >= b[2] or a[2] <= b[0] or a[1] >= b[3] or a[3] <= b[1]:
        return None
    fine, other = (first, later) if first.levels.cell_m <= later.levels.cell_m else (later, first)
    apart = np.abs(fine.levels.z - patch_levels(other, fine.levels))
    hit = np.nan_to_num(apart) > SAME_M
    if not hit.any():
        return None
    return Conflict(
        first.name,
        later.name,
        float(hit.sum()) * fine.levels.cell_m**2,
        float(apart[hit].max()),
        region(fine.levels, np.where(hit, fine.levels.cell_m / 2, -fine.levels.cell_m / 2)),
        first.phase == later.phase,
    )
