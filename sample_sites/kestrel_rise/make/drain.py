"""Fills hollows of a grid so that water leaves every cell, and adds up what drains through each."""

from __future__ import annotations

import heapq

import numpy as np
from numpy.typing import NDArray

from .frame import Floats


def filled(z: Floats) -> tuple[Floats, NDArray[np.int64], NDArray[np.int64]]:
    """Raise every hollow to its lowest outlet (Barnes, Lehman & Mulla 2014, priority-flood).

    Takes levels (rows, cols); returns the raised levels, the flat cell numbers from the outlets
    up, and for each cell the next one downstream (itself at the edge).
    """
    rows, cols = z.shape
    wide = np.full((rows + 2, cols + 2), np.nan)
    wide[1:-1, 1:-1] = z
    stride = cols + 2
    level = wide.ravel().tolist()
    seen = np.isnan(wide).ravel().tolist()
    to = list(range(len(level)))
    steps = (-1, 1, -stride, stride, -stride - 1, -stride + 1, stride - 1, stride + 1)
    rim = np.zeros((rows + 2, cols + 2), dtype=bool)
    rim[1, 1:-1] = rim[-2, 1:-1] = rim[1:-1, 1] = rim[1:-1, -2] = True
    heap = [(level[k], k) for k in np.flatnonzero(rim)]
    for _, k in heap:
        seen[k] = True
    heapq.heapify(heap)
    order = []
    while heap:
        here, k = heapq.heappop(heap)
        order.append(k)
        for step in steps:
            m = k + step
            if not seen[m]:
                seen[m] = True
                to[m] = k
                level[m] = max(level[m], here)
                heapq.heappush(heap, (level[m], m))
    narrow = np.arange(len(level)).reshape(rows + 2, cols + 2)[1:-1, 1:-1]
    back = np.full(len(level), -1, dtype=np.int64)
    back[narrow.ravel()] = np.arange(rows * cols)
    out = np.array(level).reshape(rows + 2, cols + 2)[1:-1, 1:-1]
    return out, back[np.array(order)], back[np.array(to)[narrow.ravel()]]


def steepest(z: Floats, flood: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return for each cell its steepest lower neighbour, else the next one of the flood."""
    rows, cols = z.shape
    wide = np.pad(z, 1, constant_values=np.inf)
    number = np.arange(rows * cols).reshape(rows, cols)
    best, to = np.zeros(z.shape), flood.reshape(rows, cols).copy()
    for dr in (-1, 0, 1):
        for dc in (-1, 0, 1):
            if dr or dc:
                beside = wide[1 + dr : rows + 1 + dr, 1 + dc : cols + 1 + dc]
                fall = (z - beside) / np.hypot(dr, dc)
                better = fall > best
                best = np.where(better, fall, best)
                to = np.where(better, number + dr * cols + dc, to)
    return to.ravel()


def area(order: NDArray[np.int64], to: NDArray[np.int64], shape: tuple[int, int]) -> Floats:
    """Return the number of cells draining through each cell, itself included."""
    total = [1.0] * len(order)
    next_ = to.tolist()
    for k in reversed(order.tolist()):
        r = next_[k]
        if r != k:
            total[r] += total[k]
    return np.array(total).reshape(shape)
