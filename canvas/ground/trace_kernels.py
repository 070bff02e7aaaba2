"""Compiled inner loop of the traced level line."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

#: Why a trace ends, in the order of `levelline.Stop`.
LONG, NO_DATA, STEEP, LOST, CLOSED, GENTLE = 0, 1, 2, 3, 4, 5


@njit("f8(f8[:, ::1], f8, f8, f8, f8, f8)", nogil=True, cache=True)
def level_at(z, west, north, cell, x, y):  # type: ignore[no-untyped-def]
    """Return a grid's value at a point, as `Grid.sample` has it; NaN where a corner lacks."""
    rows, cols = z.shape
    c, r = (x - west) / cell, (north - y) / cell
    if not (0.0 <= c <= cols and 0.0 <= r <= rows):
        return np.nan
    c, r = min(max(c - 0.5, 0.0), cols - 1.0), min(max(r - 0.5, 0.0), rows - 1.0)
    c0, r0 = min(int(c), max(cols - 2, 0)), min(int(r), max(rows - 2, 0))
    c1, r1 = min(c0 + 1, cols - 1), min(r0 + 1, rows - 1)
    u, v = c - c0, r - r0
    top = z[r0, c0] * (1.0 - u) + z[r0, c1] * u
    low = z[r1, c0] * (1.0 - u) + z[r1, c1] * u
    return top * (1.0 - v) + low * v


@njit("f8(f8[:, ::1], f8, f8, f8, f8, f8, f8, f8, f8)", nogil=True, cache=True)
def _bearing(z, west, north, cell, x, y, heading, radius, target):  # type: ignore[no-untyped-def]
    """Return the turn from `heading` to the nearest place on a circle at the target level.

    Within 150 degrees to either side, so it never turns back on its own way; NaN for none.
    """
    parts = 30
    apart = math.radians(150.0) / parts
    here = level_at(
        z, west, north, cell, x + radius * math.cos(heading), y + radius * math.sin(heading)
    )
    left = right = here - target
    a = b = 0.0
    found = left == 0.0
    for k in range(1, parts + 1):
        if found:
            break
        up, down = heading + k * apart, heading - k * apart
        one = level_at(z, west, north, cell, x + radius * math.cos(up), y + radius * math.sin(up))
        two = level_at(
            z, west, north, cell, x + radius * math.cos(down), y + radius * math.sin(down)
        )
        one, two = one - target, two - target
        if one * left <= 0.0:
            a, b, found = (k - 1) * apart, k * apart, True
        elif two * right <= 0.0:
            a, b, found = -(k - 1) * apart, -k * apart, True
        left, right = one, two
    if not found:
        return np.nan
    t = heading + a
    fa = level_at(z, west, north, cell, x + radius * math.cos(t), y + radius * math.sin(t)) - target
    for _ in range(36):
        turn = (a + b) / 2
        t = heading + turn
        ft = level_at(z, west, north, cell, x + radius * math.cos(t), y + radius * math.sin(t))
        ft -= target
        if ft * fa > 0.0:
            a, fa = turn, ft
        else:
            b = turn
    return (a + b) / 2


@njit("f8(f8[:, ::1], f8, f8, f8, f8, f8, f8, f8, f8, f8, i8)", nogil=True, cache=True)
def _strays(z, west, north, cell, x0, y0, z0, x1, y1, z1, parts):  # type: ignore[no-untyped-def]
    """Return how far the surface strays from a straight piece between two points."""
    worst = 0.0
    for k in range(1, parts):
        t = k / parts
        here = level_at(z, west, north, cell, x0 + t * (x1 - x0), y0 + t * (y1 - y0))
        if math.isnan(here):
            return math.inf
        worst = max(worst, abs(here - (z0 + t * (z1 - z0))))
    return worst


@njit("i8(f8[:, ::1], f8, f8, f8, f8[:, ::1], f8, f8, i8[::1])", nogil=True, cache=True)
def hold_level(z, west, north, cell, points, within, longest, kept):  # type: ignore[no-untyped-def]
    """Choose as few of a line's points as hold it `within` its level; return how many.

    A piece grows to the furthest point it can reach, at most `longest` away.
    """
    made, i, last = 1, 0, points.shape[0] - 1
    kept[0] = 0
    while i < last:
        good, run = i + 1, 0.0
        for j in range(i + 1, last + 1):
            run += math.hypot(points[j, 0] - points[j - 1, 0], points[j, 1] - points[j - 1, 1])
            chord = math.hypot(points[j, 0] - points[i, 0], points[j, 1] - points[i, 1])
            # A piece that would cut off a loop leaves out some of the line.
            if run > longest or run > 1.3 * chord:
                break
            parts = max(int(6.0 * chord / cell), 2)
            off = _strays(
                z, west, north, cell, points[i, 0], points[i, 1], points[i, 2],
                points[j, 0], points[j, 1], points[j, 2], parts,
            )  # fmt: skip
            if off <= within:
                good = j
        kept[made] = good
        made += 1
        i = good
    return made


