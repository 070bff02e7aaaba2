"""Compiled inner loops between heights in metres and the whole steps that flow is worked out in.

Kept in one file because the compiler's cache does not see changes made in another.
"""

from __future__ import annotations

import numpy as np
from numba import njit

#: A cell without data: higher than any.
NONE = np.uint32(0xFFFFFFFF)
#: Height of the lowest cell: 0 on a link means that nothing is held there.
LOWEST = np.uint32(2)
_OPEN = np.uint8(254)
_VOID = np.uint8(255)

_FLAT = "u4[::1]"


@njit("void(f8[:, ::1], i8, i8, f8[:, ::1])", nogil=True, cache=True)
def range_rows(z, first, end, out):  # type: ignore[no-untyped-def]
    """Put each row's lowest and highest finite value in `out`; infinities where it has none."""
    for r in range(first, end):
        low, high = np.inf, -np.inf
        for c in range(z.shape[1]):
            v = z[r, c]
            known = abs(v) < np.inf
            low = v if known and v < low else low
            high = v if known and v > high else high
        out[r, 0], out[r, 1] = low, high


@njit(f"void(f8[:, ::1], f8, f8, i8, i8, {_FLAT}, {_FLAT})", nogil=True, cache=True)
def quantise_rows(z, base, per_step, first, end, raw, water):  # type: ignore[no-untyped-def]
    """Turn heights into whole steps above `base`, into both rimmed arrays."""
    cols = z.shape[1]
    for r in range(first, end):
        at = (r + 1) * (cols + 2) + 1
        for c in range(cols):
            v = z[r, c]
            known = abs(v) < np.inf
            steps = np.rint((v - base) * per_step) if known else 0.0
            q = np.uint32(steps) + LOWEST if known else NONE
            raw[at + c] = q
            water[at + c] = q


@njit("void(f8[:, ::1], i4[::1], f8[::1], i8, i8, f8[:, ::1])", nogil=True, cache=True)
def raise_rows(z, label, level_m, first, end, out):  # type: ignore[no-untyped-def]
    """Copy heights, those within a hollow raised to its level."""
    cols = z.shape[1]
    for r in range(first, end):
        at = (r + 1) * (cols + 2) + 1
        for c in range(cols):
            of = label[at + c]
            out[r, c] = z[r, c] if of == 0 else level_m[of - 1]


@njit(f"void({_FLAT}, i8, i8, i8, u1[::1], u1[::1])", nogil=True, cache=True)
def edge_rows(raw, cols, first, end, edge, back):  # type: ignore[no-untyped-def]
    """Mark the cells at the data's edge, and the cells still to be reached by the flood."""
    w = cols + 2
    for r in range(first, end):
        up, mid, low = raw[r * w :], raw[(r + 1) * w :], raw[(r + 2) * w :]
        at_edge, at_back = edge[(r + 1) * w + 1 :], back[(r + 1) * w + 1 :]
        for c in range(cols):
            above, below = max(up[c], up[c + 1], up[c + 2]), max(low[c], low[c + 1], low[c + 2])
            void = mid[c + 1] == NONE
            beside = max(above, below, mid[c], mid[c + 2]) == NONE
            at_edge[c] = np.uint8(beside & (not void))
            at_back[c] = _VOID if void else _OPEN
