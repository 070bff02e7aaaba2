"""Points, lines and boxes given in local metres, and lines led along the ground."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
import shapely.affinity
from shapely import LineString, Point, Polygon

from canvas.ground.levelline import LevelLine, Limits, level_line
from canvas.site.tabular import form

from .frame import ORIGIN_E, ORIGIN_N

Spot = tuple[float, float]


def place(u: float, v: float) -> Point:
    """Return a point given in local metres."""
    return Point(ORIGIN_E + u, ORIGIN_N + v)


def line(*points: Spot) -> LineString:
    """Return a line given in local metres."""
    return LineString([(ORIGIN_E + u, ORIGIN_N + v) for u, v in points])


def area(*points: Spot) -> Polygon:
    """Return a polygon given in local metres."""
    return Polygon([(ORIGIN_E + u, ORIGIN_N + v) for u, v in points])


def box(u: float, v: float, long: float, wide: float, turn: float) -> Polygon:
    """Return a rectangle on its middle in local metres, turned from east by degrees."""
    shape = shapely.box(u - long / 2, v - wide / 2, u + long / 2, v + wide / 2)
    turned = shapely.affinity.rotate(shape, turn, origin=(u, v))
    return shapely.affinity.translate(turned, ORIGIN_E, ORIGIN_N)


def traced(ground: Any, at: Spot, on_m: float, back_m: float, grade: float = 0.0) -> LevelLine:
    """Return the level or graded line through a spot, so far on and back; the hill on its left."""
    limits = Limits(length_m=on_m, back_m=back_m)
    return level_line(ground, ORIGIN_E + at[0], ORIGIN_N + at[1], limits, grade)


def across(way: LineString, station_m: float, half_m: float) -> LineString:
    """Return a line square across another at a station, left to right of its direction."""
    x, y = shapely.get_coordinates(way.interpolate(station_m))[0]
    a, b = shapely.get_coordinates(
        [way.interpolate(station_m - 1.0), way.interpolate(station_m + 1.0)]
    )
    ahead = (b - a) / np.hypot(*(b - a))
    left = np.array([-ahead[1], ahead[0]]) * half_m
    return LineString([(x + left[0], y + left[1]), (x - left[0], y - left[1])])


def table(*rows: tuple[float | str | None, ...]) -> str:
    """Return rows as a field of rows keeps them."""
    return form(rows)