@njit("b1(f8[:, ::1], i8, f8)", nogil=True, cache=True)
def _circles(out, made, near):  # type: ignore[no-untyped-def]
    """Return whether the newest point has come back to a lately made one."""
    for k in range(max(made - 60, 0), made - 5):
        if math.hypot(out[k, 0] - out[made - 1, 0], out[k, 1] - out[made - 1, 1]) < near:
            return True
    return False


@njit("UniTuple(f8, 2)(f8[:, ::1], f8, f8, f8, f8, f8, f8)", nogil=True, cache=True)
def _rise(z, west, north, cell, x, y, apart):  # type: ignore[no-untyped-def]
    """Return the ground's rise per metre to the east and to the north, over `apart` each way."""
    east = level_at(z, west, north, cell, x + apart, y)
    east -= level_at(z, west, north, cell, x - apart, y)
    up = level_at(z, west, north, cell, x, y + apart)
    up -= level_at(z, west, north, cell, x, y - apart)
    return east / (2 * apart), up / (2 * apart)


@njit(
    "UniTuple(f8, 5)(f8[:, ::1], f8, f8, f8, f8, f8, f8, f8, f8, f8, f8, f8, b1)",
    nogil=True,
    cache=True,
)
def _way_on(  # type: ignore[no-untyped-def]
    z, west, north, cell, x, y, level, heading, step, left, grade, within, circling
):
    """Return how far the best next piece strays, where it ends, its level and its length.

    Smaller and smaller circles are tried; then, out of a bump or a dent, larger ones.
    """
    best, bx, by, bz, bway = math.inf, 0.0, 0.0, 0.0, 0.0
    for k in range(5 if circling else 0, 9):
        radius = min(step * 0.5**k if k < 5 else step * (k - 3), left)
        want = level + grade * radius
        turn = _bearing(z, west, north, cell, x, y, heading, radius, want)
        if not math.isnan(turn):
            qx = x + radius * math.cos(heading + turn)
            qy = y + radius * math.sin(heading + turn)
            off = _strays(z, west, north, cell, x, y, level, qx, qy, want, 8)
            if off < best:
                best, bx, by, bz, bway = off, qx, qy, want, radius
        if best <= within or (k >= 4 and best < math.inf):
            break
    return best, bx, by, bz, bway


@njit(
    "UniTuple(i8, 2)(f8[:, ::1], f8, f8, f8, f8, f8, f8, i8, f8, f8, f8, f8, f8, f8, f8,"
    " f8[:, ::1])",
    nogil=True,
    cache=True,
)
def trace(  # type: ignore[no-untyped-def]
    z, west, north, cell, x, y, level, side, grade, step, longest, gentlest, steepest, apart,
    within, out,
):  # fmt: skip
    """Follow a level from (x, y), the hill on the left (`side` 1) or the right (-1).

    The level changes by `grade` per metre gone. Each step is a circle's radius: the way on is
    where the circle meets the level nearest to straight on, with a smaller circle where the
    surface between strays more than `within`. Fills `out` with x, y, level; returns how many
    points and why it ended. The ground's run is taken over `apart` to either side.
    """
    out[0, 0], out[0, 1], out[0, 2] = x, y, level
    made, gone, why = 1, 0.0, LONG
    hx, hy = 0.0, 0.0
    while made < out.shape[0] and longest - gone > 1e-6:
        gx, gy = _rise(z, west, north, cell, x, y, apart)
        slope = math.hypot(gx, gy)
        if not gentlest <= slope <= steepest:
            why = NO_DATA if math.isnan(slope) else STEEP if slope > steepest else GENTLE
            break
        # With the hill on the left one walks along (gy, -gx).
        fx, fy = side * gy / slope, -side * gx / slope
        circling = _circles(out, made, 0.3 * step)
        heading = math.atan2(fy, fx) if circling else math.atan2(fy + hy, fx + hx)
        off, qx, qy, want, way = _way_on(
            z,
            west,
            north,
            cell,
            x,
            y,
            level,
            heading,
            step,
            longest - gone,
            grade,
            within,
            circling,
        )
        if not off < math.inf:
            qx, qy = x + step * math.cos(heading), y + step * math.sin(heading)
            why = NO_DATA if math.isnan(level_at(z, west, north, cell, qx, qy)) else LOST
            break
        hx, hy = (qx - x) / way, (qy - y) / way
        x, y, level = qx, qy, want
        gone += way
        out[made, 0], out[made, 1], out[made, 2] = x, y, level
        made += 1
        if grade == 0.0 and made > 8 and math.hypot(x - out[0, 0], y - out[0, 1]) < 0.75 * way:
            why = CLOSED
            break
    return made, why
