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
