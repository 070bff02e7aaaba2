"""How far a ground reaches, and what is said about it."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from canvas.base.grid import Grid
from canvas.exchange.coverage import reach

BOUNDARY = shapely.box(0, 0, 300, 200)


def grid(west: float, south: float, east: float, north: float, rise: float = 0.0) -> Grid:
    cols, rows = int((east - west) / 5), int((north - south) / 5)
    y = north - (np.arange(rows) + 0.5) * 5
    return Grid(np.repeat((100 + rise * y)[:, None], cols, axis=1), west, north, 5.0)


def test_distances_beyond_each_side() -> None:
    found = reach((-100, -60, 700, 2600), BOUNDARY)
    assert found.beyond_m == (100, 60, 400, 2400)
    assert found.least_m == 60
    assert found.covers
    assert not found.warnings
    assert any("ridge" in words for words in found.advice)
    assert any("skyline" in words for words in found.advice)


def test_ground_that_ends_inside_the_boundary_is_warned_of() -> None:
    found = reach((0, 20, 260, 400), BOUNDARY)
    assert not found.covers
    assert "south by 20 m, east by 40 m" in found.warnings[0]
    assert "west" in found.warnings[1]


def test_enough_is_enough() -> None:
    found = reach((-2500, -2500, 2800, 2700), BOUNDARY)
    assert found.warnings == ()
    assert found.advice == ()


def test_gaps_inside_the_boundary_are_found() -> None:
    ground = grid(-100, -100, 400, 300)
    z = ground.z.copy()
    z[20:60, 20:80] = np.nan  # 200 m x 300 m: the whole boundary
    assert reach(ground.like(z), BOUNDARY).missing_inside == pytest.approx(1.0)
    z = ground.z.copy()
    z[20:60, 20:50] = np.nan
    found = reach(ground.like(z), BOUNDARY)
    assert found.missing_inside == pytest.approx(0.5)
    assert not found.covers
    assert any("50.0%" in words for words in found.warnings)
    short = reach(grid(-100, -100, 150, 300), BOUNDARY)
    assert short.missing_inside == pytest.approx(0.5)


def test_ground_still_rising_at_the_edge_is_noticed() -> None:
    found = reach(grid(-500, -500, 800, 700, rise=0.1), BOUNDARY)
    assert found.rising == ("north",)
    assert any("still rises" in words and "north" in words for words in found.advice)
    assert reach(grid(-500, -500, 800, 700), BOUNDARY).rising == ()
