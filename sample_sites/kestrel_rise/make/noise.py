"""Noise that depends on the place alone, so that any window of a picture comes out the same."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from .frame import Floats, Window

Hashes = NDArray[np.uint32]


def scramble(a: NDArray[np.int64], b: NDArray[np.int64], seed: int) -> Hashes:
    """Return 32 well-mixed bits for each pair of whole numbers (shapes broadcast)."""
    a, b = np.atleast_1d(a), np.atleast_1d(b)
    # Odd multipliers and xor-shifts in the manner of integer hash finalisers.
    h = a.astype(np.uint32) * np.uint32(0x9E3779B1) ^ b.astype(np.uint32) * np.uint32(0x85EBCA77)
    h = h ^ np.uint32((seed * 0x27D4EB2F + 0x165667B1) & 0xFFFFFFFF)
    h = (h ^ (h >> np.uint32(15))) * np.uint32(0x2C1B3C6D)
    h = (h ^ (h >> np.uint32(12))) * np.uint32(0x297A2D39)
    return h ^ (h >> np.uint32(15))


def unit(a: NDArray[np.int64], b: NDArray[np.int64], seed: int) -> Floats:
    """Return even random numbers in [0, 1) for each pair of whole numbers."""
    return scramble(a, b, seed) / 4294967296.0


def grain(window: Window, seed: int) -> Floats:
    """Return bell-like noise of spread 1 for each cell, independent from cell to cell."""
    col = np.arange(window.cols)[None, :] + round(window.west / window.cell)
    row = np.arange(window.rows)[:, None] - round(window.north / window.cell)
    bits = scramble(col, row, seed * 31 + 7)
    total = (bits & np.uint32(0xFFFF)).astype(np.float32) + (bits >> np.uint32(16))
    return np.asarray((total / np.float32(65536) - 1) * np.float32(2.449), dtype=np.float32)


def fuzz(window: Window, seed: int, sigma_m: float) -> Floats:
    """Return fine bell-shaped noise of spread 1 with grains of about `sigma_m`."""
    s = sigma_m / window.cell
    field = gaussian_filter(grain(window, seed), s, truncate=3)
    return np.asarray(field * np.float32(2.0 * np.sqrt(np.pi) * s if s > 0.3 else 1.0))


def gradient_noise(u: Floats, v: Floats, wave_m: float, seed: int) -> Floats:
    """Return smooth noise about 0 within about ±1 with one bump each `wave_m` metres."""
    x, y = np.asarray(u) / wave_m, np.asarray(v) / wave_m
    i, j = np.floor(x).astype(np.int64), np.floor(y).astype(np.int64)
    fx, fy = x - i, y - j
    sx = fx * fx * fx * (fx * (fx * 6 - 15) + 10)
    sy = fy * fy * fy * (fy * (fy * 6 - 15) + 10)
    corner = []
    for dj in (0, 1):
        for di in (0, 1):
            turn = unit(i + di, j + dj, seed) * (2 * np.pi)
            corner.append(np.cos(turn) * (fx - di) + np.sin(turn) * (fy - dj))
    low = corner[0] + sx * (corner[1] - corner[0])
    high = corner[2] + sx * (corner[3] - corner[2])
    return np.asarray((low + sy * (high - low)) * 1.6)


def octaves(
    u: Floats, v: Floats, wave_m: float, seed: int, count: int = 4, keep: float = 0.5
) -> Floats:
    """Return noise summed over `count` halvings of the wavelength, scaled to about ±1."""
    total, weight, size = np.zeros(np.broadcast_shapes(u.shape, v.shape)), 0.0, 1.0
    for k in range(count):
        total += size * gradient_noise(u + 17.3 * k, v - 9.1 * k, wave_m / 2**k, seed + 101 * k)
        weight += size * size
        size *= keep
    return np.asarray(total / np.sqrt(weight))


def on(window: Window, wave_m: float, seed: int, count: int = 4, keep: float = 0.5) -> Floats:
    """Return octave noise on a window, each octave worked out no finer than it needs."""
    total, weight, size = np.zeros(window.shape, dtype=np.float32), 0.0, 1.0
    for k in range(count):
        wave = wave_m / 2**k
        total += np.float32(size) * one(window, wave, seed + 101 * k, k)
        weight += size * size
        size *= keep
    return total / np.float32(np.sqrt(weight))


def one(window: Window, wave_m: float, seed: int, shift: int) -> Floats:
    """Return a single octave on a window, from a coarse fixed lattice where that is enough."""

    def make(u: Floats, v: Floats) -> Floats:
        return gradient_noise(u + 17.3 * shift, v - 9.1 * shift, wave_m, seed)

    step = max(1, int(wave_m / (5 * window.cell)))
    if step == 1:
        # Bumps of a few cells look the same however they are made; this way is quicker.
        return np.float32(0.4) * fuzz(window, seed, 0.24 * wave_m)
    return coarse(window, step * window.cell, make)


def coarse(window: Window, cell: float, make: Callable[[Floats, Floats], Floats]) -> Floats:
    """Work `make(u, v)` on a fixed coarse lattice and return it bilinearly on the window."""
    west, south, east, north = window.bounds
    i0, i1 = int(np.floor(west / cell)) - 1, int(np.ceil(east / cell)) + 2
    j0, j1 = int(np.floor(south / cell)) - 1, int(np.ceil(north / cell)) + 2
    u, v = np.meshgrid(np.arange(i0, i1) * cell, np.arange(j0, j1) * cell)
    return lattice(make(u, v), i0 * cell, j0 * cell, cell, window)


def lattice(values: Floats, west: float, south: float, cell: float, window: Window) -> Floats:
    """Return bilinear values on a window from a lattice whose rows run north from `south`."""
    x = np.clip((window.u() - west) / cell, 0, values.shape[1] - 1.001)
    y = np.clip((window.v() - south) / cell, 0, values.shape[0] - 1.001)
    i, j = x.astype(np.int64), y.astype(np.int64)
    fx, fy = (x - i).astype(np.float32)[None, :], (y - j).astype(np.float32)[:, None]
    values = values.astype(np.float32)
    rows = values[j] * (1 - fy) + values[j + 1] * fy
    return np.take(rows, i, axis=1) * (1 - fx) + np.take(rows, i + 1, axis=1) * fx
