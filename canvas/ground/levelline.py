"""The level line: traced over the ground from a point, both ways, level or at a steady grade."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData
from canvas.base.grid import Floats, Grid
from canvas.ground import trace_kernels as kernels
from canvas.ground.frames import line_points
from canvas.ground.levelness import level_errors, on_grade
from canvas.ground.snag import Snag, distinct, lead_round, without_loops

#: The line's straight pieces stay this near its level on the grid's surface [m].
HOLDS_M = 0.015
#: A graded line's whole fall is met this well before it is made even [m].
EVEN_M = 0.005
#: Outlines led round are simplified by this, and the line comes no nearer for it [m].
FEWER_M = 0.04
#: Longest straight piece [m].
LONGEST_PIECE_M = 8.0
#: Ground gentler than this has no level line worth the name (ratio).
GENTLEST = 0.002


class Stop(StrEnum):
    """Why a level line ends."""

    LENGTH = "as long as asked"
    NO_DATA = "the ground's data end"
    STEEP = "the ground is steeper than the limit"
    LOST = "no way on at this level"
    CLOSED = "it comes back to where it started"
    FLAT = "the ground is too flat to have a level line"
    BOUNDARY = "the boundary"
    OBSTACLE = "something to be kept is in the way"


_STOPS = (Stop.LENGTH, Stop.NO_DATA, Stop.STEEP, Stop.LOST, Stop.CLOSED, Stop.FLAT)


@dataclass(frozen=True, slots=True)
class Limits:
    """How far a level line may go."""

    #: Each way from the point [m].
    length_m: float = 200.0
    #: Steepest ground, rise over run.
    slope: float = 0.35
    #: The line stays inside; None for anywhere with data.
    within: Polygon | MultiPolygon | None = None
    #: What is to be kept: the line goes round its outline.
    obstacles: tuple[Polygon | MultiPolygon, ...] = ()
    #: Room left between the line and what is to be kept [m].
    clear_m: float = 0.0
    #: Stop at an obstacle instead of going round.
    stop_at_obstacle: bool = False
    #: How far against the line's direction, when that differs [m].
    back_m: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class LevelLine:
    """A traced line. It runs with the hill on its left: water stands on that side of its bank."""

    line: LineString
    #: The level it holds at each of its points.
    level_m: Floats
    #: Greatest distance of the grid's surface from the line's level, off the snags [m].
    error_m: float
    snags: tuple[Snag, ...]
    #: Why it ends at its start and at its end.
    stops: tuple[Stop, Stop]

    @property
    def length_m(self) -> float:
        """Plan length."""
        return float(self.line.length)


def level_line(
    ground: Grid,
    x_m: float,
    y_m: float,
    limits: Limits | None = None,
    grade: float = 0.0,
    level_m: float | None = None,
) -> LevelLine:
    """Return the line through a point at one level, or falling at `grade` (ratio) along it.

    With the hill on the left, a positive grade falls in the line's direction. `level_m` is the
    level to follow when it is not the ground's at the point: the trace starts at the nearest
    place that has it. Raises `BadData` where no line can start.
    """
    limits = limits or Limits()
    z = np.ascontiguousarray(ground.z, dtype=np.float64)
    x, y, level = _start(ground, z, x_m, y_m, level_m)
    points, stops = _evenly(ground, z, x, y, level, grade, limits)
    if Stop.CLOSED in stops and level_m is None:
        points, stops = _off_a_bump(ground, z, x, y, grade, limits, points, stops)
    if len(points) < 2 or LineString(points[:, :2]).length < ground.cell_m:
        raise BadData(
            f"no level line can be traced from here: {stops[1].value}",
            remedy="Choose a point on gentler, sloping ground inside the boundary.",
        )
    points = without_loops(hold_level(ground, points))
    points = distinct(points)
    snags: tuple[Snag, ...] = ()
    kept = _kept(limits)
    if kept is not None and not limits.stop_at_obstacle:
        points, snags = lead_round(ground, points, kept)
    rough = Stop.CLOSED not in stops and _strays(ground, points, snags)
    if grade != 0.0 or rough:
        at = LineString(points[:, :2]).project(Point(x, y))
        points, snags = on_grade(ground, points, grade, at, snags)
    line = LineString(points[:, :2])
    error = level_error_m(ground, line, points[:, 2], snags)
    return LevelLine(line, points[:, 2].copy(), error, snags, stops)


def _strays(ground: Grid, points: Floats, snags: Sequence[Snag]) -> bool:
    """Return whether a line's pieces stray from their level: on large cells they may."""
    return level_error_m(ground, LineString(points[:, :2]), points[:, 2], snags) > HOLDS_M * 1.05


