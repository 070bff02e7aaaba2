"""Drainage networks, valleys, ridges and keypoints."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString

from canvas.base.errors import InputError
from canvas.base.grid import Grid
from canvas.ground.flow import flow
from canvas.ground.valleys import (
    drainage_lines,
    keypoints,
    profile_break,
    ridge_lines,
    valley_lines,
)


def ground(rows: int, cols: int, cell: float = 1.0) -> tuple[Grid, np.ndarray, np.ndarray]:
    base = Grid(np.zeros((rows, cols)), 0.0, rows * cell, cell)
    x, y = np.meshgrid(base.x_m(), base.y_m())
    return base, x, y


def test_two_valleys_meet_and_make_a_larger_one() -> None:
    base, x, y = ground(120, 101)
    # Two arms from the north meet at (50, 60), one stem goes on south.
    arms = np.minimum(np.abs(x - 50 - 0.6 * (y - 60)), np.abs(x - 50 + 0.6 * (y - 60)))
    z = np.where(y > 60, 0.3 * arms, 0.3 * np.abs(x - 50)) + 0.06 * y
    found = flow(base.like(z))
    lines = drainage_lines(found, 1200)
    stem = max(lines, key=lambda each: each.area_m2)
    assert stem.order == 2
    assert stem.joins == -1
    assert stem.at_least
    arms_found = [each for each in lines if each.joins == lines.index(stem)]
    assert [each.order for each in arms_found] == [1, 1]
    assert arms_found[0].area_m2 == pytest.approx(arms_found[1].area_m2, rel=0.05)
    for each in lines:
        if each.joins >= 0:
            assert lines.index(each) < each.joins
            assert lines[each.joins].line.coords[0] == each.line.coords[-1]
            assert lines[each.joins].area_m2 > each.area_m2
    with pytest.raises(InputError):
        drainage_lines(found, 0)


def test_lines_start_where_enough_drains() -> None:
    base, x, y = ground(100, 61, 2.0)
    found = flow(base.like(0.3 * np.abs(x - 61) + 0.05 * y))
    lines = drainage_lines(found, 8000)
    assert len(lines) == 1
    xs, ys = np.array(lines[0].line.coords).T
    assert np.all(xs == 61)
    # The floor gathers 122 m on each metre: 8000 m² after some 66 m, from the top rim at 200.
    assert ys[0] == pytest.approx(200 - 8000 / 122, abs=6)
    assert ys[-1] == 1


def test_a_plane_has_neither_valley_nor_ridge() -> None:
    base, x, y = ground(80, 80)
    grid = base.like(0.2 * x + 0.1 * y)
    assert drainage_lines(flow(grid), 40)
    assert valley_lines(flow(grid), 40) == ()
    assert ridge_lines(grid, 40) == ()


def test_a_valleys_floor_and_a_roofs_ridge() -> None:
    base, x, y = ground(150, 81)
    grid = base.like(0.25 * np.abs(x - 40.5) + 0.05 * y)
    found = valley_lines(flow(grid), 1000)
    assert len(found) == 1
    assert found[0].sides == pytest.approx(0.25, abs=0.005)
    assert np.all(np.array(found[0].line.coords)[2:, 0] == 40.5)
    assert np.diff(np.array(found[0].line.coords)[:, 1]).max() < 0
    assert ridge_lines(grid, 1000) == ()
    roof = grid.like(-0.25 * np.abs(x - 40.5) + 0.05 * y)
    ridge = ridge_lines(roof, 1000, across_m=15)
    assert len(ridge) == 1
    assert np.all(np.array(ridge[0].line.coords)[2:, 0] == 40.5)
    # A ridge's line runs uphill.
    assert np.diff(np.array(ridge[0].line.coords)[:, 1]).min() > 0
    assert valley_lines(flow(roof), 1000) == ()


def test_a_ridge_runs_on_over_its_tops_and_saddles() -> None:
    base, x, y = ground(241, 121)
    crest = 5 * np.sin(2 * np.pi * y / 80)
    grid = base.like(60 + crest - 0.4 * np.abs(x - 60.5))
    # The tops send gentler spurs down both sides, which are ridges too.
    assert len(ridge_lines(grid, 800, across_m=5)) > 2
    lines = [each.line for each in ridge_lines(grid, 800, least_sides=0.2, across_m=5)]
    along = LineString([(60.5, 35), (60.5, 205)])
    # Nearly all of the crest, across both saddles, is found and nothing off it.
    covered = sum(line.buffer(1).intersection(along).length for line in lines)
    assert covered > 0.97 * along.length
    assert all(np.abs(np.array(line.coords)[:, 0] - 60.5).max() < 2.5 for line in lines)


def test_the_handbooks_profiles() -> None:
    # Handbook C-T17 (computed there): inflection at 150, keypoint at 150 + 60 atanh(1 / sqrt 3).
    s = np.arange(0.0, 401.0, 2.0)
    seen = profile_break(s, 40 - 20 * np.tanh((s - 150) / 60), 2.0)
    assert seen is not None
    assert seen.distance_m == pytest.approx(189.51, abs=2)
    assert seen.steepest_m == pytest.approx(150, abs=2)
    # Handbook T14: 25 % then 8 %, the break at 100.
    seen = profile_break(s, np.where(s < 100, 60 - 0.25 * s, 35 - 0.08 * (s - 100)), 2.0)
    assert seen is not None
    assert seen.distance_m == 100
    assert seen.slope_above == pytest.approx(0.25, abs=0.01)
    assert seen.slope_below == pytest.approx(0.08, abs=0.01)
    # Too little of a break, none at all, too short.
    assert profile_break(s, np.where(s < 100, -0.12 * s, -12 - 0.08 * (s - 100)), 2.0) is None
    assert profile_break(s, -0.1 * s, 2.0) is None
    assert profile_break(s[:3], -0.1 * s[:3], 2.0) is None
    with pytest.raises(InputError):
        profile_break(s, -0.1 * s, 0.0)


@pytest.mark.parametrize("turned", [False, True])
def test_the_keypoint_of_a_valley(turned: bool) -> None:
    base, x, y = ground(300, 101)
    fall = 300 - y
    floor = np.where(fall < 120, 60 - 0.25 * fall, 30 - 0.08 * (fall - 120))
    z = floor + 0.3 * np.abs(x - 50.5)
    grid = Grid(np.rot90(z).copy(), 0.0, 101.0, 1.0) if turned else base.like(z)
    points = keypoints(flow(grid), 5000)
    first = points[0]
    along, aside = (first.x_m, first.y_m) if turned else (300 - first.y_m, first.x_m)
    assert aside == 50.5
    assert along == pytest.approx(120, abs=4)
    assert first.area_m2 == pytest.approx(120 * 101, rel=0.1)
    assert first.z_m == pytest.approx(30, abs=1)
    assert first.profile.slope_above > 0.2
    assert first.profile.slope_below < 0.1


def test_a_keypoint_stands_on_noisy_ground() -> None:
    base, x, y = ground(300, 101)
    fall = 300 - y
    floor = np.where(fall < 120, 60 - 0.25 * fall, 30 - 0.08 * (fall - 120))
    noise = 0.03 * np.random.default_rng(4).standard_normal(base.shape)
    points = keypoints(flow(base.like(floor + 0.3 * np.abs(x - 50.5) + noise)), 5000)
    assert points[0].x_m == pytest.approx(50.5, abs=2)
    assert 300 - points[0].y_m == pytest.approx(120, abs=12)
