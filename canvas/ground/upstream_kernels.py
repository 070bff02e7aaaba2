"""Compiled inner loops up and down the ways of a flow: whom water meets first, and how far off.

Plain grids laid flat, directions as in `flow_kernels`. Kept in one file because the compiler's
cache does not see changes made in another.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

_LEAVES = np.uint8(8)


@njit("void(u1[::1], i8[::1], i4[::1], i4[::1], f8, i4[::1], f4[::1])", nogil=True, cache=True)
def first_met(way, steps, order, marks, cell_m, met, far):  # type: ignore[no-untyped-def]
    """Give each cell of `order`, outlets first, the first mark below it and how far that is.

    Without a mark, 0 and the length to where water leaves the data.
    """
    diagonal = cell_m * math.sqrt(2.0)
    for i in range(order.shape[0]):
        p = np.int64(order[i])
        if marks[p] > 0:
            met[p], far[p] = marks[p], 0.0
        elif way[p] < _LEAVES:
            n = p + steps[way[p]]
            met[p] = met[n]
            far[p] = far[n] + (diagonal if way[p] & 1 else cell_m)


@njit("void(i4[::1], i4[::1], f4[::1], i8[::1])", nogil=True, cache=True)
def farthest(order, met, far, cell):  # type: ignore[no-untyped-def]
    """Put the cell farthest up from each mark in `cell`, by mark; -1 where there is none."""
    for i in range(order.shape[0]):
        p = np.int64(order[i])
        mark = met[p]
        if cell[mark] < 0 or far[p] > far[cell[mark]]:
            cell[mark] = p


@njit("i8(u1[::1], i8[::1], i4[::1], i8, i8[::1])", nogil=True, cache=True)
def walk(way, steps, marks, start, cells):  # type: ignore[no-untyped-def]
    """List the cells from `start` down to the first marked one or the data's end; return how many.

    The start's own mark does not count.
    """
    p, put = start, 0
    while put < cells.shape[0]:
        cells[put] = p
        put += 1
        if (put > 1 and marks[p] > 0) or way[p] >= _LEAVES:
            break
        p = p + steps[way[p]]
    return put
