"""Compiled inner loops of standing water: the pool behind a dam, what it holds at each level."""

from __future__ import annotations

import math

from numba import njit


@njit(
    "Tuple((i8, b1, b1))(f8[:, ::1], i8, f8, i4[:, ::1], i4, i4[::1], i8, i8)",
    nogil=True,
    cache=True,
)
def pool(z, seed, level, seen, stamp, queue, most, forbidden):  # type: ignore[no-untyped-def]
    """Collect the cells below a level that hang together with a seed; over corners too.

    Returns how many, whether the data's edge was reached, and whether `forbidden` (a cell, or
    -1) or more than `most` cells were. `seen` holds stamps: nothing need be cleared.
    """
    rows, cols = z.shape
    edge, escaped = False, False
    if not z[seed // cols, seed % cols] < level:
        return 0, edge, escaped
    seen[seed // cols, seed % cols] = stamp
    queue[0] = seed
    at, end = 0, 1
    while at < end:
        here = queue[at]
        at += 1
        r, c = here // cols, here % cols
        if here == forbidden or end > most:
            escaped = True
            break
        if r == 0 or c == 0 or r == rows - 1 or c == cols - 1:
            edge = True
        for k in range(9):
            rr, cc = r + k // 3 - 1, c + k % 3 - 1
            if rr < 0 or cc < 0 or rr >= rows or cc >= cols or seen[rr, cc] == stamp:
                continue
            there = z[rr, cc]
            if there < level:
                seen[rr, cc] = stamp
                queue[end] = rr * cols + cc
                end += 1
            elif math.isnan(there):
                edge = True
    return end, edge, escaped


@njit("void(f8[::1], f8[::1], f8[::1], f8[::1])", nogil=True, cache=True)
def curve(z, levels, area, volume):  # type: ignore[no-untyped-def]
    """Fill areas and volumes (in cells, and cells times metres) below evenly rising levels."""
    n = levels.shape[0]
    low, step = levels[0], (levels[n - 1] - levels[0]) / max(n - 1, 1)
    for i in range(n):
        area[i] = 0.0
        volume[i] = 0.0
    # Bin by the first level above each cell; sums then run upwards once.
    for v in z:
        k = math.ceil((v - low) / step) if step > 0.0 else 0
        k = max(k, 0)
        # Rounding may put a cell a bin too low or too high.
        while k > 0 and levels[min(k, n) - 1] > v:
            k -= 1
        while k < n and levels[k] <= v:
            k += 1
        if k < n:
            area[k] += 1.0
            volume[k] += v
    for i in range(1, n):
        area[i] += area[i - 1]
        volume[i] += volume[i - 1]
    for i in range(n):
        volume[i] = area[i] * levels[i] - volume[i]


@njit("i8(f8, f8, f8, f8, f8, f8, f8, i8, i8, i8[::1])", nogil=True, cache=True)
def cells_on(x0, y0, x1, y1, west, north, cell, rows, cols, out):  # type: ignore[no-untyped-def]
    """Collect the cells a straight piece runs through, side by side; return how many."""
    ax, ay = (x0 - west) / cell, (north - y0) / cell
    bx, by = (x1 - west) / cell, (north - y1) / cell
    c, r = math.floor(ax), math.floor(ay)
    last_c, last_r = math.floor(bx), math.floor(by)
    dx, dy = bx - ax, by - ay
    step_c, step_r = (1 if dx > 0 else -1), (1 if dy > 0 else -1)
    tx = ((c + (1 if dx > 0 else 0)) - ax) / dx if dx != 0.0 else math.inf
    ty = ((r + (1 if dy > 0 else 0)) - ay) / dy if dy != 0.0 else math.inf
    grow_x = abs(1.0 / dx) if dx != 0.0 else math.inf
    grow_y = abs(1.0 / dy) if dy != 0.0 else math.inf
    made = 0
    while made < out.shape[0]:
        if 0 <= r < rows and 0 <= c < cols:
            out[made] = r * cols + c
            made += 1
        if (c == last_c and r == last_r) or (tx > 1.0 and ty > 1.0):
            break
        if tx < ty:
            c += step_c
            tx += grow_x
        else:
            r += step_r
            ty += grow_y
    return made
