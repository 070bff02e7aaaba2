"""Grounds with closed forms: planes, cones, bowls, valleys; and a slow way round held links."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from canvas.base.grid import Grid
from canvas.ground.faces import Faces


def ground(
    side_m: float, cell_m: float, level: Callable[[np.ndarray, np.ndarray], np.ndarray]
) -> Grid:
    """Square ground with its south-west corner at nought; `level(x, y)` in metres."""
    n = round(side_m / cell_m)
    grid = Grid(np.zeros((n, n)), 0.0, n * cell_m, cell_m)
    x, y = np.meshgrid(grid.x_m(), grid.y_m())
    return grid.like(level(x, y) + 0 * x)


def plane(side_m: float, cell_m: float, slope: float, uphill_deg: float = 0.0) -> Grid:
    """A plane at 100 m in its middle, rising towards an azimuth."""
    east, north = math.sin(math.radians(uphill_deg)), math.cos(math.radians(uphill_deg))
    half = side_m / 2
    return ground(
        side_m, cell_m, lambda x, y: 100 + slope * ((x - half) * east + (y - half) * north)
    )


def cone(side_m: float, cell_m: float, slope: float) -> Grid:
    """A cone with its top, at 100 m, in the middle."""
    half = side_m / 2
    return ground(side_m, cell_m, lambda x, y: 100 - slope * np.hypot(x - half, y - half))


def bowl(side_m: float, cell_m: float, curve: float) -> Grid:
    """A round bowl: 100 m in the middle and `curve` times the square of the distance above it."""
    half = side_m / 2
    return ground(side_m, cell_m, lambda x, y: 100 + curve * ((x - half) ** 2 + (y - half) ** 2))


def valley(side_m: float, cell_m: float, side: float, fall: float) -> Grid:
    """A V-valley down the middle, falling to the south; 100 m in its middle."""
    half = side_m / 2
    return ground(side_m, cell_m, lambda x, y: 100 + side * abs(x - half) + fall * (y - half))


def floods_to(levels: Grid, faces: Faces, start: tuple[int, int], water_m: float) -> np.ndarray:
    """Cells that water at a level reaches from a start, by links and corners; slow and plain."""
    z, (falling, rising) = levels.z, faces.diagonal_m()
    seen = np.zeros(z.shape, bool)
    if z[start] >= water_m:
        return seen
    seen[start] = True
    todo = [start]
    while todo:
        r, c = todo.pop()
        for dr in (-1, 0, 1):
            for dc in (-1, 0, 1):
                a, b = r + dr, c + dc
                if not (0 <= a < z.shape[0] and 0 <= b < z.shape[1]) or seen[a, b]:
                    continue
                if dr == 0 and dc != 0:
                    held = faces.east_m[r, min(c, b)]
                elif dc == 0 and dr != 0:
                    held = faces.south_m[min(r, a), c]
                else:
                    held = (falling if dr == dc else rising)[min(r, a), min(c, b)] if dr else 0
                if max(held, z[a, b]) < water_m:
                    seen[a, b] = True
                    todo.append((a, b))
    return seen
