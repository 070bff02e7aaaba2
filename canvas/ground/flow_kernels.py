"""Compiled inner loops of flow over the ground: filling, directions, level ground, accumulation.

Heights are whole steps of a fine power of two (`quantise`), so that "equal" and "lower" are exact
and a link's held level compares with a cell's. Work arrays carry a rim one cell wide, laid flat;
a neighbour is a fixed step away and no bounds need a test. Kept in one file because the compiler's
cache does not see changes made in another.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

#: A cell without data: higher than any.
NONE = np.uint32(0xFFFFFFFF)

#: Directions run clockwise from north, 0 to 7. Beyond them:
LEAVES = np.uint8(8)
_LEVEL = np.uint8(9)
_CLOSED = np.uint8(253)
#: Added to a direction that stays while a hollow's others are worked out.
_KEPT = np.uint8(16)
_OPEN = np.uint8(254)
VOID = np.uint8(255)

# Where `work`'s counters stand; the heap of a hollow's bed counts from _BED as the main one from 0.
_HEAP, _TRACE, _EQUAL, _DEFERRED, _LAKES, _CLIMBED, _BED = 0, 1, 2, 3, 4, 5, 6
_OUT = math.sqrt(0.5)
_K0, _K1, _K2, _K3, _K4, _K5, _K6, _K7 = (np.uint8(k) for k in range(8))

_FLAT = "u4[::1]"
_LAND = "Tuple((u4[::1], u4[::1], u1[::1], i4[::1], u8[::1]))"
_HELD = "Tuple((u1[::1], u4[::1], u4[::1]))"
_WORK = "Tuple((u8[::1], u4[::1], u4[::1], u4[::1], u8[::1], u4[:, ::1], i8[::1]))"
_LAKE = "Tuple((u4[::1], u4[::1], u4[::1], u4[::1], i4[::1], u8[::1]))"


@njit(f"u4({_HELD}, u8, i8, u8)", nogil=True, cache=True, forceinline=True)
def _held(held, p, k, w):  # type: ignore[no-untyped-def]
    """Return what is held between a cell and its neighbour in direction `k`."""
    _, east, south = held
    one = np.uint64(1)
    if k == 0:
        return south[p - w]
    if k == 2:
        return east[p]
    if k == 4:
        return south[p]
    if k == 6:
        return east[p - one]
    # Round the corner either way; the easier one counts.
    side = p if k < 4 else p - one
    up = p - w if k in (1, 7) else p
    over = p + one if k < 4 else p - one
    beyond = over - w if k in (1, 7) else over
    across = side - w if k in (1, 7) else side + w
    return min(max(east[side], south[beyond]), max(south[up], east[across]))


@njit("void(u8[::1], i8[::1], u8)", nogil=True, cache=True, forceinline=True)
def _push(heap, top, key):  # type: ignore[no-untyped-def]
    """Add a key to a heap of four children each, whose size is top[_HEAP]."""
    i = top[_HEAP]
    top[_HEAP] = i + 1
    while i > 0:
        parent = (i - 1) >> 2
        if heap[parent] <= key:
            break
        heap[i] = heap[parent]
        i = parent
    heap[i] = key


@njit("u8(u8[::1], i8[::1])", nogil=True, cache=True, forceinline=True)
def _pop(heap, top):  # type: ignore[no-untyped-def]
    """Take the lowest key."""
    lowest = heap[0]
    size = top[_HEAP] - 1
    top[_HEAP] = size
    key = heap[size]
    i = 0
    while True:
        child = 4 * i + 1
        if child >= size:
            break
        best = child
        for j in range(child + 1, min(child + 4, size)):
            if heap[j] < heap[best]:
                best = j
        if heap[best] >= key:
            break
        heap[i] = heap[best]
        i = best
    heap[i] = key
    return lowest


@njit(f"void({_WORK}, i8, u4, u8, u8)", nogil=True, cache=True, forceinline=True)
def _defer(work, cells, level, cell, origin):  # type: ignore[no-untyped-def]
    """Come to a cell behind a held link later, when the water has risen to the link's level."""
    heap, _, _, _, _, deferred, top = work
    i = top[_DEFERRED]
    top[_DEFERRED] = i + 1
    deferred[i, 0], deferred[i, 1] = cell, origin
    _push(heap, top, (np.uint64(level) << np.uint64(32)) | np.uint64(cells + i))


