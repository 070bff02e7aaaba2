"""Raises what people made: roofs of corrugated iron, tanks, poles, posts, bales, a ute, sheep."""

from __future__ import annotations

import numpy as np

from . import paths, plan
from .cover import LICHEN, ROCK, linear
from .frame import SEED, Floats
from .noise import gradient_noise
from .paths import smoothstep
from .scene import Scene
from .standing import Standing

ZINC = (196, 200, 200)
OLD_ZINC = (168, 164, 156)
RUST = (140, 92, 62)
RED_ROOF = (150, 78, 62)
TIMBER = (112, 104, 92)


def raise_all(scene: Scene, layers: Standing) -> None:
    """Stand every building, tank, pole, post, bale and animal."""
    roof(layers, plan.HOUSE, ZINC, 0.06, hip=True)
    verandah(layers)
    roof(layers, plan.SHED, OLD_ZINC, 0.5, hip=False)
    roof(layers, plan.SMALL_SHED, OLD_ZINC, 0.75, hip=False)
    for u, v, across, high in plan.ROUND_TANKS:
        drum(layers, u, v, across / 2, high, (206, 204, 196))
    drum(layers, *plan.TROUGH, 0.8, 0.6, (188, 184, 174))
    ute(layers, 117.0, 205.0, 24.0)
    for u, v in plan.POLES:
        drum(layers, u, v, 0.19, plan.POLE_HEIGHT_M, TIMBER)
    posts(scene, layers)
    bales(layers)
    sheep(layers)
    boulders(layers)


def foot_of(layers: Standing, u: float, v: float) -> float:
    """Return the ground's level at a place [m], held to the window."""
    w = layers.window
    row = int(np.clip((w.north - v) / w.cell, 0, w.rows - 1))
    col = int(np.clip((u - w.west) / w.cell, 0, w.cols - 1))
    return float(layers.ground[row, col])


def turned(
    layers: Standing, u: float, v: float, turn: float, reach: float
) -> tuple[tuple[slice, slice], Floats, Floats] | None:
    """Return a box and the coordinates along and across an object turned on its middle."""
    box = layers.box(u, v, reach)
    if box is None:
        return None
    pu, pv = layers.places(box)
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    return box, (pu - u) * c + (pv - v) * s, -(pu - u) * s + (pv - v) * c


def iron(a: Floats, b: Floats, colour: tuple[int, int, int], rust: float, seed: int) -> Floats:
    """Return corrugated iron: sheet joints, nail lines, rust running down from them."""
    sheet = np.floor(a / 0.762).astype(np.int64)
    rng = np.random.default_rng(seed)
    tints = rng.normal(1.0, 0.045, 200)[np.clip(sheet + 100, 0, 199)]
    joint = smoothstep(0.16, 0.0, np.abs(a / 0.762 - np.round(a / 0.762)) * 0.762)
    nails = smoothstep(0.2, 0.0, np.abs(b / 1.4 - np.round(b / 1.4)) * 1.4)
    stain = gradient_noise(a * 1.0, b * 0.35, 1.6, seed) + 0.5 * gradient_noise(a, b, 4.0, seed + 1)
    bad = rng.random(200)[np.clip(sheet + 100, 0, 199)] < rust * 0.35
    rusty = np.clip(smoothstep(0.5, 1.3, stain + rust) * 0.8 * rust + 0.45 * bad, 0, 0.9)
    base = linear(colour) * (tints * (1 - 0.13 * joint - 0.05 * nails))[..., None]
    return base + rusty[..., None] * (linear(RUST) - base)


def roof(
    layers: Standing,
    sizes: tuple[float, ...],
    colour: tuple[int, int, int],
    rust: float,
    *,
    hip: bool,
) -> None:
    """Raise a gabled or hipped roof with its ridge along the length."""
    u, v, long, wide, turn, wall, ridge = sizes
    found = turned(layers, u, v, turn, 0.6 * np.hypot(long, wide) + 1)
    if found is None:
        return
    box, a, b = found
    foot = foot_of(layers, u, v)
    edge = np.minimum(long / 2 - np.abs(a), wide / 2 - np.abs(b))
    rise = wide / 2 - np.abs(b)
    if hip:
        rise = np.minimum(rise, (long / 2 - np.abs(a)) * 1.05)
    top = foot + wall + (ridge - wall) * np.clip(rise / (wide / 2), 0, 1)
    along = np.broadcast_to(a, edge.shape)
    rgb = iron(along, np.broadcast_to(b, edge.shape), colour, rust, SEED + int(long * 10))
    cap = smoothstep(0.28, 0.05, np.abs(b)) * (np.abs(a) < long / 2 - (wide / 2 if hip else 0.0))
    rgb = rgb * (1 + 0.16 * cap)[..., None]
    gutter = smoothstep(0.32, 0.1, edge)
    rgb = rgb * (1 - 0.25 * gutter)[..., None]
    cover = smoothstep(-0.12, 0.12, edge)
    layers.put(box, top, np.full(top.shape, foot), cover, rgb, 40.0 * (edge > 0), 0.0)


