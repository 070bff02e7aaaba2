"""The trees: what each species looks like from above, and where each one stands."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from . import paths, plan
from .frame import SEED, Floats
from .noise import gradient_noise


@dataclass(frozen=True, slots=True)
class Species:
    """Looks of a species: crown base and doming (parts of height), limbs, leaf, density, gaps."""

    name: str
    common: str
    base: float
    dome: float
    limbs: int
    leaf: tuple[int, int, int]
    density: float
    gap: float


SPECIES = {
    s.name: s
    for s in (
        Species(
            "Eucalyptus camaldulensis", "river red gum", 0.32, 0.60, 11, (124, 122, 78), 0.50, 0.34
        ),
        Species("Eucalyptus viminalis", "manna gum", 0.38, 0.58, 9, (112, 114, 68), 0.45, 0.36),
        Species("Eucalyptus melliodora", "yellow box", 0.33, 0.60, 10, (124, 124, 92), 0.50, 0.32),
        Species(
            "Allocasuarina verticillata",
            "drooping sheoak",
            0.25,
            0.75,
            8,
            (112, 102, 70),
            0.6,
            0.28,
        ),
        Species("Acacia melanoxylon", "blackwood", 0.2, 0.85, 8, (86, 94, 54), 0.9, 0.16),
        Species("Acacia mearnsii", "black wattle", 0.22, 0.75, 8, (108, 112, 62), 0.6, 0.28),
        Species("Bursaria spinosa", "sweet bursaria", 0.08, 0.9, 5, (112, 106, 64), 0.9, 0.25),
        Species("Cupressus macrocarpa", "Monterey cypress", 0.06, 0.95, 9, (66, 78, 44), 1.5, 0.06),
        Species("Schinus molle", "pepper tree", 0.12, 0.9, 8, (108, 118, 60), 0.8, 0.2),
        Species("Malus domestica", "apple", 0.25, 0.8, 5, (98, 112, 54), 0.9, 0.2),
    )
}


@dataclass(frozen=True, slots=True)
class Tree:
    """One tree: local place, height, crown across, stem at breast height, owner, and if alive."""

    u: float
    v: float
    species: str
    height_m: float
    crown_m: float
    stem_cm: float
    owner: str
    alive: bool = True


# u, v, species key, height, crown: the trees a visitor would name.
KNOWN = (
    (-108, 70, "camal", 21, 17), (-66, 92, "camal", 23, 19), (-12, 84, "camal", 18, 14),
    (38, 117, "camal", 22, 18), (84, 97, "camal", 19, 15), (121, 128, "camal", 24, 20),
    (136, 106, "camal", 16, 12), (-131, 33, "camal", 17, 13), (12, 102, "camal", 15, 11),
    (-52, 84, "vimin", 18, 12), (-122, 66, "vimin", 16, 10), (108, 30, "vimin", 17, 12),
    (126, -4, "vimin", 14, 9), (58, 78, "vimin", 15, 10), (-48, 122, "vimin", 17, 12),
    (-88, 108, "melli", 15, 13), (82, 126, "melli", 14, 12), (-14, -88, "melli", 16, 15),
    (56, -100, "melli", 15, 14), (104, -92, "melli", 13, 11), (-58, -8, "melli", 14, 12),
    (-66, -112, "verti", 8, 6), (-55, -119, "verti", 9, 6.5), (-46, -126, "verti", 7, 5),
    (-88, -76, "verti", 8, 6), (-97, -68, "verti", 9, 7), (-90, -62, "verti", 6, 4.5),
    (61, -13, "verti", 7, 5.5), (68, -3, "verti", 8, 6), (-120, -34, "verti", 8, 6),
    (-112, -46, "verti", 7, 5), (-126, 6, "melan", 10, 7), (-118, 18, "melan", 12, 8),
    (-128, -14, "melan", 9, 6.5), (112, 6, "melan", 11, 8), (118, 18, "melan", 9, 6),
    (106, -20, "mearn", 7, 6), (-113, -6, "mearn", 8, 6.5), (-104, 4, "mearn", 7, 6),
    (-50, 70, "mearn", 8, 7), (66, 92, "mearn", 7, 6), (24, -128, "melli", 12, 10),
)  # fmt: skip
STAG = (30.0, 22.0, "camal", 15.0, 9.0)  # a dead red gum left standing

KEYS = {"camal": 0, "vimin": 1, "melli": 2, "verti": 3, "melan": 4, "mearn": 5, "bursa": 6,
        "cupre": 7, "schin": 8, "malus": 9}  # fmt: skip
STEM_PER_CROWN = {"camal": 5.6, "vimin": 5.2, "melli": 5.4, "verti": 4.4, "melan": 4.4,
                  "mearn": 3.4, "bursa": 2.5, "cupre": 8.5, "schin": 6.0, "malus": 4.0}  # fmt: skip


def tree(u: float, v: float, key: str, height: float, crown: float, owner: str) -> Tree:
    """Return a tree with the stem its crown suggests (common practice, no source)."""
    name = list(SPECIES)[KEYS[key]]
    stem = round(STEM_PER_CROWN[key] * crown)
    place = (round(float(u), 1), round(float(v), 1))
    return Tree(*place, name, round(float(height), 1), round(float(crown), 1), stem, owner)


def owner_at(u: float, v: float, ours: object, road: Floats) -> str:
    """Return whose tree it is: ours, public in the road reserve, or the neighbour's."""
    import shapely

    if shapely.contains_xy(ours, u, v):
        return "ours"
    off = np.hypot(road[:, 0] - u, road[:, 1] - v).min()
    return "public" if off < plan.RESERVE_M / 2 else "neighbour"


