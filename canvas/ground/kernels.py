"""Compiled inner loops of the ground: gradients, shading, contour lines, polygon coverage.

Kept in one file because the compiler's cache does not see changes made in another. None uses
relaxed float rules: they would break NaN, which means "no data" everywhere here.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

_ROW = "f8[::1]"
_GRID = "f8[:, ::1]"

#: The band of a cell without data.
_NONE = np.int32(-2147483648)

# atan(t) = t P(t²) for 0 <= t <= 1: minimax fit of our own, within 3.3e-7 degrees.
_A0 = 0.999999886383
_A1 = -0.333325970273
_A2 = 0.199859067572
_A3 = -0.141612291431
_A4 = 0.104989459188
_A5 = -0.0723485707789
_A6 = 0.0397812204756
_A7 = -0.0144013561459
_A8 = 0.00245672416405


@njit("f8(f8, f8, f8)", nogil=True, cache=True, inline="always")
def _or_mirror(value, opposite, here):  # type: ignore[no-untyped-def]
    """Return a neighbour; where missing, the straight line through its opposite and the centre."""
    if not math.isnan(value):
        return value
    if not math.isnan(opposite):
        return 2.0 * here - opposite
    return here


@njit(f"void({_GRID}, i8, i8, f8[::1])", nogil=True, cache=True)
def _row_or_beyond(z, row, cols, out):  # type: ignore[no-untyped-def]
    """Copy a row with one cell more at each end; beyond the grid it goes on in a straight line."""
    rows = z.shape[0]
    if row < 0 or row >= rows:
        near = 0 if row < 0 else rows - 1
        far = min(max(near + (1 if row < 0 else -1), 0), rows - 1)
        for c in range(cols):
            out[c + 1] = 2.0 * z[near, c] - z[far, c]
    else:
        for c in range(cols):
            out[c + 1] = z[row, c]
    second = min(2, cols)
    out[0] = 2.0 * out[1] - out[second]
    out[cols + 1] = 2.0 * out[cols] - out[max(cols - 1, 1)]


@njit(f"void({_ROW}, {_ROW}, {_ROW}, f8, f8, {_ROW}, {_ROW})", nogil=True, cache=True)
def _gradient_row(up, mid, low, diagonal, straight, east, north):  # type: ignore[no-untyped-def]
    """dz/dx and dz/dy of one row from three padded rows; weights include the cell size."""
    cols = east.shape[0]
    lost = 0
    for c in range(cols):
        p = straight * (mid[c + 2] - mid[c]) + diagonal * (
            (up[c + 2] - up[c]) + (low[c + 2] - low[c])
        )
        q = straight * (up[c + 1] - low[c + 1]) + diagonal * (
            (up[c] - low[c]) + (up[c + 2] - low[c + 2])
        )
        here = mid[c + 1]
        # A centre without data has no slope even when all its neighbours have.
        east[c] = p + (here - here)
        north[c] = q + (here - here)
        s = p + q
        lost += 1 if math.isnan(s) else 0
    if lost == 0:
        return
    for c in range(cols):
        e = mid[c + 1]
        if math.isnan(e) or not math.isnan(east[c] + north[c]):
            continue
        nw, n, ne = up[c], up[c + 1], up[c + 2]
        w, o = mid[c], mid[c + 2]
        sw, s_, se = low[c], low[c + 1], low[c + 2]
        a, i = _or_mirror(nw, se, e), _or_mirror(se, nw, e)
        b, h = _or_mirror(n, s_, e), _or_mirror(s_, n, e)
        k, g = _or_mirror(ne, sw, e), _or_mirror(sw, ne, e)
        d, f = _or_mirror(w, o, e), _or_mirror(o, w, e)
        east[c] = straight * (f - d) + diagonal * ((k - a) + (i - g))
        north[c] = straight * (b - h) + diagonal * ((a - g) + (k - i))


@njit(f"void({_ROW}, {_ROW}, {_ROW}, {_ROW})", nogil=True, cache=True)
def _slope_aspect_row(east, north, slope, aspect):  # type: ignore[no-untyped-def]
    """Turn one row of gradients into steepness and the azimuth of the downhill direction."""
    for c in range(east.shape[0]):
        x = -east[c]
        y = -north[c]
        ax = abs(x)
        ay = abs(y)
        big = ax if ax > ay else ay
        small = ay if ax > ay else ax
        safe = big if big > 0.0 else 1.0
        t = small / safe
        u = t * t
        p = _A7 + u * _A8
        p = _A6 + u * p
        p = _A5 + u * p
        p = _A4 + u * p
        p = _A3 + u * p
        p = _A2 + u * p
        p = _A1 + u * p
        p = _A0 + u * p
        angle = t * p * (180.0 / math.pi)
        # Measured from north: the eighth nearer to east or west is the complement.
        angle = 90.0 - angle if ax > ay else angle
        angle = 180.0 - angle if y < 0.0 else angle
        angle = 360.0 - angle if x < 0.0 else angle
        angle = 0.0 if angle >= 360.0 else angle
        slope[c] = math.sqrt(x * x + y * y)
        aspect[c] = angle if big > 0.0 else np.nan


@njit(f"void({_GRID}, f8, f8, i8, i8, {_GRID}, {_GRID})", nogil=True, cache=True)
def slope_aspect_rows(z, diagonal, straight, first, end, slope, aspect):  # type: ignore[no-untyped-def]
    """Fill rows first..end of `slope` (ratio) and `aspect` (degrees from grid north)."""
    cols = z.shape[1]
    up, mid, low = np.empty(cols + 2), np.empty(cols + 2), np.empty(cols + 2)
    east, north = np.empty(cols), np.empty(cols)
    _row_or_beyond(z, first - 1, cols, up)
    _row_or_beyond(z, first, cols, mid)
    for r in range(first, end):
        _row_or_beyond(z, r + 1, cols, low)
        _gradient_row(up, mid, low, diagonal, straight, east, north)
        _slope_aspect_row(east, north, slope[r], aspect[r])
        up, mid, low = mid, low, up


@njit(f"void({_GRID}, f8, f8, {_GRID}, i8, i8, {_GRID})", nogil=True, cache=True)
def shade_rows(z, diagonal, straight, lights, first, end, out):  # type: ignore[no-untyped-def]
    """Fill rows of `out` (0..255) with light from `lights`: (east, north, up, share)."""
    cols = z.shape[1]
    up, mid, low = np.empty(cols + 2), np.empty(cols + 2), np.empty(cols + 2)
    east, north = np.empty(cols), np.empty(cols)
    _row_or_beyond(z, first - 1, cols, up)
    _row_or_beyond(z, first, cols, mid)
    for r in range(first, end):
        _row_or_beyond(z, r + 1, cols, low)
        _gradient_row(up, mid, low, diagonal, straight, east, north)
        total = out[r]
        for c in range(cols):
            total[c] = 0.0
        for k in range(lights.shape[0]):
            le, ln, lu, share = lights[k, 0], lights[k, 1], lights[k, 2], lights[k, 3]
            for c in range(cols):
                p, q = east[c], north[c]
                lit = (lu - p * le - q * ln) / math.sqrt(1.0 + p * p + q * q)
                total[c] += 255.0 * share * (0.0 if lit < 0.0 else lit)
        up, mid, low = mid, low, up


@njit("UniTuple(i4, 2)(i4, i4)", nogil=True, cache=True, inline="always")
def _levels(here, there):  # type: ignore[no-untyped-def]
    """Return the levels above `low` up to `high` that cross a link; none where data lack."""
    if _NONE in (here, there):
        return here, here
    return min(here, there), max(here, there)


@njit(f"i8({_GRID}, f8, f8, i4[:, ::1])", nogil=True, cache=True)
def count_crossings(z, base, interval, band):  # type: ignore[no-untyped-def]
    """Put the number of levels under each cell into `band`; return the crossings of all links."""
    rows, cols = z.shape
    total = 0
    for r in range(rows):
        for c in range(cols):
            v = z[r, c]
            # A value on a level belongs to the band above it, so no corner lies "on" a line.
            n = math.floor((v - base) / interval)
            band[r, c] = _NONE if math.isnan(v) else np.int32(n)
        for c in range(cols - 1):
            low, high = _levels(band[r, c], band[r, c + 1])
            total += high - low
        if r > 0:
            for c in range(cols):
                low, high = _levels(band[r, c], band[r - 1, c])
                total += high - low
    return total


@njit("i8(f8, f8, i4, i4, f8, f8, f8, f8, f8, f8, i8, f8[:, ::1], i4[::1])", nogil=True, cache=True)
def _cross_link(z0, z1, low, high, x, y, dx, dy, base, interval, made, xy, level):  # type: ignore[no-untyped-def]
    """Place the crossings of one link that runs from (x, y) by (dx, dy); return the new count."""
    for step in range(low + 1, high + 1):
        t = (base + step * interval - z0) / (z1 - z0)
        t = min(max(t, 0.0), 1.0)
        xy[made, 0] = x + t * dx
        xy[made, 1] = y + t * dy
        level[made] = step
        made += 1
    return made


@njit("void(i8, i8, i8, i8, b1, b1, b1, b1, b1, i4[::1], u1[::1])", nogil=True, cache=True)
def _link_cell(top, right, foot, left, nw, ne, se, sw, joined, follows, entered):  # type: ignore[no-untyped-def]
    """Link one level's crossings within a cell; the flags say which corners are above it."""
    if nw == se and ne == sw:
        # A saddle: the centre (`joined`) says whether the high corners hang together.
        one, other = (left, right) if nw else (top, foot)
        if nw:
            after_one, after_other = (foot, top) if joined else (top, foot)
        else:
            after_one, after_other = (left, right) if joined else (right, left)
        follows[other] = after_other
        entered[after_other] = 1
    else:
        one = top if ne > nw else (right if se > ne else (foot if sw > se else left))
        after_one = top if nw > ne else (right if ne > se else (foot if se > sw else left))
    follows[one] = after_one
    entered[after_one] = 1


