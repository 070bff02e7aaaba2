"""Slope ticks: short strokes down a batter from its upper edge, long and short by turns."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import MultiLineString
from shapely.geometry.base import BaseGeometry

from canvas.drawing.entries import Cap, Path, Stroke
from canvas.drawing.pen import Pen, along, paths_of

#: Between ticks along the upper edge [mm on paper].
EVERY_MM = 1.3
TICK_MM = 0.13
#: Every other tick goes this share of the way down.
SHORT = 0.5
#: Batters narrower than this on paper get none.
LEAST_MM = 0.45
#: An edge lies beside the area it borders within this [m].
BESIDE_M = 1.0
#: Ticks drawn for one batter, at most: beyond, they stand wider apart.
MOST_TICKS = 1500


def slope_ticks(
    pen: Pen, upper: BaseGeometry, lower: BaseGeometry, role: str, *, from_lower: bool = False,
    reach_m: float = 60.0, level: int = 2,
) -> None:  # fmt: skip
    """Draw ticks down a batter the shortest way between its edges.

    They stand evenly along the upper edge, or along the lower one where that is the longer, as
    round the corners of a fill. Edges farther apart than `reach_m` are not of one batter.
    """
    if upper.is_empty or lower.is_empty:
        return
    even, other = (lower, upper) if from_lower else (upper, lower)
    gap = max(pen.m(EVERY_MM), even.length / MOST_TICKS)
    paths: list[Path] = []
    for line in paths_of(even):
        places = along(line, gap).xy
        if len(places):
            near = _nearest(places, other)
            start, end = (near, places) if from_lower else (places, near)
            paths.extend(_ticks(pen, start, end, reach_m))
    pen.lines(paths, Stroke(role, TICK_MM, cap=Cap.FLAT), level=level)


def _nearest(places: Path, edge: BaseGeometry) -> Path:
    """Return the nearest point of an edge to each place, (n, 2)."""
    ways = shapely.shortest_line(shapely.points(places), edge)
    return shapely.get_coordinates(ways).reshape(-1, 2, 2)[:, 1]


def _ticks(pen: Pen, start: Path, end: Path, reach_m: float) -> list[Path]:
    length = np.hypot(*(end - start).T)
    share = np.where(np.arange(len(start)) % 2 == 0, 1.0, SHORT)[:, None]
    wide = (length >= pen.m(LEAST_MM)) & (length <= reach_m)
    end = start + (end - start) * share
    return [np.array(pair) for pair in zip(start[wide], end[wide], strict=True)]


def edge_along(edge: BaseGeometry, side: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """Return the stretches of an edge that border `side` rather than `other`."""
    ends = [
        np.stack((path[:-1], path[1:]), axis=1) for path in paths_of(shapely.segmentize(edge, 0.5))
    ]
    if not ends:
        return MultiLineString()
    legs = np.asarray(shapely.linestrings(np.concatenate(ends)), dtype=object)
    middles = shapely.line_interpolate_point(legs, 0.5, normalized=True)
    shapely.prepare(side)
    shapely.prepare(other)
    by_side = np.asarray(shapely.dwithin(middles, side, BESIDE_M))
    by_other = np.asarray(shapely.dwithin(middles, other, BESIDE_M))
    # Distances are slow: only where nearness doesn't tell.
    open_ = by_side == by_other
    nearer = np.nan_to_num(shapely.distance(middles[open_], side), nan=np.inf) < np.nan_to_num(
        shapely.distance(middles[open_], other), nan=np.inf
    )
    kept = by_side & ~by_other
    kept[open_] = nearer
    merged: BaseGeometry = shapely.line_merge(MultiLineString(list(legs[kept])))
    return merged
