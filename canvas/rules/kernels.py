"""Compiled inner loop of the spacing rules: every pair of plants closer than asked."""

from __future__ import annotations

import math

import numpy as np
from numba import njit


@njit("i8[::1](i8[::1], i8)", nogil=True, cache=True)
def _longer(values, room):  # type: ignore[no-untyped-def]
    out = np.empty(room, np.int64)
    out[: values.shape[0]] = values
    return out


@njit("f8[::1](f8[::1], i8)", nogil=True, cache=True)
def _longer_f(values, room):  # type: ignore[no-untyped-def]
    out = np.empty(room, np.float64)
    out[: values.shape[0]] = values
    return out


@njit(
    "Tuple((i8[::1], i8[::1], f8[::1]))(f8[::1], f8[::1], f8[::1], f8[::1])",
    nogil=True,
    cache=True,
)
def close_pairs(x, y, radius, ask):  # type: ignore[no-untyped-def]
    """Return i, j, gap of pairs (i < j) whose gap is short of the larger `ask` of the two.

    All inputs (n,) in metres; gap = distance - radius_i - radius_j. Plants are dropped into cells
    as wide as the farthest reach, so only neighbouring cells are compared.
    """
    n = x.shape[0]
    room = 64
    out_i = np.empty(room, np.int64)
    out_j = np.empty(room, np.int64)
    out_gap = np.empty(room, np.float64)
    if n < 2:
        return out_i[:0], out_j[:0], out_gap[:0]
    west, south = x.min(), y.min()
    wide, high = x.max() - west, y.max() - south
    cell = max(2.0 * radius.max() + ask.max(), 1e-3)
    # Never more cells than a few per plant, however far apart the plants stand.
    while (wide / cell + 1.0) * (high / cell + 1.0) > 4.0 * n + 64.0:
        cell *= 1.5
    cols = int(wide / cell) + 1
    rows = int(high / cell) + 1
    start = np.zeros(cols * rows + 1, np.int64)
    home = np.empty(n, np.int64)
    for i in range(n):
        home[i] = int((y[i] - south) / cell) * cols + int((x[i] - west) / cell)
        start[home[i] + 1] += 1
    for k in range(cols * rows):
        start[k + 1] += start[k]
    fill = start[:-1].copy()
    order = np.empty(n, np.int64)
    for i in range(n):
        order[fill[home[i]]] = i
        fill[home[i]] += 1
    found = 0
    for i in range(n):
        row, col = home[i] // cols, home[i] % cols
        for r in range(max(row - 1, 0), min(row + 2, rows)):
            first = start[r * cols + max(col - 1, 0)]
            last = start[r * cols + min(col + 1, cols - 1) + 1]
            for k in range(first, last):
                j = order[k]
                if j <= i:
                    continue
                reach = radius[i] + radius[j] + max(ask[i], ask[j]) - 1e-6
                dx, dy = x[i] - x[j], y[i] - y[j]
                if reach <= 0.0 or dx * dx + dy * dy >= reach * reach:
                    continue
                if found == room:
                    room *= 2
                    out_i = _longer(out_i, room)
                    out_j = _longer(out_j, room)
                    out_gap = _longer_f(out_gap, room)
                out_i[found] = i
                out_j[found] = j
                out_gap[found] = math.sqrt(dx * dx + dy * dy) - radius[i] - radius[j]
                found += 1
    return out_i[:found], out_j[:found], out_gap[:found]