def verandah(layers: Standing) -> None:
    """Lean verandahs on the house's north and south sides and stand its chimney."""
    u, v, long, wide, turn, wall, _ = plan.HOUSE
    found = turned(layers, u, v, turn, 0.7 * long)
    if found is None:
        return
    box, a, b = found
    foot = foot_of(layers, u, v)
    deep = 2.5
    off = np.abs(b) - wide / 2
    edge = np.minimum(np.minimum(long / 2 - 1.0 - np.abs(a), off + 0.05), deep - off)
    top = foot + wall - 0.15 - 0.28 * np.clip(off, 0, deep)
    shape = edge.shape
    rgb = iron(np.broadcast_to(a, shape), np.broadcast_to(b, shape), (182, 184, 182), 0.12, SEED)
    cover = smoothstep(-0.12, 0.12, edge)
    layers.put(box, top, np.full(shape, foot + 2.1), cover, rgb, 40.0 * (edge > 0), 0.0)
    stack = np.minimum(0.55 - np.abs(a - 4.2), 0.4 - np.abs(b - 1.4))
    high = np.full(shape, foot + 6.6)
    brick = np.broadcast_to(linear((150, 96, 76)), (*shape, 3))
    layers.put(box, high, high * 0 + foot, smoothstep(-0.1, 0.1, stack), brick, 40.0, 0.0)


def drum(
    layers: Standing, u: float, v: float, radius: float, high: float, colour: tuple[int, int, int]
) -> None:
    """Stand something round with a nearly flat top: a tank, a trough, a pole."""
    box = layers.box(u, v, radius + 0.6)
    if box is None:
        return
    pu, pv = layers.places(box)
    d = np.hypot(pu - u, pv - v)
    foot = foot_of(layers, u, v)
    edge = radius - d
    cover = smoothstep(-0.13, 0.13, edge)
    top = foot + high + 0.12 * np.clip(edge, 0, 2)
    rim = 1 - 0.14 * smoothstep(0.35, 0.1, np.abs(edge - 0.15))
    rgb = linear(colour)[None, None] * rim[..., None]
    small = -1.0 if radius < 1.0 else 0.0
    layers.put(box, top, np.full(d.shape, foot), cover, rgb, 30.0, small)


def ute(layers: Standing, u: float, v: float, turn: float) -> None:
    """Park a white utility by the house."""
    found = turned(layers, u, v, turn, 4.0)
    if found is None:
        return
    box, a, b = found
    foot = foot_of(layers, u, v)
    edge = np.minimum(2.6 - np.abs(a), 0.92 - np.abs(b))
    cab = (a > -0.4) & (a < 1.2)
    glass = ((a > 0.95) & (a < 1.45)) | ((a > -0.65) & (a < -0.4))
    tray = a < -0.65
    top = foot + np.where(cab, 1.75, np.where(tray, 0.9, 1.1))
    rgb = np.empty((*edge.shape, 3))
    rgb[:] = linear((236, 236, 232))
    rgb[np.broadcast_to(tray, edge.shape) & (edge > 0.15)] = linear((120, 120, 118))
    rgb[np.broadcast_to(glass, edge.shape) & (edge > 0.1)] = linear((44, 52, 58))
    layers.put(box, top, top * 0 + foot, smoothstep(-0.1, 0.1, edge), rgb, 30.0, 0.0)


def posts(scene: Scene, layers: Standing) -> None:
    """Set fence posts: a stout strainer at corners, thinner ones between."""
    for line in scene.fences():
        run = paths.even(np.asarray(line, dtype=float), 4.6)
        for k, (u, v) in enumerate(run):
            stout = k % 10 == 0
            if any(np.hypot(u - g[0], v - g[1]) < g[2] / 2 for g in plan.GATES):
                continue
            shade = (128, 118, 104) if k % 3 else (158, 150, 138)
            drum(layers, u, v, 0.17 if stout else 0.12, 1.35 if stout else 1.15, shade)