@njit(
    f"void({_GRID}, i4[:, ::1], f8, f8, i8, i8[::1], i8[::1], i8[::1], i4[::1], u1[::1])",
    nogil=True,
    cache=True,
)
def _link_row(z, band, base, interval, r, north, south, down, follows, entered):  # type: ignore[no-untyped-def]
    """Link the crossings within every cell between the rows r - 1 and r."""
    for c in range(z.shape[1] - 1):
        nw, ne, se, sw = band[r - 1, c], band[r - 1, c + 1], band[r, c + 1], band[r, c]
        low, high = min(nw, ne, se, sw), max(nw, ne, se, sw)
        if low in (high, _NONE):
            continue
        # Less the lowest level on each link, so that adding a level gives the crossing.
        top, right = north[c] - min(nw, ne) - 1, down[c + 1] - min(ne, se) - 1
        foot, left = south[c] - min(se, sw) - 1, down[c] - min(nw, sw) - 1
        mean = 0.25 * (z[r - 1, c] + z[r - 1, c + 1] + z[r, c] + z[r, c + 1])
        for n in range(low + 1, high + 1):
            joined = mean >= base + n * interval
            _link_cell(
                top + n,
                right + n,
                foot + n,
                left + n,
                nw >= n,
                ne >= n,
                se >= n,
                sw >= n,
                joined,
                follows,
                entered,
            )


