"""Compiled sums over a patch: what a dig moves, in one pass over its cells."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

_GRID = "f8[:, ::1]"


@njit(f"f8[::1]({_GRID}, {_GRID}, {_GRID}, b1[:, ::1], f8)", nogil=True, cache=True)
def moved(levels, ground, cover, core, strip):  # type: ignore[no-untyped-def]
    """Return sums over cells of what a patch moves, heights only: multiply by the cell's area.

    In order: cut, fill, cells where earth is moved, cover beside the core, cover on the core,
    then the deepest cut and the highest fill. `strip` of topsoil is gone before anything else;
    `cover` is (1, 1) where there is none.
    """
    out = np.zeros(7)
    laid = cover.shape == levels.shape
    for r in range(levels.shape[0]):
        for c in range(levels.shape[1]):
            level = levels[r, c]
            if math.isnan(level):
                continue
            on = cover[r, c] if laid else 0.0
            if core[r, c]:
                out[4] += on
            else:
                out[3] += on
            change = level - ground[r, c]
            if core[r, c] or abs(change) > 0.0:
                out[2] += 1.0
            change += strip - on
            if math.isnan(change):
                continue
            if change < 0.0:
                out[0] -= change
                out[5] = max(out[5], -change)
            else:
                out[1] += change
                out[6] = max(out[6], change)
    return out