def _evenly(
    ground: Grid, z: Floats, x: float, y: float, level: float, grade: float, limits: Limits
) -> tuple[Floats, tuple[Stop, Stop]]:
    """Return the points traced both ways so that the straightened line falls at `grade`.

    On a rough surface the trace's own steps wander and are longer than the line kept of them.
    """
    points, stops = _both(ground, z, x, y, level, grade, limits)
    asked = grade
    for _ in range(3 if grade else 0):
        if len(points) < 2:
            break
        kept = hold_level(ground, points)
        length = float(np.hypot(*np.diff(kept[:, :2], axis=0).T).sum())
        drop = float(kept[0, 2] - kept[-1, 2])
        if drop == 0.0 or abs(drop - grade * length) < EVEN_M:
            break
        asked *= grade * length / drop
        points, stops = _both(ground, z, x, y, level, asked, limits)
    return points, stops


def _both(
    ground: Grid, z: Floats, x: float, y: float, level: float, grade: float, limits: Limits
) -> tuple[Floats, tuple[Stop, Stop]]:
    """Return the points traced both ways, in one, and why each way ends."""
    behind = limits if limits.back_m is None else replace(limits, length_m=limits.back_m)
    back, first = _half(ground, z, x, y, level, -1, grade, behind)
    if first is Stop.CLOSED:
        # Its last point may lie a little before the first or beyond: the ring closes on the first.
        return np.vstack((back[:-1], back[:1]))[::-1], (first, first)
    on, last = _half(ground, z, x, y, level, 1, -grade, limits)
    meets = np.hypot(on[8:, 0] - back[-1, 0], on[8:, 1] - back[-1, 1]) < 0.4 * ground.cell_m
    if grade == 0.0 and meets.any():
        # Round a hill the two ways meet.
        on = np.vstack((on[: 8 + int(np.argmax(meets)) - 1], back[-1:]))
        first = last = Stop.CLOSED
    return np.vstack((back[::-1], on[1:])), (first, last)


def _off_a_bump(
    ground: Grid,
    z: Floats,
    x: float,
    y: float,
    grade: float,
    limits: Limits,
    points: Floats,
    stops: tuple[Stop, Stop],
) -> tuple[Floats, tuple[Stop, Stop]]:
    """Start again a little up or down the slope where the line only circles a bump."""
    around = 2 * math.pi * 8 * ground.cell_m
    best, best_stops = points, stops
    h = 3 * ground.cell_m
    rise = ground.sample([x + h, x, x - h, x], [y, y + h, y, y - h])
    gx, gy = float(rise[0] - rise[2]), float(rise[1] - rise[3])
    size = math.hypot(gx, gy)
    for cells in (0.5, -0.5, 1.0, -1.0, 1.5, -1.5, 2.0, -2.0):
        if (len(best) > 1 and LineString(best[:, :2]).length > around) or not size > 0:
            break
        px, py = x + cells * ground.cell_m * gx / size, y + cells * ground.cell_m * gy / size
        here = float(ground.sample(px, py))
        if math.isnan(here):
            continue
        again, why = _both(ground, z, px, py, here, grade, limits)
        if len(again) > len(best):
            best, best_stops = again, why
    return best, best_stops


def _start(
    ground: Grid, z: Floats, x: float, y: float, level_m: float | None
) -> tuple[float, float, float]:
    place = (ground.west_m, ground.north_m, ground.cell_m)
    here = kernels.level_at(z, *place, x, y)
    if math.isnan(here):
        raise BadData("there is no ground here", remedy="Choose a point on the known ground.")
    if level_m is None or abs(level_m - here) < 1e-6:
        return x, y, float(here)
    # Walk up or down the slope to the level.
    for _ in range(400):
        h = ground.cell_m
        gx = kernels.level_at(z, *place, x + h, y) - kernels.level_at(z, *place, x - h, y)
        gy = kernels.level_at(z, *place, x, y + h) - kernels.level_at(z, *place, x, y - h)
        slope = math.hypot(gx, gy) / (2 * h)
        off = level_m - kernels.level_at(z, *place, x, y)
        if not slope > GENTLEST or math.isnan(off):
            break
        if abs(off) < 1e-6:
            return x, y, level_m
        go = math.copysign(min(abs(off) / slope, ground.cell_m), off)
        x, y = x + go * gx / (2 * h * slope), y + go * gy / (2 * h * slope)
    raise BadData(
        f"the level {level_m:.2f} m isn't found uphill or downhill of here",
        remedy="Choose a point nearer to that level.",
    )


