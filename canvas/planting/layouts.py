"""Where plants stand: along lines, in hedge rows, in patterns filling an area.

All distances are horizontal: what a crown needs is plan distance.
"""

from __future__ import annotations

import math
from enum import StrEnum

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiLineString, MultiPolygon, Polygon

from canvas.base.errors import BadData, InputError

Points = NDArray[np.float64]

#: A plant this near an edge still counts as on it [m].
ON_EDGE_M = 1e-6
#: More plants than this in one layout are taken for a typing mistake.
MOST_PLANTS = 200_000
HECTARE_M2 = 10_000.0


class Pattern(StrEnum):
    """How plants fill an area."""

    SQUARE = "square"
    RECTANGULAR = "rectangular"
    TRIANGULAR = "triangular"
    #: A square with one more plant in the middle of each.
    QUINCUNX = "quincunx"


def _needs_positive(**lengths_m: float) -> None:
    for name, value in lengths_m.items():
        if not (math.isfinite(value) and value > 0):
            raise InputError(f"{name} must be more than 0, got {value}")


def count_along(length_m: float, spacing_m: float, *, closed: bool = False) -> int:
    """Return how many plants a line of this length takes.

    An open line has a plant at its start and one at each full spacing: floor(L/p) + 1. A closed
    one takes round(L/p), at least one, with the spacing evened out.
    """
    _needs_positive(spacing_m=spacing_m)
    steps = length_m / spacing_m
    # 12 m / 0.4 m is 29.999…6 in floating point: a whole step short by rounding is a step.
    return max(round(steps), 1) if closed else math.floor(steps + 1e-9) + 1


def along_line(line: LineString, spacing_m: float, *, start_m: float = 0.0) -> Points:
    """Return plants along a line, shape (n, 2), the first `start_m` from the line's start.

    A closed line is shared out evenly, so its true spacing is L / n.
    """
    closed = line.is_closed
    left_m = line.length if closed else line.length - start_m
    if left_m < 0:
        return np.empty((0, 2))
    count = count_along(left_m, spacing_m, closed=closed)
    _refuse_crowd(count)
    step_m = line.length / count if closed else spacing_m
    stations = start_m + step_m * np.arange(count)
    if closed:
        stations %= line.length
    return shapely.get_coordinates(shapely.line_interpolate_point(line, stations))


def hedge_lines(line: LineString, rows: int, row_gap_m: float) -> tuple[LineString, ...]:
    """Return the rows of a hedge, the leftmost first, even about its middle line."""
    if rows < 1:
        raise InputError(f"a hedge has at least one row, got {rows}")
    _needs_positive(row_gap_m=row_gap_m)
    offsets = (np.arange(rows)[::-1] - (rows - 1) / 2) * row_gap_m
    made: list[LineString] = []
    for offset in offsets:
        if abs(offset) < ON_EDGE_M:
            made.append(line)
            continue
        made.extend(_offset(line, float(offset)))
    return tuple(made)


def _offset(line: LineString, offset_m: float) -> list[LineString]:
    """Return a line moved sideways, + to its left; nothing where it folds up in a tight bend."""
    if line.is_closed:
        ring = Polygon(line.coords)
        grow = -offset_m if ring.exterior.is_ccw else offset_m
        moved = ring.buffer(grow, join_style="mitre")
        rings = [moved] if isinstance(moved, Polygon) else list(moved.geoms)
        return [LineString(part.exterior.coords) for part in rings if not part.is_empty]
    aside = shapely.offset_curve(line, offset_m, join_style="mitre", mitre_limit=2.0)
    lines = aside.geoms if isinstance(aside, MultiLineString) else [aside]
    return [part for part in lines if isinstance(part, LineString) and part.length > 0]


def hedge_plants(
    line: LineString, *, rows: int, row_gap_m: float, spacing_m: float, staggered: bool
) -> Points:
    """Return a hedge's plants, row by row, shape (n, 2).

    In a staggered hedge every second row starts half a spacing later.
    """
    _needs_positive(spacing_m=spacing_m)
    made = [
        along_line(row, spacing_m, start_m=spacing_m / 2 if staggered and place % 2 else 0.0)
        for place, row in enumerate(hedge_lines(line, rows, row_gap_m))
    ]
    _refuse_crowd(sum(map(len, made)))
    return np.concatenate(made) if made else np.empty((0, 2))


