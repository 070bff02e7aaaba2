"""Compiled inner loops of drained ground: level parts, accumulation, order, the drainage network.

Rimmed flat arrays and directions as in `flow_kernels`; from `accumulate` on, plain grids laid flat.
Kept in one file because the compiler's cache does not see changes made in another.
"""

from __future__ import annotations

import numpy as np
from numba import njit

_NONE = np.uint32(0xFFFFFFFF)
_LEAVES = np.uint8(8)
_LEVEL = np.uint8(9)
_WAITING = np.uint8(10)
_VOID = np.uint8(255)
_DONE = np.uint8(255)

_FLAT = "u4[::1]"


@njit(f"i8({_FLAT}, {_FLAT}, u1[::1], u1[::1], u4[::1])", nogil=True, cache=True)
def list_level(raw, water, back, way, cells):  # type: ignore[no-untyped-def]
    """Send hollows along their bed and list the cells of level ground; return their number."""
    count = 0
    for p in range(way.shape[0]):
        if way[p] == _LEVEL:
            if water[p] != raw[p]:
                way[p] = back[p]
            else:
                cells[count] = p
                count += 1
    return count


@njit(
    f"void({_FLAT}, {_FLAT}, u1[::1], u1[::1], u8[::1], u4[::1], u4[::1], i4[::1], u1[::1])",
    nogil=True,
    cache=True,
)
def _towards_exits(raw, water, back, shut, steps, cells, queue, rank, way):  # type: ignore[no-untyped-def]
    """Direct the cells beside an exit; add to the others' rank twice their distance from one."""
    walled = shut.shape[0] > 0
    size = 0
    for i in range(cells.shape[0]):
        p = np.uint64(cells[i])
        for j in range(8):
            k = (2 * j) % 8 + j // 4
            n = p + steps[k]
            # A hollow is no exit: its own way out may lead here.
            if water[n] == water[p] and raw[n] == water[p] and way[n] <= _LEAVES:
                if walled and (shut[p] >> k) & 1:
                    continue
                back[p] = k
                queue[size] = p
                size += 1
                break
    for i in range(size):
        p = np.uint64(queue[i])
        way[p] = back[p]
    done, end, distance = 0, size, 1
    while done < size:
        if done == end:
            end, distance = size, distance + 1
        p = np.uint64(queue[done])
        done += 1
        rank[p] += 2 * distance
        for k in range(8):
            n = p + steps[k]
            if way[n] == _LEVEL and raw[n] == water[p] and water[n] == water[p]:
                if walled and (shut[p] >> k) & 1:
                    continue
                way[n] = _WAITING
                queue[size] = n
                size += 1


@njit(
    f"void({_FLAT}, u1[::1], u8[::1], u4[::1], u4[::1], i4[::1], u1[::1])", nogil=True, cache=True
)
def _from_rises(water, shut, steps, cells, queue, rank, way):  # type: ignore[no-untyped-def]
    """Put each level cell's distance from higher ground beside it, negative, into its rank."""
    walled = shut.shape[0] > 0
    size = 0
    for i in range(cells.shape[0]):
        p = np.uint64(cells[i])
        for k in range(8):
            n = p + steps[k]
            if water[n] > water[p] and water[n] != _NONE:
                rank[p] = -1
                queue[size] = p
                size += 1
                break
    done = 0
    while done < size:
        p = np.uint64(queue[done])
        done += 1
        for k in range(8):
            n = p + steps[k]
            if way[n] == _LEVEL and rank[n] == 0 and water[n] == water[p]:
                if walled and (shut[p] >> k) & 1:
                    continue
                rank[n] = rank[p] - 1
                queue[size] = n
                size += 1


@njit(
    f"void({_FLAT}, {_FLAT}, u1[::1], u1[::1], u8[::1], u4[::1], u4[::1], i4[::1], u1[::1])",
    nogil=True,
    cache=True,
)
def cross_level(raw, water, back, shut, steps, cells, queue, rank, way):  # type: ignore[no-untyped-def]
    """Direct level ground away from higher ground and towards its exits (Barnes et al. 2014).

    `rank` (zeros) becomes twice the distance to an exit less the distance from higher ground; each
    cell goes to the lowest rank beside it. What only a hollow links to an exit goes the way the
    flood came.
    """
    walled = shut.shape[0] > 0
    _from_rises(water, shut, steps, cells, queue, rank, way)
    _towards_exits(raw, water, back, shut, steps, cells, queue, rank, way)
    for i in range(cells.shape[0]):
        p = np.uint64(cells[i])
        if way[p] != _WAITING:
            way[p] = back[p] if way[p] == _LEVEL else way[p]
            continue
        best, chosen = rank[p], 0
        for half in range(2):
            for k in range(half, 8, 2):
                n = p + steps[k]
                if raw[n] != water[p] or water[n] != water[p] or rank[n] >= best:
                    continue
                if not (walled and (shut[p] >> k) & 1):
                    best, chosen = rank[n], k
        way[p] = chosen


