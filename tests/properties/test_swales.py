"""Swales of any measure: deeper or higher never holds less; turned ground, the same answer."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, affinity

from canvas.base.grid import Grid
from canvas.ground.levelline import Limits, level_line
from canvas.ground.levelness import falling, level_errors
from canvas.site.elements.swales import Swale
from canvas.site.records import changed
from made import EAST, NORTH, study_of

LEVEL = LineString([(EAST + 60, NORTH + 100), (EAST + 140, NORTH + 100)])
MIDDLE = Point(EAST + 100, NORTH + 100)

slope = st.floats(0.04, 0.2)
turn = st.floats(0, 360)
depth = st.floats(0.2, 0.9)
bank = st.floats(0.15, 0.6)


def hill(rise: float, turn_deg: float = 0.0) -> Grid:
    row, col = np.mgrid[0:200, 0:200]
    x, y = col + 0.5 - 100, 200 - row - 0.5 - 100
    a = math.radians(turn_deg)
    z = 150 + rise * (x * math.sin(a) + y * math.cos(a))
    return Grid(z, EAST, NORTH + 200, 1.0)


def holds(swale: Swale, grid: Grid) -> float:
    facts = {fact.key: fact.value for fact in study_of(swale, grid=grid).facts(swale.id)}
    assert "trouble" not in facts, facts["trouble"]
    found = facts["holds_m3"]
    assert isinstance(found, float)
    return found


@settings(max_examples=25, deadline=None)
@given(slope, depth, bank, st.floats(0.05, 0.3))
def test_deeper_or_higher_never_holds_less(
    rise: float, deep: float, high: float, more: float
) -> None:
    grid = hill(rise)
    plain = Swale(geometry=LEVEL, depth_m=deep, bank_m=high, sill_above_m=high - 0.05)
    deeper = changed(plain, depth_m=deep + more)
    higher = changed(plain, bank_m=high + more, sill_above_m=high + more - 0.05)
    least = holds(plain, grid)
    assert holds(deeper, grid) >= least - 0.01 * least
    assert holds(higher, grid) >= least - 0.01 * least


@settings(max_examples=25, deadline=None)
@given(slope, turn)
def test_turning_the_ground_turns_the_answer(rise: float, turn_deg: float) -> None:
    plain = Swale(geometry=LEVEL, sill="middle")
    turned = changed(plain, geometry=affinity.rotate(LEVEL, -turn_deg, origin=MIDDLE))
    assert holds(turned, hill(rise, turn_deg)) == pytest.approx(holds(plain, hill(rise)), rel=0.04)


@settings(max_examples=40, deadline=None)
@given(
    st.floats(20, 60), st.floats(0.5, 4), st.floats(0, 6.28), st.floats(-0.01, 0.01),
    st.integers(0, 1000),
)  # fmt: skip
def test_every_line_holds_its_grade(
    wave_m: float, high_m: float, phase: float, grade: float, seed: int
) -> None:
    """Any folds and 2 cm of noise: the even grade holds on the surface within 2 cm."""
    row, col = np.mgrid[0:200, 0:200]
    x, y = col + 0.5, 200 - row - 0.5
    z = 100 + 0.12 * y + high_m * np.sin(x / wave_m + phase)
    grid = Grid(z + 0.02 * np.random.default_rng(seed).standard_normal(z.shape), 0.0, 200.0, 1.0)
    traced = level_line(grid, 100, 100, Limits(60, 0.5), grade=grade)
    even = falling(traced.line, float(traced.level_m[0]), grade)
    assert traced.line.is_simple
    assert level_errors(grid, traced.line, even).worst_m <= 0.02
