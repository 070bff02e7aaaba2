"""The land that drains to a place, and the way a drop takes from one."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import compress, pairwise
from operator import not_

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import (
    LinearRing,
    LineString,
    MultiLineString,
    MultiPoint,
    MultiPolygon,
    Point,
    Polygon,
)
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import InputError
from canvas.base.grid import Grid
from canvas.base.sources import cites
from canvas.ground import catch_kernels as catch
from canvas.ground import spread_kernels as kernels
from canvas.ground.flood import COL_STEP, ROW_STEP, Ints, Longs, steps_of
from canvas.ground.flow import VOID, Flow
from canvas.ground.profile import coverage
from canvas.ground.rings import nested

Place = Point | MultiPoint | LineString | MultiLineString | Polygon | MultiPolygon


@dataclass(frozen=True, slots=True, eq=False)
class Catchment:
    """The cells that drain to a place, the place's own included."""

    flow: Flow
    #: Flat cell numbers, no two alike.
    cells: Ints
    #: Some cells lie at the data's edge: more may drain in from beyond, so all is "at least".
    at_least: bool

    @property
    def area_m2(self) -> float:
        """Its plan area."""
        return len(self.cells) * self.flow.ground.cell_m**2

    def mask(self) -> NDArray[np.bool_]:
        """Return which cells of the ground belong to it."""
        inside = np.zeros(self.flow.ground.shape, np.bool_)
        inside.ravel()[self.cells] = True
        return inside

    def grid(self) -> Grid:
        """Return 1 for its cells, NaN elsewhere."""
        return self.flow.ground.like(np.where(self.mask(), 1.0, np.nan))

    def outline(self) -> MultiPolygon:
        """Return its outline along cell rims; parts that meet in a corner only are separate."""
        return cells_outline(self.flow.ground, self.cells)


def catchment_at(flow: Flow, x_m: float, y_m: float, snap_m: float = 0.0) -> Catchment | None:
    """Return the catchment of a point; None where there are no data.

    With `snap_m`, of the cell within that distance through which most water comes: a click beside
    a drainage line then means the line.
    """
    cell = flow.ground.cell_at(x_m, y_m)
    if cell is not None and snap_m > 0:
        cell = _busiest(flow, cell, snap_m)
    if cell is None or flow.count[cell] == 0:
        return None
    return _of_cells(flow, np.array([cell[0] * flow.ground.shape[1] + cell[1]]))