@njit(f"void({_LAND}, {_HELD}, {_WORK})", nogil=True, cache=True, forceinline=True)
def _climb(land, held, work):  # type: ignore[no-untyped-def]
    """Reach all that rises from the cells in the trace; queue those with lower ground beside.

    A cell that another one in the trace will reach from below needs no queueing (Zhou et al. 2016).
    """
    raw, water, back, _, steps = land
    near = held[0]
    heap, trace, _, _, _, _, top = work
    walled, w = near.shape[0] > 0, steps[4]
    done, size = top[_CLIMBED], top[_TRACE]
    while done < size:
        p = np.uint64(trace[done])
        done += 1
        here = raw[p]
        guarded = walled and near[p] == 1
        low = False
        for k in range(8):
            n = p + steps[k]
            if back[n] != _OPEN:
                continue
            there = raw[n]
            if guarded:
                level = _held(held, p, k, w)
                if level > max(here, there):
                    _defer(work, raw.shape[0], level, n, p)
                    continue
            if there > here:
                back[n] = _CLOSED
                trace[size] = n
                size += 1
            elif not low:
                low = True
                if not (walled and near[n] == 1):
                    for j in range(8):
                        m = n + steps[j]
                        if water[m] < there and back[m] != _OPEN:
                            low = False
                            break
        if low:
            _push(heap, top, (np.uint64(here) << np.uint64(32)) | np.uint64(p))
    top[_CLIMBED], top[_TRACE] = done, size


@njit(f"void({_LAND}, {_HELD}, {_WORK}, i8, u8, u4)", nogil=True, cache=True, forceinline=True)
def _lead_out(land, held, work, of, spill, level):  # type: ignore[no-untyped-def]
    """Direct a hollow's cells by the lowest way out: the way its bed would flood from the spill."""
    raw, _, back, label, steps = land
    near = held[0]
    bed, size = work[4], work[6][_BED : _BED + 1]
    walled, w = near.shape[0] > 0, steps[4]
    p = spill
    while True:
        for k in range(8):
            n = p + steps[k]
            if label[n] != of or back[n] != _CLOSED:
                continue
            if walled and near[p] == 1 and _held(held, p, k, w) > level:
                continue
            back[n] = (k + 4) & 7
            _push(bed, size, (np.uint64(raw[n]) << np.uint64(32)) | np.uint64(n))
        if size[0] == 0:
            break
        p = np.uint64(_pop(bed, size) & np.uint64(0xFFFFFFFF))


@njit(f"void({_LAND}, {_HELD}, {_WORK}, i8, i8, u4)", nogil=True, cache=True, forceinline=True)
def _follow_bed(land, held, work, of, count, level):  # type: ignore[no-untyped-def]
    """Let a hollow's cells drain down its bed; the way out holds only from the deepest places on.

    `count` is its number of cells, listed in the work's fourth array.
    """
    raw, _, back, label, steps = land
    near, raised = held[0], work[3]
    walled, w = near.shape[0] > 0, steps[4]
    for stage in range(2):
        for i in range(count):
            p = np.uint64(raised[i])
            if back[p] >= _KEPT:
                continue
            best, chosen, here = 0.0, -1, raw[p]
            for k in range(8):
                n = p + steps[k]
                if raw[n] >= here or label[n] != of:
                    continue
                if walled and near[p] == 1 and _held(held, p, k, w) > level:
                    continue
                drop = np.float64(here - raw[n]) * (_OUT if k & 1 == 1 else 1.0)
                if drop > best:
                    best, chosen = drop, k
            if stage == 1:
                back[p] = chosen
            elif chosen < 0:
                while label[p] == of and back[p] < _KEPT:
                    back[p] += _KEPT
                    p = p + steps[back[p] - _KEPT]
    for i in range(count):
        back[raised[i]] &= 7


