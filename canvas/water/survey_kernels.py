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

#: Columns of the table of tiles.
DEEPEST, HELD, WHOLE = range(3)
TILE_FIELDS = 7
#: Width of a tile's edge [cells].
EDGE = 2


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


@njit("b1(i8, i8, i8)", nogil=True, cache=True, inline="always")
def _on_edge(edge, row, col):  # type: ignore[no-untyped-def]
    """Say whether a cell of a tile lies on its edge 1 north, 2 south, 3 west or 4 east."""
    if edge == 1:
        return row < EDGE
    if edge == 2:
        return row >= TILE_ROWS - EDGE
    if edge == 3:
        return col < EDGE
    return col >= TILE_COLS - EDGE


@njit(f"f8({TABLE}, i8, i8, i8)", nogil=True, cache=True)
def _shortest_known(tiles, tile, row, col):  # type: ignore[no-untyped-def]
    """Return the step a cell must undercut to matter to its tile or to an edge it lies on."""
    rules = tiles[tile, WHOLE]
    for i in range(1, 5):
        if _on_edge(i, row, col):
            rules = max(rules, tiles[tile, WHOLE + i])
    return rules


@njit(
    f"void({WATER}, {STILL}, {FLOW}, {LIST}, i8, i8, f8, f8, f8, {WATER}, {TABLE})",
    nogil=True, cache=True,
)  # fmt: skip
def survey(water, still, flow, task, first, end, time_s, arrived_m, cell_m, peak, tiles):  # type: ignore[no-untyped-def]
    """Keep the greatest depth and speed and the time of arrival; say how fast each tile may step.

    `peak[.., 0..2, ..]`: depth [m], speed [m/s], when the depth first reached `arrived_m` [s].
    `tiles[tile]`: greatest depth [m], sum of depths [m], longest stable step [s] of the whole tile
    and of its northern, southern, western and eastern edge, `EDGE` cells wide: what runs there
    will soon be in the next tile.
    """
    for t in range(first, end):
        tile, strip, r0 = task[t, 0], task[t, 1], task[t, 2]
        deepest, sum_m = 0.0, 0.0
        for i in range(WHOLE, WHOLE + 5):
            tiles[tile, i] = np.inf
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
                row, col = r - r0, c
                rules = _shortest_known(tiles, tile, row, col)
                # Cheapest bound first: what friction and banks add only lengthens the step.
                wave = math.sqrt(2.0 * GRAVITY * h)
                if cell_m >= rules * max(wave + along, 5.0 / 3.0 * along):
                    continue
                if _longest_step(h, 2.0 * h, along, speed, n2, cell_m) >= rules:
                    continue
                # It may rule the tile or an edge: look closer.
                carried = _carried(water, still, strip, r, c)
                step = _longest_step(h, carried, along, speed, n2, cell_m)
                for i in range(5):
                    if i == 0 or _on_edge(i, row, col):
                        tiles[tile, WHOLE + i] = min(tiles[tile, WHOLE + i], step)
        tiles[tile, DEEPEST], tiles[tile, HELD] = deepest, sum_m
