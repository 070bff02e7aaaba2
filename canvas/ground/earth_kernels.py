"""Compiled inner loops of the earthworks: frames of lines and outlines, clamping, flooding.

Kept in one file because the compiler's cache does not see changes made in another.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

_GRID = "f8[:, ::1]"
_PLACE = "f8, f8, f8"  # west, north, cell
#: Where a cell's centre is taken to lie, in cells: see `hold_line`.
_EAST, _SOUTH = 0.5 - 6.180339887e-5, 0.5 - 2.718281828e-5


@njit(f"b1({_GRID}, {_PLACE}, b1, {_GRID}, {_GRID})", nogil=True, cache=True)
def hold_line(xyz, west, north, cell, sets, east, south):  # type: ignore[no-untyped-def]
    """Put a line's levels on the links it crosses; `sets` overrules what they hold already.

    The line is shifted by less than a ten-thousandth of a cell, in a direction no drawn line has:
    one that runs through a centre would else be let through where rounding takes its two links
    to different sides.
    """
    rows, cols = east.shape[0], south.shape[1]
    crossed = False
    for i in range(xyz.shape[0] - 1):
        # In cells, centres at whole numbers; rows count downwards.
        x0, y0 = (xyz[i, 0] - west) / cell - _EAST, (north - xyz[i, 1]) / cell - _SOUTH
        x1, y1 = (xyz[i + 1, 0] - west) / cell - _EAST, (north - xyz[i + 1, 1]) / cell - _SOUTH
        z0, dz = xyz[i, 2], xyz[i + 1, 2] - xyz[i, 2]
        first, last = max(math.floor(min(y0, y1)) + 1, 0), min(math.floor(max(y0, y1)), rows - 1)
        for r in range(first, last + 1):
            t = (r - y0) / (y1 - y0)
            c = math.floor(x0 + t * (x1 - x0))
            if 0 <= c < cols - 1:
                z = z0 + t * dz
                east[r, c] = z if sets else max(east[r, c], z)
                crossed = True
        first, last = max(math.floor(min(x0, x1)) + 1, 0), min(math.floor(max(x0, x1)), cols - 1)
        for c in range(first, last + 1):
            t = (c - x0) / (x1 - x0)
            r = math.floor(y0 + t * (y1 - y0))
            if 0 <= r < rows - 1:
                z = z0 + t * dz
                south[r, c] = z if sets else max(south[r, c], z)
                crossed = True
    return crossed


@njit(f"void({_GRID}, {_PLACE}, {_PLACE}, {_GRID})", nogil=True, cache=True)
def resample(z, west, north, cell, west_to, north_to, cell_to, out):  # type: ignore[no-untyped-def]
    """Fill `out` with a grid's values at the centres of other cells, as `Grid.sample` has them."""
    rows, cols = z.shape
    first, share = np.empty(out.shape[1], np.int64), np.empty(out.shape[1])
    for j in range(out.shape[1]):
        x = (west_to + (j + 0.5) * cell_to - west) / cell
        c = min(max(x - 0.5, 0.0), cols - 1.0)
        first[j] = min(int(c), max(cols - 2, 0)) if 0.0 <= x <= cols else -1
        share[j] = c - first[j]
    for i in range(out.shape[0]):
        y = (north - (north_to - (i + 0.5) * cell_to)) / cell
        if y < 0.0 or y > rows:
            out[i] = np.nan
            continue
        r = min(max(y - 0.5, 0.0), rows - 1.0)
        r0 = min(int(r), max(rows - 2, 0))
        r1, v = min(r0 + 1, rows - 1), r - r0
        for j in range(out.shape[1]):
            c0, u = first[j], share[j]
            if c0 < 0:
                out[i, j] = np.nan
                continue
            c1 = min(c0 + 1, cols - 1)
            # A corner of weight nought must not spread its NaN.
            total = 0.0
            if u < 1.0 and v < 1.0:
                total += (1.0 - u) * (1.0 - v) * z[r0, c0]
            if u > 0.0 and v < 1.0:
                total += u * (1.0 - v) * z[r0, c1]
            if u < 1.0 and v > 0.0:
                total += (1.0 - u) * v * z[r1, c0]
            if u > 0.0 and v > 0.0:
                total += u * v * z[r1, c1]
            out[i, j] = total


