"""Paints the aerial: the coat of the land, what stands on it, light, haze and the camera."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from . import built, cover, light, lines, standing
from .frame import AERIAL, SEED, Floats, Window, sun
from .noise import grain, on
from .paths import smoothstep
from .scene import Scene

HAZE = np.array([0.62, 0.70, 0.80])
BLOCK = 800  # cells painted at once


def paint(scene: Scene, window: Window = AERIAL) -> NDArray[np.uint8]:
    """Return the picture of a window (rows, cols, 3), the same for any way of cutting it up."""
    scene.prepare()
    out = np.empty((*window.shape, 3), dtype=np.uint8)

    def fill(corner: tuple[int, int]) -> None:
        r, c = corner
        rows, cols = min(BLOCK, window.rows - r), min(BLOCK, window.cols - c)
        west, north = window.west + c * window.cell, window.north - r * window.cell
        part = Window(west, north, window.cell, rows, cols)
        out[r : r + rows, c : c + cols] = block(scene, part)

    corners = product(range(0, window.rows, BLOCK), range(0, window.cols, BLOCK))
    with ThreadPoolExecutor(max_workers=2) as pool:
        list(pool.map(fill, corners))
    return out


def block(scene: Scene, part: Window) -> NDArray[np.uint8]:
    """Paint one block with a margin wide enough for every shadow, and cut the margin off."""
    margin = light.window_margin(part)
    window = part.grown(margin)
    coat = cover.coat(scene, window)
    water = lines.draw(scene, window, coat)
    bare = scene.levels(window) - np.clip(scene.on("water", window), 0, lines.DRAWDOWN_M)
    layers = standing.Standing.empty(window, bare)
    for number, tree in enumerate(scene.trees):
        standing.grow(layers, tree, number)
    built.raise_all(scene, layers)
    picture = lighted(coat, water, layers)
    seen = camera(picture, window)
    return seen[margin:-margin, margin:-margin]


def lighted(coat: cover.Coat, water: Floats, layers: standing.Standing) -> Floats:
    """Return the light from ground and standing things together (rows, cols, 3)."""
    star, cell = sun(), layers.window.cell
    sky = light.open_sky(layers, 2.2)
    share = light.through(layers, layers.ground, 0.0)
    share = gaussian_filter(share, 0.7, truncate=3)
    surface = layers.ground + gaussian_filter(coat.bump, 0.6, truncate=3)
    cosine = light.facing(surface, cell, star)
    ground = light.lit(coat.rgb, cosine, share, sky)
    glint = np.array([0.017, 0.017, 0.016])
    ground += (water * sky)[..., None] * glint
    tops = standing.soften(layers)
    cosine = light.facing(tops, cell, star)
    # Leaves face every way and let light through: the dark side of a clump is not black.
    leaf = 0.10 + 0.66 * cosine + 0.14 * cosine**2
    cosine = np.where(layers.leafy > 0.5, leaf, cosine)
    cosine = np.where(layers.leafy < -0.5, 0.9 * light.LEVEL_SUN, cosine)
    share = light.through(layers, layers.top - 0.25, 0.7)
    share = np.where(layers.leafy < -0.5, np.maximum(share, 0.75), share)
    share = np.where(layers.leafy > 0.5, 0.16 + 0.84 * gaussian_filter(share, 0.7), share)
    tall = np.clip((layers.top - layers.ground) / 10.0, 0, 1)
    sky_up = np.where(layers.leafy > 0.5, 0.40 + 0.35 * tall, 0.95)
    crowns = light.lit(layers.rgb, cosine, share, sky_up)
    a = layers.cover[..., None]
    return ground * (1 - a) + crowns * a


def camera(picture: Floats, window: Window) -> NDArray[np.uint8]:
    """Add haze, the lens, a film-like curve and the sensor's grain; return sRGB bytes."""
    drift = 0.5 + 0.5 * on(window, 260, SEED + 700, 2)
    haze = (0.020 + 0.010 * drift)[..., None]
    seen = picture * (1 - haze) + HAZE * haze
    seen = gaussian_filter(seen, (0.55, 0.55, 0), truncate=3)
    seen = np.clip(seen * 0.94, 0, None)
    # A soft shoulder keeps pale tracks and roofs from burning out.
    seen = np.where(seen > 0.6, 0.6 + 0.4 * np.tanh((seen - 0.6) / 0.4), seen)
    seen = seen + 0.0035 * grain(window, SEED + 701)[..., None] * (0.4 + seen) ** 0.5
    seen = np.clip(seen, 0, 1)
    code = np.where(seen <= 0.0031308, 12.92 * seen, 1.055 * seen ** (1 / 2.4) - 0.055)
    code = code + 0.38 * (smoothstep(0, 1, code) - code)
    return np.round(255 * np.clip(code, 0, 1)).astype(np.uint8)