def all_trees(creek: Floats) -> list[Tree]:
    """Place every tree of the landscape; the same list each time."""
    import shapely

    rng = np.random.default_rng(SEED)
    ours = shapely.Polygon(plan.BOUNDARY)
    road = paths.even(plan.ROAD, 2.0)
    out = [tree(*known, "ours") for known in KNOWN]
    u, v, key, height, crown = STAG
    dead = tree(u, v, key, height, crown, "ours")
    out.append(Tree(*(getattr(dead, f) for f in dead.__slots__[:-1]), alive=False))

    def add(u: float, v: float, key: str, height: float, crown: float, gap: float = 0.42) -> None:
        clear = (
            all(np.hypot(t.u - u, t.v - v) > gap * (crown + t.crown_m) for t in out)
            and np.hypot(road[:, 0] - u, road[:, 1] - v).min() > 4.0 + crown * 0.25
        )
        far = min(np.hypot(u - x, v - y) for x, y in plan.KEEP_OPEN) > 9 + crown / 2
        if clear and far:
            out.append(tree(u, v, key, height, crown, owner_at(u, v, ours, road)))

    along_creek(rng, creek, add)
    woodland(rng, add)
    roadside(rng, add)
    homestead(rng, add)
    return out


def along_creek(rng: np.random.Generator, creek: Floats, add) -> None:  # type: ignore[no-untyped-def]
    """Line the creek with gums and, under them, wattles and bursaria."""
    for k in range(20, len(creek) - 20, 7):
        if rng.random() > 0.55:
            continue
        ahead = creek[k + 5] - creek[k - 5]
        ahead /= np.hypot(*ahead)
        side = rng.choice([-1, 1]) * rng.uniform(1.5, 13)
        u, v = creek[k] + side * np.array([-ahead[1], ahead[0]])
        kind = rng.choice(["camal", "camal", "vimin", "mearn", "melan", "bursa", "bursa"])
        height = {"camal": 17, "vimin": 15, "mearn": 7, "melan": 9, "bursa": 3}[kind]
        height *= rng.uniform(0.6, 1.3)
        add(u, v, str(kind), height, height * rng.uniform(0.65, 0.9), 0.34)


def woodland(rng: np.random.Generator, add) -> None:  # type: ignore[no-untyped-def]
    """Grow the remnant bush on the steep west side and scatter trees over the paddocks."""
    for _ in range(1500):
        u, v = rng.uniform(-330, -150), rng.uniform(-290, 100)
        patch = float(gradient_noise(np.array([u]), np.array([v]), 70, SEED + 60)[0])
        edge = paths.smoothstep(-158, -225, np.array(u + 0.25 * v + 18 * patch))
        if rng.random() < 0.62 * edge * (0.55 + 0.6 * patch):
            kind = rng.choice(["vimin", "melli", "vimin", "verti", "mearn", "camal"])
            height = {"camal": 16, "vimin": 16, "melli": 14, "verti": 8, "mearn": 7}[kind]
            height *= rng.uniform(0.55, 1.2)
            add(u, v, str(kind), height, height * rng.uniform(0.6, 0.95), 0.33)
    for _ in range(120):
        u, v = rng.uniform(-310, 310), rng.uniform(-280, 320)
        outside = v > 160 or v < -160 or u > 190 or u < -170
        if outside and not (u > 178 and -150 < v < 70) and rng.random() < 0.5:
            height = rng.uniform(9, 21)
            kind = rng.choice(["camal", "melli", "melli", "vimin"])
            add(u, v, str(kind), height, height * rng.uniform(0.75, 1.05), 1.1)


def roadside(rng: np.random.Generator, add) -> None:  # type: ignore[no-untyped-def]
    """Leave gums, wattles and sheoaks along the road reserve."""
    road = paths.even(plan.ROAD, 1.0)
    for k in range(60, len(road) - 60, 7):
        side = rng.choice([-1, 1])
        if rng.random() < 0.5:
            kind = rng.choice(["melli", "vimin", "mearn", "mearn", "bursa", "verti"])
            height = {"vimin": 14, "melli": 12, "verti": 7, "mearn": 6, "bursa": 2.6}[kind]
            height *= rng.uniform(0.6, 1.1)
            crown = height * rng.uniform(0.6, 0.8)
            ahead = road[k + 2] - road[k - 2]
            ahead /= np.hypot(*ahead)
            off = side * (4.6 + crown * 0.3 + rng.uniform(0, 2.2))
            u, v = road[k] + off * np.array([-ahead[1], ahead[0]])
            add(u, v, str(kind), height, crown, 0.5)


def homestead(rng: np.random.Generator, add) -> None:  # type: ignore[no-untyped-def]
    """Plant the neighbour's old cypress windbreak, pepper trees and few fruit trees."""
    a, b = np.array(plan.CYPRESS_ROW)
    count = 15
    for k in range(count):
        if k in (9,):
            continue  # one has fallen
        u, v = a + (b - a) * k / (count - 1) + rng.uniform(-0.5, 0.5, 2)
        height = rng.uniform(10.5, 14.5)
        add(u, v, "cupre", height, rng.uniform(6.4, 8.2), 0.2)
    for u, v, key, height, crown in plan.GARDEN_TREES:
        add(u, v, key, height, crown, 0.3)
