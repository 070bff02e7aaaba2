"""Wears a surface down by running water and soil creep on an irregular net of points.

Detachment by streams follows the stream-power law, erosion rate = K A^0.5 S (Whipple & Tucker
1999), solved from outlet to source without iteration for this exponent (Braun & Willett 2013);
soil creep is linear diffusion. The net is irregular so that no grid direction shows in the valleys.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import Delaunay

from .frame import Floats
from .noise import unit

Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Net:
    """Points (n, 2), triangles, and the neighbours of each point in one row-indexed list."""

    points: Floats
    triangles: Delaunay
    start: Ints
    near: Ints
    span: Floats
    owner: Ints
    fixed: NDArray[np.bool_]
    area: float


def net(bounds: tuple[float, float, float, float], step: float, seed: int) -> Net:
    """Scatter points about `step` metres apart over west, south, east, north and join them."""
    west, south, east, north = bounds
    cols, rows = round((east - west) / step), round((north - south) / step)
    i, j = np.meshgrid(np.arange(cols), np.arange(rows))
    du, dv = unit(i, j, seed) - 0.5, unit(i, j, seed + 1) - 0.5
    u = west + (i + 0.5 + 0.7 * du) * step
    v = south + (j + 0.5 + 0.7 * dv) * step
    points = np.column_stack([u.ravel(), v.ravel()])
    rim = (i == 0) | (j == 0) | (i == cols - 1) | (j == rows - 1)
    triangles = Delaunay(points)
    start, near = triangles.vertex_neighbor_vertices
    start, near = start.astype(np.int64), near.astype(np.int64)
    owner = np.repeat(np.arange(len(points)), np.diff(start))
    span = np.hypot(*(points[owner] - points[near]).T)
    return Net(points, triangles, start, near, span, owner, rim.ravel(), step * step)


def drained(web: Net, z: Floats) -> tuple[Floats, list[int], list[int]]:
    """Raise hollows by a hair and return levels, the order from outlets up, and receivers."""
    level, order, seen = z.tolist(), [], (web.fixed).tolist()
    start, near = web.start.tolist(), web.near.tolist()
    heap = [(level[k], k) for k in np.flatnonzero(web.fixed)]
    heapq.heapify(heap)
    while heap:
        here, k = heapq.heappop(heap)
        order.append(k)
        for m in near[start[k] : start[k + 1]]:
            if not seen[m]:
                seen[m] = True
                level[m] = max(level[m], here + 1e-4)
                heapq.heappush(heap, (level[m], m))
    filled = np.array(level)
    fall = (filled[web.owner] - filled[web.near]) / web.span
    best = np.maximum.reduceat(fall, web.start[:-1])
    # The steepest way down; the first of equals.
    hit = np.flatnonzero(fall >= best[web.owner])
    receiver = np.arange(len(z))
    receiver[web.owner[hit[::-1]]] = web.near[hit[::-1]]
    receiver[web.fixed] = np.flatnonzero(web.fixed)
    return filled, order, receiver.tolist()


def gathered(web: Net, order: list[int], receiver: list[int]) -> list[float]:
    """Return the area draining through each point [m²]."""
    area = [web.area] * len(order)
    for k in reversed(order):
        r = receiver[k]
        if r != k:
            area[r] += area[k]
    return area


def worn(
    web: Net,
    z: Floats,
    *,
    steps: int,
    power: float,
    creep: float,
    least_m2: float,
    rise: Floats | float = 0.0,
) -> tuple[Floats, Floats]:
    """Return the surface after `steps` of wear, and the area draining to each point [m²].

    `power` is K·dt per step, `creep` the diffusivity·dt [m²], `least_m2` the area that begins a
    stream, `rise` the uplift per step [m].
    """
    z = z.copy()
    moving = ~web.fixed
    for _ in range(steps):
        z, order, receiver = drained(web, z)
        area = np.array(gathered(web, order, receiver))
        to = np.array(receiver)
        gap = np.hypot(*(web.points - web.points[to]).T)
        pull = np.zeros_like(z)
        stream = moving & (gap > 0)
        reach = np.sqrt(np.maximum(area - least_m2, 0.0))
        pull[stream] = power * reach[stream] / gap[stream]
        level, draw = z.tolist(), pull.tolist()
        for k in order:
            f = draw[k]
            if f > 0:
                level[k] = (level[k] + f * level[receiver[k]]) / (1 + f)
        z = np.array(level)
        mean = np.add.reduceat((z[web.near] - z[web.owner]) / web.span, web.start[:-1])
        weight = np.add.reduceat(web.span, web.start[:-1])
        z = np.where(moving, z + creep * 4.0 * mean / weight + rise, z)
    z, order, receiver = drained(web, z)
    return z, np.array(gathered(web, order, receiver))
