"""How fast the sun's maps are, against the times asked for. Run by hand, on a quiet machine:

pytest tests/benchmarks/test_horizon.py
"""

from __future__ import annotations

import time

import numpy as np
import pytest
import shapely
from pytest_benchmark.fixture import BenchmarkFixture

from canvas.base.grid import Grid
from canvas.ground.surface import slope_aspect
from canvas.sky.crowns import FORMS, Crowns, crowns
from canvas.sky.horizon import Horizons, horizons, sky_view, terrain_shadow
from canvas.sky.shadows import light_through, shaded_hours, shadows
from canvas.sky.sunhours import a_day, a_month, sun_energy, sun_hours, suns, the_year
from canvas.sky.walls import building

SIDE = 1000


@pytest.fixture(scope="module")
def hills() -> Grid:
    """A million cells with 3 cm of survey noise."""
    x, y = np.meshgrid(np.arange(SIDE), np.arange(SIDE))
    noise = 0.03 * np.random.default_rng(1).standard_normal((SIDE, SIDE))
    return Grid(60 * np.sin(x / 190) + 45 * np.cos(y / 270) + noise, 0.0, SIDE, 1.0)


@pytest.fixture(scope="module")
def found(hills: Grid) -> Horizons:
    return horizons(hills)


def marched(hills: Grid, azimuth_deg: float, reach: int = 300) -> np.ndarray:
    """One direction's horizon by stepping outwards cell by cell: the plain way."""
    a = np.radians(azimuth_deg)
    z = hills.z
    best = np.zeros(z.shape)
    for step in range(1, reach):
        dc, dr = round(step * np.sin(a)), round(-step * np.cos(a))
        rows = slice(max(0, -dr), min(SIDE, SIDE - dr))
        cols = slice(max(0, -dc), min(SIDE, SIDE - dc))
        away = (slice(rows.start + dr, rows.stop + dr), slice(cols.start + dc, cols.stop + dc))
        rise = (z[away] - z[rows, cols]) / np.hypot(dc, dr)
        np.maximum(best[rows, cols], rise, out=best[rows, cols])
    return best


def test_horizons_of_a_million_cells(benchmark: BenchmarkFixture, hills: Grid) -> None:
    start = time.perf_counter()
    plain = marched(hills, 90.0)
    reference = (time.perf_counter() - start) * 32
    made = benchmark.pedantic(horizons, (hills,), rounds=7, warmup_rounds=1)
    east = np.tan(np.radians(made.heights(8).z))
    # The plain way looks 300 m far only.
    assert (east >= plain - 2e-3).mean() > 0.999
    benchmark.extra_info["times faster than marching"] = reference / benchmark.stats["min"]
    assert benchmark.stats["min"] < 0.7


def test_with_far_ground(benchmark: BenchmarkFixture, hills: Grid) -> None:
    x, y = np.meshgrid(np.arange(-5000, 6000, 25.0), np.arange(-5000, 6000, 25.0))
    far = Grid(60 * np.sin(x / 190) + 45 * np.cos(y / 270), -5012.5, 5987.5, 25.0)
    made = benchmark.pedantic(horizons, (hills, far), rounds=5, warmup_rounds=1)
    assert made.reach_m > 4000
    assert benchmark.stats["min"] < 1.5


@pytest.mark.parametrize("period", ["day", "month", "year"])
def test_hours_from_horizons(benchmark: BenchmarkFixture, found: Horizons, period: str) -> None:
    which = {"day": a_day(172), "month": a_month(12), "year": the_year()}[period]

    def work() -> Grid:
        suns.cache_clear()
        return sun_hours(found, suns(which, -37.6, 142.0))

    got = benchmark.pedantic(work, rounds=9, warmup_rounds=1)
    assert np.isfinite(got.z).all()
    assert benchmark.stats["min"] < 0.05


def test_energy_and_sky(benchmark: BenchmarkFixture, hills: Grid, found: Horizons) -> None:
    slope, aspect = slope_aspect(hills)
    of = suns(the_year(), -37.6, 142.0)
    got = benchmark.pedantic(sun_energy, (found, slope, aspect, of), rounds=7, warmup_rounds=1)
    assert np.isfinite(got.z).all()
    assert sky_view(found, slope, aspect).z.max() <= 1
    assert benchmark.stats["min"] < 0.25


def many_trees() -> Crowns:
    rng = np.random.default_rng(5)
    count = 2000
    return crowns(
        rng.uniform(0, SIDE, count),
        rng.uniform(0, SIDE, count),
        rng.uniform(2, 9, count),
        rng.uniform(3, 14, count),
        1.0,
        form=rng.choice(list(FORMS), count),
    )


def test_the_shadow_study_with_two_thousand_trees(benchmark: BenchmarkFixture, hills: Grid) -> None:
    trees = many_trees()
    houses = [
        building(shapely.box(480 + 30 * n, 500, 492 + 30 * n, 508), 4.0, hills) for n in range(4)
    ]

    def frame() -> int:
        return len(shadows(22.0, 130.0, trees, houses, hills).shapes())

    assert benchmark.pedantic(frame, rounds=15, warmup_rounds=2) == 2000
    assert benchmark.stats["median"] < 0.05


def test_the_lands_own_shadow(benchmark: BenchmarkFixture, hills: Grid) -> None:
    got = benchmark.pedantic(terrain_shadow, (hills, 123.0, 12.0), rounds=9, warmup_rounds=1)
    assert 0 < got.z.mean() < 1
    assert benchmark.stats["min"] < 0.05


def test_light_under_two_thousand_trees(benchmark: BenchmarkFixture, hills: Grid) -> None:
    cast = shadows(22.0, 130.0, many_trees(), ground=hills, corners=16)
    light = benchmark.pedantic(light_through, (hills, cast), rounds=9, warmup_rounds=1)
    assert light.min() < 0.1
    assert benchmark.stats["min"] < 0.05


def test_a_whole_day_under_two_thousand_trees(
    benchmark: BenchmarkFixture, hills: Grid, found: Horizons
) -> None:
    of = suns(a_day(355), 38.0, 0.0)
    got = benchmark.pedantic(shaded_hours, (found, of, many_trees(), (), hills), rounds=1)
    # The two read a horizon between directions in their own ways.
    assert np.mean(got.z <= sun_hours(found, of).z + 0.3) > 0.99
    assert benchmark.stats["min"] < 10
