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


# Horizon codes: t / (1 + t) of the tangent t of the horizon's height, times `TOP`: steps of
# 0.0009° near level, and a single division for the whole code.
TOP = 65534
NO_DATA = 65535
#: What a metre of distance squared hides behind the Earth's round [1/m]: (1 - k) / 2R with the
#: usual refraction, k = 0.13.
BEND = 0.87 / (2 * 6371000.0)


@njit("i8(f8, f8, f8[:, ::1], i8)", nogil=True, cache=True, inline="always")
def _drop_hidden(s, z, hull, top):  # type: ignore[no-untyped-def]
    """Return how much of a convex hull (far to near) stays when a nearer point joins.

    What lies below the line from (s, z) to its tangent point on the hull can be seen from
    nowhere further on.
    """
    while top >= 2:
        run, rise = s - hull[top - 1, 0], hull[top - 1, 1] - z
        run2, rise2 = s - hull[top - 2, 0], hull[top - 2, 1] - z
        if rise2 * run < rise * run2:
            break
        top -= 1
    return top


@njit("f8(f8[:, ::1], i8, i8, i8, f8)", nogil=True, cache=True)
def _at_edge(z, j, i, side, share):  # type: ignore[no-untyped-def]
    """Return the height `share` of a cell beside (j, i) where there is no ground on that side.

    The slope from the other side goes on; without that one the cell counts as level.
    """
    h, behind = z[j, i], j - side
    if 0 <= behind < z.shape[0] and not math.isnan(z[behind, i]):
        return h + (h - z[behind, i]) * share
    return h


@njit("f8(f8[:, ::1], f8, f8)", nogil=True, cache=True, inline="always")
def _between(z, r, c):  # type: ignore[no-untyped-def]
    """Return the bilinear height at (row, column); NaN off the grid or beside no data."""
    rows, cols = z.shape
    if not (-0.5 <= r <= rows - 0.5 and -0.5 <= c <= cols - 0.5):
        return math.nan
    r0, c0 = min(max(int(r), 0), rows - 2), min(max(int(c), 0), cols - 2)
    v, u = min(max(r - r0, 0.0), 1.0), min(max(c - c0, 0.0), 1.0)
    upper = z[r0, c0] * (1 - u) + z[r0, c0 + 1] * u
    lower = z[r0 + 1, c0] * (1 - u) + z[r0 + 1, c0 + 1] * u
    return upper * (1 - v) + lower * v


@njit("i8(f8[:, ::1], f8, f8, f8, f8, f8, f8[:, ::1])", nogil=True, cache=True)
def _roll_in(far, row, col, step_row, step_col, cell, hull):  # type: ignore[no-untyped-def]
    """Lay the hull of the far ground along a ray; return how many points are on it.

    The ray starts at (row, col) of the far grid, where distance is nought, and is followed
    outwards one cell at a time; the hull then counts inwards.
    """
    last = 0
    while last < hull.shape[0] - 2:
        r, c = row + (last + 1) * step_row, col + (last + 1) * step_col
        if r < -0.5 or c < -0.5 or r > far.shape[0] - 0.5 or c > far.shape[1] - 0.5:
            break
        last += 1
    top = 0
    for n in range(last, 0, -1):
        z = _between(far, row + n * step_row, col + n * step_col)
        if math.isnan(z):
            continue
        s = -n * cell
        z -= BEND * s * s
        top = _drop_hidden(s, z, hull, top)
        hull[top, 0], hull[top, 1] = s, z
        top += 1
    return top


