"""Compiled inner loops of shallow water: its layout in tiles, and the flow through faces.

Kept in one file because the compiler's cache does not see changes made in another. None uses
relaxed float rules.

Shallow water lives on a staggered grid: levels in cells, velocities on the faces between them,
depths on faces taken from upstream, momentum carried with the flow (Stelling & Duinmeijer 2003).
The grid is cut into tiles of `TILE_ROWS` x `TILE_COLS` cells that step at their own pace. So that
a tile's cells lie together, fields are kept as arrays `[strip, row, field, col]`: strips
`TILE_COLS` wide from west to east, with a strip of walls at each side and a row of walls at each
end.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

GRAVITY = 9.81
TILE_ROWS = 8
TILE_COLS = 16

#: Double-precision fields: bed level, depth of water, water soaked in.
BED, DEPTH, SOAKED = range(3)
#: Unchanging single-precision fields: how far the east face's held level lies above the bed here
#: and above the bed beyond, the same for the south face; Manning's n squared.
RISE_E, RISE_E_BEYOND, RISE_S, RISE_S_BEYOND, N2 = range(5)
#: Flow, single precision: velocity and unit flow through the east face, the same through the
#: south face; their next values. Depths change by these flows in double precision, so that what
#: leaves one cell enters the next to the last digit.
U, Q, V, P, U1, Q1, V1, P1 = range(8)
#: Height of a wall: cells outside the ground, and faces shut for good.
WALL = 1e6
#: Water thinner than this stays where it is [m].
FILM = 1e-4
#: A face moves at most this share of a cell per step.
REACH = 0.6
#: Ideal broad-crested weir: (2/3)^1.5 sqrt(g) [m^0.5/s].
WEIR = (2.0 / 3.0) ** 1.5 * math.sqrt(GRAVITY)

# A tile's working copy: rows of `WIDE` values, of which cell 0 stands at `LEFT`; one row more
# above and below; `_BLOCK` values per field. First the cells' fields, then the faces'. Rows lie
# end to end, so that all of a tile's faces are one run; its length, and a run of all rows but the
# last, are rounded up to what the processor takes at once.
LEFT = 1
WIDE = TILE_COLS + 2
_BLOCK = (TILE_ROWS + 3) * WIDE
_RUN = -(-TILE_ROWS * WIDE // 16) * 16
_RUN_LESS = -(-(TILE_ROWS - 1) * WIDE // 16) * 16
_H, _ROUGH, _U, _Q, _V, _P = (i * _BLOCK for i in range(6))
_CLIMB_E, _RISE_E, _RISE_E_B, _CLIMB_S, _RISE_S, _RISE_S_B = (i * _BLOCK for i in range(6, 12))
_U1, _Q1, _V1, _P1 = (i * _BLOCK for i in range(12, 16))
_ALL = 16

_ZERO, _HALF, _ONE, _TWO, _FOUR = (np.float32(x) for x in (0.0, 0.5, 1.0, 2.0, 4.0))
_THIRD, _FOUR_THIRDS, _QUARTER = (np.float32(x) for x in (1 / 3, 4 / 3, 0.25))
_TINY, _SMALL, _THIN = (np.float32(x) for x in (1e-12, 1e-5, 2e-5))
_G, _FILM, _REACH = (np.float32(x) for x in (GRAVITY, FILM, REACH))

WATER = "f8[:, :, :, ::1]"
STILL = "f4[:, :, :, ::1]"
FLOW = "f4[:, :, :, ::1]"
KIND = "i2[:, :, ::1]"
PASSED = "f8[:, :, ::1]"
TABLE = "f8[:, ::1]"
LIST = "i4[:, ::1]"


@njit("f4(f4)", nogil=True, cache=True, inline="always")
def over_cube_root(x):  # type: ignore[no-untyped-def]
    """Return x^(-1/3) for x > 0, within 1e-6: a guess from the exponent, then Newton thrice."""
    bits = np.int32(1419967116 - np.float32(x).view(np.int32) // 3)
    y = bits.view(np.float32)
    third = x * _THIRD
    y = y * (_FOUR_THIRDS - third * y * y * y)
    y = y * (_FOUR_THIRDS - third * y * y * y)
    return y * (_FOUR_THIRDS - third * y * y * y)


@njit("f4(f4, f4, f4)", nogil=True, cache=True, inline="always", error_model="numpy")
def _slowed(speed, drag, cross):  # type: ignore[no-untyped-def]
    """Return x with x (1 + drag sqrt(x² + cross)) = speed, none negative: friction's exact step.

    It starts from the answer without crosswise speed, which lies above: Newton comes down on it.
    """
    x = _TWO * speed / (_ONE + math.sqrt(_ONE + _FOUR * drag * speed))
    s = math.sqrt(x * x + cross)
    x = (speed * s + drag * x * x * x) / (s + drag * (s * s + x * x))
    s = math.sqrt(x * x + cross)
    return (speed * s + drag * x * x * x) / (s + drag * (s * s + x * x))


@njit(nogil=True, cache=True, inline="always", error_model="numpy")
def _faces(  # type: ignore[no-untyped-def]  # noqa: PLR0915
    b, o, n, along, across, climb, rise, rise_b, vel, flow, xvel, xflow, vel1, flow1, dt, cell_m
):  # fmt: skip
    """Give `n` faces from `o` on their next velocity and flow; `along` leads to the cell beyond.

    Constants for the fields let the compiler see that nothing overlaps, so that it can work on
    several faces at once. Momentum comes with the water from the four sides (never more than there
    is to replace), then gravity, then Manning's friction solved exactly for the new speed; the
    crosswise speed counts in the friction.
    """
    h = b[_H + o : _H + o + n]
    h_b = b[_H + o + along : _H + o + along + n]
    rough = b[_ROUGH + o : _ROUGH + o + n]
    rough_b = b[_ROUGH + o + along : _ROUGH + o + along + n]
    up = b[climb + o : climb + o + n]
    lip = b[rise + o : rise + o + n]
    lip_b = b[rise_b + o : rise_b + o + n]
    u = b[vel + o : vel + o + n]
    u_back = b[vel + o - along : vel + o - along + n]
    u_ahead = b[vel + o + along : vel + o + along + n]
    u_left = b[vel + o - across : vel + o - across + n]
    u_right = b[vel + o + across : vel + o + across + n]
    q = b[flow + o : flow + o + n]
    q_back = b[flow + o - along : flow + o - along + n]
    q_ahead = b[flow + o + along : flow + o + along + n]
    x_in = b[xflow + o - across : xflow + o - across + n]
    x_in_b = b[xflow + o - across + along : xflow + o - across + along + n]
    x_out = b[xflow + o : xflow + o + n]
    x_out_b = b[xflow + o + along : xflow + o + along + n]
    v_in = b[xvel + o - across : xvel + o - across + n]
    v_in_b = b[xvel + o - across + along : xvel + o - across + along + n]
    v_out = b[xvel + o : xvel + o + n]
    v_out_b = b[xvel + o + along : xvel + o + along + n]
    u1 = b[vel1 + o : vel1 + o + n]
    q1 = b[flow1 + o : flow1 + o + n]
    pace = np.float32(dt / cell_m)
    push = _G * pace
    most = _REACH / pace
    pull = np.float32(0.5 * GRAVITY * dt)
    for i in range(n):
        both = max(h[i] + h_b[i], _THIN)
        from_back = max(q_back[i] + q[i], _ZERO)
        from_ahead = max(-(q[i] + q_ahead[i]), _ZERO)
        # Speeding up, flow keeps its energy; slowing down, as in a jump, its momentum.
        behind = both * max(_HALF * (u_back[i] + u[i]), _ZERO)
        before = both * max(-_HALF * (u[i] + u_ahead[i]), _ZERO)
        from_back = behind if u[i] > u_back[i] else from_back
        from_ahead = before if u[i] < u_ahead[i] else from_ahead
        from_left = max(x_in[i] + x_in_b[i], _ZERO)
        from_right = max(-(x_out[i] + x_out_b[i]), _ZERO)
        brought = from_back * u_back[i] + from_ahead * u_ahead[i]
        brought += from_left * u_left[i] + from_right * u_right[i]
        taken = pace * ((from_back + from_ahead) + (from_left + from_right))
        change = (pace * brought - taken * u[i]) / max(both, taken)
        free = u[i] - push * up[i] + change
        over, over_b = max(h[i] - lip[i], _ZERO), max(h_b[i] - lip_b[i], _ZERO)
        depth = over if free > _ZERO else over_b
        y = over_cube_root(max(depth, _SMALL))
        drag = pull * (rough[i] + rough_b[i]) * (y * y) * (y * y)
        x = _QUARTER * ((v_in[i] + v_in_b[i]) + (v_out[i] + v_out_b[i]))
        x = _slowed(abs(free), drag, x * x + _TINY)
        x = min(x, most) if depth > _FILM else _ZERO
        x = x if free > _ZERO else -x
        u1[i] = x
        q1[i] = x * depth


@njit("void(f4[::1], i8, i8, f8, f8)", nogil=True, cache=True, error_model="numpy")
def _east_faces(b, o, n, dt, cell_m):  # type: ignore[no-untyped-def]
    _faces(
        b, o, n, 1, WIDE, _CLIMB_E, _RISE_E, _RISE_E_B, _U, _Q, _V, _P, _U1, _Q1, dt, cell_m
    )  # fmt: skip


@njit("void(f4[::1], i8, i8, f8, f8)", nogil=True, cache=True, error_model="numpy")
def _south_faces(b, o, n, dt, cell_m):  # type: ignore[no-untyped-def]
    _faces(
        b, o, n, WIDE, 1, _CLIMB_S, _RISE_S, _RISE_S_B, _V, _P, _U, _Q, _V1, _P1, dt, cell_m
    )  # fmt: skip


@njit(f"void({WATER}, {STILL}, {FLOW}, f4[::1], {TABLE}, i8, i8)", nogil=True, cache=True)
def _copy_in(water, still, flow, b, spare, strip, r0):  # type: ignore[no-untyped-def]
    """Copy a tile with one cell all round into the working copy.

    Surfaces are compared in double precision: where they are level, nothing moves.
    """
    last = TILE_COLS - 1
    for r in range(TILE_ROWS + 2):
        o = r * WIDE + LEFT
        row = r0 - 1 + r
        west, east = o - 1, o + TILE_COLS
        for c in range(TILE_COLS):
            b[_H + o + c] = np.float32(water[strip, row, DEPTH, c])
        b[_H + west] = np.float32(water[strip - 1, row, DEPTH, last])
        b[_H + east] = np.float32(water[strip + 1, row, DEPTH, 0])
        for c in range(TILE_COLS):
            b[_ROUGH + o + c] = still[strip, row, N2, c]
        b[_ROUGH + east] = still[strip + 1, row, N2, 0]
        for k in range(4):
            for c in range(TILE_COLS):
                b[_U + k * _BLOCK + o + c] = flow[strip, row, U + k, c]
            b[_U + k * _BLOCK + west] = flow[strip - 1, row, U + k, last]
            b[_U + k * _BLOCK + east] = flow[strip + 1, row, U + k, 0]
    level, below = spare[0], spare[1]
    for r in range(TILE_ROWS + 1):
        o = r * WIDE + LEFT
        row = r0 + r
        for c in range(TILE_COLS):
            below[c] = water[strip, row, BED, c] + water[strip, row, DEPTH, c]
        below[TILE_COLS] = water[strip + 1, row, BED, 0] + water[strip + 1, row, DEPTH, 0]
        if r > 0:
            for c in range(TILE_COLS):
                b[_CLIMB_E + o + c] = np.float32(level[c + 1] - level[c])
            for c in range(TILE_COLS):
                b[_CLIMB_S + o + c] = np.float32(below[c] - level[c])
            for c in range(TILE_COLS):
                b[_RISE_E + o + c] = still[strip, row - 1, RISE_E, c]
                b[_RISE_E_B + o + c] = still[strip, row - 1, RISE_E_BEYOND, c]
                b[_RISE_S + o + c] = still[strip, row - 1, RISE_S, c]
                b[_RISE_S_B + o + c] = still[strip, row - 1, RISE_S_BEYOND, c]
        level, below = below, level


@njit("void(f4[::1], i4[:, ::1], f8[::1], i8, i8)", nogil=True, cache=True)
def _limit_weirs(b, weir, share, first, end):  # type: ignore[no-untyped-def]
    """Let no more over a held crest than a weir passes, less when its tailwater stands high.

    `weir` rows: 0 east or 1 south, cell's place in the working copy; `share` is the part of the
    face's width the crest is open on. Submergence after Villemonte (1947).
    """
    for w in range(first, end):
        south, o = weir[w, 0], weir[w, 1]
        vel, flow = (_V1 if south else _U1) + o, (_P1 if south else _Q1) + o
        beyond = o + (WIDE if south else 1)
        here = max(b[_H + o] - b[(_RISE_S if south else _RISE_E) + o], _ZERO)
        there = max(b[_H + beyond] - b[(_RISE_S_B if south else _RISE_E_B) + o], _ZERO)
        up, down = np.float64(max(here, there)), np.float64(min(here, there))
        if up <= 0.0:
            continue
        most = share[w] * WEIR * up * math.sqrt(up) * (1.0 - (down / up) ** 1.5) ** 0.385
        if abs(b[flow]) > most:
            b[vel] *= np.float32(most / abs(b[flow]))
            b[flow] = np.float32(math.copysign(most, b[flow]))


@njit("void(f4[::1], b1, b1)", nogil=True, cache=True)
def _shut(b, east, south):  # type: ignore[no-untyped-def]
    """Let nothing through a rim towards a sleeping tile."""
    for r in range(TILE_ROWS if east else 0):
        b[_Q1 + (r + 1) * WIDE + LEFT + TILE_COLS - 1] = _ZERO
    for c in range(TILE_COLS if south else 0):
        b[_P1 + TILE_ROWS * WIDE + LEFT + c] = _ZERO


@njit("void(f4[::1], f4[::1], f8, f8)", nogil=True, cache=True)
def _hold_back(b, lacks, dt, cell_m):  # type: ignore[no-untyped-def]
    """Let no cell give more than it has: scale what leaves it over the tile's own faces."""
    pace = np.float32(dt / cell_m)
    for c in range(TILE_COLS):
        b[_P1 + LEFT + c] = b[_P + LEFT + c]
    for r in range(TILE_ROWS):
        o = (r + 1) * WIDE + LEFT
        b[_Q1 + o - 1] = b[_Q + o - 1]
        for c in range(TILE_COLS):
            out = max(b[_Q1 + o + c], _ZERO) + max(-b[_Q1 + o - 1 + c], _ZERO)
            out += max(b[_P1 + o + c], _ZERO) + max(-b[_P1 + o - WIDE + c], _ZERO)
            lacks[c] = pace * out - max(b[_H + o + c], _ZERO)
        for c in range(TILE_COLS):
            if lacks[c] > _ZERO:
                has = max(b[_H + o + c], _ZERO)
                part = has / (has + lacks[c])
                for k, at, away in (
                    (_U1, o + c, _ONE),
                    (_V1, o + c, _ONE),
                    (_U1, o + c - 1, -_ONE),
                    (_V1, o + c - WIDE, -_ONE),
                ):
                    if b[k + at] * away > _ZERO:
                        b[k + at] *= part
                        b[k + _BLOCK + at] *= part