def row_distance_m(pattern: Pattern, spacing_m: float, row_m: float | None = None) -> float:
    """Return the distance between neighbouring rows of a pattern."""
    if pattern is Pattern.RECTANGULAR:
        if row_m is None:
            raise BadData(
                "a rectangular layout needs the distance between rows",
                remedy="Give it in metres, or choose a square layout.",
            )
        return row_m
    if pattern is Pattern.TRIANGULAR:
        return spacing_m * math.sqrt(3) / 2
    return spacing_m / 2 if pattern is Pattern.QUINCUNX else spacing_m


def plants_per_ha(pattern: Pattern, spacing_m: float, row_m: float | None = None) -> float:
    """Return the plants of a large area per hectare: 10 000 / (row distance x in-row spacing)."""
    _needs_positive(spacing_m=spacing_m)
    return HECTARE_M2 / (row_distance_m(pattern, spacing_m, row_m) * spacing_m)


def fill(
    area: Polygon | MultiPolygon,
    pattern: Pattern,
    spacing_m: float,
    *,
    row_m: float | None = None,
    bearing_deg: float = 90.0,
    inset_m: float = 0.0,
    origin: tuple[float, float] | None = None,
) -> Points:
    """Return the plants of a pattern inside an area, shape (n, 2), row by row.

    Parameters
    ----------
    spacing_m : float
        Between plants in a row; the side of the square or triangle.
    row_m : float, optional
        Between rows, for the rectangular pattern only.
    bearing_deg : float
        Of the rows, clockwise from grid north; 90 runs them east and west.
    inset_m : float
        Kept free along the edge; 0 lets plants stand on it.
    origin : (x, y), optional
        A place where a plant stands; else the corner of the area's frame along the rows.
    """
    _needs_positive(spacing_m=spacing_m)
    gap_m = row_distance_m(pattern, spacing_m, row_m)
    _needs_positive(row_m=gap_m)
    inner = area.buffer(ON_EDGE_M - inset_m, join_style="mitre")
    if inner.is_empty:
        return np.empty((0, 2))
    turn = math.radians(90.0 - bearing_deg)
    along = np.array([math.cos(turn), math.sin(turn)])
    across = np.array([-along[1], along[0]])
    corners = shapely.get_coordinates(inner)
    u, v = corners @ along, corners @ across
    if origin is None:
        u0, v0 = u.min() + ON_EDGE_M, v.min() + ON_EDGE_M
    else:
        u0, v0 = np.asarray(origin) @ along, np.asarray(origin) @ across
    first_row, last_row = _steps(v.min() - v0, v.max() - v0, gap_m)
    first, last = _steps(u.min() - u0 - spacing_m, u.max() - u0, spacing_m)
    _refuse_crowd((last - first + 1) * (last_row - first_row + 1))
    row, step = np.meshgrid(
        np.arange(first_row, last_row + 1), np.arange(first, last + 1), indexing="ij"
    )
    # Both patterns put every second row half a spacing along.
    staggered = pattern in (Pattern.TRIANGULAR, Pattern.QUINCUNX)
    shift = (row % 2) * 0.5 if staggered else np.zeros(row.shape)
    places = (u0 + (step + shift) * spacing_m).reshape(-1, 1) * along
    places = places + (v0 + row * gap_m).reshape(-1, 1) * across
    shapely.prepare(inner)
    kept: Points = places[shapely.intersects_xy(inner, places[:, 0], places[:, 1])]
    return kept


def _steps(low_m: float, high_m: float, step_m: float) -> tuple[int, int]:
    return math.floor(low_m / step_m), math.ceil(high_m / step_m)


def _refuse_crowd(count: int) -> None:
    if count > MOST_PLANTS:
        raise BadData(
            f"this layout would take {count} plants",
            remedy=f"Widen the spacing: a layout may hold {MOST_PLANTS} plants.",
        )
