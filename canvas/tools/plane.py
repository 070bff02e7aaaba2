"""Points, bearings and straight lines in the plane of the map grid."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

#: A place on the map, easting and northing [m].
XY = tuple[float, float]
#: (n, 2) eastings and northings, or (n, 4) straight lines x0, y0, x1, y1 [m].
Coords = NDArray[np.float64]


def distance(a: XY, b: XY) -> float:
    """Return the length from a to b on the grid [m]."""
    return math.hypot(b[0] - a[0], b[1] - a[1])


def bearing(a: XY, b: XY) -> float:
    """Return the azimuth from a to b, degrees clockwise from grid north, 0 ≤ azimuth < 360."""
    found = math.degrees(math.atan2(b[0] - a[0], b[1] - a[1])) % 360.0
    # A tiny negative angle rounds up to 360 itself.
    return 0.0 if found == 360.0 else found


def along(a: XY, bearing_deg: float, length_m: float) -> XY:
    """Return the point `length_m` from a on an azimuth from grid north."""
    turn = math.radians(bearing_deg)
    return a[0] + math.sin(turn) * length_m, a[1] + math.cos(turn) * length_m


def meet(first: Coords, second: Coords) -> tuple[XY, float, float] | None:
    """Return where two straight lines meet and how far along each; None when parallel.

    Each is x0, y0, x1, y1 [m]; 0 is its start, 1 its end.
    """
    ux, uy = first[2] - first[0], first[3] - first[1]
    vx, vy = second[2] - second[0], second[3] - second[1]
    cross = ux * vy - uy * vx
    if abs(cross) <= 1e-9 * max(math.hypot(ux, uy) * math.hypot(vx, vy), 1e-12):
        return None
    wx, wy = second[0] - first[0], second[1] - first[1]
    t, s = (wx * vy - wy * vx) / cross, (wx * uy - wy * ux) / cross
    return (float(first[0] + t * ux), float(first[1] + t * uy)), float(t), float(s)


def feet_on(edges: Coords, xy: XY, *, inside: bool = False) -> tuple[Coords, Coords]:
    """Return the feet (n, 2) of perpendiculars from a point, and how far along each edge (n,).

    `inside` keeps the feet on the edges themselves: then they are the nearest places.
    """
    u = edges[:, 2:] - edges[:, :2]
    long2 = np.maximum((u * u).sum(axis=1), 1e-18)
    t = ((np.asarray(xy) - edges[:, :2]) * u).sum(axis=1) / long2
    if inside:
        t = np.clip(t, 0.0, 1.0)
    return edges[:, :2] + t[:, None] * u, t


def apart_from(edges: Coords, xy: XY) -> Coords:
    """Return the distances (n,) of a point from edges [m]."""
    feet, _ = feet_on(edges, xy, inside=True)
    return np.asarray(np.hypot(feet[:, 0] - xy[0], feet[:, 1] - xy[1]), np.float64)