@njit(
    f"void({_LAND}, {_HELD}, {_WORK}, {_LAKE}, u8, u8, u4, i8)",
    nogil=True,
    cache=True,
    forceinline=True,
)
def _sink(land, held, work, lake, first, spill, level, rim):  # type: ignore[no-untyped-def]
    """Fill the hollow that holds the cell `first` up to `level`."""
    raw, water, back, label, steps = land
    near = held[0]
    _, trace, equal, raised, _, _, top = work
    walled, w = near.shape[0] > 0, steps[4]
    of = top[_LAKES] + 1
    top[_LAKES] = of
    back[first], water[first], label[first] = _CLOSED, level, of
    raised[0] = first
    count, done, deepest, total = 1, 0, first, np.uint64(0)
    while done < count:
        p = np.uint64(raised[done])
        done += 1
        total += np.uint64(level - raw[p])
        deepest = p if raw[p] < raw[deepest] else deepest
        guarded = walled and near[p] == 1
        for k in range(8):
            n = p + steps[k]
            if back[n] != _OPEN:
                continue
            there = raw[n]
            if guarded:
                over = _held(held, p, k, w)
                if over > max(level, there):
                    _defer(work, raw.shape[0], over, n, p)
                    continue
            if there < level:
                back[n], water[n], label[n] = _CLOSED, level, of
                raised[count] = n
                count += 1
            elif there > level:
                back[n] = _CLOSED
                trace[top[_TRACE]] = n
                top[_TRACE] += 1
            else:
                back[n] = (k + 4) & 7
                equal[top[_EQUAL]] = n
                top[_EQUAL] += 1
    levels, spills, lows, counts, rims, totals = lake
    levels[of - 1], spills[of - 1], lows[of - 1] = level, spill, deepest
    counts[of - 1], rims[of - 1], totals[of - 1] = count, rim, total
    _lead_out(land, held, work, of, spill, level)
    if count > 1:
        _follow_bed(land, held, work, of, count, level)


@njit(f"void({_LAND}, {_HELD}, {_WORK}, {_LAKE}, u4, i8)", nogil=True, cache=True, forceinline=True)
def _settle(land, held, work, lake, level, rim):  # type: ignore[no-untyped-def]
    """Reach all that joins the listed cells of one level: hollows below it and slopes above."""
    raw, _, back, _, steps = land
    near = held[0]
    _, trace, equal, _, _, _, top = work
    walled, w = near.shape[0] > 0, steps[4]
    done = 0
    while done < top[_EQUAL]:
        p = np.uint64(equal[done])
        done += 1
        guarded = walled and near[p] == 1
        for k in range(8):
            n = p + steps[k]
            if back[n] != _OPEN:
                continue
            there = raw[n]
            if guarded:
                over = _held(held, p, k, w)
                if over > max(level, there):
                    _defer(work, raw.shape[0], over, n, p)
                    continue
            if there < level:
                _sink(land, held, work, lake, n, p, level, rim)
            elif there > level:
                back[n] = _CLOSED
                trace[top[_TRACE]] = n
                top[_TRACE] += 1
            else:
                back[n] = (k + 4) & 7
                equal[top[_EQUAL]] = n
                top[_EQUAL] += 1