@njit(
    f"void({_GRID}, i4[:, ::1], f8, f8, f8[:, ::1], i4[::1], i4[::1], u1[::1])",
    nogil=True,
    cache=True,
)
def cross_and_link(z, band, base, interval, xy, level, follows, entered):  # type: ignore[no-untyped-def]
    """Place every crossing (in cells from the first centre, y down) and link it to the next.

    A crossing has a number: the first on its link plus the levels between. Going round a cell
    clockwise, a line leaves where the ground falls through its level and enters where it rises;
    so higher ground lies on the left of every line, and a crossing links to one other at most.
    """
    rows, cols = z.shape
    made = 0
    north, south, down = (
        np.zeros(cols, np.int64),
        np.zeros(cols, np.int64),
        np.zeros(cols, np.int64),
    )
    for r in range(rows):
        for c in range(cols - 1):
            south[c] = made
            low, high = _levels(band[r, c], band[r, c + 1])
            if low != high:
                z0, z1 = z[r, c], z[r, c + 1]
                made = _cross_link(
                    z0, z1, low, high, c, r, 1.0, 0.0, base, interval, made, xy, level
                )
        if r > 0:
            for c in range(cols):
                down[c] = made
                low, high = _levels(band[r - 1, c], band[r, c])
                if low != high:
                    z0, z1 = z[r - 1, c], z[r, c]
                    made = _cross_link(
                        z0, z1, low, high, c, r - 1, 0.0, 1.0, base, interval, made, xy, level
                    )
            _link_row(z, band, base, interval, r, north, south, down, follows, entered)
        north, south = south, north


