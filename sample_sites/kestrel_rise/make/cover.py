"""Colours the bare land: dry grass, green hollows, worn soil, rock, reeds, stubble."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from . import paths, plan
from .frame import SEED, Floats, Window
from .noise import fuzz, on
from .paths import smoothstep
from .scene import Scene, polygon_mask

# Colours as seen in full sun on the level, sRGB.
STRAW = (206, 192, 152)
TAWNY = (183, 163, 122)
GREY_STRAW = (190, 178, 144)
RUSSET = (156, 134, 98)
OLIVE = (144, 138, 94)
GREEN = (114, 120, 74)
SOIL = (192, 166, 132)
PALE_SOIL = (212, 190, 156)
ROCK = (164, 150, 126)
LICHEN = (176, 162, 124)
BRACKEN = (116, 100, 60)
REED = (134, 132, 74)
STUBBLE = (210, 194, 150)


def linear(colour: tuple[float, float, float]) -> Floats:
    """Return an sRGB colour as linear light (IEC 61966-2-1)."""
    c = np.asarray(colour, dtype=np.float64) / 255.0
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


@dataclass
class Coat:
    """The land's colour (rows, cols, 3) in linear light and its fine relief [m]."""

    rgb: Floats
    bump: Floats

    def lay(self, amount: Floats, colour: tuple[float, float, float]) -> None:
        """Cover with a colour by an amount from 0 to 1."""
        a = np.clip(amount, 0.0, 1.0).astype(np.float32)[..., None]
        self.rgb += a * (linear(colour).astype(np.float32) - self.rgb)

    def dim(self, factor: Floats) -> None:
        """Lighten or darken everything by a factor."""
        self.rgb *= factor.astype(np.float32)[..., None]


def coat(scene: Scene, window: Window) -> Coat:
    """Return the grass and everything that grows low or lies bare, without lines and walls."""
    out = grass(scene, window)
    wetness(scene, window, out)
    pads(scene, window, out)
    stubble(scene, window, out)
    patches(window, out)
    bare(scene, window, out)
    camps(scene, window, out)
    rubble(window, out)
    return out


def grass(scene: Scene, window: Window) -> Coat:
    """Lay the dry sward: its broad drifts, its mottling and its tussocks."""
    broad = on(window, 95, SEED + 200, 4, 0.6)
    drift = on(window, 34, SEED + 201, 4, 0.65)
    mottle = on(window, 8, SEED + 202, 4, 0.7)
    fine, tuft = fuzz(window, SEED + 203, 0.22), fuzz(window, SEED + 204, 0.45)
    light, green, rough = sward(window)
    out = Coat(np.empty((*window.shape, 3), dtype=np.float32), np.zeros(window.shape))
    out.rgb[:] = linear(TAWNY)
    sunny = scene.on("sunny", window)
    out.lay(0.42 + 0.55 * broad + 0.42 * drift + 3.0 * light + 1.4 * sunny, STRAW)
    out.lay(0.75 * smoothstep(0.15, 1.0, drift - 0.5 * broad), GREY_STRAW)
    heavy = mottle - 0.7 * broad - 0.4 * drift - 3 * light
    out.lay(0.62 * smoothstep(0.1, 1.2, heavy) * rough, RUSSET)
    shady = 0.30 - 2.2 * sunny + 0.35 * broad + 0.3 * mottle + 2.2 * green
    out.lay(0.42 * smoothstep(0.25, 1.3, shady), OLIVE)
    speck = smoothstep(0.9, 2.0, tuft + 0.7 * mottle + 0.35 * drift - 0.25)
    out.lay(0.5 * speck * np.minimum(rough, 1.1), RUSSET)
    bleached = smoothstep(0.9, 1.9, -tuft - 0.5 * mottle + 0.3 * broad)
    out.lay(0.35 * bleached, STRAW)
    # Crests are thin and pale, hollows keep a heavier, darker sward: the lie of the land shows.
    out.dim(1.0 - 0.36 * np.clip(scene.on("hollow", window), -0.35, 0.4))
    out.dim(1.0 - 0.14 * np.clip(scene.on("vale", window), -0.8, 0.9))
    out.dim(1.0 + 0.06 * fine + 0.045 * mottle + 0.03 * tuft + light)
    out.bump += 0.016 * rough * tuft + 0.010 * fine + 0.10 * speck * rough
    return out


