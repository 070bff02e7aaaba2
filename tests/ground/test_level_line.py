"""Traced level lines: level on the grid's surface, graded as asked, stopped where they must."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import LineString, Point, box

from canvas.base.errors import BadData, InputError
from canvas.base.grid import Grid
from canvas.ground.levelline import Limits, Stop, hold_level, level_error_m, level_line
from canvas.ground.snag import without_loops
from made_ground import cone, ground, plane


def hills(noise_m: float = 0.0, seed: int = 0) -> Grid:
    smooth = ground(500, 1, lambda x, y: 100 + 0.1 * y + 6 * np.sin(x / 40) + 2 * np.cos(y / 23))
    rng = np.random.default_rng(seed)
    return smooth.like(smooth.z + noise_m * rng.standard_normal(smooth.shape))


def test_a_line_on_a_cone_is_its_circle() -> None:
    hill = cone(500, 1, 0.12)
    traced = level_line(hill, 250, 150, Limits(250))
    away = np.hypot(*(shapely.get_coordinates(traced.line) - 250).T)
    assert away == pytest.approx(100, abs=0.2)
    assert traced.length_m == pytest.approx(500, rel=1e-3)
    assert traced.stops == (Stop.LENGTH, Stop.LENGTH)
    assert traced.error_m <= 0.02
    # The hill is on the left: round the top it runs counter-clockwise.
    xy = shapely.get_coordinates(traced.line) - 250
    assert np.all(xy[:-1, 0] * xy[1:, 1] - xy[:-1, 1] * xy[1:, 0] > 0)


def test_a_line_round_a_hill_closes() -> None:
    traced = level_line(cone(300, 1, 0.12), 150, 90, Limits(1000))
    assert traced.stops == (Stop.CLOSED, Stop.CLOSED)
    assert traced.length_m == pytest.approx(2 * math.pi * 60, rel=0.01)


@pytest.mark.parametrize("grade", [0.002, 0.005, 0.02])
def test_a_graded_line_falls_along_its_way(grade: float) -> None:
    traced = level_line(hills(), 250, 250, Limits(150), grade=grade)
    run = traced.level_m[0] - traced.level_m[-1]
    assert run == pytest.approx(grade * traced.length_m, rel=0.01)
    assert np.all(np.diff(traced.level_m) < 0)
    assert traced.error_m <= 0.02


@pytest.mark.parametrize("seed", range(6))
def test_it_holds_level_on_a_noisy_survey(seed: int) -> None:
    """3 cm of noise from cell to cell, the worst a survey shows: still within 2 cm."""
    rough = hills(0.03, seed)
    traced = level_line(rough, 250, 250, Limits(150))
    assert traced.error_m <= 0.02
    assert traced.length_m > 280
    assert traced.line.is_simple


def test_few_points_are_left_to_edit() -> None:
    traced = level_line(hills(), 250, 250, Limits(200))
    assert len(traced.level_m) < traced.length_m / 4


def test_the_error_of_a_line_on_other_ground_is_told() -> None:
    hill = plane(200, 1, 0.1)
    traced = level_line(hill, 100, 100, Limits(50))
    raised = hill.like(hill.z + 0.07)
    assert level_error_m(raised, traced.line, traced.level_m) == pytest.approx(0.07, abs=0.002)
    with pytest.raises(InputError):
        level_error_m(hill, traced.line, np.zeros(3))


def test_it_stops_at_boundary_limit_and_edge() -> None:
    hill = plane(200, 1, 0.1)
    inside = level_line(hill, 100, 100, Limits(80, within=box(60, 0, 130, 200)))
    assert inside.stops == (Stop.BOUNDARY, Stop.BOUNDARY)
    assert inside.length_m == pytest.approx(70, abs=0.1)
    edge = level_line(hill, 100, 100, Limits(300))
    assert edge.stops == (Stop.NO_DATA, Stop.NO_DATA)
    assert edge.length_m > 190
    # A cliff beyond x = 150.
    cliff = ground(200, 1, lambda x, y: 100 + np.where(x > 150, 0.8, 0.1) * (y - 100))
    steep = level_line(cliff, 100, 100, Limits(90, slope=0.35))
    assert Stop.STEEP in steep.stops
    assert 45 < max(abs(steep.line.bounds[2] - 100), abs(100 - steep.line.bounds[0])) <= 90


def test_it_snags_round_a_kept_tree_on_the_side_that_strays_less() -> None:
    hill = plane(200, 1, 0.1)
    tree = Point(120, 101).buffer(4)
    traced = level_line(hill, 100, 100, Limits(60, obstacles=(tree,), clear_m=1.0))
    assert traced.line.distance(tree) == pytest.approx(1.0, abs=0.05)
    assert traced.line.is_simple
    (snag,) = traced.snags
    # Past the south side it strays 4 m downhill: 0.4 m of filling.
    assert snag.off_m == pytest.approx(-0.4, abs=0.03)
    assert 8 < snag.to_m - snag.from_m < 14
    assert traced.error_m <= 0.02
    stopped = level_line(hill, 100, 100, Limits(60, obstacles=(tree,), stop_at_obstacle=True))
    assert Stop.OBSTACLE in stopped.stops
    assert stopped.line.distance(tree) < 0.5
    assert not stopped.line.crosses(tree)


def test_it_finds_the_level_asked_for() -> None:
    traced = level_line(plane(200, 1, 0.1), 100, 100, Limits(40), level_m=103.0)
    assert traced.line.bounds[1] == pytest.approx(130, abs=0.2)
    with pytest.raises(BadData, match="uphill or downhill"):
        level_line(plane(200, 1, 0.1), 100, 100, Limits(40), level_m=200.0)


def test_where_no_line_can_start() -> None:
    with pytest.raises(BadData, match="too flat"):
        level_line(ground(100, 1, lambda x, y: 100 + 0 * x), 50, 50)
    with pytest.raises(BadData, match="no ground here"):
        level_line(plane(100, 1, 0.1), 500, 50)


def test_turning_the_ground_turns_the_line() -> None:
    straight = level_line(plane(300, 1, 0.1), 150, 150, Limits(60))
    turned = level_line(plane(300, 1, 0.1, 30), 150, 150, Limits(60))
    back = shapely.affinity.rotate(turned.line, 30, origin=(150, 150))
    assert back.hausdorff_distance(straight.line) < 0.3


def test_loops_are_cut_off() -> None:
    loop = np.array([[0, 0, 1.0], [4, 0, 1], [4, 3, 1], [2, 3, 1], [2, -3, 1]])
    plain = without_loops(loop)
    assert LineString(plain[:, :2]).is_simple
    assert plain[1, :2] == pytest.approx([2, 0])
    held = hold_level(plane(100, 1, 0.1), np.array([[50.0, 50, 100], [52, 50, 100], [54, 50, 100]]))
    assert len(held) == 2
