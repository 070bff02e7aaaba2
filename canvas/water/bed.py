"""The ground water runs over, laid out for the shallow-water kernels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from canvas.base.errors import InputError
from canvas.base.grid import Floats, Grid
from canvas.ground.faces import Faces
from canvas.water import kernels as k
from canvas.water.tiles import Ints, Tiling

#: Edges of the ground.
EDGES = ("north", "south", "west", "east")


@dataclass(frozen=True, slots=True, eq=False)
class Bed:
    """The ground water runs over, and what it meets there.

    `manning`: n [s/m^1/3], one number or one per cell. `faces`: held crests and sills.
    `share_east`, `share_south`, shaped as `faces`: part of a held face's width that is really
    crest (a sill that crosses cells askew meets more face than it is long); 1 where not given.
    `shut`: those of `EDGES` that are walls; over the others, and into missing ground, water runs
    off. `kind`, shaped as the ground: which row of the rain table a cell takes; 0 when not given.
    """

    ground: Grid
    manning: ArrayLike
    faces: Faces | None = None
    share_east: Floats | None = None
    share_south: Floats | None = None
    shut: frozenset[str] = frozenset()
    kind: NDArray[np.integer] | None = None

    def __post_init__(self) -> None:
        """Refuse what no water can run over."""
        if not np.isfinite(self.ground.z).any():
            raise InputError("the ground has no heights")
        if not (np.asarray(self.manning, float) > 0.0).all():
            raise InputError("Manning's n must be above 0 everywhere")
        if self.faces is not None and self.faces.shape != self.ground.shape:
            raise InputError(f"faces of {self.faces.shape} on ground of {self.ground.shape}")
        if not self.shut <= set(EDGES):
            raise InputError(f"edges are {EDGES}, got {sorted(self.shut)}")

    @property
    def missing(self) -> NDArray[np.bool_]:
        """Where there is no ground."""
        return np.isnan(self.ground.z)

    def held_faces(self) -> tuple[Floats, Floats]:
        """Return the level water must pass at each inner face, east and south (see `Faces`)."""
        z = np.where(self.missing, k.WALL, self.ground.z)
        east, south = np.maximum(z[:, :-1], z[:, 1:]), np.maximum(z[:-1], z[1:])
        if self.faces is not None:
            east = np.maximum(east, self.faces.east_m)
            south = np.maximum(south, self.faces.south_m)
        return east, south


def lay_water(bed: Bed, tiling: Tiling, depth_m: ArrayLike) -> Floats:
    """Return bed, depth and soaked-in water as strips, walls where there is no ground."""
    depth = np.where(
        bed.missing, 0.0, np.broadcast_to(np.asarray(depth_m, float), bed.ground.shape)
    )
    if not (depth >= 0.0).all():
        raise InputError("depths must not be negative")
    level = np.where(bed.missing, k.WALL, bed.ground.z)
    laid = (tiling.lay(level, k.WALL), tiling.lay(depth, 0.0), tiling.lay(0.0, 0.0))
    return np.ascontiguousarray(np.stack(laid, axis=2))


def lay_still(bed: Bed, tiling: Tiling) -> NDArray[np.float32]:
    """Return what does not change: how far faces rise above the bed, and roughness."""
    z = np.where(bed.missing, k.WALL, bed.ground.z)
    east, south = bed.held_faces()
    rise = np.full((4, *bed.ground.shape), k.WALL)
    rise[k.RISE_E, :, :-1] = east - z[:, :-1]
    rise[k.RISE_E_BEYOND, :, :-1] = east - z[:, 1:]
    rise[k.RISE_S, :-1] = south - z[:-1]
    rise[k.RISE_S_BEYOND, :-1] = south - z[1:]
    n2 = np.broadcast_to(np.asarray(bed.manning, float) ** 2, bed.ground.shape)
    laid = [tiling.lay(each, k.WALL) for each in rise] + [tiling.lay(n2, 1e-3)]
    return np.ascontiguousarray(np.stack(laid, axis=2).astype(np.float32))


@dataclass(frozen=True, slots=True, eq=False)
class Weirs:
    """Faces whose held level lies above both cells: water passes them as over a weir."""

    #: Row and column of the cell, and axis: 0 its east face, 1 its south face; shape (n, 3).
    face: Ints
    #: Strip, row and column of the cell in the strips.
    place: Ints
    #: As `kernels.step_faces` reads them, grouped by tile.
    listed: Ints
    share: Floats
    start: Ints


def find_weirs(bed: Bed, tiling: Tiling) -> Weirs:
    """Return the held faces, in the order of their tiles."""
    found, shares = [np.zeros((0, 3), np.int64)], [np.zeros(0)]
    z = bed.ground.z
    east, south = bed.held_faces()
    for axis, level, given in ((0, east, bed.share_east), (1, south, bed.share_south)):
        here, there = (z[:, :-1], z[:, 1:]) if axis == 0 else (z[:-1], z[1:])
        row, col = np.nonzero((level > np.fmax(here, there) + 1e-6) & ~np.isnan(here + there))
        found.append(np.column_stack((row, col, np.full(len(row), axis))))
        shares.append(np.ones(len(row)) if given is None else given[row, col])
    face = np.concatenate(found).astype(np.int32)
    place = tiling.places(face[:, 0], face[:, 1])
    tile = tiling.tile_of(place)
    order, start = tiling.grouped(tile)
    inside = (place[:, 1] - tiling.first()[tile][:, 1] + 1) * k.WIDE + k.LEFT + place[:, 2]
    listed = np.column_stack((face[:, 2], inside)).astype(np.int32)
    share = np.concatenate(shares).astype(np.float64)
    return Weirs(
        face[order],
        place[order],
        np.ascontiguousarray(listed[order]),
        np.ascontiguousarray(share[order]),
        start,
    )


@dataclass(frozen=True, slots=True, eq=False)
class Rim:
    """Open sides of cells, over which water runs off; grouped by tile."""

    #: Row and column of the cell.
    cell: Ints
    place: Ints
    #: Fall of the bed outward, as a ratio.
    slope: Floats
    start: Ints


def find_rim(bed: Bed, tiling: Tiling) -> Rim:
    """Return the open sides at the edges and beside missing ground."""
    rows, cols = bed.ground.shape
    z = np.pad(bed.ground.z, 1, constant_values=np.nan)
    row, col = np.nonzero(~np.isnan(z))
    cells, falls = [], []
    for edge, dr, dc in zip(EDGES, (-1, 1, 0, 0), (0, 0, -1, 1), strict=True):
        at_edge = {"north": row == 1, "south": row == rows, "west": col == 1, "east": col == cols}
        out = np.isnan(z[row + dr, col + dc])
        if edge in bed.shut:
            out &= ~at_edge[edge]
        r, c = row[out], col[out]
        fall = np.nan_to_num(z[r - dr, c - dc] - z[r, c], nan=0.0) / bed.ground.cell_m
        cells.append(np.column_stack((r - 1, c - 1)))
        falls.append(np.maximum(fall, 0.0))
    cell = np.concatenate(cells).astype(np.int32)
    place = tiling.places(cell[:, 0], cell[:, 1])
    order, start = tiling.grouped(tiling.tile_of(place))
    slope = np.ascontiguousarray(np.concatenate(falls)[order])
    return Rim(cell[order], np.ascontiguousarray(place[order]), slope, start)
