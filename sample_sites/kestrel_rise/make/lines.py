"""Paints what runs along lines: road, wheel tracks, fence lines, the creek, and the dam's water."""

from __future__ import annotations

import numpy as np

from . import paths, plan
from .cover import GREEN, OLIVE, PALE_SOIL, REED, STRAW, Coat
from .frame import SEED, Floats, Window
from .noise import fuzz, on
from .paths import smoothstep
from .scene import Scene

ROAD = (216, 202, 172)
WHEEL = (178, 147, 112)
RUT = (228, 216, 190)
SAND = (212, 196, 160)
MUD = (176, 158, 126)
POOL = (62, 64, 50)
DAM_WATER = (116, 104, 74)
DAM_DEEP = (84, 80, 58)
CONCRETE = (204, 202, 192)
STONE = (158, 150, 134)
DRAWDOWN_M = 0.7


def spread(window: Window, cells: Floats, values: Floats, empty: float = 0.0) -> Floats:
    """Return a window holding values at some flat cells and `empty` elsewhere."""
    out = np.full(window.rows * window.cols, empty)
    out[cells] = values
    return out.reshape(window.shape).astype(np.float32)


def draw(scene: Scene, window: Window, out: Coat) -> Floats:
    """Paint all lines on the coat; return how much of each cell is open water (0–1)."""
    fence_lines(scene, window, out)
    water = creek(scene, window, out)
    water = np.maximum(water, dam(scene, window, out))
    wheels(scene, window, out)
    road(scene, window, out)
    for line in scene.road_fords:
        ford(scene, window, line, out)
    return water


def road(scene: Scene, window: Window, out: Coat) -> None:
    """Lay the gravel road: ragged edge, windrow, wheel paths, taller grass on the verge."""
    at = paths.near(window, scene.road, 10.0)
    if at.cells.size == 0:
        return
    rag = on(window, 5, SEED + 400, 4, 0.7).ravel()[at.cells]
    slow = on(window, 40, SEED + 401, 3).ravel()[at.cells]
    half = plan.ROAD_WIDTH_M / 2
    off = at.off_m + 0.28 * rag
    verge = smoothstep(half - 0.2, half + 0.9, off) * smoothstep(9.0, 6.6, at.off_m)
    out.lay(spread(window, at.cells, 0.42 * verge), STRAW)
    drain = smoothstep(1.1, 0.2, np.abs(off - half - 1.5)) * (0.55 + 0.35 * slow)
    out.lay(spread(window, at.cells, 0.6 * drain), OLIVE)
    out.bump += spread(window, at.cells, 0.12 * verge * (0.5 + rag))
    bed = spread(window, at.cells, smoothstep(half + 0.55, half - 0.45, off))
    out.lay(0.97 * bed, ROAD)
    out.bump *= 1 - bed
    wander = 0.3 * slow
    for lane, strength in ((-1.75, 0.75), (-0.35, 0.9), (0.35, 0.55), (1.8, 0.7)):
        rut = smoothstep(0.42, 0.08, np.abs(at.across_m + wander - lane))
        out.lay(spread(window, at.cells, strength * rut * (0.75 + 0.2 * slow)), RUT)
    ridge = smoothstep(0.35, 0.1, np.abs(off - half + 0.35)) + 0.8 * smoothstep(
        0.3, 0.08, np.abs(at.across_m + wander - 1.05)
    )
    out.lay(spread(window, at.cells, 0.3 * ridge), (188, 170, 138))
    out.bump += spread(window, at.cells, 0.07 * ridge)
    speck = 0.03 * fuzz(window, SEED + 402, 0.25) + 0.035 * on(window, 13, SEED + 403)
    out.dim(1.0 + bed * speck)