def _half(
    ground: Grid,
    z: Floats,
    x: float,
    y: float,
    level: float,
    side: int,
    grade: float,
    limits: Limits,
) -> tuple[Floats, Stop]:
    """Return the points (n, 3) of one way from the start, and why it ends."""
    step = ground.cell_m / 2
    out = np.empty((int(limits.length_m / step * 16) + 16, 3))
    made, why = kernels.trace(
        z,
        ground.west_m,
        ground.north_m,
        ground.cell_m,
        x,
        y,
        level,
        side,
        # Seen walking, the level falls with the line's own direction.
        grade,
        step,
        limits.length_m,
        GENTLEST,
        limits.slope,
        3 * ground.cell_m,
        HOLDS_M / 2,
        out,
    )
    points, stop = out[:made].copy(), _STOPS[why]
    if limits.within is not None:
        points, cut = _clip(points, limits.within)
        stop = Stop.BOUNDARY if cut else stop
    kept = _kept(limits)
    if kept is not None:
        points, stop = _end_at_kept(points, kept, limits, stop)
    return points, stop


def _kept(limits: Limits) -> BaseGeometry | None:
    """Return what is to be kept, with the room round it, in one piece."""
    return _one_piece(limits.obstacles, limits.clear_m) if limits.obstacles else None


@lru_cache(maxsize=4)
def _one_piece(obstacles: tuple[Polygon | MultiPolygon, ...], clear_m: float) -> BaseGeometry:
    """Return shapes with room round them as one: asked again and again while a line is sought."""
    # A round outline of many corners would leave as many in the line to be edited.
    room = clear_m + FEWER_M
    return shapely.union_all([each.buffer(room).simplify(FEWER_M) for each in obstacles])


def _end_at_kept(
    points: Floats, kept: BaseGeometry, limits: Limits, stop: Stop
) -> tuple[Floats, Stop]:
    """Cut a half at the first thing kept, or back out of one it ends in."""
    if len(points) < 2:
        return points, stop
    inside = shapely.contains_xy(kept, points[:, 0], points[:, 1])
    if limits.stop_at_obstacle:
        free, cut = _clip(points, shapely.difference(_wide(points), kept))
        return (free, Stop.OBSTACLE) if cut else (points, stop)
    if inside[-1]:
        last = int(np.flatnonzero(~inside)[-1]) + 1 if (~inside).any() else 1
        return points[:last], Stop.OBSTACLE
    return points, stop


def _wide(points: Floats) -> BaseGeometry:
    return LineString(points[:, :2]).envelope.buffer(10.0)


def _clip(points: Floats, area: BaseGeometry) -> tuple[Floats, bool]:
    """Return a half up to where it first leaves an area, and whether it does."""
    if not area.covers(Point(points[0, :2])):
        return points[:1], True
    if len(points) < 2:
        return points, False
    line = LineString(points[:, :2])
    if area.covers(line):
        return points, False
    leaves = shapely.intersection(line, area.boundary)
    along = [line.project(Point(xy)) for xy in shapely.get_coordinates(leaves)]
    _, run = line_points(line)
    for end in sorted(a for a in along if a > 1e-6):
        beyond = line.interpolate(min(end + 1e-3, float(run[-1])))
        if not area.covers(beyond) or end >= run[-1] - 1e-6:
            return _until(points, run, end), True
    return points, False


def _until(points: Floats, run: Floats, end: float) -> Floats:
    """Return points up to a distance along them, with one there."""
    k = int(np.searchsorted(run, end))
    last = [np.interp(end, run, points[:, i]) for i in range(3)]
    return np.vstack((points[:k], last))


def hold_level(ground: Grid, points: Floats, within_m: float = HOLDS_M) -> Floats:
    """Return a traced line with as few points as hold it within `within_m` of its level.

    Where even the trace's own pieces stray further (noise finer than the step), they are kept.
    """
    z = np.ascontiguousarray(ground.z, dtype=np.float64)
    kept = np.empty(len(points), np.int64)
    count = kernels.hold_level(
        z,
        ground.west_m,
        ground.north_m,
        ground.cell_m,
        np.ascontiguousarray(points, dtype=np.float64),
        within_m,
        LONGEST_PIECE_M,
        kept,
    )
    return np.asarray(points[kept[:count]], np.float64)


def level_error_m(
    ground: Grid, line: LineString, level_m: Floats, snags: Sequence[Snag] = ()
) -> float:
    """Return the greatest distance of the surface from a line's level, snags left out [m].

    Also for a line traced before: on other ground than it was traced on it tells how far off it
    is now. NaN where it lies on no known ground at all.
    """
    return level_errors(ground, line, level_m, snags).worst_m