@njit(
    "i8(f8[:, ::1], i4[::1], i4[::1], u1[::1], f8, f8, f8, f8[:, ::1], i8[::1], i4[::1], u1[::1])",
    nogil=True,
    cache=True,
)
def walk_lines(xy, level, follows, entered, west, north, cell, out, start, of, closed):  # type: ignore[no-untyped-def]
    """Thread crossings into lines, open ones first; return how many. `follows` is used up.

    Repeated points are dropped, and with them lines that shrink to one point.
    """
    count = xy.shape[0]
    lines = 0
    put = 0
    for ring in range(2):
        for first in range(count):
            if follows[first] < 0 or (ring == 0 and entered[first] == 1):
                continue
            begin = put
            at = first
            while at >= 0:
                x = west + (xy[at, 0] + 0.5) * cell
                y = north - (xy[at, 1] + 0.5) * cell
                if put == begin or x != out[put - 1, 0] or y != out[put - 1, 1]:
                    out[put, 0] = x
                    out[put, 1] = y
                    put += 1
                following = follows[at]
                follows[at] = -1
                at = following
            if put - begin < 2 or (ring == 1 and put - begin < 4):
                put = begin
                continue
            start[lines] = begin
            of[lines] = level[first]
            closed[lines] = ring
            lines += 1
    start[lines] = put
    return lines


@njit("UniTuple(i8, 2)(f8[:, ::1], i8, i8, i8)", nogil=True, cache=True)
def _strips(edges, i, slices, strips):  # type: ignore[no-untyped-def]
    """Return the first strip an edge may meet and the one after the last, one to spare."""
    low, high = min(edges[i, 1], edges[i, 3]), max(edges[i, 1], edges[i, 3])
    first = min(max(low * slices - 1.5, 0.0), float(strips))
    end = min(max(high * slices + 1.5, 0.0), float(strips))
    return int(first), int(end)


@njit("void(f8[:, ::1], i8, f8[:, ::1])", nogil=True, cache=True)
def cover(edges, slices, out):  # type: ignore[no-untyped-def]
    """Add to `out` the share of each cell inside the rings whose edges are given.

    `edges` holds x0, y0, x1, y1 in cells from the corner, y down; inside is even-odd, so holes
    need no telling. Exact across; each row is cut in `slices` strips taken at mid height.
    """
    rows, cols = out.shape
    strips = rows * slices
    # Each edge is met in the strips it spans alone: how many meet each, then where.
    start = np.zeros(strips + 1, np.int64)
    for i in range(edges.shape[0]):
        for strip in range(*_strips(edges, i, slices, strips)):
            y = (strip + 0.5) / slices
            if (edges[i, 1] <= y) != (edges[i, 3] <= y):
                start[strip + 1] += 1
    for strip in range(strips):
        start[strip + 1] += start[strip]
    found, put = np.empty(start[strips]), start[:strips].copy()
    for i in range(edges.shape[0]):
        y0, y1 = edges[i, 1], edges[i, 3]
        for strip in range(*_strips(edges, i, slices, strips)):
            y = (strip + 0.5) / slices
            if (y0 <= y) != (y1 <= y):
                t = (y - y0) / (y1 - y0)
                x = min(max(edges[i, 0] + t * (edges[i, 2] - edges[i, 0]), 0.0), cols)
                found[put[strip]] = x
                put[strip] += 1
    for strip in range(strips):
        met = found[start[strip] : start[strip + 1]]
        met.sort()
        r = strip // slices
        for k in range(0, met.shape[0] - 1, 2):
            first, last = met[k], met[k + 1]
            c = int(first)
            while c < cols and c < last:
                out[r, c] += (min(last, c + 1.0) - max(first, float(c))) / slices
                c += 1