@njit(f"void({_GRID}, {_PLACE}, {_PLACE}, {_GRID})", nogil=True, cache=True)
def overlay(z, west, north, cell, west_to, north_to, cell_to, out):  # type: ignore[no-untyped-def]
    """Lay levels over others where they have any: bilinear, or the cell's own beside their edge."""
    rows, cols = z.shape
    first_r = max(math.floor((north_to - north) / cell_to) - 1, 0)
    last_r = min(math.ceil((north_to - north + rows * cell) / cell_to) + 1, out.shape[0])
    first_c = max(math.floor((west - west_to) / cell_to) - 1, 0)
    last_c = min(math.ceil((west - west_to + cols * cell) / cell_to) + 1, out.shape[1])
    for i in range(first_r, last_r):
        y = (north - (north_to - (i + 0.5) * cell_to)) / cell
        if y < 0.0 or y > rows:
            continue
        r = min(max(y - 0.5, 0.0), rows - 1.0)
        r0 = min(int(r), max(rows - 2, 0))
        r1, v = min(r0 + 1, rows - 1), r - r0
        own_r = min(int(y), rows - 1)
        for j in range(first_c, last_c):
            x = (west_to + (j + 0.5) * cell_to - west) / cell
            if x < 0.0 or x > cols:
                continue
            own = z[own_r, min(int(x), cols - 1)]
            if math.isnan(own):
                continue
            c = min(max(x - 0.5, 0.0), cols - 1.0)
            c0 = min(int(c), max(cols - 2, 0))
            c1, u = min(c0 + 1, cols - 1), c - c0
            smooth = 0.0
            if u < 1.0 and v < 1.0:
                smooth += (1.0 - u) * (1.0 - v) * z[r0, c0]
            if u > 0.0 and v < 1.0:
                smooth += u * (1.0 - v) * z[r0, c1]
            if u < 1.0 and v > 0.0:
                smooth += (1.0 - u) * v * z[r1, c0]
            if u > 0.0 and v > 0.0:
                smooth += u * v * z[r1, c1]
            out[i, j] = own if math.isnan(smooth) else smooth


@njit(f"void(f8[:, ::1], f8[::1], {_PLACE}, f8, {_GRID}, {_GRID}, {_GRID})", nogil=True, cache=True)
def line_frame(xy, run, west, north, cell, reach, along, aside, past):  # type: ignore[no-untyped-def]
    """Give each cell within `reach` of a line its distance along it and aside (+ to the right).

    `past` is how far the cell lies beyond an end of the line, 0 beside it. `aside` must come in
    as infinity. At a bend the side is that of the legs' mean direction.
    """
    rows, cols = aside.shape
    last = xy.shape[0] - 2
    for i in range(last + 1):
        ax, ay, bx, by = xy[i, 0], xy[i, 1], xy[i + 1, 0], xy[i + 1, 1]
        dx, dy = bx - ax, by - ay
        length = math.hypot(dx, dy)
        dx, dy = dx / length, dy / length
        c0 = max(math.floor((min(ax, bx) - reach - west) / cell), 0)
        c1 = min(math.ceil((max(ax, bx) + reach - west) / cell), cols)
        r0 = max(math.floor((north - max(ay, by) - reach) / cell), 0)
        r1 = min(math.ceil((north - min(ay, by) + reach) / cell), rows)
        for r in range(r0, r1):
            y = north - (r + 0.5) * cell - ay
            for c in range(c0, c1):
                x = west + (c + 0.5) * cell - ax
                t = x * dx + y * dy
                inner = min(max(t, 0.0), length)
                ex, ey = x - inner * dx, y - inner * dy
                # Most cells are too far: seen without a root.
                known, square = abs(aside[r, c]), ex * ex + ey * ey
                if square > min(known, reach) ** 2:
                    continue
                d = math.sqrt(square)
                if d >= known:
                    continue
                tx, ty = dx, dy
                if t < 0.0 and i > 0:
                    px, py = ax - xy[i - 1, 0], ay - xy[i - 1, 1]
                    p = math.hypot(px, py)
                    tx, ty = dx + px / p, dy + py / p
                elif t > length and i < last:
                    px, py = xy[i + 2, 0] - bx, xy[i + 2, 1] - by
                    p = math.hypot(px, py)
                    tx, ty = dx + px / p, dy + py / p
                right = ex * ty - ey * tx >= 0.0
                aside[r, c] = d if right else -d
                along[r, c] = run[i] + inner
                before = -t if i == 0 and t < 0.0 else 0.0
                after = t - length if i == last and t > length else 0.0
                past[r, c] = before + after


