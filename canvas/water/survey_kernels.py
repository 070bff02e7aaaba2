"""Compiled survey of shallow water: peaks, arrivals, and how long each tile may step.

Uses the layout and one leaf function of `kernels`: after a change there, empty the compiler's
cache of this file too.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from canvas.water.kernels import (
    DEPTH,
    FILM,
    FLOW,
    GRAVITY,
    LIST,
    N2,
    RISE_E,
    RISE_E_BEYOND,
    RISE_S,
    RISE_S_BEYOND,
    STILL,
    TABLE,
    TILE_COLS,
    TILE_ROWS,
    WATER,
    U,
    V,
    over_cube_root,
)


@njit("f8(f4, f4, f4, f4)", nogil=True, cache=True, inline="always")
def _deep(h, rise, beyond, rise_beyond):  # type: ignore[no-untyped-def]
    """Return the greater depth over a face, from either side."""
    return max(np.float64(h - rise), np.float64(beyond - rise_beyond), 0.0)


@njit(f"f8({WATER}, {STILL}, i8, i8, i8)", nogil=True, cache=True)
def _carried(water, still, strip, r, c):  # type: ignore[no-untyped-def]
    """Return the depth that carries waves through a cell, west to east plus north to south."""
    h = np.float32(water[strip, r, DEPTH, c])
    ws, wc = (strip, c - 1) if c > 0 else (strip - 1, TILE_COLS - 1)
    es, ec = (strip, c + 1) if c < TILE_COLS - 1 else (strip + 1, 0)
    west, east = np.float32(water[ws, r, DEPTH, wc]), np.float32(water[es, r, DEPTH, ec])
    north, south = (
        np.float32(water[strip, r - 1, DEPTH, c]),
        np.float32(water[strip, r + 1, DEPTH, c]),
    )
    along = max(
        _deep(west, still[ws, r, RISE_E, wc], h, still[ws, r, RISE_E_BEYOND, wc]),
        _deep(h, still[strip, r, RISE_E, c], east, still[strip, r, RISE_E_BEYOND, c]),
    )
    across = max(
        _deep(north, still[strip, r - 1, RISE_S, c], h, still[strip, r - 1, RISE_S_BEYOND, c]),
        _deep(h, still[strip, r, RISE_S, c], south, still[strip, r, RISE_S_BEYOND, c]),
    )
    return along + across


@njit("f8(f8, f8, f8, f8, f8, f8)", nogil=True, cache=True, inline="always", error_model="numpy")
def _longest_step(h, carried, along, speed, n2, cell_m):  # type: ignore[no-untyped-def]
    """Return the longest stable step of a cell [s].

    Gravity waves allow (c_x² + c_y²) (dt / dx)² <= 1 + dt / T, T being the time in which friction
    stops the flow (from the growth of the linear scheme's waves); they ride on the flow. A
    sheet's own waves run at 5/3 of its speed.
    """
    y = np.float64(over_cube_root(np.float32(h)))
    stop = GRAVITY * n2 * speed * (y * y) * (y * y)
    a = GRAVITY * carried / (cell_m * cell_m)
    wave = 2.0 * a / (stop + math.sqrt(stop * stop + 4.0 * a) + 1e-30)
    return cell_m / max(wave * cell_m + along, 5.0 / 3.0 * along, 1e-9)


@njit(
    f"void({WATER}, {STILL}, {FLOW}, {LIST}, i8, i8, f8, f8, f8, {WATER}, {TABLE})",
    nogil=True, cache=True,
)  # fmt: skip
def survey(water, still, flow, task, first, end, time_s, arrived_m, cell_m, peak, tiles):  # type: ignore[no-untyped-def]
    """Keep the greatest depth and speed and the time of arrival; say how fast each tile may step.

    `peak[.., 0..2, ..]`: depth [m], speed [m/s], when the depth first reached `arrived_m` [s].
    `tiles[tile]`: longest stable step [s], greatest depth [m], sum of depths [m].
    """
    for t in range(first, end):
        tile, strip, r0 = task[t, 0], task[t, 1], task[t, 2]
        longest, deepest, sum_m = np.inf, 0.0, 0.0
        for r in range(r0, r0 + TILE_ROWS):
            for c in range(TILE_COLS):
                h = water[strip, r, DEPTH, c]
                sum_m += h
                if h <= FILM:
                    continue
                west = flow[strip, r, U, c - 1] if c > 0 else flow[strip - 1, r, U, TILE_COLS - 1]
                east, north, south = (
                    flow[strip, r, U, c],
                    flow[strip, r - 1, V, c],
                    flow[strip, r, V, c],
                )
                x, y = 0.5 * (west + east), 0.5 * (north + south)
                speed = math.sqrt(x * x + y * y)
                peak[strip, r, 0, c] = max(peak[strip, r, 0, c], h)
                peak[strip, r, 1, c] = max(peak[strip, r, 1, c], speed)
                if h >= arrived_m and math.isnan(peak[strip, r, 2, c]):
                    peak[strip, r, 2, c] = time_s
                along = max(abs(west), abs(east)) + max(abs(north), abs(south))
                deepest = max(deepest, h)
                n2 = still[strip, r, N2, c]
                if _longest_step(h, 2.0 * h, along, speed, n2, cell_m) < longest:
                    # It may rule the tile: look closer.
                    carried = _carried(water, still, strip, r, c)
                    step = _longest_step(h, carried, along, speed, n2, cell_m)
                    longest = min(longest, step)
        tiles[tile, 0], tiles[tile, 1], tiles[tile, 2] = longest, deepest, sum_m