@njit("void(u1[::1], i8[::1], i4[::1], u1[::1], i4[::1], i4[::1])", nogil=True, cache=True)
def accumulate(way, steps, count, beyond, order, place):  # type: ignore[no-untyped-def]
    """Count each cell's catchment and line all cells up so that every catchment is one stretch.

    `order[place[p] : place[p] + count[p]]` are the cells that drain through `p`, itself first.
    `beyond`, 1 for cells at the data's edge, becomes 1 for all that such cells drain through.
    """
    size = way.shape[0]
    inflows = np.zeros(size, np.uint8)
    for cell in range(size):
        if way[cell] < _LEAVES:
            inflows[cell + steps[way[cell]]] += 1
        count[cell] = 0 if way[cell] == _VOID else 1
    # Downhill from every head; `place` holds the cells in the order they were finished.
    done = 0
    for head in range(size):
        p = np.int64(head)
        while inflows[p] == 0 and way[p] != _VOID:
            inflows[p] = _DONE
            place[done] = p
            done += 1
            if way[p] >= _LEAVES:
                break
            n = p + steps[way[p]]
            count[n] += count[p]
            beyond[n] |= beyond[p]
            inflows[n] -= 1
            p = n
    # Uphill again: each cell takes the next free stretch of the one it drains to.
    finished = place[:done].copy()
    free = np.int64(0)
    room = np.empty(size, np.int32)
    for i in range(done - 1, -1, -1):
        p = np.int64(finished[i])
        if way[p] >= _LEAVES:
            at = free
            free += count[p]
        else:
            n = p + steps[way[p]]
            at = np.int64(room[n])
            room[n] += count[p]
        room[p] = at + 1
        place[p] = at
    for cell in range(size):
        if way[cell] == _VOID:
            place[cell] = -1
        else:
            order[place[cell]] = cell


@njit("void(u1[::1], i8[::1], i4[::1], f8[::1])", nogil=True, cache=True)
def pass_down(way, steps, order, amount):  # type: ignore[no-untyped-def]
    """Add to each cell's amount all that drains through it."""
    for i in range(order.shape[0] - 1, -1, -1):
        p = np.int64(order[i])
        if way[p] < _LEAVES:
            amount[p + steps[way[p]]] += amount[p]


@njit("i8(u1[::1], i8[::1], i4[::1], i4[::1], i8, u1[::1], u1[::1])", nogil=True, cache=True)
def grade(way, steps, order, count, least, inflows, rank):  # type: ignore[no-untyped-def]
    """Count each drainage cell's drained inflows and give it its order (Strahler 1957).

    Drainage cells are those with at least `least` in their catchment. Returns how many there are.
    """
    equals = np.zeros(way.shape[0], np.uint8)
    cells = 0
    for i in range(order.shape[0] - 1, -1, -1):
        p = np.int64(order[i])
        if count[p] < least:
            continue
        cells += 1
        if inflows[p] == 0:
            rank[p] = 1
        elif equals[p] >= 2:
            rank[p] += 1
        if way[p] < _LEAVES:
            n = p + steps[way[p]]
            inflows[n] += 1
            if rank[p] > rank[n]:
                rank[n], equals[n] = rank[p], 1
            elif rank[p] == rank[n]:
                equals[n] += 1
    return cells


@njit(
    "i8(u1[::1], i8[::1], i4[::1], i4[::1], i8, u1[::1], i4[::1], i8[::1])", nogil=True, cache=True
)
def link(way, steps, order, count, least, inflows, cells, start):  # type: ignore[no-untyped-def]
    """List the cells of each reach from its head or confluence to the next; return how many.

    A reach ends with the first cell of the one it joins, or where water leaves the data.
    """
    put, reaches = 0, 0
    for i in range(order.shape[0] - 1, -1, -1):
        p = np.int64(order[i])
        if count[p] < least or inflows[p] == 1:
            continue
        start[reaches] = put
        reaches += 1
        cells[put] = p
        put += 1
        while way[p] < _LEAVES:
            p = p + steps[way[p]]
            cells[put] = p
            put += 1
            if inflows[p] > 1:
                break
    start[reaches] = put
    return reaches


@njit("void(u1[::1], i8[::1], i4[::1], i4[::1], i4[::1])", nogil=True, cache=True)
def main_inflow(way, steps, order, count, above):  # type: ignore[no-untyped-def]
    """Put in `above` the neighbour with most water of those that drain to each cell; -1: none."""
    for i in range(order.shape[0] - 1, -1, -1):
        p = np.int64(order[i])
        if way[p] < _LEAVES:
            n = p + steps[way[p]]
            if above[n] < 0 or count[p] > count[above[n]]:
                above[n] = p


@njit("void(i4[::1], i4[::1], i8[::1], i4[::1])", nogil=True, cache=True)
def climb(above, feet, start, cells):  # type: ignore[no-untyped-def]
    """List the cells from each foot up its main inflows; with no room only count them.

    `start` gets where each line begins in `cells`.
    """
    put = 0
    for i in range(feet.shape[0]):
        start[i] = put
        p = np.int64(feet[i])
        while p >= 0:
            if put < cells.shape[0]:
                cells[put] = p
            put += 1
            p = np.int64(above[p])
    start[feet.shape[0]] = put
