"""Layers of what stands above the ground, and the crowns of trees drawn into them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter

from .cover import linear
from .frame import SEED, Floats, Window
from .noise import fuzz
from .paths import smoothstep
from .trees import SPECIES, Tree

AWAY = -1.0e4  # top of nothing [m]


@dataclass
class Standing:
    """Top and underside [m above datum], how dense [1/m], cover (0–1) and colour per cell."""

    window: Window
    ground: Floats
    top: Floats
    base: Floats
    dense: Floats
    cover: Floats
    rgb: Floats
    leafy: Floats
    leaf_noise: Floats
    dapple: Floats

    @classmethod
    def empty(cls, window: Window, ground: Floats) -> Standing:
        """Return layers with nothing standing on the ground."""
        shape = window.shape
        noise = 0.6 * fuzz(window, SEED + 500, 0.25) + 0.6 * fuzz(window, SEED + 501, 0.6)
        return cls(
            window, ground, np.full(shape, AWAY), np.full(shape, -AWAY), np.zeros(shape),
            np.zeros(shape), np.zeros((*shape, 3)), np.zeros(shape), noise,
            fuzz(window, SEED + 502, 0.5),
        )  # fmt: skip

    def box(self, u: float, v: float, reach: float) -> tuple[slice, slice] | None:
        """Return the cells within `reach` metres of a place, squarely; None if outside."""
        w = self.window
        c0 = max(0, int(np.floor((u - reach - w.west) / w.cell)))
        c1 = min(w.cols, int(np.ceil((u + reach - w.west) / w.cell)))
        r0 = max(0, int(np.floor((w.north - v - reach) / w.cell)))
        r1 = min(w.rows, int(np.ceil((w.north - v + reach) / w.cell)))
        return (slice(r0, r1), slice(c0, c1)) if r0 < r1 and c0 < c1 else None

    def places(self, box: tuple[slice, slice]) -> tuple[Floats, Floats]:
        """Return u (1, cols) and v (rows, 1) of the cells in a box."""
        w = self.window
        u = w.west + (np.arange(box[1].start, box[1].stop) + 0.5) * w.cell
        v = w.north - (np.arange(box[0].start, box[0].stop) + 0.5) * w.cell
        return u[None, :], v[:, None]

    def put(
        self,
        box: tuple[slice, slice],
        top: Floats,
        base: Floats,
        cover: Floats,
        rgb: Floats,
        dense: Floats | float,
        leafy: float,
    ) -> None:
        """Lay an object where it is higher than what stands there already."""
        held = cover > 0.02
        over = held & (top > self.top[box])
        a = np.where(over, cover, 0.0)
        self.rgb[box] += (a / np.maximum(np.maximum(self.cover[box], a), 1e-6))[..., None] * (
            rgb - self.rgb[box]
        )
        self.cover[box] = np.where(held, 1 - (1 - self.cover[box]) * (1 - cover), self.cover[box])
        self.leafy[box] = np.where(over & (cover > 0.3), leafy, self.leafy[box])
        self.dense[box] = np.where(over, dense, self.dense[box])
        self.top[box] = np.where(over, top, self.top[box])
        self.base[box] = np.where(held, np.minimum(self.base[box], base), self.base[box])


def grow(layers: Standing, tree: Tree, number: int) -> None:
    """Draw one crown: clumps of leaf on a dome, gaps between, each clump its own tint."""
    box = layers.box(tree.u, tree.v, 0.62 * tree.crown_m + 0.5)
    if box is None:
        return
    kind = SPECIES[tree.species]
    rng = np.random.default_rng(SEED + 7000 + number)
    u, v = layers.places(box)
    stem = layers.window
    foot = level(layers, tree, stem)
    noise = layers.leaf_noise[box]
    low, high = tree.height_m * kind.base, tree.height_m
    shape = (v.shape[0], u.shape[1])
    top, under = np.full(shape, AWAY), np.full(shape, -AWAY)
    tint, cover = np.ones(shape), np.zeros(shape)
    for cu, cv, cz, radius, shade in clumps(rng, tree, kind.limbs, low, high, kind.dome):
        cells = within(u - tree.u - cu, radius), within(v - tree.v - cv, radius)
        part = np.s_[cells[1], cells[0]]
        d2 = ((u[:, cells[0]] - tree.u - cu) ** 2 + (v[cells[1]] - tree.v - cv) ** 2) / radius**2
        d2 = d2 * (1 + 0.30 * noise[part])
        inside = d2 < 1
        rise = radius * np.sqrt(np.maximum(1 - d2, 0))
        z = cz + 0.85 * rise
        upper = inside & (z > top[part])
        tint[part][upper] = shade
        top[part][upper] = z[upper]
        under[part] = np.where(inside, np.minimum(under[part], cz - 0.6 * rise), under[part])
        solid = np.where(inside, smoothstep(1.0, 0.5, d2), 0.0)
        cover[part] = np.maximum(cover[part], solid)
    # Sky shows through between the leaves, more so near a clump's edge.
    cover *= smoothstep(-1.5, -0.3, noise + (0.85 - 3.4 * kind.gap) + 1.1 * cover)
    if tree.alive:
        tone, warmth = rng.normal(1.0, 0.06), rng.normal(1.0, 0.04)
        colour = 0.86 * tone * linear(kind.leaf) * np.array([warmth, 1, 1])
        dense: Floats | float = (
            kind.density * cover * np.clip(0.62 + 0.75 * layers.dapple[box], 0.04, 2.2)
        )
    else:
        colour, cover = linear((150, 142, 132)), 0.55 * cover * (noise > 0.25)
        dense = 0.5 * cover
    rgb = colour[None, None] * (tint * (1 + 0.24 * noise))[..., None]
    layers.put(box, foot + top, foot + under, cover, rgb, dense, 1.0)
    trunk(layers, tree, foot, low)


def level(layers: Standing, tree: Tree, w: Window) -> float:
    """Return the ground's level at a tree's foot [m]."""
    col = min(max(int((tree.u - w.west) / w.cell), 0), w.cols - 1)
    row = min(max(int((w.north - tree.v) / w.cell), 0), w.rows - 1)
    return float(layers.ground[row, col])


def trunk(layers: Standing, tree: Tree, foot: float, low: float) -> None:
    """Stand the trunk, so that the crown's shadow hangs together with its tree."""
    radius = tree.stem_cm / 200.0
    box = layers.box(tree.u, tree.v, radius + 0.3)
    if box is None:
        return
    u, v = layers.places(box)
    solid = np.hypot(u - tree.u, v - tree.v) < max(radius, 0.2)
    layers.base[box] = np.where(solid, foot, layers.base[box])
    bare = solid & (layers.top[box] < foot)
    layers.top[box] = np.where(bare, foot + low, layers.top[box])
    layers.dense[box] = np.where(solid, 0.5 + 1.6 * radius, layers.dense[box])
    layers.cover[box] = np.where(bare, 0.9, layers.cover[box])
    layers.rgb[box] = np.where(bare[..., None], linear((140, 130, 116)), layers.rgb[box])