@njit(f"i8({_LAND}, {_HELD}, {_WORK}, {_LAKE}, u1[::1])", nogil=True, cache=True)
def fill(land, held, work, lake, edge):  # type: ignore[no-untyped-def]
    """Flood inwards from the data's edge, lowest first; return the number of hollows.

    `land` is heights, water levels (filled in), ways back towards the water's exit (filled in),
    hollow numbers from 1 (filled in), steps to the neighbours. `lake` gets each hollow's level,
    spill cell, deepest cell, cell count, the cell whose height is its level (-1: a held link) and
    the sum of depths.
    """
    raw, _, back, _, _ = land
    heap, trace, equal, _, _, deferred, top = work
    for cell in range(edge.shape[0]):
        if edge[cell] == 1:
            back[cell] = _CLOSED
            trace[top[_TRACE]] = cell
            top[_TRACE] += 1
    while True:
        _climb(land, held, work)
        if top[_HEAP] == 0:
            break
        key = _pop(heap, top)
        level = np.uint32(key >> np.uint64(32))
        at = np.int64(key & np.uint64(0xFFFFFFFF))
        rim = at if at < raw.shape[0] else -1
        top[_EQUAL] = 0
        if rim >= 0:
            equal[0] = at
            top[_EQUAL] = 1
        else:
            n = np.uint64(deferred[at - raw.shape[0], 0])
            if back[n] != _OPEN:
                continue
            origin = np.uint64(deferred[at - raw.shape[0], 1])
            _sink(land, held, work, lake, n, origin, level, rim)
        _settle(land, held, work, lake, level, rim)
    return top[_LAKES]


@njit(f"void({_FLAT}, u1[::1], i8, i8, i8, u1[::1])", nogil=True, cache=True)
def steepest_rows(water, edge, cols, first, end, out):  # type: ignore[no-untyped-def]
    """Direct each cell to the neighbour it falls to most steeply; level cells stay `_LEVEL`.

    Of equal falls the first counts: straight before diagonal, then clockwise from north.
    """
    w = cols + 2
    for r in range(first, end):
        up, mid, low = water[r * w :], water[(r + 1) * w :], water[(r + 2) * w :]
        at_edge, at_out = edge[(r + 1) * w + 1 :], out[(r + 1) * w + 1 :]
        for c in range(cols):
            here = mid[c + 1]
            n0, n2, n4, n6 = up[c + 1], mid[c + 2], low[c + 1], mid[c]
            n1, n3, n5, n7 = up[c + 2], low[c + 2], low[c], up[c]
            straight, diagonal = min(n0, n2, n4, n6), min(n1, n3, n5, n7)
            s = here - min(straight, here)
            d = here - min(diagonal, here)
            ks = _K4 if n4 == straight else _K6
            ks = _K2 if n2 == straight else ks
            ks = _K0 if n0 == straight else ks
            kd = _K5 if n5 == diagonal else _K7
            kd = _K3 if n3 == diagonal else kd
            kd = _K1 if n1 == diagonal else kd
            k = kd if np.float64(d) * _OUT > np.float64(s) else ks
            rest = LEAVES if at_edge[c] == 1 else _LEVEL
            k = rest if max(s, d) == 0 else k
            at_out[c] = VOID if here == NONE else k


@njit(
    f"void({_FLAT}, {_HELD}, u1[::1], u8[::1], u4[::1], u1[::1], u1[::1])", nogil=True, cache=True
)
def steepest_held(water, held, edge, steps, cells, out, shut):  # type: ignore[no-untyped-def]
    """Direct the listed cells anew, past no link held above their water; note those in `shut`.

    `shut` has one bit for each direction the water of a cell cannot pass.
    """
    for i in range(cells.shape[0]):
        p = np.uint64(cells[i])
        best, here, bits = 0.0, water[p], 0
        if here == NONE:
            continue
        out[p] = LEAVES if edge[p] == 1 else _LEVEL
        for half in range(2):
            for k in range(half, 8, 2):
                there = water[p + steps[k]]
                if _held(held, p, k, steps[4]) > here:
                    bits |= 1 << k
                elif there < here:
                    drop = (np.float64(here) - np.float64(there)) * (_OUT if half == 1 else 1.0)
                    if drop > best:
                        best = drop
                        out[p] = k
        shut[p] = bits