def _busiest(flow: Flow, cell: tuple[int, int], reach_m: float) -> tuple[int, int]:
    row, col = cell
    reach = int(reach_m / flow.ground.cell_m)
    r0, c0 = max(row - reach, 0), max(col - reach, 0)
    near = flow.count[r0 : row + reach + 1, c0 : col + reach + 1]
    r, c = np.ogrid[: near.shape[0], : near.shape[1]]
    far = np.hypot(r + r0 - row, c + c0 - col)
    # Of equal cells the nearest.
    best = np.lexsort((far.ravel(), -np.where(far <= reach, near, -1).ravel()))[0]
    return int(best // near.shape[1]) + r0, int(best % near.shape[1]) + c0


def catchment(flow: Flow, place: BaseGeometry) -> Catchment | None:
    """Return all that drains to a point, line or area; None where it meets no data.

    A line gathers what comes to any cell it runs through, an area what comes to any cell it covers
    a part of; so nothing slips between. Raises `InputError` on other geometry.
    """
    if not isinstance(place, Place):
        raise InputError(f"a {place.geom_type} has no catchment")
    cells = cells_under(flow.ground, place)
    cells = cells[flow.count.ravel()[cells] > 0]
    return _of_cells(flow, cells) if len(cells) else None


def hollow_catchment(flow: Flow, i: int) -> Catchment:
    """Return all that drains into hollow `i` of the flow, its own cells included."""
    return _of_cells(flow, _hollow_cells(flow, i))


def hollow_outline(flow: Flow, i: int) -> MultiPolygon:
    """Return the water's edge of hollow `i` of the flow when full, along cell rims."""
    return cells_outline(flow.ground, _hollow_cells(flow, i).astype(np.int32))


def _hollow_cells(flow: Flow, i: int) -> Longs:
    if not 0 <= i < len(flow.hollows):
        raise InputError(f"no hollow {i} among {len(flow.hollows)}")
    return np.flatnonzero(flow.hollows.number == i + 1)


def cells_under(grid: Grid, place: BaseGeometry) -> Longs:
    """Return the flat numbers of the cells a point, line or area lies on."""
    if place.is_empty:
        return np.empty(0, np.int64)
    # Only the cells round the place are looked through, a cell to spare for what runs on a rim.
    west, south, east, north = place.bounds
    room = grid.cell_m
    near = grid.window((west - room, south - room, east + room, north + room))
    top, left = _offset(grid, near)
    hit = np.zeros(near.shape, np.uint8)
    for part in shapely.get_parts(place):
        if isinstance(part, Polygon):
            window, share = coverage(near, part)
            row, col = _offset(near, window)
            rows, cols = window.shape
            hit[row : row + rows, col : col + cols] |= share > 0
        elif not part.is_empty:
            catch.touch(_edges(near, part), hit)
    rows_hit, cols_hit = np.nonzero(hit)
    return np.asarray((rows_hit + top) * grid.shape[1] + cols_hit + left, np.int64)


def _offset(grid: Grid, window: Grid) -> tuple[int, int]:
    """Return the row and column of a grid at which a window of it begins."""
    return (
        round((grid.north_m - window.north_m) / grid.cell_m),
        round((window.west_m - grid.west_m) / grid.cell_m),
    )


def _edges(grid: Grid, part: BaseGeometry) -> NDArray[np.float64]:
    """Return a line's segments (a point's one, of no length) in cells from the grid's corner."""
    xy = shapely.get_coordinates(part)
    xy = np.repeat(xy, 2, axis=0) if len(xy) == 1 else xy
    col, row = (xy[:, 0] - grid.west_m) / grid.cell_m, (grid.north_m - xy[:, 1]) / grid.cell_m
    return np.column_stack((col[:-1], row[:-1], col[1:], row[1:]))


def _of_cells(flow: Flow, cells: Longs) -> Catchment:
    """Return the union of cells' catchments: stretches of the flow's order, merged."""
    start = flow.place.ravel()[cells].astype(np.int64)
    start, which = np.unique(start, return_index=True)
    end = start + flow.count.ravel()[cells][which]
    # Catchments lie within each other or apart: one that starts before an earlier end is within.
    reach = np.maximum.accumulate(end)
    outer = np.concatenate(([True], start[1:] >= reach[:-1]))
    stretches = [flow.order[a:b] for a, b in zip(start[outer], end[outer], strict=True)]
    found = stretches[0] if len(stretches) == 1 else np.concatenate(stretches)
    return Catchment(flow, found, bool(flow.at_least.ravel()[cells].any()))


def cells_outline(grid: Grid, cells: Ints) -> MultiPolygon:
    """Return the outline of flat cell numbers along the cells' rims, holes and all."""
    if len(cells) == 0:
        return MultiPolygon()
    ends = np.empty(4, np.int64)
    catch.extent(cells, grid.shape[1], ends)
    r0, c0 = int(ends[0]) - 1, int(ends[2]) - 1
    inside = np.zeros((int(ends[1]) - r0 + 2, int(ends[3]) - c0 + 2), np.uint8)
    catch.mark(cells, grid.shape[1], r0, c0, inside)
    most = catch.count_corners(inside)
    points, start = np.empty((most, 2), np.int32), np.zeros(most // 4 + 2, np.int64)
    rings = catch.outline(inside, points, start)
    start, points = start[: rings + 1], points[: start[rings]]
    xy = np.empty(points.shape)
    xy[:, 0] = grid.west_m + (points[:, 0] + c0) * grid.cell_m
    xy[:, 1] = grid.north_m - (points[:, 1] + r0) * grid.cell_m
    drawn = [LinearRing(xy[a:b]) for a, b in pairwise(start.tolist())]
    # Holes run the other way.
    turns = [ring.is_ccw for ring in drawn]
    return nested(list(compress(drawn, map(not_, turns))), list(compress(drawn, turns)))


@dataclass(frozen=True, slots=True, eq=False)
class DropPath:
    """The way of one drop until it leaves the data."""

    #: From the place it fell to the data's rim.
    line: LineString
    #: Row and column of every cell it passes, shape (cells, 2).
    cells: Ints
    #: Numbers (from 0) of the hollows it must fill and spill from, in order.
    hollows: tuple[int, ...]
    #: From the ground where it fell to the ground where it leaves.
    fall_m: float


@cites("orlandini2003", "tarboton1997")
def drop_path(flow: Flow, x_m: float, y_m: float) -> DropPath | None:
    """Return the way of a drop that falls on a point, None where there are no data.

    Down the line of steepest fall, over level ground and through hollows by their spill as `flow`
    has them. It steps from cell to cell and keeps within about a cell of the true line, where
    the eight directions of `flow` alone would run off by up to 22° on an even slope.
    """
    cell = flow.ground.cell_at(x_m, y_m)
    if cell is None or flow.count[cell] == 0:
        return None
    levels, steps = flow.levels, steps_of(flow.ground.shape[1] + 2).view(np.uint64)
    cells = np.empty((len(flow.order), 2), np.int32)
    count = kernels.run_down(levels.water, levels.shut, steps, flow.way, *cell, cells)
    cells = cells[:count].copy()
    row, col = cells[:, 0], cells[:, 1]
    xy = np.column_stack((flow.ground.x_m()[col], flow.ground.y_m()[row]))
    xy[0] = x_m, y_m
    numbers = flow.hollows.number[row, col]
    entered = numbers[np.flatnonzero(np.diff(numbers, prepend=0))]
    z = flow.ground.z[row, col]
    return DropPath(
        LineString(np.vstack((xy, _rim(flow, int(row[-1]), int(col[-1]))))),
        cells,
        tuple(int(n) - 1 for n in entered if n > 0),
        float(z[0] - z[-1]),
    )


def _rim(flow: Flow, row: int, col: int) -> tuple[float, float]:
    """Return where water leaves an outlet cell: half a cell on, towards the missing neighbour."""
    grid = flow.ground
    rows, cols = grid.shape
    for k in (0, 2, 4, 6, 1, 3, 5, 7):
        r, c = row + int(ROW_STEP[k]), col + int(COL_STEP[k])
        if not (0 <= r < rows and 0 <= c < cols) or flow.way[r, c] == VOID:
            break
    x, y = grid.west_m + (col + 0.5) * grid.cell_m, grid.north_m - (row + 0.5) * grid.cell_m
    half = 0.5 * grid.cell_m
    return x + int(COL_STEP[k]) * half, y - int(ROW_STEP[k]) * half
