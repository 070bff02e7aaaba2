"""Compiled inner loops between cells and shapes: outlines of cells, cells under lines.

Kept in one file because the compiler's cache does not see changes made in another.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

# East, south, west, north: steps along the lattice of cell corners, and from a corner to the cell
# ahead on the right. Corner (r, c) is the north-west one of cell (r, c).
_DOWN, _RIGHT = np.array([0, 1, 0, -1]), np.array([1, 0, -1, 0])
_AHEAD_R, _AHEAD_C = np.array([0, 0, -1, -1]), np.array([0, -1, -1, 0])


@njit("void(i4[::1], i8, i8[::1])", nogil=True, cache=True)
def extent(cells, cols, out):  # type: ignore[no-untyped-def]
    """Put the first and last row and column of flat cell numbers in `out`."""
    # A product is far quicker than a division, and safe: no cell's middle is near a whole row.
    rows_each, width = 1.0 / cols, np.int32(cols)
    top, left = np.int32(2147483647), np.int32(2147483647)
    foot, right = np.int32(0), np.int32(0)
    for i in range(cells.shape[0]):
        r = np.int32((cells[i] + 0.5) * rows_each)
        c = cells[i] - r * width
        top, foot = min(top, r), max(foot, r)
        left, right = min(left, c), max(right, c)
    out[0], out[1], out[2], out[3] = top, foot, left, right


@njit("void(i4[::1], i8, i8, i8, u1[:, ::1])", nogil=True, cache=True)
def mark(cells, cols, top, left, inside):  # type: ignore[no-untyped-def]
    """Mark flat cell numbers in a window whose first row and column are given."""
    rows_each, width = 1.0 / cols, inside.shape[1]
    flat = inside.reshape(inside.size)
    for i in range(cells.shape[0]):
        r = np.int64((cells[i] + 0.5) * rows_each)
        flat[np.uint64((r - top) * width + cells[i] - r * cols - left)] = 1


@njit("i8(u1[:, ::1])", nogil=True, cache=True)
def count_corners(inside):  # type: ignore[no-untyped-def]
    """Return at most how many points the outline of the marked cells has, closing ones included.

    `inside` needs a rim of unmarked cells.
    """
    rows, cols = inside.shape
    points = 0
    for r in range(rows - 1):
        for c in range(cols - 1):
            four = inside[r, c] + inside[r, c + 1] + inside[r + 1, c] + inside[r + 1, c + 1]
            if four in (1, 3):
                points += 1
            elif four == 2 and inside[r, c] == inside[r + 1, c + 1]:
                points += 2
    # A ring has four corners at the least, and closes with one point more.
    return points + points // 4 + 1


@njit("i8(i4[:, ::1], i8, i8, i4[:, ::1], i8)", nogil=True, cache=True)
def _close(walk, first, end, xy, put):  # type: ignore[no-untyped-def]
    """Put a stretch of the walk out as a closed ring; return how many points there are now."""
    for i in range(first, end):
        xy[put, 0], xy[put, 1] = walk[i, 0], walk[i, 1]
        put += 1
    xy[put, 0], xy[put, 1] = walk[first, 0], walk[first, 1]
    return put + 1


@njit("i8(u1[:, ::1], i4[:, ::1], i8[::1])", nogil=True, cache=True)
def outline(inside, xy, start):  # type: ignore[no-untyped-def]
    """Trace the rings around the marked cells (which need a rim); return how many.

    Points are cell corners: column, row. Outer rings run clockwise on the map, holes the other
    way. Cells that meet in a corner only are not joined: rings touch there, none crosses itself.
    """
    rows, cols = inside.shape
    used = np.zeros((rows, cols), np.uint8)
    # Which walk passed a corner where two cells meet, and where in the walk.
    seen = np.zeros((rows, cols), np.int64)
    walk = np.empty((xy.shape[0], 2), np.int32)
    rings, put, serial = 0, 0, 0
    start[0] = 0
    for top in range(1, rows):
        for left in range(1, cols):
            if inside[top, left] == 0 or inside[top - 1, left] == 1 or used[top, left] == 1:
                continue
            # Eastwards along the top of a cell, the inside on the right.
            r, c, heading, size = top, left, 0, 0
            serial += 1
            while heading != 0 or used[r, c] == 0:
                if heading == 0:
                    used[r, c] = 1
                r, c = r + _DOWN[heading], c + _RIGHT[heading]
                # The two cells ahead, on the right and on the left of the heading.
                right = inside[r + _AHEAD_R[heading], c + _AHEAD_C[heading]]
                turned = (heading + 3) & 3
                other = inside[r + _AHEAD_R[turned], c + _AHEAD_C[turned]]
                if right == 1 and other == 0:
                    continue
                at = size
                if right == 0 and other == 1:
                    passed = seen[r, c]
                    if passed >> 32 == serial:
                        at = passed & 0xFFFFFFFF
                        put = _close(walk, at, size, xy, put)
                        rings += 1
                        start[rings] = put
                    else:
                        seen[r, c] = (serial << 32) | size
                walk[at, 0], walk[at, 1] = c, r
                size = at + 1
                heading = (heading + 1) & 3 if right == 0 else turned
            put = _close(walk, 0, size, xy, put)
            rings += 1
            start[rings] = put
    return rings


@njit("void(f8[:, ::1], u1[:, ::1])", nogil=True, cache=True)
def touch(edges, hit):  # type: ignore[no-untyped-def]
    """Mark every cell that lines run through, corners included: no diagonal step slips past.

    `edges` holds x0, y0, x1, y1 in cells from the grid's corner, y down. Within each row of cells
    a line covers one stretch of columns.
    """
    rows, cols = hit.shape
    for i in range(edges.shape[0]):
        x0, y0, x1, y1 = edges[i, 0], edges[i, 1], edges[i, 2], edges[i, 3]
        if y0 > y1:
            x0, y0, x1, y1 = x1, y1, x0, y0
        for r in range(max(math.floor(y0), 0), min(math.floor(y1), rows - 1) + 1):
            upper = max((r - y0) / (y1 - y0), 0.0) if y1 > y0 else 0.0
            lower = min((r + 1 - y0) / (y1 - y0), 1.0) if y1 > y0 else 1.0
            xa, xb = x0 + upper * (x1 - x0), x0 + lower * (x1 - x0)
            first, last = math.floor(min(xa, xb)), math.floor(max(xa, xb))
            for c in range(max(first, 0), min(last, cols - 1) + 1):
                hit[r, c] = 1