def within(gap: Floats, radius: float) -> slice:
    """Return the run of cells along one axis within a radius of a clump's middle."""
    hit = np.flatnonzero(np.abs(gap.ravel()) <= radius * 1.2)
    return slice(hit[0], hit[-1] + 1) if hit.size else slice(0, 0)


def clumps(
    rng: np.random.Generator, tree: Tree, limbs: int, low: float, high: float, dome: float
) -> list[tuple[float, float, float, float, float]]:
    """Return offsets, middle height, radius and tint of the clumps of leaf on each limb."""
    half, deep = tree.crown_m / 2, high - low
    neat = dome > 0.9  # close-grown crowns such as cypress keep a round outline
    lean = rng.uniform(-0.16, 0.16, 2) * half * (0.2 if neat else 1.0)
    stretch, turn = rng.uniform(0.9 if neat else 0.78, 1.0), rng.uniform(0, np.pi)
    c, s = np.cos(turn), np.sin(turn)
    limbs = max(6, int(1.25 * limbs * np.clip(tree.crown_m / 10.0, 0.6, 1.7)))
    out = []
    for k in range(limbs):
        far = np.sqrt((k + 0.2 + 0.7 * rng.random()) / limbs)
        angle = k * 2.39996 + rng.uniform(-0.7, 0.7)  # the golden angle spreads them evenly
        mass = half * rng.uniform(0.36, 0.54) * (1.12 - 0.25 * far) * (0.85 if neat else 1.0)
        reach = (half * 1.06 - 0.72 * mass) * far * (0.97 if neat else rng.uniform(0.86, 1.1))
        limb = low + deep * ((1 - dome) + dome * np.sqrt(max(0.0, 1 - far**2)))
        limb -= rng.uniform(0.0, 0.22) * deep
        shade = rng.normal(1.0, 0.07)
        for _ in range(int(np.clip(9 + 2.8 * mass**2, 10, 40))):
            radius = np.clip(mass * rng.uniform(0.26, 0.5), 0.42, 1.25)
            off = mass * np.sqrt(rng.random())
            way = rng.uniform(0, 2 * np.pi)
            a = reach * np.cos(angle) + off * np.cos(way)
            b = (reach * np.sin(angle) + off * np.sin(way)) * stretch
            cz = limb - 0.55 * off**2 / max(mass, 0.3) + rng.normal(0, 0.16 * mass) - radius
            tint = shade * rng.normal(1.0, 0.08)
            out.append((a * c - b * s + lean[0] * far, a * s + b * c + lean[1] * far,
                        cz, radius, tint))  # fmt: skip
    return out


def soften(layers: Standing) -> Floats:
    """Return the top surface for shading: steps between clumps eased, the ground elsewhere."""
    rough = layers.top + 0.42 * layers.leaf_noise * (layers.leafy > 0.5)
    top = np.where(layers.cover > 0.05, rough, layers.ground)
    # Leafy is 1 for leaves, 0 for roofs and boulders, -1 for what is too small to have a shape.
    eased = gaussian_filter(top, 0.65, truncate=3)
    return np.where(layers.leafy > 0.5, eased, top)
