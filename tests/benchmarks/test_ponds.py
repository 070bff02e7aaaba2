"""How fast a dam follows the mouse through the study, against a flood of the whole grid. By hand:

pytest tests/benchmarks/test_ponds.py
"""

from __future__ import annotations

import time
from collections.abc import Callable
from itertools import count

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture
from scipy import ndimage
from shapely import LineString, box

from canvas.base.grid import Grid
from canvas.drawing.build import element_entries
from canvas.drawing.look import Look
from canvas.ground.designed import Designed
from canvas.site.elements.ponds import Dam, DugPond
from canvas.site.records import changed
from canvas.study.earth.ponds import PondWork
from canvas.study.study import Study
from made import EAST, NORTH, study_of

LOOK = Look(scale=1000, labels=False)


@pytest.fixture(scope="module")
def land() -> Grid:
    """A million cells of half a metre: a valley with 2 cm of survey noise."""
    rng = np.random.default_rng(1)
    row, col = np.mgrid[0:1000, 0:1000]
    x, y = (col + 0.5) / 2 - 250, 250 - (row + 0.5) / 2
    z = 100 + 0.12 * abs(x) + 0.05 * y + 0.3 * np.sin(x / 17 + y / 29)
    return Grid(z + 0.02 * rng.standard_normal(z.shape), EAST, NORTH + 500, 0.5)


def axis(shift: float = 0.0) -> LineString:
    return LineString([(EAST + 205, NORTH + 250 + shift), (EAST + 300, NORTH + 250 + shift / 2)])


def best(work: Callable[[], object], rounds: int = 3) -> float:
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def moved(study: Study, item: Dam | DugPond) -> Study:
    return study.preview(study.plan.with_(item))


def test_a_dragged_dam_answers(benchmark: BenchmarkFixture, land: Grid) -> None:
    """Bank, water, storage curve, spillway. Limit 20 ms; the whole grid labelled is the reference.

    The reference floods the same ground at the same level: every cell below it, then its parts.
    """
    dam = Dam(geometry=axis(), rise_m=4.5)
    study = study_of(dam, grid=land)
    study.facts(dam.id)
    step = count()

    def frame() -> PondWork:
        would_be = changed(dam, geometry=axis(next(step) % 40 * 0.2))
        work = moved(study, would_be).work(dam.id)
        assert work is not None
        assert isinstance(work.thing, PondWork)
        return work.thing

    last = benchmark.pedantic(frame, rounds=60, warmup_rounds=5)
    assert last.pond.holds
    assert last.pond.water.volume_m3 > 500

    def reference() -> float:
        z = Designed.of(land, [last.dam.patch]).levels.z
        number, _ = ndimage.label(z < last.sill_m, np.ones((3, 3), int))
        spot = last.dam.wet_toe_xy_m
        assert spot is not None
        return float((number == number[land.cell_at(*spot)]).sum())

    slow = best(reference)
    benchmark.extra_info["cells of water"] = int(last.pond.water.wet.sum())
    benchmark.extra_info["times faster than labelling"] = slow / benchmark.stats["min"]
    assert benchmark.stats["min"] < 0.020
    assert slow / benchmark.stats["min"] >= 1.5


def test_a_dragged_dam_is_repainted(benchmark: BenchmarkFixture, land: Grid) -> None:
    """Symbol with water's edge and depths, every fact, every finding. Limit 100 ms."""
    dam = Dam(geometry=axis(), rise_m=4.5, design_flow_m3s=1.0)
    study = study_of(dam, grid=land)
    study.facts(dam.id)
    study.findings()
    study.flow(designed=True)
    step = count()

    def frame() -> int:
        would_be = changed(dam, geometry=axis(next(step) % 40 * 0.2))
        as_would_be = moved(study, would_be)
        entries = element_entries(as_would_be, would_be, LOOK)
        return len(entries) + len(as_would_be.facts(dam.id)) + len(as_would_be.findings())

    benchmark.pedantic(frame, rounds=30, warmup_rounds=3)
    assert benchmark.stats["min"] < 0.100


def test_a_dragged_dam_for_a_volume(benchmark: BenchmarkFixture, land: Grid) -> None:
    """The crest sought anew at every move: not asked for, told of."""
    dam = Dam(geometry=axis(), crest_by="volume", hold_m3=2000.0)
    study = study_of(dam, grid=land)
    study.facts(dam.id)
    step = count()

    def frame() -> object:
        return moved(study, changed(dam, geometry=axis(next(step) % 40 * 0.2))).work(dam.id)

    benchmark.pedantic(frame, rounds=20, warmup_rounds=3)
    assert benchmark.stats["min"] < 0.100


def test_a_dragged_dug_pond_answers(benchmark: BenchmarkFixture, land: Grid) -> None:
    """Basin at a given level with its rim, water and outlet. Limit 20 ms."""
    pond = DugPond(geometry=box(EAST + 300, NORTH + 240, EAST + 330, NORTH + 260), level="set",
                   water_m=108.0)  # fmt: skip
    study = study_of(pond, grid=land)
    study.facts(pond.id)
    step = count()
    troubles: list[str] = []

    def frame() -> None:
        east = EAST + 300 + next(step) % 40 * 0.2
        shape = box(east, NORTH + 240, east + 30, NORTH + 260)
        work = moved(study, changed(pond, geometry=shape)).work(pond.id)
        assert work is not None
        troubles.append(work.trouble)

    benchmark.pedantic(frame, rounds=60, warmup_rounds=5)
    assert not any(troubles)
    assert benchmark.stats["min"] < 0.020


def test_a_first_dam_is_drawn_on_ground_without_works(
    benchmark: BenchmarkFixture, land: Grid
) -> None:
    """The flow over the survey is worked out once, not at every move of the pointer."""
    study = study_of(grid=land)
    dam = Dam(geometry=axis(), rise_m=4.5)
    step = count()

    def frame() -> int:
        would_be = changed(dam, geometry=axis(next(step) % 40 * 0.2))
        return len(moved(study, would_be).facts(dam.id))

    benchmark.pedantic(frame, rounds=20, warmup_rounds=3)
    assert benchmark.stats["min"] < 0.100
