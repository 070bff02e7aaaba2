"""Graded lines fall evenly with their own length; how far the ground strays from a line is told."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely import LineString, Point

from canvas.base.errors import InputError
from canvas.base.grid import Grid
from canvas.ground.levelline import Limits, level_line
from canvas.ground.levelness import falling, level_errors, mean_start_m, snags_beside
from made_ground import ground, plane
from open_data import real_relief


def hills(noise_m: float = 0.0, seed: int = 0) -> Grid:
    smooth = ground(500, 1, lambda x, y: 100 + 0.1 * y + 6 * np.sin(x / 40) + 2 * np.cos(y / 23))
    rng = np.random.default_rng(seed)
    return smooth.like(smooth.z + noise_m * rng.standard_normal(smooth.shape))


@pytest.mark.parametrize("grade", [-0.01, -0.005, -0.002, 0.0, 0.002, 0.005, 0.01])
@pytest.mark.parametrize("noise_m", [0.0, 0.03])
def test_a_graded_line_holds_its_even_fall_within_2_cm(grade: float, noise_m: float) -> None:
    """One level and one grade say it all, both ways of falling, on 3 cm of survey noise too."""
    hill = hills(noise_m, 4)
    traced = level_line(hill, 250, 250, Limits(120), grade=grade)
    even = falling(traced.line, float(traced.level_m[0]), grade)
    assert traced.level_m == pytest.approx(even, abs=1e-9)
    assert level_errors(hill, traced.line, even).worst_m <= 0.02
    assert traced.line.is_simple
    assert traced.length_m > 230


@pytest.mark.parametrize("seed", range(6))
def test_lines_on_real_ground_hold_level(seed: int) -> None:
    """Hills as surveyed from orbit (SRTM), on 15 m cells: level, and 1:200 both ways."""
    hill = real_relief()
    rng = np.random.default_rng(seed)
    west, south, east, north = hill.bounds
    done = 0
    for _ in range(40):
        x, y = rng.uniform(west + 900, east - 900), rng.uniform(south + 900, north - 900)
        rise = [
            float(hill.sample(x + dx, y + dy)) for dx, dy in ((15, 0), (-15, 0), (0, 15), (0, -15))
        ]
        slope = math.hypot(rise[0] - rise[1], rise[2] - rise[3]) / 30
        if not 0.04 < slope < 0.3:
            continue
        for grade in (0.0, 0.005, -0.005):
            traced = level_line(hill, x, y, Limits(300, 0.6), grade=grade)
            even = falling(traced.line, float(traced.level_m[0]), grade)
            assert level_errors(hill, traced.line, even).worst_m <= 0.02, (x, y, grade)
        done += 1
        if done == 3:
            break
    assert done == 3


@pytest.mark.parametrize("grade", [0.0, 0.005, -0.005])
def test_a_graded_line_goes_on_evenly_behind_what_it_leads_round(grade: float) -> None:
    hill = plane(300, 1, 0.1)
    tree = Point(175, 151).buffer(5)
    traced = level_line(hill, 120, 150, Limits(120, obstacles=(tree,), clear_m=1.0), grade=grade)
    assert traced.line.distance(tree) == pytest.approx(1.0, abs=0.1)
    assert len(traced.snags) == 1
    even = falling(traced.line, float(traced.level_m[0]), grade)
    assert level_errors(hill, traced.line, even, traced.snags).worst_m <= 0.02
    # The detour by itself is off the level: metres down a slope of one in ten, or up.
    assert 0.15 < abs(traced.snags[0].off_m) < 0.8
    # And it is found again from the line alone.
    again = snags_beside(hill, traced.line, even, tree, 1.0)
    assert level_errors(hill, traced.line, even, again).worst_m <= 0.1


def test_the_place_and_the_side_of_the_worst_error() -> None:
    """A line straight up a plane, a metre in a hundred, against one level: by hand."""
    hill = plane(200, 1, 0.01)
    line = LineString([(100, 50), (100, 150)])
    found = level_errors(hill, line, np.array([100.0, 100.0]))
    assert found.worst_m == pytest.approx(0.5, abs=1e-6)
    assert found.mean_m == pytest.approx(0.25, abs=0.01)
    # The plane is at 100 m in its middle: half a metre under at the start, over at the end.
    assert abs(found.off_m) == pytest.approx(0.5, abs=1e-6)
    assert (found.at_m, found.off_m > 0) in ((0.0, False), (100.0, True))
    assert mean_start_m(hill, line, 0.0) == pytest.approx(100.0, abs=1e-6)
    # Falling 1 in 100 against the rise: in the mean on the ground when it starts a metre higher
    # at one end than the ground's middle less half its fall.
    assert mean_start_m(hill, line, 0.01) == pytest.approx(100.5, abs=1e-6)


def test_nothing_is_told_off_the_known_ground() -> None:
    line = LineString([(500, 0), (600, 0)])
    assert math.isnan(level_errors(plane(100, 1, 0.1), line, np.array([1.0, 1.0])).worst_m)
    assert math.isnan(mean_start_m(plane(100, 1, 0.1), line, 0.0))
    with pytest.raises(InputError):
        level_errors(plane(100, 1, 0.1), LineString([(5, 5), (9, 5)]), np.zeros(3))


def test_it_may_go_further_one_way_than_the_other() -> None:
    traced = level_line(plane(300, 1, 0.1), 150, 150, Limits(80, back_m=20))
    assert traced.length_m == pytest.approx(100, abs=0.5)
    # The hill is to the north: with it on the left the line runs east.
    assert traced.line.coords[0][0] == pytest.approx(130, abs=0.5)
