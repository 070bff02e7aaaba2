"""Compiled inner loops of shallow water: filling and draining the cells.

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
    KIND,
    LIST,
    N2,
    P1,
    PASSED,
    Q1,
    SOAKED,
    STILL,
    TABLE,
    TILE_COLS,
    TILE_ROWS,
    U1,
    WATER,
    WEIR,
    U,
    over_cube_root,
)


@njit(f"void({FLOW}, i8, i8, i8, i8, i8)", nogil=True, cache=True)
def _adopt(flow, strip, r0, rows, c0, cols):  # type: ignore[no-untyped-def]
    """Make the next velocities and flows of part of a tile the present ones."""
    for r in range(r0, r0 + rows):
        for k in range(4):
            for c in range(c0, c0 + cols):
                flow[strip, r, U + k, c] = flow[strip, r, U1 + k, c]


@njit(f"void(f8[::1], f8[::1], i2[::1], {TABLE}, f8)", nogil=True, cache=True, error_model="numpy")
def _soak(h, soaked, kind, rain, dt):  # type: ignore[no-untyped-def]
    """Let the water of one row soak in: Green–Ampt, or a steady rate where its second term is 0."""
    for c in range(TILE_COLS):
        k = kind[c]
        most = rain[k, 1] * dt * (1.0 + rain[k, 2] / max(soaked[c], 1e-5))
        took = min(max(h[c], 0.0), most)
        h[c] -= took
        soaked[c] += took


@njit(f"void({WATER}, {FLOW}, {TABLE}, i8, i8, i8, f8, f8, {PASSED}, {PASSED}, i4[::1],"
      f" {KIND}, {TABLE}, b1)", nogil=True, cache=True, error_model="numpy")  # fmt: skip
def _fill_tile(  # type: ignore[no-untyped-def]
    water, flow, spare, tile, strip, r0, dt, cell_m, passed, seen, beside, kind, rain, soaks
):
    """Move the water of one tile by what passed its faces, and rain on it."""
    west, north = beside[0], beside[1]
    flow_e, flow_n, flow_s = spare[0], spare[1], spare[2]
    for c in range(TILE_COLS):
        flow_n[c] = 0.0
        if north >= 0:
            flow_n[c] = (passed[1, north, c] - seen[2, tile, c]) / dt
            seen[2, tile, c] = passed[1, north, c]
    pace = dt / cell_m
    for r in range(TILE_ROWS):
        flow_e[0] = 0.0
        if west >= 0:
            flow_e[0] = (passed[0, west, r] - seen[0, tile, r]) / dt
            seen[0, tile, r] = passed[0, west, r]
        for c in range(TILE_COLS - 1):
            flow_e[c + 1] = flow[strip, r0 + r, Q1, c]
        flow_e[TILE_COLS] = (passed[0, tile, r] - seen[1, tile, r]) / dt
        seen[1, tile, r] = passed[0, tile, r]
        if r < TILE_ROWS - 1:
            for c in range(TILE_COLS):
                flow_s[c] = flow[strip, r0 + r, P1, c]
        else:
            for c in range(TILE_COLS):
                flow_s[c] = (passed[1, tile, c] - seen[3, tile, c]) / dt
                seen[3, tile, c] = passed[1, tile, c]
        h = water[strip, r0 + r, DEPTH]
        sort = kind[strip, r0 + r]
        for c in range(TILE_COLS):
            h[c] += pace * ((flow_e[c] - flow_e[c + 1]) + (flow_n[c] - flow_s[c]))
        for c in range(TILE_COLS):
            h[c] += dt * rain[sort[c], 0]
        if soaks:
            _soak(h, water[strip, r0 + r, SOAKED], sort, rain, dt)
        flow_n, flow_s = flow_s, flow_n


@njit(f"f8({WATER}, {STILL}, i4[:, ::1], f8[::1], i8, i8, f8, f8)", nogil=True, cache=True)
def _let_out(water, still, rim, slope, first, end, dt, cell_m):  # type: ignore[no-untyped-def]
    """Let water run off over open rims; return the volume [m³].

    Each row of `rim` is a cell with one open side whose bed falls outward by `slope`: it runs at
    Manning's speed on that slope, or over a free edge (critical depth), whichever is faster. The
    depth left is the one it runs at, so that even flow leaves evenly at any step.
    """
    total = 0.0
    for i in range(first, end):
        strip, r, c = rim[i, 0], rim[i, 1], rim[i, 2]
        h = water[strip, r, DEPTH, c]
        if h <= FILM:
            continue
        down = math.sqrt(slope[i] / still[strip, r, N2, c])
        left = h
        for _ in range(4):
            normal = down * left * over_cube_root(np.float32(left))
            over = WEIR * math.sqrt(left)
            power, speed = (2.0 / 3.0, normal) if normal > over else (0.5, over)
            reach = speed * dt / cell_m
            left = max(left - (left * (1.0 + reach) - h) / (1.0 + (1.0 + power) * reach), 1e-6)
        out = h - min(left, h)
        water[strip, r, DEPTH, c] = h - out
        total += out * cell_m * cell_m
    return total


@njit(
    f"void({WATER}, {STILL}, {FLOW}, {LIST}, i8, i8, i8, f8, f8, {PASSED}, {PASSED}, {LIST},"
    f" {KIND}, {TABLE}, b1, {LIST}, f8[::1], i4[::1], {LIST}, f8[::1], i4[::1], f8[::1])",
    nogil=True, cache=True,
)  # fmt: skip
def step_cells(  # type: ignore[no-untyped-def]
    water, still, flow, task, first, end, beat, dt0, cell_m, passed, seen, beside, kind,
    rain, soaks, rim, slope, rim_start, spring, supply, spring_start, lost,
):  # fmt: skip
    """Fill and drain the cells of each task whose step ends at `beat`; the rest as `step_faces`.

    `rain[kind]`: rain [m/s], rate of soaking in [m/s], Green–Ampt's suction times deficit [m].
    `spring`, `supply`: cells fed from outside [m/s of depth]. `lost[tile]`: volume run off [m³].
    """
    spare = np.empty((3, TILE_COLS + 1))
    for t in range(first, end):
        level, east, south = task[t, 3], task[t, 4], task[t, 5]
        if beat < task[t, 6]:
            continue
        tile, strip, r0 = task[t, 0], task[t, 1], task[t, 2]
        if beat < level:
            if beat >= east:
                _adopt(flow, strip, r0, TILE_ROWS, TILE_COLS - 1, 1)
            if beat >= south:
                _adopt(flow, strip, r0 + TILE_ROWS - 1, 1, 0, TILE_COLS)
            continue
        dt = dt0 * 2.0**level
        _fill_tile(
            water,
            flow,
            spare,
            tile,
            strip,
            r0,
            dt,
            cell_m,
            passed,
            seen,
            beside[tile],
            kind,
            rain,
            soaks,
        )
        for i in range(spring_start[tile], spring_start[tile + 1]):
            water[spring[i, 0], spring[i, 1], DEPTH, spring[i, 2]] += dt * supply[i]
        lost[tile] += _let_out(
            water, still, rim, slope, rim_start[tile], rim_start[tile + 1], dt, cell_m
        )
        _adopt(flow, strip, r0, TILE_ROWS, 0, TILE_COLS)