@njit(
    "void(f8[:, ::1], i8, i8, b1, f8, i8[::1], f8[::1], i8, f8[:, ::1], u2[:, ::1])",
    nogil=True,
    cache=True,
)
def _walk(z, k, m, backward, step, rows, shares, top, hull, out):  # type: ignore[no-untyped-def]
    """Walk line k from its m-th step over the grid, writing horizons and growing the hull."""
    minors, majors = z.shape
    here, way = 0.0, -1 if backward else 1
    i = majors - 1 - m if backward else m
    last_j = last_i = -1
    for n in range(m, majors):
        j, share = k + rows[n], shares[n]
        if j < 0 or j >= minors:
            return
        beside = j + 1 if share > 0 else j - 1
        own = z[j, i]
        other = z[beside, i] if 0 <= beside < minors else math.nan
        h = own + (other - own) * abs(share)
        if math.isnan(own):
            out[j, i] = NO_DATA
        else:
            if math.isnan(h):
                h = _at_edge(z, j, i, beside - j, abs(share))
            p = h - BEND * here * here
            if top == 0:
                # Nothing is known beyond: the slope met next is taken to have gone on.
                last_j, last_i = j, i
                out[j, i] = 0
            else:
                top = _drop_hidden(here, p, hull, top)
                run = here - hull[top - 1, 0]
                rise = hull[top - 1, 1] - p - 2 * BEND * here * run
                out[j, i] = int(TOP * rise / (rise + run) + 0.5) if rise > 0 else 0
                if last_j >= 0:
                    out[last_j, last_i] = out[j, i]
                    last_j = -1
            hull[top, 0], hull[top, 1] = here, p
            top += 1
        i += way
        here += step


@njit(
    "void(f8[:, ::1], b1, b1, f8, f8, f8[:, ::1], f8[::1], i8, i8, u2[:, ::1])",
    nogil=True,
    cache=True,
)
def sweep(z, backward, turned, tilt, cell, far, place, first, end, out):  # type: ignore[no-untyped-def]
    """Write horizon codes for one direction, over the lines first..end of a grid.

    A line takes one column and `tilt` rows at a time, away from where the horizon is looked for
    (from the last column where `backward`); each cell lies on exactly one line, and line k meets
    the first column at row k. Heights are read on the line itself, between the two cells beside
    it, so that no direction is favoured. `z` and `out` are transposed where `turned`.

    `far` is coarser ground around (0 rows: none); `place` holds, in its cells, the row and
    column of the first cell's centre, the size of a cell of `z`, the row and column one of its
    own cells takes outwards; and then its own cell [m].
    """
    minors, majors = z.shape
    step = cell * math.sqrt(1 + tilt * tilt)
    hull = np.empty((majors + 4 + far.shape[0] + far.shape[1], 2))
    rows, shares = np.empty(majors, np.int64), np.empty(majors)
    for m in range(majors):
        rows[m] = math.floor(m * tilt + 0.5)
        shares[m] = m * tilt - rows[m]
    for k in range(first, end):
        m = 0
        if tilt > 0 and k < 0:
            m = max(int((-k - 0.5) / tilt) - 1, 0)
        elif tilt < 0 and k > minors - 1:
            m = max(int((minors - 0.5 - k) / tilt) - 1, 0)
        while m < majors and not 0 <= k + rows[m] < minors:
            m += 1
        if m >= majors:
            continue
        top = 0
        if far.shape[0] > 1:
            y, i = k + m * tilt, majors - 1 - m if backward else m
            row, col = (i, y) if turned else (y, i)
            top = _roll_in(
                far,
                place[0] + row * place[2],
                place[1] + col * place[2],
                place[3],
                place[4],
                place[5],
                hull,
            )
        _walk(z, k, m, backward, step, rows, shares, top, hull, out)


#: Tables over horizon codes have one entry for 2**SHIFT codes: 0.014° near level.
SHIFT = 4
# Unsigned, so that the compiler needn't look for places counted from the end.
_SHIFT = np.uint64(SHIFT)


@njit("void(u2[:, :, ::1], f4[:, ::1], i8, i8, f8[:, ::1])", nogil=True, cache=True)
def sum_rows(codes, table, first, end, out):  # type: ignore[no-untyped-def]
    """Fill rows of `out` with the sum over directions of `table[direction, code >> SHIFT]`."""
    directions, _rows, cols = codes.shape
    total = np.empty(cols, np.float32)
    for r in range(first, end):
        total[:] = 0
        for k in range(directions):
            line, values = codes[k, r], table[k]
            for c in range(cols):
                total[c] += values[np.uint64(line[c]) >> _SHIFT]
        for c in range(cols):
            out[r, c] = total[c] if codes[0, r, c] != NO_DATA else np.nan


