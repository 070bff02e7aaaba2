"""Lights the scene: sun by slope, shadows cast by all that stands, blue light of the sky."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter

from .frame import Floats, Sun, Window, sun
from .standing import Standing

SUNLIGHT = np.array([1.00, 0.955, 0.865])
SKYLIGHT = np.array([0.205, 0.250, 0.330])
TALLEST_M = 26.0
LEVEL_SUN = 0.7216  # sine of the sun's elevation: level ground in full sun keeps its own colour


def normals(z: Floats, cell: float) -> tuple[Floats, Floats, Floats]:
    """Return the unit normal (east, north, up) of a surface."""
    down, right = np.gradient(z, cell)
    size = 1.0 / np.sqrt(1.0 + right**2 + down**2)
    return -right * size, down * size, size


def facing(z: Floats, cell: float, star: Sun) -> Floats:
    """Return the cosine between a surface's normal and the sun, at least 0."""
    east, north, up = normals(z, cell)
    return np.maximum(east * star.east + north * star.north + up * star.up, 0.0)


def through(layers: Standing, receiver: Floats, start_m: float) -> Floats:
    """Return the share of sunlight reaching each receiver level [m] past all that stands.

    Walks from each cell towards the sun and adds up the leaf met on the way; 0 behind walls.
    """
    star, cell = sun(), layers.window.cell
    flat = np.hypot(star.east, star.north)
    step = cell * 1.4143
    top, base = layers.top.astype(np.float32), layers.base.astype(np.float32)
    dense = layers.dense.astype(np.float32) * np.float32(step / np.cos(np.arctan(star.slope)))
    met = np.zeros(receiver.shape, dtype=np.float32)
    level = receiver.astype(np.float32)
    k = max(1, round(start_m / step))
    while k * step * star.slope < TALLEST_M:
        away = k * step
        dc, dr = round(away * star.east / flat / cell), -round(away * star.north / flat / cell)
        here, there = shifted(receiver.shape, dr, dc)
        ray = level[here] + np.float32(away * star.slope)
        hit = (ray < top[there]) & (ray > base[there])
        met[here] += np.where(hit, dense[there], np.float32(0))
        k += 1
    return np.exp(-met.astype(np.float64))


def shifted(
    shape: tuple[int, int], dr: int, dc: int
) -> tuple[tuple[slice, slice], tuple[slice, slice]]:
    """Return slices pairing each cell with the one `dr` rows and `dc` columns from it."""
    rows, cols = shape
    here = (slice(max(0, -dr), min(rows, rows - dr)), slice(max(0, -dc), min(cols, cols - dc)))
    there = (slice(max(0, dr), min(rows, rows + dr)), slice(max(0, dc), min(cols, cols + dc)))
    return here, there


def open_sky(layers: Standing, reach_m: float) -> Floats:
    """Return about how much sky a cell on the ground sees past crowns and walls (0–1)."""
    tall = np.clip(layers.top - layers.ground, 0, 14) * layers.cover
    near = gaussian_filter(tall, reach_m / layers.window.cell, truncate=2.5)
    return 1.0 / (1.0 + 0.16 * near)


def lit(colour: Floats, cosine: Floats, share: Floats, sky: Floats) -> Floats:
    """Return light leaving a matt surface (rows, cols, 3) relative to level ground in full sun."""
    direct = (cosine * share / LEVEL_SUN)[..., None] * SUNLIGHT * 0.80
    return colour * (direct + sky[..., None] * SKYLIGHT)


def window_margin(window: Window) -> int:
    """Return the cells around a window whose shadows or softness may reach into it."""
    star = sun()
    return int(TALLEST_M / star.slope / window.cell) + 24
