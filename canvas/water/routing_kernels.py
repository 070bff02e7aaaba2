"""Compiled inner loop of level-pool routing through one store."""

from __future__ import annotations

import numpy as np
from numba import njit

#: Most parts a step is cut into.
MOST_PARTS = 4096


@njit("i8(f8[::1], f8)", nogil=True, cache=True)
def _segment(xs, x):  # type: ignore[no-untyped-def]
    """Return i with xs[i] <= x < xs[i + 1], held inside the table."""
    low, high = 0, xs.shape[0] - 1
    while high - low > 1:
        middle = (low + high) // 2
        if xs[middle] <= x:
            low = middle
        else:
            high = middle
    return low


@njit("f8(f8[::1], f8[::1], i8, f8)", nogil=True, cache=True, inline="always")
def _on(xs, ys, i, x):  # type: ignore[no-untyped-def]
    """Return y at x on the line of segment i, drawn on beyond it."""
    return ys[i] + (ys[i + 1] - ys[i]) * (x - xs[i]) / (xs[i + 1] - xs[i])


@njit("f8(f8[::1], f8[::1], f8, f8)", nogil=True, cache=True)
def _balance(volume, out, half_s, need):  # type: ignore[no-untyped-def]
    """Return V with V + O(V) half_s = need; both tables rise, so there is one."""
    if need <= 0.0:
        return 0.0
    low, high = 0, volume.shape[0] - 1
    while high - low > 1:
        middle = (low + high) // 2
        if volume[middle] + out[middle] * half_s <= need:
            low = middle
        else:
            high = middle
    a = volume[low] + out[low] * half_s
    b = volume[low + 1] + out[low + 1] * half_s
    v = volume[low] + (volume[low + 1] - volume[low]) * (need - a) / (b - a)
    return max(v, 0.0)


@njit("void(f8[::1], f8, f8, f8[::1], f8[:, ::1], f8[::1], f8[:, ::1], f8[::1])",
      nogil=True, cache=True)  # fmt: skip
def route(inflow, step_s, start, volume, ways, stored, passed, most):  # type: ignore[no-untyped-def]
    """Lead inflow [m³ per step] through a store.

    `volume` (rows,) and `ways` (ways, rows): flow out each way [m³/s] at each volume, none falling.
    Fills `stored` (steps + 1,) with the volume at the ends of steps, `passed` (ways, steps) with
    the volume out each way, `most` (ways,) with the greatest flow. Steps are cut so that a part
    drains little of what is above; what is taken in equals what goes out and what stays.
    """
    rows, count = volume.shape[0], ways.shape[0]
    total = np.zeros(rows)
    for w in range(count):
        for i in range(rows):
            total[i] += ways[w, i]
    v = start
    stored[0] = v
    share = np.zeros(count)
    for n in range(inflow.shape[0]):
        left = 1.0
        while left > 1e-12:
            i = _segment(volume, v)
            # The steepest of the segments the part may reach rules how far it may go.
            reach = v + inflow[n] * left
            steep = 0.0
            for j in range(i, rows - 1):
                if volume[j] > reach and j > i:
                    break
                steep = max(steep, (total[j + 1] - total[j]) / (volume[j + 1] - volume[j]))
            parts = min(max(steep * step_s * left / 0.25, 1.0), float(MOST_PARTS))
            part = min(left, max(left / np.ceil(parts), 1.0 / MOST_PARTS))
            if left - part < 1e-12:
                part = left
            dt = part * step_s
            before = max(_on(volume, total, i, v), 0.0)
            need = v + inflow[n] * part - 0.5 * dt * before
            after = _balance(volume, total, 0.5 * dt, need)
            gone = v + inflow[n] * part - after
            if gone < 0.0:
                after += gone
                gone = 0.0
            k = _segment(volume, after)
            sum_share = 0.0
            for w in range(count):
                first = max(_on(volume, ways[w], i, v), 0.0)
                last = max(_on(volume, ways[w], k, after), 0.0)
                share[w] = first + last
                sum_share += share[w]
                most[w] = max(most[w], last)
            for w in range(count):
                if sum_share > 0.0:
                    passed[w, n] += gone * share[w] / sum_share
            if sum_share <= 0.0:
                after += gone
            v = after
            left -= part
        stored[n + 1] = v