def ford(scene: Scene, window: Window, water: Floats, out: Coat) -> None:
    """Lay a concrete floodway where the road crosses water, with rock below it and silt on it."""
    at = paths.near(window, scene.road, 9.0)
    if at.cells.size == 0:
        return
    middle = paths.crossing(scene.road, water)
    along = at.along_m - middle
    if np.abs(along).min() > 9.0:
        return
    rag = on(window, 2.5, SEED + 405, 3, 0.7).ravel()[at.cells]
    half = plan.ROAD_WIDTH_M / 2 + 0.3
    slab = smoothstep(half + 0.12, half - 0.12, at.off_m)
    slab *= smoothstep(5.6, 5.3, np.abs(along))
    rock = smoothstep(half + 2.6, half + 1.9, at.off_m + 0.5 * rag) * (1 - slab)
    rock *= smoothstep(3.4, 2.4, np.abs(along) + 0.6 * rag)
    stones = spread(window, at.cells, rock) * smoothstep(-0.5, 0.5, fuzz(window, SEED + 406, 0.35))
    out.lay(0.9 * stones, STONE)
    out.bump += 0.16 * stones
    floor = spread(window, at.cells, slab)
    out.lay(0.95 * floor, CONCRETE)
    out.bump *= 1 - floor
    edge = spread(window, at.cells, slab * smoothstep(half - 0.45, half - 0.2, at.off_m))
    out.lay(0.5 * edge, (150, 146, 136))
    joint = smoothstep(0.14, 0.04, np.abs(np.abs(along) - 1.9))
    out.lay(spread(window, at.cells, 0.5 * slab * joint), (132, 128, 118))
    silt = slab * smoothstep(1.5, 0.4, np.abs(along + 0.35 * rag))
    out.lay(spread(window, at.cells, 0.75 * silt), MUD)


def two_wheels(
    window: Window,
    line: Floats,
    worn: float,
    seed: int,
    soil: tuple[int, int, int],
    out: Coat,
) -> None:
    """Wear two bare lines a wheelbase apart, with grass left between them."""
    at = paths.near(window, line, 3.2)
    if at.cells.size == 0:
        return
    rag = on(window, 3.5, seed, 3, 0.7).ravel()[at.cells]
    fade = on(window, 26, seed + 1, 3).ravel()[at.cells]
    rut = smoothstep(0.60, 0.20, np.abs(at.off_m + 0.12 * rag - 0.85))
    strength = np.clip(worn * (0.85 + 0.42 * fade), 0, 1)
    # Where nobody drove on the marks fade out rather than stop.
    rut *= smoothstep(0.0, 16.0, paths.chainage(line)[-1] - at.along_m)
    out.lay(spread(window, at.cells, 0.45 * worn * smoothstep(2.0, 0.9, at.off_m)), STRAW)
    out.lay(spread(window, at.cells, strength * rut), soil)
    middle = smoothstep(0.5, 0.1, at.off_m + 0.1 * rag)
    out.lay(spread(window, at.cells, 0.35 * middle), OLIVE)
    out.bump -= spread(window, at.cells, 0.06 * rut)


def wheels(scene: Scene, window: Window, out: Coat) -> None:
    """Paint the old wheel tracks and the neighbour's drive."""
    for k, line in enumerate(scene.tracks.values()):
        two_wheels(window, line, 0.80, SEED + 410 + 10 * k, WHEEL, out)
    at = paths.near(window, scene.drive, 4.0)
    if at.cells.size:
        rag = on(window, 4, SEED + 440, 3, 0.7).ravel()[at.cells]
        bed = smoothstep(2.3, 1.3, at.off_m + 0.35 * rag)
        out.lay(spread(window, at.cells, 0.9 * bed), (206, 190, 158))
    two_wheels(window, scene.drive, 0.7, SEED + 445, RUT, out)


def fence_lines(scene: Scene, window: Window, out: Coat) -> None:
    """Leave long grass under the wires and a pad where stock walk along them."""
    for k, line in enumerate(scene.fences()):
        at = paths.near(window, line, 2.6)
        if at.cells.size == 0:
            continue
        rag = on(window, 6, SEED + 450, 3, 0.7).ravel()[at.cells]
        under = smoothstep(0.55, 0.15, at.off_m + 0.12 * rag)
        out.lay(spread(window, at.cells, 0.5 * under), (146, 126, 84))
        out.bump += spread(window, at.cells, 0.12 * under * (0.6 + 0.4 * rag))
        side = at.across_m * (1 if k % 2 else -1)
        pad = smoothstep(0.45, 0.12, np.abs(side - 1.15 + 0.25 * rag)) * (0.4 + 0.35 * rag)
        out.lay(spread(window, at.cells, np.clip(0.75 * pad, 0, 1)), PALE_SOIL)


def stretch(u: Floats, parts: tuple[tuple[float, float], ...], ease: float) -> Floats:
    """Return 1 where an easting lies in one of some stretches, eased at their ends."""
    total = np.zeros_like(u)
    for low, high in parts:
        here = smoothstep(low - ease, low + ease, u) * smoothstep(high + ease, high - ease, u)
        total = np.maximum(total, here)
    return total


