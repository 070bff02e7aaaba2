"""Geometry the kinds share: bands along lines, discs, places along a line."""

from __future__ import annotations

import math

import shapely
from shapely import LineString, MultiPoint, Point, Polygon
from shapely.geometry.base import BaseGeometry

#: Segments to a quarter circle of crowns, tanks and other discs: 0.5 % short of the true area.
QUARTER = 8


def band(line: BaseGeometry, width_m: float) -> BaseGeometry:
    """Return the area `width_m` wide along a line, square at the ends."""
    return line.buffer(width_m / 2, quad_segs=QUARTER, cap_style="flat", join_style="round")


def disc(centre: BaseGeometry, diameter_m: float) -> BaseGeometry:
    """Return a round area; the point itself when the diameter is nought."""
    return centre.buffer(diameter_m / 2, quad_segs=QUARTER) if diameter_m > 0 else centre


def closed(line: LineString, within_m: float = 0.5) -> bool:
    """Return whether a line ends where it starts."""
    first, last = Point(line.coords[0]), Point(line.coords[-1])
    return len(line.coords) > 3 and first.distance(last) <= within_m


def bearing_at(line: LineString, point: Point) -> float:
    """Return the grid bearing of a line where it passes nearest to a point, 0 to 360 [deg]."""
    along = line.project(point)
    a = line.interpolate(max(along - 0.05, 0.0))
    b = line.interpolate(min(along + 0.05, line.length))
    return math.degrees(math.atan2(b.x - a.x, b.y - a.y)) % 360


def bar(centre: Point, length_m: float, bearing_deg: float) -> LineString:
    """Return a straight line centred on a point."""
    dx = math.sin(math.radians(bearing_deg)) * length_m / 2
    dy = math.cos(math.radians(bearing_deg)) * length_m / 2
    return LineString([(centre.x - dx, centre.y - dy), (centre.x + dx, centre.y + dy)])


def corners(polygon: Polygon) -> MultiPoint:
    """Return a polygon's outer corners as one multi-point."""
    return MultiPoint(shapely.get_coordinates(polygon.exterior)[:-1])