@njit(f"void(f8[:, ::1], {_PLACE}, {_GRID}, {_GRID}, {_GRID}, i4[:, ::1])", nogil=True, cache=True)
def outline_frame(edges, west, north, cell, out, near_x, near_y, edge):  # type: ignore[no-untyped-def]
    """Give each cell its distance to an outline (− inside), the nearest point and its edge.

    `edges` are (x0, y0, x1, y1) of all rings.
    """
    for r in range(out.shape[0]):
        y = north - (r + 0.5) * cell
        for c in range(out.shape[1]):
            x = west + (c + 0.5) * cell
            best, qx, qy, which, inside = math.inf, 0.0, 0.0, -1, False
            for k in range(edges.shape[0]):
                ax, ay, bx, by = edges[k, 0], edges[k, 1], edges[k, 2], edges[k, 3]
                dx, dy = bx - ax, by - ay
                square = dx * dx + dy * dy
                if (ay > y) != (by > y) and x < ax + (y - ay) * dx / dy:
                    inside = not inside
                if square == 0.0:
                    continue
                t = min(max(((x - ax) * dx + (y - ay) * dy) / square, 0.0), 1.0)
                px, py = ax + t * dx, ay + t * dy
                d = (x - px) ** 2 + (y - py) ** 2
                if d < best:
                    best, qx, qy, which = d, px, py, k
            d = math.sqrt(best)
            out[r, c] = -d if inside else d
            near_x[r, c], near_y[r, c] = qx, qy
            edge[r, c] = which


@njit(f"void({_GRID}, f8[:, ::1], {_GRID}, {_GRID})", nogil=True, cache=True)
def add_table(aside, table, level, out):  # type: ignore[no-untyped-def]
    """Fill `out` with `level` plus the table's height at `aside`; NaN where that is not finite.

    `table` is (distance, height), rising in distance; two rows alike in distance are a step.
    """
    n = table.shape[0]
    for r in range(out.shape[0]):
        k = 0
        for c in range(out.shape[1]):
            u = aside[r, c]
            if not abs(u) < math.inf:
                out[r, c] = np.nan
                continue
            # Neighbours lie close in the table: start where the last one was found.
            while k < n - 2 and u > table[k + 1, 0]:
                k += 1
            while k > 0 and u < table[k, 0]:
                k -= 1
            run = table[k + 1, 0] - table[k, 0]
            t = (u - table[k, 0]) / run if run > 0.0 else 1.0
            t = min(max(t, 0.0), 1.0)
            out[r, c] = level[r, c] + table[k, 1] + t * (table[k + 1, 1] - table[k, 1])


@njit(
    f"Tuple((f8, f8, b1))({_GRID}, {_GRID}, {_GRID}, f8, u1[:, ::1], i8, {_GRID}, i4[::1])",
    nogil=True,
    cache=True,
)
def spread(ground, low, high, shift, state, stamp, out, queue):  # type: ignore[no-untyped-def]
    """Bring the ground between two surfaces, outwards from the core cells; rest stays NaN in `out`.

    A cell is reached when the ground there lies above `high` or below `low` (both raised by
    `shift`) and a neighbour was reached. In `state`, bit 0 marks the core; the stamp (2, 4, 6 …)
    marks what this run has seen, so nothing need be cleared between runs. Returns cut and fill
    as sums of heights over cells, and whether the outer ring or missing ground was touched.
    """
    rows, cols = ground.shape
    cut, fill, edge = 0.0, 0.0, False
    end = 0
    for r in range(rows):
        for c in range(cols):
            out[r, c] = np.nan
            if state[r, c] & 1:
                state[r, c] = stamp | 1
                queue[end] = r * cols + c
                end += 1
    at = 0
    while at < end:
        r, c = queue[at] // cols, queue[at] % cols
        at += 1
        g = ground[r, c]
        lo, hi = low[r, c] + shift, high[r, c] + shift
        # Where both bounds disagree, what holds earth up yields to what is dug.
        level = min(max(g, lo), hi)
        if math.isnan(level):
            edge = True
            continue
        core = state[r, c] & 1
        if level == g and not core:
            continue
        out[r, c] = level
        if level < g:
            cut += g - level
        else:
            fill += level - g
        if r == 0 or c == 0 or r == rows - 1 or c == cols - 1:
            edge = True
        for k in range(9):
            rr, cc = r + k // 3 - 1, c + k % 3 - 1
            if rr < 0 or cc < 0 or rr >= rows or cc >= cols:
                continue
            if (state[rr, cc] | 1) != (stamp | 1):
                state[rr, cc] = stamp | (state[rr, cc] & 1)
                queue[end] = rr * cols + cc
                end += 1
    return cut, fill, edge


@njit(f"void({_GRID}, {_GRID}, {_GRID}, f8, u1[:, ::1], i8, f8, {_GRID})", nogil=True, cache=True)
def bite(ground, low, high, shift, state, stamp, cell, out):  # type: ignore[no-untyped-def]
    """Give each cell how far its ground is beyond the bounds where `spread` came, −`cell` else."""
    for r in range(out.shape[0]):
        for c in range(out.shape[1]):
            out[r, c] = -cell
            if (state[r, c] & 254) != stamp:
                continue
            z = ground[r, c]
            over, under = z - (high[r, c] + shift), (low[r, c] + shift) - z
            if math.isnan(over) or math.isnan(under):
                continue
            if math.isfinite(max(over, under)):
                out[r, c] = max(over, under)
