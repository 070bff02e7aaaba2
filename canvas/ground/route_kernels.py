"""Compiled inner loop of the route search: the cheapest way over a lattice, heading by heading."""

from __future__ import annotations

import heapq

import numpy as np
from numba import njit


@njit("f8(f8[:,::1], f8, f8)", nogil=True, cache=True)
def _level(z, row, col):  # type: ignore[no-untyped-def]
    """Return the level at a place in rows and columns between the nodes; NaN off them."""
    rows, cols = z.shape
    if row < 0.0 or col < 0.0 or row > rows - 1 or col > cols - 1:
        return np.nan
    r, c = min(int(row), rows - 2), min(int(col), cols - 2)
    a, b = row - r, col - c
    north = z[r, c] * (1.0 - b) + z[r, c + 1] * b
    south = z[r + 1, c] * (1.0 - b) + z[r + 1, c + 1] * b
    return north * (1.0 - a) + south * a


@njit("f8(f8[:,::1], f8, i8, i8, i8, i8, f8)", nogil=True, cache=True)
def _earth(z, spacing, row, col, down, right, width):  # type: ignore[no-untyped-def]
    """Return the earth moved per metre [m²] on a straight stretch between two nodes.

    The bench cut into the side slope, and what lies above and below the straight grade line.
    """
    first, last = z[row, col], z[row + down, col + right]
    length = np.hypot(down, right)
    off, side = 0.0, 0.0
    for i in range(1, 4):
        t = i / 4.0
        r, c = row + t * down, col + t * right
        here = _level(z, r, c)
        one = _level(z, r + right / length, c - down / length)
        other = _level(z, r - right / length, c + down / length)
        if np.isnan(here) or np.isnan(one) or np.isnan(other):
            return np.inf
        off += abs(first + t * (last - first) - here) / 3.0
        side += abs(one - other) / (2.0 * spacing) / 3.0
    bench = width * width * side / 8.0 / (1.0 - min(side, 0.8))
    return off * width + bench


@njit(
    "i8(f8[:,::1], i8[:,::1], f8[:,::1], i8, i8, f8[::1], f8[::1], i4[::1])",
    nogil=True, cache=True,
)  # fmt: skip
def search(z, steps, turns, start, goal, numbers, cost, came):  # type: ignore[no-untyped-def]
    """Find the cheapest way from one node to another; return the state it ends in, -1 for none.

    `z` is NaN where no way may lead. A state is a node and the heading it was come to by.
    `turns[a, b]` is what a turn from heading a to b costs, infinite where it is too sharp.
    `numbers` are spacing, grade, slack, width, and metres of way a cubic metre is worth.
    """
    rows, cols = z.shape
    headings = steps.shape[0]
    spacing, grade, slack, width, worth = numbers
    goal_row, goal_col = goal // cols, goal % cols
    heap = [(0.0, np.int64(-1))]
    heap.pop()
    done = np.zeros(cost.shape[0], np.uint8)
    for k in range(headings):
        state = start * headings + k
        cost[state] = 0.0
        heapq.heappush(heap, (0.0, np.int64(state)))
    earth = np.full((rows * cols, headings), -1.0)
    while len(heap) > 0:
        _, state = heapq.heappop(heap)
        if done[state]:
            continue
        done[state] = 1
        node, heading = state // headings, state % headings
        if node == goal:
            return state
        row, col = node // cols, node % cols
        for k in range(headings):
            turn = 0.0 if node == start else turns[heading, k]
            if turn == np.inf:
                continue
            r, c = row + steps[k, 0], col + steps[k, 1]
            if r < 0 or c < 0 or r >= rows or c >= cols or np.isnan(z[r, c]):
                continue
            length = spacing * np.hypot(steps[k, 0], steps[k, 1])
            rise = abs(z[r, c] - z[row, col])
            if rise > grade * (1.0 + slack) * length:
                continue
            if earth[node, k] < 0.0:
                earth[node, k] = _earth(z, spacing, row, col, steps[k, 0], steps[k, 1], width)
            if earth[node, k] == np.inf:
                continue
            way = max(length, rise / grade)
            fresh = cost[state] + turn + way * (1.0 + worth * earth[node, k])
            state_next = (r * cols + c) * headings + k
            if fresh < cost[state_next]:
                cost[state_next] = fresh
                came[state_next] = state
                near = spacing * np.hypot(goal_row - r, goal_col - c)
                ahead = max(near, abs(z[goal_row, goal_col] - z[r, c]) / grade)
                heapq.heappush(heap, (fresh + ahead, np.int64(state_next)))
    return -1
