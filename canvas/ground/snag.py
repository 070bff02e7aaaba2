"""Where a traced line leaves its level: round what is to be kept; and loops cut off."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from canvas.base.grid import Floats, Grid
from canvas.ground.frames import line_points


@dataclass(frozen=True, slots=True)
class Snag:
    """A stretch where the line leaves its level to go round something kept."""

    from_m: float
    to_m: float
    #: Ground less level where it is furthest off: above 0 it must be dug deeper, below 0 filled.
    off_m: float


def distinct(points: Floats) -> Floats:
    """Return points without those less than a millimetre from the one before."""
    steps = np.hypot(*np.diff(points[:, :2], axis=0).T)
    return points[np.concatenate(([True], steps > 1e-3))]


def without_loops(points: Floats) -> Floats:
    """Return a line (n, 3) with every loop it makes cut off where it crosses itself."""
    while len(points) > 3 and not LineString(points[:, :2]).is_simple:
        legs = np.asarray(shapely.linestrings(np.stack((points[:-1, :2], points[1:, :2]), axis=1)))
        one, two = shapely.STRtree(legs).query(legs, predicate="intersects")
        apart = two - one
        crossing = apart > 1
        if not crossing.any():
            return points
        i = int(one[crossing].min())
        j = int(two[crossing & (one == i)].max())
        meet = shapely.get_coordinates(shapely.intersection(legs[i], legs[j]))[0]
        span = math.dist(points[i, :2], points[i + 1, :2])
        t = math.dist(points[i, :2], meet) / span if span > 0 else 0.0
        level = points[i, 2] + t * (points[i + 1, 2] - points[i, 2])
        if i == 0 and j == len(points) - 2 and np.allclose(points[0, :2], points[-1, :2]):
            return points
        points = np.vstack((points[: i + 1], [[meet[0], meet[1], level]], points[j + 1 :]))
    return points


def lead_round(ground: Grid, points: Floats, kept: BaseGeometry) -> tuple[Floats, tuple[Snag, ...]]:
    """Return a line led round what is to be kept, each time on the side that strays less."""
    snags: list[Snag] = []
    for part in shapely.get_parts(kept):
        detour = _detour(ground, points, Polygon(part.exterior))
        if detour is not None:
            points, start, end = detour
            run = line_points(LineString(points[:, :2]))[1]
            off = ground.sample(points[start:end, 0], points[start:end, 1]) - points[start:end, 2]
            worst = off[np.nanargmax(np.abs(off))] if np.isfinite(off).any() else math.nan
            snags.append(Snag(float(run[start]), float(run[end - 1]), float(worst)))
    return points, tuple(sorted(snags, key=lambda snag: snag.from_m))


def _detour(ground: Grid, points: Floats, body: Polygon) -> tuple[Floats, int, int] | None:
    """Lead a line round one body; the new points and which of them go round it, or None."""
    line = LineString(points[:, :2])
    inside = shapely.intersection(line, body)
    if inside.is_empty or inside.length < 1e-6:
        return None
    run = line_points(line)[1]
    ends = [line.project(Point(xy)) for xy in shapely.get_coordinates(inside)]
    enter, leave = min(ends), max(ends)
    a, b = line.interpolate(enter), line.interpolate(leave)
    ring = body.exterior
    ways = _both_ways(ring, ring.project(a), ring.project(b), ground.cell_m / 2)
    z0, z1 = np.interp([enter, leave], run, points[:, 2])
    best, best_off = None, math.inf
    for given in ways:
        # Corners and steps can fall on one place: without repeats.
        way, along = line_points(LineString(given))
        level = z0 + (z1 - z0) * along / along[-1]
        off = np.abs(ground.sample(way[:, 0], way[:, 1]) - level)
        worst = float(off[~np.isnan(off)].max()) if not np.isnan(off).any() else math.inf
        if worst < best_off or best is None:
            best, best_off = np.column_stack((way, level)), worst
    assert best is not None  # a ring always has two ways
    before, after = points[run < enter - 1e-6], points[run > leave + 1e-6]
    whole = distinct(np.vstack((before, best, after)))
    inner = len(distinct(np.vstack((before, best)))) if len(before) else len(distinct(best))
    return whole, min(len(before), inner - 1), inner


def _both_ways(ring: LineString, start: float, end: float, step: float) -> list[Floats]:
    """Return the two ways along a closed ring from one distance to another."""
    xy, run = line_points(ring)
    whole, ways = float(run[-1]), []
    for forward in (True, False):
        span = (end - start) % whole if forward else (start - end) % whole
        at = start + (1 if forward else -1) * np.linspace(0.0, span, max(int(span / step), 1) + 1)
        corners = np.concatenate((run - whole, run, run + whole))
        low, high = min(at[0], at[-1]), max(at[0], at[-1])
        at = np.unique(np.concatenate((at, corners[(corners > low) & (corners < high)])))
        at = at if forward else at[::-1]
        turned = at % whole
        ways.append(
            np.column_stack((np.interp(turned, run, xy[:, 0]), np.interp(turned, run, xy[:, 1])))
        )
    return ways