@njit(
    "void(u2[:, :, ::1], f8[:, ::1], f8[:, ::1], f4[:, ::1], i8, i8, f8[:, ::1])",
    nogil=True,
    cache=True,
)
def sum_facing_rows(codes, slope, aspect, table, first, end, out):  # type: ignore[no-untyped-def]
    """Fill rows of `out` with vectors summed over directions, taken along each slope's normal.

    `table[axis * directions + direction, code >> SHIFT]` holds east, north and up parts; `slope`
    is rise over run, `aspect` downhill (without one the cell is level). Never below nought.
    """
    directions, _rows, cols = codes.shape
    total = np.empty((3, cols), np.float32)
    for r in range(first, end):
        total[:] = 0
        for k in range(directions):
            line = codes[k, r]
            for axis in range(3):
                values, sums = table[axis * directions + k], total[axis]
                for c in range(cols):
                    sums[c] += values[np.uint64(line[c]) >> _SHIFT]
        for c in range(cols):
            s, a = slope[r, c], math.radians(aspect[r, c])
            if codes[0, r, c] == NO_DATA or math.isnan(s):
                out[r, c] = np.nan
                continue
            up = 1 / math.sqrt(1 + s * s)
            got = total[2, c] * up
            if s > 0 and not math.isnan(a):
                got += (total[0, c] * math.sin(a) + total[1, c] * math.cos(a)) * s * up
            out[r, c] = max(got, 0.0)


@njit(
    "void(u2[:, ::1], u2[:, ::1], f8, f8, f8, f4[:, ::1], i8, i8, f8[:, ::1])",
    nogil=True,
    cache=True,
)
def add_lit_rows(left, right, share, sun, weight, light, first, end, out):  # type: ignore[no-untyped-def]
    """Add `weight` x `light` to rows of `out` where the sun's code is above the horizon's.

    The horizon lies between those of the directions on either side, `share` of the way right.
    """
    for r in range(first, end):
        for c in range(out.shape[1]):
            if left[r, c] == NO_DATA:
                out[r, c] = np.nan
            elif left[r, c] * (1 - share) + right[r, c] * share < sun:
                out[r, c] += weight * light[r, c]


@njit("void(f8[:, ::1], i8[::1], f8[::1], i8, i8, f4[:, ::1])", nogil=True, cache=True)
def dim_rows(corners, starts, through, first, end, light):  # type: ignore[no-untyped-def]
    """Multiply `light` by `through[n]` in the cells whose centre lies in ring n (even-odd).

    `corners` are (column, row) of cell centres; ring n holds corners starts[n]..starts[n + 1].
    """
    cols = light.shape[1]
    cuts = np.empty(64)
    for n in range(through.shape[0]):
        a, b = starts[n], starts[n + 1]
        low = high = corners[a, 1]
        for i in range(a + 1, b):
            low, high = min(low, corners[i, 1]), max(high, corners[i, 1])
        for r in range(max(math.ceil(low), first), min(math.floor(high) + 1, end)):
            count, i = 0, b - 1
            for j in range(a, b):
                y0, y1 = corners[i, 1], corners[j, 1]
                if (y0 <= r) != (y1 <= r) and count < 64:
                    x = corners[i, 0] + (r - y0) / (y1 - y0) * (corners[j, 0] - corners[i, 0])
                    at = count
                    while at > 0 and cuts[at - 1] > x:
                        cuts[at] = cuts[at - 1]
                        at -= 1
                    cuts[at] = x
                    count += 1
                i = j
            for pair in range(0, count - 1, 2):
                c0 = max(math.ceil(cuts[pair]), 0)
                c1 = min(math.floor(cuts[pair + 1]) + 1, cols)
                for c in range(c0, c1):
                    light[r, c] *= through[n]