def creek(scene: Scene, window: Window, out: Coat) -> Floats:
    """Paint the dry creek: sand in the bed, pools in the bends, reeds, raw banks."""
    water = np.zeros(window.shape)
    cols = np.broadcast_to(window.u()[None, :], window.shape).ravel()
    for name, channel in plan.CHANNELS.items():
        at = paths.near(window, scene.ground.lines[name], 7.0)
        if at.cells.size == 0:
            continue
        u = cols[at.cells]
        rag = on(window, 5, SEED + 460, 4, 0.65).ravel()[at.cells]
        grown = np.clip(at.along_m / 90.0, 0.0, 1.0) if name == plan.TRUNK else 0.5
        half = channel.half_m * (0.85 + 0.3 * rag)
        bank = smoothstep(half + 1.5, half + 0.5, at.off_m) * smoothstep(half - 0.3, half, at.off_m)
        out.lay(spread(window, at.cells, 0.55 * bank * grown * (0.7 + 0.5 * rag)), (150, 126, 94))
        bed = smoothstep(half + 0.3, half - 0.25, at.off_m)
        # The lip of the bank is sharper than one-metre ground can show.
        lip = smoothstep(half + 0.75, half + 0.15, at.off_m + 0.2 * rag)
        lip *= np.clip(0.75 + 0.7 * rag, 0.15, 1.3)
        out.bump -= spread(window, at.cells, 0.30 * grown * lip)
        if name != plan.TRUNK:
            out.lay(spread(window, at.cells, 0.5 * bed * (0.6 + 0.5 * rag)), (160, 142, 100))
            continue
        silt = on(window, 11, SEED + 462, 4, 0.65).ravel()[at.cells]
        out.lay(spread(window, at.cells, 0.85 * bed * grown), (140, 122, 92))
        bar = smoothstep(-0.25, 0.55, silt + 0.5 * at.across_m / half)
        out.lay(spread(window, at.cells, 0.85 * bed * grown * bar), SAND)
        pool = stretch(u, plan.POOLS, 3.0)
        wet = smoothstep(half * pool * 1.5 + 0.1, half * pool * 1.5 - 0.35, at.off_m) * pool
        out.lay(spread(window, at.cells, np.clip(1.4 * wet, 0, 1)), POOL)
        water = np.maximum(water, spread(window, at.cells, wet))
        reeds(window, at, u, rag, half, wet, out)
    return water


def reeds(
    window: Window, at: paths.Near, u: Floats, rag: Floats, half: Floats, wet: Floats, out: Coat
) -> None:
    """Stand reeds along the creek's edge where it stays damp."""
    here = stretch(u, plan.REEDS, 5.0)
    belt = smoothstep(half + 4.4, half + 2.4, at.off_m + 1.5 * rag)
    belt *= smoothstep(half - 0.5, half + 0.3, at.off_m + 0.3 * rag) * here * (1 - wet)
    leaf = fuzz(window, SEED + 461, 0.22)
    amount = spread(window, at.cells, belt)
    amount *= smoothstep(-1.1, 0.3, leaf + 0.6)
    out.lay(0.9 * amount, REED)
    out.lay(0.45 * amount * smoothstep(0.2, 1.4, leaf), (176, 162, 104))
    out.bump += 0.5 * amount * (0.8 + 0.25 * leaf)


def dam(scene: Scene, window: Window, out: Coat) -> Floats:
    """Paint the neighbour's dam, drawn down by summer's end: mud ring and turbid water."""
    depth = scene.on("water", window)
    if depth.max() < 0.3:
        return np.zeros(window.shape)
    rag = on(window, 3, SEED + 470, 4, 0.7)
    deep = depth + 0.06 * rag
    ring = smoothstep(0.12, 0.3, deep)
    out.lay(0.9 * ring, MUD)
    out.lay(0.5 * ring * smoothstep(0.15, 0.02, np.abs(deep - DRAWDOWN_M + 0.16)), (150, 132, 100))
    out.bump *= 1 - ring
    water = smoothstep(DRAWDOWN_M - 0.05, DRAWDOWN_M + 0.04, deep)
    out.lay(water, DAM_WATER)
    out.lay(water * smoothstep(DRAWDOWN_M + 0.05, DRAWDOWN_M + 0.8, depth), DAM_DEEP)
    out.lay(0.35 * smoothstep(0.02, 0.1, deep) * smoothstep(0.3, 0.12, deep), GREEN)
    return water