def sward(window: Window) -> tuple[Floats, Floats, Floats]:
    """Return lightness, greenness and roughness of the sward, paddock by paddock."""
    light, green = np.zeros(window.shape), np.zeros(window.shape)
    rough = np.full(window.shape, 0.8)
    for corners, brighter, greener, rougher in plan.PADDOCKS.values():
        mask = polygon_mask(window, corners, 0.9)
        light += mask * brighter
        green += mask * greener
        rough += mask * (rougher - 0.8)
    return light, green, rough


def wetness(scene: Scene, window: Window, out: Coat) -> None:
    """Green the hollows and the creek flats, where soil water lasts into summer."""
    wave = on(window, 14, SEED + 210, 4, 0.6)
    near_water = np.zeros(window.shape)
    for name, line in scene.ground.lines.items():
        reach = 26.0 if name == plan.TRUNK else 9.0
        at = paths.near(window, line, reach)
        flat = near_water.ravel()
        s = np.clip(at.along_m / 60.0, 0.15, 1.0)
        flat[at.cells] = np.maximum(flat[at.cells], s * smoothstep(reach, 1.0, at.off_m))
    wet = scene.on("wet", window) * 0.30 + 0.9 * np.maximum(scene.on("hollow", window), -0.4)
    wet += 1.5 * near_water + 0.42 * wave - 0.9
    out.lay(0.80 * smoothstep(0.1, 1.5, wet), OLIVE)
    out.lay(0.72 * smoothstep(0.75, 2.1, wet + 0.25 * wave), GREEN)
    clump = fuzz(window, SEED + 211, 0.35)
    out.dim(1.0 + 0.09 * clump * smoothstep(0.6, 1.8, wet))
    out.bump += 0.10 * np.maximum(clump, 0) * smoothstep(0.6, 1.8, wet)


def pads(scene: Scene, window: Window, out: Coat) -> None:
    """Wear the faint level paths that stock tread across a slope, and paths to water."""
    z, slope = scene.levels(window), scene.on("slope", window)
    wander = on(window, 38, SEED + 220, 3)
    broken = on(window, 24, SEED + 221, 3)
    phase = (z + 0.55 * wander) / 0.85
    off = np.abs(phase - np.round(phase)) * 0.85 / np.maximum(slope, 0.04)
    line = smoothstep(0.62, 0.12, off)
    where = smoothstep(0.10, 0.17, slope) * smoothstep(0.0, 0.75, broken + 0.1)
    out.lay(0.30 * line * where, PALE_SOIL)
    out.bump -= 0.05 * line * where
    lower = smoothstep(0.4, 1.0, off) * smoothstep(1.7, 1.0, off) * where
    out.dim(1.0 - 0.07 * lower)
    for k, pad in enumerate(plan.STOCK_PADS):
        route = paths.eased(np.array(pad, dtype=float), 9.0)
        at = paths.near(window, jittered(route, k), 1.2)
        amount = np.zeros(window.shape)
        amount.ravel()[at.cells] = smoothstep(0.62, 0.14, at.off_m)
        out.lay(0.6 * amount * (0.65 + 0.35 * broken), PALE_SOIL)


def jittered(line: Floats, seed: int) -> Floats:
    """Return a line that wavers by about a metre as feet do."""
    from .noise import octaves

    du = octaves(line[:, 0], line[:, 1], 16, SEED + 230 + seed, 3)
    dv = octaves(line[:, 0], line[:, 1], 16, SEED + 260 + seed, 3)
    return line + 1.6 * np.column_stack([du, dv])


def stubble(scene: Scene, window: Window, out: Coat) -> None:
    """Cut the hay paddock over the road: pale stubble in long runs with paler windrows."""
    field = polygon_mask(window, plan.HAY, 3.0)
    field = smoothstep(0.3, 0.7, field + 0.18 * on(window, 12, SEED + 243, 4, 0.7))
    u, v = window.mesh()
    wave = on(window, 60, SEED + 240, 2)
    run = (u + 0.03 * v + 1.2 * wave) / 6.2
    part = np.abs(run - np.round(run)) * 6.2
    wet = np.clip(scene.on("wet", window) - 3.4, 0, 1)
    out.lay(0.9 * field * (1 - 0.8 * wet), STUBBLE)
    row = smoothstep(0.9, 0.2, part) * (0.6 + 0.4 * on(window, 7, SEED + 241, 3))
    wheel = smoothstep(0.45, 0.15, np.abs(part - 1.9))
    comb = np.sin(2 * np.pi * (u + 0.03 * v) / 0.75)
    out.dim(1.0 + field * (0.075 * row - 0.06 * wheel + 0.025 * comb))
    out.dim(1.0 + field * 0.05 * on(window, 22, SEED + 242, 4, 0.6))


