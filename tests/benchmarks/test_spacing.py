"""Spacing among 10 000 plants against shapely's tree in the same run, and the whole check.

Run by hand: pytest tests/benchmarks/test_spacing.py
"""

from __future__ import annotations

import time

import numpy as np
import pytest
import shapely
from rules.conftest import Plane, make_subject
from shapely import LineString, Point, STRtree, box

from canvas.rules.checker import Checker
from canvas.rules.kernels import close_pairs
from canvas.rules.library import rules_of
from canvas.rules.subject import Subject

COUNT = 10_000
SIDE_M = 500.0


@pytest.fixture(scope="module")
def plants() -> np.ndarray:
    return np.random.default_rng(7).uniform(0, SIDE_M, (COUNT, 2))


def by_tree(xy: np.ndarray, reach: float) -> set[tuple[int, int]]:
    points = shapely.points(xy)
    i, j = STRtree(points).query(points, predicate="dwithin", distance=reach)
    keep = i < j
    return set(zip(i[keep].tolist(), j[keep].tolist(), strict=True))


def by_kernel(xy: np.ndarray, reach: float) -> set[tuple[int, int]]:
    x, y = np.ascontiguousarray(xy.T)
    i, j, _ = close_pairs(x, y, np.zeros(len(x)), np.full(len(x), reach))
    return set(zip(i.tolist(), j.tolist(), strict=True))


def test_same_pairs_and_faster_than_the_tree(plants: np.ndarray, benchmark) -> None:
    reach = 3.0
    assert by_kernel(plants, reach) == by_tree(plants, reach)
    x, y = np.ascontiguousarray(plants.T)
    radius, ask = np.zeros(COUNT), np.full(COUNT, reach)
    benchmark(close_pairs, x, y, radius, ask)
    points = shapely.points(plants)
    reference = []
    for _ in range(7):
        start = time.perf_counter()
        STRtree(points).query(points, predicate="dwithin", distance=reach)
        reference.append(time.perf_counter() - start)
    benchmark.extra_info["tree_ms"] = 1e3 * float(np.median(reference))
    assert benchmark.stats["median"] * 3 < np.median(reference)


def tree(k: int, x: float, y: float) -> Subject:
    stem = Point(x, y)
    crown = stem.buffer(1.5, quad_segs=8)
    parts = {"stem": stem, "crown": crown, "crown_mature": crown}
    fields = {"species": "Malus domestica", "mature_height_m": 4.0, "mature_crown_m": 3.0}
    return make_subject("tree", f"t{k:05d}", stem, parts, **fields)


@pytest.fixture(scope="module")
def site(plants: np.ndarray) -> dict[str, Subject]:
    found = [tree(k, x, y) for k, (x, y) in enumerate(plants)]
    land = box(-5, -5, SIDE_M + 5, SIDE_M + 5)
    found.append(make_subject("site_boundary", "site", land, {"edge_line": land.boundary}))
    wall = box(250, 250, 262, 260)
    found.append(make_subject("building", "house", wall, {"wall": wall, "eaves": wall.buffer(0.5)}))
    for k in range(6):
        line = LineString([(0, 80.0 * k + 3), (SIDE_M, 80.0 * k + 20)])
        band = line.buffer(1.75, cap_style="flat")
        parts = {"centre_line": line, "edge": band, "clear_way": line.buffer(2.25)}
        facts = {"max_grade": 0.1, "sustained_grade": 0.1, "length_m": line.length}
        found.append(make_subject("track", f"w{k}", line, parts, facts))
    return {subject.id: subject for subject in found}


RULES = rules_of(["good_practice", "victoria"])


def test_a_fresh_check_of_everything(site: dict[str, Subject], benchmark) -> None:
    found = benchmark.pedantic(
        lambda: Checker(RULES, Plane(0.1)).check(site), rounds=3, warmup_rounds=1
    )
    assert found
    assert benchmark.stats["median"] < 2.0


def test_one_moved_plant_is_rechecked(site: dict[str, Subject], benchmark) -> None:
    checker = Checker(RULES, Plane(0.1))
    checker.check(site)
    places = iter(np.random.default_rng(8).uniform(0, SIDE_M, (10_000, 2)))

    def move() -> None:
        checker.recheck({"t00042": tree(42, *next(places))})

    benchmark.pedantic(move, rounds=40, warmup_rounds=5)
    assert benchmark.stats["median"] < 0.1


def test_a_dragged_house_is_rechecked(site: dict[str, Subject], benchmark) -> None:
    checker = Checker(RULES, Plane(0.1))
    checker.check(site)
    steps = iter(np.random.default_rng(9).uniform(100, 400, (10_000, 2)))

    def move() -> None:
        x, y = next(steps)
        wall = box(x, y, x + 12, y + 10)
        parts = {"wall": wall, "eaves": wall.buffer(0.5)}
        checker.recheck({"house": make_subject("building", "house", wall, parts)})

    benchmark.pedantic(move, rounds=40, warmup_rounds=5)
    assert benchmark.stats["median"] < 0.1
