"""What holds of any dam on any ground: more crest never holds less, nothing moves but with it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString
from shapely.affinity import translate

from canvas.base.errors import BadData
from canvas.base.grid import Grid
from canvas.ground.dam import crest_for
from canvas.ground.designed import Designed
from canvas.site.elements.ponds import Dam
from canvas.site.records import changed
from canvas.study.earth.ponds import PondWork, dam_work

SIDE_M = 160


def hollow(seed: int, side: float, fall: float) -> Grid:
    """A rough valley down the middle."""
    rough = np.random.default_rng(seed).normal(0, 0.05, (SIDE_M, SIDE_M))
    row, col = np.mgrid[0:SIDE_M, 0:SIDE_M]
    x, y = col + 0.5 - SIDE_M / 2, SIDE_M / 2 - row - 0.5
    return Grid(100 + side * abs(x) + fall * y + rough, 0.0, float(SIDE_M), 1.0)


def built(grid: Grid, dam: Dam) -> PondWork:
    thing = dam_work(dam, Designed.of(grid), None).thing  # type: ignore[arg-type]
    assert isinstance(thing, PondWork)
    return thing


valleys = st.builds(hollow, st.integers(0, 10_000), st.floats(0.15, 0.35), st.floats(0.02, 0.06))
AXIS = LineString([(SIDE_M / 2 - 45, SIDE_M / 2), (SIDE_M / 2 + 45, SIDE_M / 2)])


@given(grid=valleys, rise=st.floats(2.0, 4.0), more=st.floats(0.0, 1.0))
@settings(max_examples=25, deadline=None)
def test_a_higher_crest_never_holds_less_nor_takes_less_earth(
    grid: Grid, rise: float, more: float
) -> None:
    dam = Dam(geometry=AXIS, rise_m=rise)
    low, high = built(grid, dam), built(grid, changed(dam, rise_m=rise + more))
    assert high.pond.water.volume_m3 >= low.pond.water.volume_m3 - 1e-9
    assert high.pond.water.area_m2 >= low.pond.water.area_m2 - 1e-9
    assert high.dam.placed_m3 >= low.dam.placed_m3 - 1e-9


@given(grid=valleys, rise=st.floats(2.0, 4.0))
@settings(max_examples=25, deadline=None)
def test_the_curve_ends_with_what_the_pond_holds(grid: Grid, rise: float) -> None:
    made = built(grid, Dam(geometry=AXIS, rise_m=rise))
    curve = made.storage
    assert curve.volume_m3[-1] == pytest.approx(made.pond.water.volume_m3, rel=1e-9)
    assert np.all(np.diff(curve.volume_m3) >= -1e-9)
    assert np.all(np.diff(curve.area_m2) >= -1e-9)
    # Each step holds no more than its upper area times its rise, nor less than its lower.
    step = np.diff(curve.level_m)
    gained = np.diff(curve.volume_m3)
    assert np.all(gained <= curve.area_m2[1:] * step + 1e-6)
    assert np.all(gained >= curve.area_m2[:-1] * step - 1e-6)


@given(grid=valleys, wanted=st.floats(100, 900))
@settings(max_examples=12, deadline=None)
def test_a_crest_for_a_volume_holds_it(grid: Grid, wanted: float) -> None:
    try:
        made = built(grid, Dam(geometry=AXIS, crest_by="volume", hold_m3=wanted))
    except BadData:
        return
    assert made.pond.holds
    assert wanted <= made.pond.water.volume_m3 <= 1.06 * wanted + 10


@given(grid=valleys, rise=st.floats(2.0, 4.0), by=st.tuples(st.integers(-9, 9), st.integers(-9, 9)))
@settings(max_examples=20, deadline=None)
def test_moved_ground_moves_the_dam_with_it(grid: Grid, rise: float, by: tuple[int, int]) -> None:
    dam = Dam(geometry=AXIS, rise_m=rise)
    there = Grid(grid.z, grid.west_m + by[0], grid.north_m + by[1], grid.cell_m)
    one = built(grid, dam)
    other = built(there, changed(dam, geometry=translate(AXIS, *by)))
    assert other.pond.water.volume_m3 == pytest.approx(one.pond.water.volume_m3, rel=1e-9)
    assert other.dam.placed_m3 == pytest.approx(one.dam.placed_m3, rel=1e-9)


@given(
    root=st.floats(-3, 7), power=st.sampled_from([1, 3]), within=st.sampled_from([0.001, 0.01, 0.1])
)
def test_crest_for_closes_in_on_the_level(root: float, power: int, within: float) -> None:
    tried: list[float] = []

    def fits(level: float) -> float:
        tried.append(level)
        return (level - root) ** power

    found = crest_for(fits, -4.0, 8.0, within)
    assert root <= found + 1e-12
    assert found <= root + within + 1e-12
    # Never much worse than twice halving; four tries where it runs straight.
    if power == 1:
        assert len(tried) <= 2 + 4
    assert len(tried) <= 2 + 4 + 2 * np.ceil(np.log2(12 / within))