def bales(layers: Standing) -> None:
    """Leave round bales in the hay paddock along their windrows."""
    import shapely

    field = shapely.Polygon(plan.HAY).buffer(-7)
    rng = np.random.default_rng(SEED + 600)
    for row in range(4):
        v = -172 + rng.uniform(0, 14)
        while v < 70:
            run = 30 + row * 5
            u = run * 6.2 - 0.03 * v + rng.uniform(-0.6, 0.6)
            turn = rng.uniform(60, 120)
            tint = rng.uniform(0.92, 1.08)
            if shapely.contains_xy(field, u, v):
                found = turned(layers, u, v, turn, 1.6)
                if found is not None:
                    box, a, b = found
                    foot = foot_of(layers, u, v)
                    edge = np.minimum(0.66 - np.abs(a), 0.82 - np.abs(b))
                    top = foot + 0.78 + 0.78 * np.sqrt(np.clip(1 - (b / 0.8) ** 2, 0, 1))
                    side = -np.sign(np.cos(np.radians(turn)) + np.sin(np.radians(turn))) * b
                    shade = tint * (1.0 - 0.34 * smoothstep(-0.5, 0.8, side)) + 0 * edge
                    rgb = linear((226, 204, 150))[None, None] * shade[..., None]
                    cover = smoothstep(-0.12, 0.12, edge)
                    layers.put(box, top, top * 0 + foot, cover, rgb, 20.0, -1.0)
            v += rng.uniform(19, 34)


def sheep(layers: Standing) -> None:
    """Graze a small mob in the neighbour's paddock north-west and by the dam."""
    rng = np.random.default_rng(SEED + 610)
    for cu, cv, reach, count in ((-30.0, 236.0, 26.0, 30), (-120.0, 214.0, 34.0, 14)):
        for _ in range(count):
            u, v = cu + rng.normal(0, reach / 2), cv + rng.normal(0, reach / 3)
            found = turned(layers, u, v, rng.uniform(0, 180), 1.0)
            if found is None:
                continue
            box, a, b = found
            edge = 1 - np.hypot(a / 0.55, b / 0.26)
            foot = foot_of(layers, u, v)
            rgb = np.broadcast_to(linear((238, 232, 216)), (*edge.shape, 3))
            top = np.full(edge.shape, foot + 0.75)
            layers.put(box, top, top - 0.5, smoothstep(-0.35, 0.3, edge), rgb, 8.0, -1.0)


def boulders(layers: Standing) -> None:
    """Strew half-buried boulders over the outcrops, squarish as rock breaks along joints."""
    for n, (pu, pv, size) in enumerate(plan.OUTCROPS):
        if layers.box(pu, pv, 1.6 * size) is None:
            continue
        rng = np.random.default_rng(SEED + 300 + n)
        lay = rng.uniform(-0.9, 0.9)
        for _ in range(int(size * 13)):
            turn, far = rng.uniform(0, 2 * np.pi), size * 1.15 * rng.random() ** 0.6
            u, v = pu + far * np.cos(turn), pv + far * np.sin(turn) * 0.8
            long = float(np.clip(rng.lognormal(-0.75, 0.55), 0.2, 1.9))
            short, skew = rng.uniform(0.45, 0.9), rng.uniform(-0.3, 0.3)
            tilt = np.degrees(lay + rng.normal(0, 0.25))
            tint, mossy = rng.uniform(0.8, 1.15), rng.random() < 0.35
            found = turned(layers, u, v, tilt, long * 1.4 + 0.3)
            if found is None:
                continue
            box, a, b = found
            a = a + skew * b
            noise = layers.leaf_noise[box]
            d = (np.abs(a / long) ** 2.8 + np.abs(b / (long * short)) ** 2.8) ** (1 / 2.8)
            d = d * (1 + 0.10 * noise)
            lift = long * 0.5 * np.sqrt(np.clip(1.05 - d**2, 0, 1)) * (1 + 0.35 * a / long)
            foot = layers.ground[box]
            cover = smoothstep(1.05, 0.85, d)
            stone = linear(LICHEN if mossy else ROCK)
            rgb = stone * (tint * (1 + 0.09 * noise))[..., None]
            layers.put(box, foot + lift, foot - 0.5, cover, rgb, 30.0 * (d < 1), 0.0)
