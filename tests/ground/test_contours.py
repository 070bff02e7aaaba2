"""Contours against contourpy, plus direction, holes, ties and labels."""

from __future__ import annotations

import contourpy
import numpy as np
import pytest
import shapely
from shapely import Polygon

from canvas.base.errors import InputError
from canvas.base.grid import Grid
from canvas.ground.contours import Contours, chaikin, contours, label_points


def hill(n: int = 80, cell: float = 2.0) -> Grid:
    base = Grid(np.zeros((n, n)), 100.0, 900.0, cell)
    x, y = np.meshgrid(base.x_m(), base.y_m())
    return base.like(30 * np.exp(-((x - 180) ** 2 + (y - 820) ** 2) / 3000) + 0.02 * x)


def theirs(grid: Grid, levels: np.ndarray) -> dict[float, list[np.ndarray]]:
    maker = contourpy.contour_generator(
        grid.x_m(), grid.y_m(), np.ma.masked_invalid(grid.z), corner_mask=False
    )
    return {float(level): maker.lines(level) for level in levels}


def same_lines(ours: Contours, grid: Grid) -> None:
    """Same number of lines and same length at every level; links may differ at saddles only."""
    found = theirs(grid, np.unique(ours.level_m))
    lengths = ours.lengths_m()
    for level, lines in found.items():
        at = ours.level_m == level
        total = sum(float(np.hypot(*np.diff(line, axis=0).T).sum()) for line in lines)
        assert lengths[at].sum() == pytest.approx(total, rel=1e-9), level
        assert at.sum() == len(lines), level


def test_a_smooth_hill() -> None:
    same_lines(contours(hill(), 1.0), hill())


def test_real_ground(jacksboro: Grid) -> None:
    # Off the whole metres, so that no height and no mean of four lies exactly on a level.
    ours = contours(jacksboro, 20.0, base_m=0.3)
    same_lines(ours, jacksboro)
    assert len(ours) > 500


def test_rough_ground_with_holes() -> None:
    rng = np.random.default_rng(3)
    z = rng.normal(0, 2, (60, 70)).cumsum(axis=0).cumsum(axis=1) / 8
    z[20:24, 30:33] = np.nan
    z[50, 10] = np.nan
    grid = Grid(z, 0, 0, 1.0)
    ours = contours(grid, 1.0)
    same_lines(ours, grid)
    for _, line in ours:
        assert np.isfinite(line).all()


def test_every_point_has_its_height() -> None:
    grid = hill()
    ours = contours(grid, 0.5)
    for level, line in ours:
        assert grid.sample(line[:, 0], line[:, 1]) == pytest.approx(level, abs=1e-9)


def test_higher_ground_is_on_the_left() -> None:
    grid = hill()
    for level, line in contours(grid, 1.0):
        middle, step = (line[:-1] + line[1:]) / 2, np.diff(line, axis=0)
        step /= np.hypot(step[:, :1], step[:, 1:])
        left = middle + 0.5 * np.column_stack((-step[:, 1], step[:, 0]))
        heights = grid.sample(left[:, 0], left[:, 1])
        assert np.nanmin(heights) >= level - 1e-6


def test_closed_lines_run_round_the_top_and_repeat_their_first_point() -> None:
    ours = contours(hill(), 5.0)
    assert ours.closed.any()
    for i in np.flatnonzero(ours.closed):
        line = ours.line(i)
        assert np.array_equal(line[0], line[-1])
        # Left is inside: counter-clockwise.
        assert shapely.is_ccw(Polygon(line).exterior)


def test_index_lines_are_every_fifth() -> None:
    ours = contours(hill(), 2.0)
    assert set(ours.level_m[ours.index].tolist()) == {10.0, 20.0, 30.0} & set(ours.level_m.tolist())
    assert not ours.index[ours.level_m % 10 != 0].any()


def test_cells_exactly_on_a_level() -> None:
    # A terrace at exactly 2.0 between 1 and 3: one line along each of its sides at most, and
    # no stray points.
    z = np.array([[3.0] * 5, [2.0] * 5, [2.0] * 5, [1.0] * 5, [0.5] * 5])
    ours = contours(Grid(z, 0, 0, 1.0), 1.0)
    assert sorted(ours.level_m.tolist()) == [1.0, 2.0, 3.0]
    for level, line in ours:
        assert len(line) == 5
        assert Grid(z, 0, 0, 1.0).sample(line[:, 0], line[:, 1]) == pytest.approx(level)


@pytest.mark.parametrize("high", [True, False])
def test_a_saddle_is_joined_by_its_middle(high: bool) -> None:
    z = np.array([[4.0, 0.0], [0.0, 4.0]]) if high else np.array([[2.0, -2.0], [-2.0, 2.0]])
    ours = contours(Grid(z, 0, 0, 1.0), 10.0, base_m=1.0)
    assert len(ours) == 2
    # Mean 2 is above the level: the low corners are cut off; mean 0: the high ones are.
    for _, line in ours:
        corner = np.array([[1.5, -0.5], [0.5, -1.5]] if high else [[0.5, -0.5], [1.5, -1.5]])
        reach = np.hypot(*(corner[:, None] - line[None]).T).max(axis=0)
        assert reach.min() < 0.8


def test_nothing_to_draw() -> None:
    for z in (np.full((5, 5), 3.2), np.full((5, 5), np.nan), np.zeros((1, 5)), np.zeros((0, 0))):
        ours = contours(Grid(z, 0, 0, 1.0), 1.0)
        assert len(ours) == 0
        assert ours.lengths_m().size == 0
        assert list(ours) == []


def test_too_fine_an_interval_is_refused() -> None:
    with pytest.raises(InputError, match="above 0"):
        contours(hill(), 0.0)
    with pytest.raises(InputError, match="too fine"):
        contours(hill(), 1e-9)
    with pytest.raises(InputError, match="points"):
        contours(hill(), 1e-6)


def test_labels_read_uphill() -> None:
    grid = hill()
    ours = contours(grid, 5.0)
    count = 0
    for level, line in ours:
        for place in label_points(line, 40.0):
            count += 1
            assert grid.sample(place.x_m, place.y_m) == pytest.approx(level, abs=0.3)
            up = np.radians(place.rotation_deg + 90)
            above = grid.sample(place.x_m + 2 * np.cos(up), place.y_m + 2 * np.sin(up))
            assert above > level
    assert count >= 10
    assert label_points(np.array([[0.0, 0.0], [1.0, 0.0]]), 40.0) == []


def test_labels_seek_the_straight() -> None:
    # A zigzag with one straight stretch near the due place.
    x = np.arange(0.0, 100.0, 2.0)
    y = np.where((x > 55) & (x < 75), 0.0, np.where(np.arange(50) % 2, 3.0, -3.0))
    (place,) = label_points(np.column_stack((x, y)), 300.0, room_m=12.0)
    assert 58 < place.x_m < 72
    assert place.rotation_deg == pytest.approx(0, abs=8)


def test_chaikins_corner() -> None:
    # Handbook: (0,0),(4,0),(4,4) gives (1,0),(3,0),(4,1),(4,3) between its ends in one pass,
    # ends kept.
    once = chaikin(np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 4.0]]), 1)
    assert once.tolist() == [[0, 0], [3, 0], [4, 1], [4, 4]]
    ring = chaikin(np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 0.0]]), 2)
    assert np.array_equal(ring[0], ring[-1])
