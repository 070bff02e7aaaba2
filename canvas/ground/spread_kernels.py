"""Compiled inner loops of flow that is shared between two neighbours, and of a drop's way down it.

Rimmed flat levels and directions as in `flow_kernels`. Kept in one file because the compiler's
cache does not see changes made in another.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

_NONE = np.uint32(0xFFFFFFFF)
_LEAVES = np.uint8(8)
_OUT = math.sqrt(0.5)
_EIGHTH = math.pi / 4.0
_DOWN = np.array([-1, -1, 0, 1, 1, 1, 0, -1])
_RIGHT = np.array([0, 1, 1, 1, 0, -1, -1, -1])

_LAND = "u4[::1], u1[::1], u8[::1]"  # water levels, shut directions, steps to the neighbours


@njit(f"f8({_LAND}, i8)", nogil=True, cache=True, forceinline=True)
def _bearing(water, shut, steps, cell):  # type: ignore[no-untyped-def]
    """Return where the steepest of the eight facets falls to, in eighths of a turn; -1 if level.

    A facet has the cell, a straight and a diagonal neighbour for corners. Where one of the two has
    no data or is shut off, only the other's own direction counts.
    """
    p = np.uint64(cell)
    here = np.float64(water[p])
    bits = np.int64(shut[p]) if shut.shape[0] > 0 else 0
    steepest, found, first, second = 0.0, -1, 0.0, 0.0
    for facet in range(8):
        straight = facet & 6
        diagonal = (straight + 1) & 7 if facet & 1 == 0 else (straight + 7) & 7
        level1, level2 = water[p + steps[straight]], water[p + steps[diagonal]]
        shut1 = level1 == _NONE or (bits >> straight) & 1 == 1
        shut2 = level2 == _NONE or (bits >> diagonal) & 1 == 1
        s1 = 0.0 if shut1 else here - np.float64(level1)
        s2 = 0.0 if shut1 or shut2 else np.float64(level1) - np.float64(level2)
        whole = 0.0 if shut2 else here - np.float64(level2)
        if shut1 or (s2 >= s1 and not shut2):
            s, s1, s2 = whole * _OUT, 1.0, 1.0
        elif s2 <= 0.0:
            s, s2 = s1, 0.0
            s1 = 1.0
        else:
            s = math.sqrt(s1 * s1 + s2 * s2)
        if s > steepest:
            steepest, found, first, second = s, facet, s1, s2
    if found < 0:
        return -1.0
    turn = 1.0 if second == first else math.atan2(second, first) / _EIGHTH
    straight = found & 6
    at = straight + turn if found & 1 == 0 else straight - turn
    at = at + 8.0 if at < 0.0 else at
    return at - 8.0 if at >= 8.0 else at


@njit(f"void({_LAND}, u1[:, ::1], i8, i8, f8[:, ::1])", nogil=True, cache=True)
def bearing_rows(water, shut, steps, way, first, end, azimuth):  # type: ignore[no-untyped-def]
    """Put each cell's flow azimuth [degrees] in place; NaN where water leaves or data are missing.

    Level cells and hollows go the way of their one direction.
    """
    cols = azimuth.shape[1]
    for r in range(first, end):
        for c in range(cols):
            k = way[r, c]
            azimuth[r, c] = np.nan
            if k <= _LEAVES:
                at = _bearing(water, shut, steps, (r + 1) * (cols + 2) + c + 1)
                if at >= 0.0:
                    azimuth[r, c] = 45.0 * at
                elif k < _LEAVES:
                    azimuth[r, c] = 45.0 * k


@njit("void(f8[::1], i8[::1], f8[::1])", nogil=True, cache=True)
def share_down(azimuth, steps, amount):  # type: ignore[no-untyped-def]
    """Add to each cell's amount its shares of what comes through the cells above it.

    Flow goes to the two neighbours nearest its azimuth, by the angles to them.
    """
    size = azimuth.shape[0]
    inflows = np.zeros(size, np.uint8)
    for cell in range(size):
        at = azimuth[cell] / 45.0
        if at >= 0.0:
            k = int(at)
            inflows[cell + steps[k]] += 1
            if at > k:
                inflows[cell + steps[(k + 1) & 7]] += 1
    ready = np.empty(size, np.int32)
    count = 0
    for cell in range(size):
        if inflows[cell] == 0:
            ready[count] = cell
            count += 1
    # The last found first: its neighbours are still near at hand.
    while count > 0:
        count -= 1
        p = np.int64(ready[count])
        at = azimuth[p] / 45.0
        if not at >= 0.0:
            continue
        k = int(at)
        part = at - k
        for side in range(2 if part > 0.0 else 1):
            n = p + steps[(k + side) & 7]
            amount[n] += amount[p] * (part if side == 1 else 1.0 - part)
            inflows[n] -= 1
            if inflows[n] == 0:
                ready[count] = n
                count += 1


@njit(f"i8({_LAND}, u1[:, ::1], i8, i8, i4[:, ::1])", nogil=True, cache=True)
def run_down(water, shut, steps, way, row, col, path):  # type: ignore[no-untyped-def]
    """Follow a drop from a cell until it leaves the data; return how many cells it passed.

    Of the two neighbours a slope falls between, the one that keeps the path nearer to the line of
    steepest fall from its start (least transversal deviation, Orlandini et al. 2003).
    """
    cols = way.shape[1]
    aside, count = 0.0, 0
    while True:
        path[count, 0], path[count, 1] = row, col
        count += 1
        k = np.int64(way[row, col])
        if k >= _LEAVES:
            return count
        at = _bearing(water, shut, steps, (row + 1) * (cols + 2) + col + 1)
        if at < 0.0:
            aside = 0.0
        else:
            k = np.int64(at)
            part = at - k
            if part > 0.0:
                left = math.sin(part * _EIGHTH) / (_OUT if k & 1 == 1 else 1.0)
                right = math.sin((1.0 - part) * _EIGHTH) / (1.0 if k & 1 == 1 else _OUT)
                if abs(aside - left) <= abs(aside + right):
                    aside -= left
                else:
                    aside += right
                    k += 1
            k &= 7
        row, col = row + _DOWN[k], col + _RIGHT[k]