def patches(window: Window, out: Coat) -> None:
    """Grow bracken, scrub, tussock pasture and reeds in the places the plan gives them."""
    edge = on(window, 17, SEED + 250, 5, 0.72)
    leaf = fuzz(window, SEED + 251, 0.3)
    for corners, colour, mat, tall in (
        (plan.BRACKEN, BRACKEN, 0.92, 0.16),
        (plan.SCRUB, (124, 116, 72), 0.55, 0.12),
        (plan.TUSSOCK, (162, 146, 90), 0.6, 0.2),
        (plan.LAWN, (112, 122, 70), 0.75, 0.02),
    ):
        shape = polygon_mask(window, corners, 2.0 if corners is plan.LAWN else 7.0)
        mask = smoothstep(0.34, 0.86, shape + 0.42 * edge * smoothstep(0.02, 0.3, shape))
        clump = smoothstep(-1.0, 0.7, leaf + 0.5 * edge)
        out.lay(mat * mask * (0.6 + 0.4 * clump), colour)
        if corners is plan.BRACKEN:  # last year's fronds lie rust-brown among the green
            out.lay(0.5 * mask * smoothstep(0.2, 1.3, edge - 0.5 * leaf), (150, 112, 70))
        out.dim(1.0 + 0.10 * mask * leaf)
        out.bump += tall * mask * clump


def bare(scene: Scene, window: Window, out: Coat) -> None:
    """Show soil where the sward is thin: knolls, gateways, about the trough and the dam."""
    wave = on(window, 18, SEED + 270, 5, 0.62)
    thin = smoothstep(0.85, 1.5, wave - 1.2 * scene.on("hollow", window))
    out.lay(0.6 * thin, SOIL)
    u, v = window.mesh()
    spots = [(*plan.TROUGH, 6.0), *((g[0], g[1], 5.0) for g in plan.GATES)]
    spots += [(58.0, 224.0, 13.0), (104.0, 203.0, 8.0), (80.0, 228.0, 8.0)]
    for pu, pv, reach in spots:
        d = np.hypot(u - pu, v - pv) + 2.2 * wave
        out.lay(0.8 * smoothstep(reach, reach * 0.3, d), (186, 160, 124))


def camps(scene: Scene, window: Window, out: Coat) -> None:
    """Wear the ground and drop litter under the big trees, where stock lie in the shade."""
    worn = np.zeros(window.shape)
    west, south, east, north = window.bounds
    for t in scene.trees:
        reach = 0.75 * t.crown_m
        if west - reach < t.u < east + reach and south - reach < t.v < north + reach:
            c0 = max(0, int((t.u - reach - west) / window.cell))
            r0 = max(0, int((north - t.v - reach) / window.cell))
            n = int(2 * reach / window.cell) + 2
            part = worn[r0 : r0 + n, c0 : c0 + n]
            r, c = np.mgrid[r0 : r0 + part.shape[0], c0 : c0 + part.shape[1]]
            du = west + (c + 0.5) * window.cell - t.u
            d = np.hypot(du, north - (r + 0.5) * window.cell - t.v)
            np.maximum(part, smoothstep(reach, reach * 0.3, d), out=part)
    out.lay(0.55 * worn * (0.7 + 0.4 * fuzz(window, SEED + 280, 0.6)), (150, 124, 92))


def rubble(window: Window, out: Coat) -> None:
    """Thin the grass to stony soil about the outcrops."""
    u, v = window.mesh()
    wave = on(window, 9, SEED + 290, 4, 0.7)
    for pu, pv, size in plan.OUTCROPS:
        d = np.hypot(u - pu, v - pv) + 0.4 * size * wave
        near = smoothstep(size * 1.3, size * 0.3, d)
        if near.any():
            out.lay(0.6 * near, (176, 160, 132))
            out.lay(0.5 * near * smoothstep(0.4, 1.4, fuzz(window, SEED + 291, 0.25)), ROCK)
