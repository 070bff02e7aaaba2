"""How fast the ground is read, each against a plain reference in the same run. Run by hand:

pytest tests/benchmarks/test_terrain.py
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable

import contourpy
import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from canvas.base.grid import Grid
from canvas.ground.contours import contours
from canvas.ground.surface import lit_by, slope_aspect
from canvas.sky.radiation import relative_energy

SIDE = 2000


@pytest.fixture(scope="module")
def hills() -> Grid:
    """4 million cells with 3 cm of survey noise."""
    base = Grid(np.zeros((SIDE, SIDE)), 500_000.0, 5_800_000.0, 1.0)
    x, y = np.meshgrid(np.arange(SIDE), np.arange(SIDE))
    rng = np.random.default_rng(1)
    noise = 0.03 * rng.standard_normal((SIDE, SIDE))
    return base.like(60 * np.sin(x / 190) + 45 * np.cos(y / 270) + noise)


def horn_in_numpy(z: np.ndarray, cell: float) -> tuple[np.ndarray, np.ndarray]:
    """Horn's slope ratio and aspect [degrees] of the inner cells, as one would write it."""
    a, b, c = z[:-2, :-2], z[:-2, 1:-1], z[:-2, 2:]
    d, f = z[1:-1, :-2], z[1:-1, 2:]
    g, h, i = z[2:, :-2], z[2:, 1:-1], z[2:, 2:]
    p = ((c + 2 * f + i) - (a + 2 * d + g)) / (8 * cell)
    q = ((g + 2 * h + i) - (a + 2 * b + c)) / (8 * cell)
    return np.hypot(p, q), np.degrees(np.arctan2(-p, q)) % 360


def seconds(work: Callable[[], object], rounds: int) -> float:
    """Median time of a call."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def test_slope_and_aspect(benchmark: BenchmarkFixture, hills: Grid) -> None:
    reference = seconds(lambda: horn_in_numpy(hills.z, 1.0), 5)
    slope, aspect = benchmark.pedantic(slope_aspect, (hills,), rounds=9, warmup_rounds=2)
    theirs_slope, theirs_aspect = horn_in_numpy(hills.z, 1.0)
    inner = (slice(1, -1), slice(1, -1))
    turn = (aspect.z[inner] - theirs_aspect + 180) % 360 - 180
    assert np.abs(turn).max() < 0.01
    assert np.abs(slope.z[inner] - theirs_slope).max() < 1e-9
    benchmark.extra_info["times faster than numpy"] = reference / benchmark.stats["median"]
    assert reference / benchmark.stats["median"] >= 5


def test_contours(benchmark: BenchmarkFixture, hills: Grid) -> None:
    ours = benchmark.pedantic(contours, (hills, 1.0), rounds=5, warmup_rounds=1)
    levels = np.unique(ours.level_m)
    length = 0.0

    def reference() -> None:
        nonlocal length
        maker = contourpy.contour_generator(hills.x_m(), hills.y_m(), hills.z, name="serial")
        made = [line for level in levels for line in maker.lines(level)]
        length = sum(float(np.hypot(*np.diff(line, axis=0).T).sum()) for line in made)

    theirs = seconds(reference, 1)
    assert ours.lengths_m().sum() == pytest.approx(length, rel=1e-6)
    benchmark.extra_info["times faster than contourpy"] = theirs / benchmark.stats["median"]
    assert theirs / benchmark.stats["median"] >= 3


def test_shading(benchmark: BenchmarkFixture, hills: Grid) -> None:
    lit = benchmark.pedantic(lit_by, (hills,), rounds=5, warmup_rounds=1)
    assert np.isfinite(lit.z).all()


def test_energy_map_of_a_million_cells(benchmark: BenchmarkFixture, hills: Grid) -> None:
    part = Grid(hills.z[:1000, :1000], hills.west_m, hills.north_m, 1.0)
    slope, aspect = slope_aspect(part)

    def work() -> Grid:
        return relative_energy(slope, aspect, -37.6, 6, 300.0)

    found = benchmark.pedantic(work, rounds=5)
    assert np.isfinite(found.z).all()
    # The first call also makes the table.
    assert benchmark.stats["max"] < 1.0
