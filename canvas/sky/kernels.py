"""Compiled inner loops of the sky."""

from __future__ import annotations

import math

import numpy as np
from numba import njit


@njit(
    "void(f8[:, ::1], f8[:, ::1], f8, f8[:, ::1], f8, i8, i8, f8[:, ::1])", nogil=True, cache=True
)
def look_up_rows(slope, aspect, turn, table, level, first, end, out):  # type: ignore[no-untyped-def]
    """Fill rows of `out` from a table over slope angle (0..90°) and aspect (0..360°), bilinear.

    Both axes of `table` are even and include their ends. Cells without an aspect get `level`.
    """
    tilts, turns = table.shape[0] - 1, table.shape[1] - 1
    per_tilt, per_turn = tilts / (math.pi / 2), turns / 360.0
    for r in range(first, end):
        for c in range(slope.shape[1]):
            s, a = slope[r, c], aspect[r, c]
            if math.isnan(s):
                out[r, c] = np.nan
                continue
            if math.isnan(a):
                out[r, c] = level
                continue
            a = (a + turn) % 360.0
            i = math.atan(s) * per_tilt
            j = a * per_turn
            i0, j0 = min(int(i), tilts - 1), min(int(j), turns - 1)
            u, v = i - i0, j - j0
            near = table[i0, j0] * (1 - v) + table[i0, j0 + 1] * v
            far = table[i0 + 1, j0] * (1 - v) + table[i0 + 1, j0 + 1] * v
            out[r, c] = near * (1 - u) + far * u