@njit(f"void(f4[::1], {FLOW}, i8, i8)", nogil=True, cache=True)
def _keep(b, flow, strip, r0):  # type: ignore[no-untyped-def]
    """Write the next flows of a tile's inner faces back."""
    for k in range(4):
        wide = TILE_COLS - 1 if k < 2 else TILE_COLS
        high = TILE_ROWS if k < 2 else TILE_ROWS - 1
        for r in range(high):
            o = _U1 + k * _BLOCK + (r + 1) * WIDE + LEFT
            for c in range(wide):
                flow[strip, r0 + r, U1 + k, c] = b[o + c]


@njit(f"void(f4[::1], {FLOW}, i8, i8, i8, i8, i8)", nogil=True, cache=True, inline="always")
def _keep_one(b, flow, strip, row, col, k, at):  # type: ignore[no-untyped-def]
    """Write the next velocity and flow of one face back."""
    flow[strip, row, k, col] = b[at]
    flow[strip, row, k + 1, col] = b[at + _BLOCK]


@njit(
    f"void({WATER}, {STILL}, {FLOW}, {LIST}, i8, i8, i8, f8, f8, {LIST}, f8[::1], i4[::1],"
    f" {PASSED})",
    nogil=True, cache=True,
)  # fmt: skip
def step_faces(  # type: ignore[no-untyped-def]
    water, still, flow, task, first, end, beat, dt0, cell_m, weir, share, weir_start, passed
):
    """Give the faces of each task due at `beat` their next flow, and add up what passes tiles.

    `task` rows: tile, its strip and first row, level, level of its east and of its south face,
    lowest beat. A tile is due when `beat` reaches its level; its east and south rim are due
    earlier where the neighbour steps faster. `passed[0 or 1, tile, i]` sums what went through its
    east and south rim, per metre of width [m²].
    """
    b = np.zeros(_ALL * _BLOCK, np.float32)
    spare, lacks = np.empty((2, TILE_COLS + 1)), np.empty(TILE_COLS, np.float32)
    for t in range(first, end):
        level, east, south = task[t, 3], task[t, 4], task[t, 5]
        if beat < task[t, 6]:
            continue
        tile, strip, r0 = task[t, 0], task[t, 1], task[t, 2]
        _copy_in(water, still, flow, b, spare, strip, r0)
        dt, dt_e, dt_s = dt0 * 2.0**level, dt0 * 2.0**east, dt0 * 2.0**south
        o = WIDE + LEFT
        last = TILE_COLS - 1
        if beat >= level:
            # The rim's faces too, even where they will be done again at their own pace.
            _east_faces(b, o, _RUN, dt, cell_m)
            _south_faces(b, o, _RUN_LESS, dt, cell_m)
        if beat >= east and (beat < level or east != level):
            for r in range(TILE_ROWS):
                _east_faces(b, o + r * WIDE + last, 1, dt_e, cell_m)
        if beat >= south:
            _south_faces(b, o + (TILE_ROWS - 1) * WIDE, TILE_COLS, dt_s, cell_m)
        _limit_weirs(b, weir, share, weir_start[tile], weir_start[tile + 1])
        if beat >= level:
            _shut(b, beat < east, beat < south)
            _hold_back(b, lacks, dt, cell_m)
            _keep(b, flow, strip, r0)
        if beat >= east:
            for r in range(TILE_ROWS):
                i = o + r * WIDE + last
                _keep_one(b, flow, strip, r0 + r, last, U1, _U1 + i)
                passed[0, tile, r] += dt_e * b[_Q1 + i]
        if beat >= south:
            for c in range(TILE_COLS):
                i = o + (TILE_ROWS - 1) * WIDE + c
                _keep_one(b, flow, strip, r0 + TILE_ROWS - 1, c, V1, _V1 + i)
                passed[1, tile, c] += dt_s * b[_P1 + i]
