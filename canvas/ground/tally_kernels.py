"""Compiled passes over a patch's cells: what a dig moves, what its outlines are cut from."""

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


@njit(f"void({_GRID}, {_GRID}, {_GRID}, {_GRID}, {_GRID})", nogil=True, cache=True)
def cut_and_fill(levels, ground, bite, cut, fill):  # type: ignore[no-untyped-def]
    """Give each cell its depth of cut and height of fill; beside the patch both are below 0.

    The line between cut and fill belongs to neither.
    """
    for r in range(levels.shape[0]):
        for c in range(levels.shape[1]):
            if math.isnan(levels[r, c]):
                cut[r, c] = fill[r, c] = min(bite[r, c], 0.0) - 1e-9
                continue
            change = levels[r, c] - ground[r, c]
            change = 0.0 if math.isnan(change) else change
            cut[r, c], fill[r, c] = -change - 1e-9, change - 1e-9


@njit(f"void({_GRID}, f8, {_GRID})", nogil=True, cache=True)
def rimmed(height, limit, out):  # type: ignore[no-untyped-def]
    """Put heights within ±`limit` into a grid a cell wider all round; -`limit` where none is."""
    rows, cols = height.shape
    for c in range(cols + 2):
        out[0, c] = out[rows + 1, c] = -limit
    for r in range(rows):
        out[r + 1, 0] = out[r + 1, cols + 1] = -limit
        for c in range(cols):
            z = height[r, c]
            out[r + 1, c + 1] = -limit if math.isnan(z) else min(max(z, -limit), limit)
