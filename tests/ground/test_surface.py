"""Worked cells of the handbook, edges, missing data, lamps and classes."""

from __future__ import annotations

import numpy as np
import pytest

from canvas.base.errors import InputError
from canvas.base.grid import Grid
from canvas.ground.surface import (
    FOUR_LAMPS,
    SLOPE_CLASSES,
    Method,
    class_areas_m2,
    class_limits,
    hillshade,
    lit_by,
    slope_aspect,
    slope_classes,
)

T1 = [[50, 45, 50], [30, 30, 30], [8, 10, 10]]
T2 = [[101, 92, 85], [101, 92, 85], [101, 91, 84]]
T3 = [[2450, 2461, 2483], [2452, 2461, 2483], [2447, 2455, 2477]]
BOWL = [[2, 2, 4], [0, 0, 2], [2, 2, 4]]


def grid(rows: object, cell: float = 1.0) -> Grid:
    return Grid(np.array(rows, dtype=np.float64), 0.0, 0.0, cell)


def centre(rows: object, cell: float, method: Method = Method.HORN) -> tuple[float, float]:
    slope, aspect = slope_aspect(grid(rows, cell), method)
    return float(np.degrees(np.arctan(slope.z[1, 1]))), float(aspect.z[1, 1])


@pytest.mark.parametrize(
    ("rows", "cell", "method", "slope_deg", "aspect_deg"),
    [
        # Published grids, values computed from the formula by hand for the handbook.
        (T1, 5, Method.HORN, 75.2577, 180.754),
        (T2, 1, Method.HORN, 82.991, 92.6425),
        (T2, 5, Method.HORN, 58.420, 92.6425),
        (T3, 5, Method.HORN, 72.4855, 260.46),
        (T1, 5, Method.ZEVENBERGEN_THORNE, 74.0546, 180.0),
        # z = 0.01 x² + 0.02 y² + 0.1 x: exactly 10 % down to the west, either way.
        (BOWL, 10, Method.HORN, 5.7106, 270.0),
        (BOWL, 10, Method.ZEVENBERGEN_THORNE, 5.7106, 270.0),
    ],
)
def test_worked_cells(
    rows: object, cell: float, method: Method, slope_deg: float, aspect_deg: float
) -> None:
    slope, aspect = centre(rows, cell, method)
    assert slope == pytest.approx(slope_deg, abs=1e-3)
    assert aspect == pytest.approx(aspect_deg, abs=5e-3)


def test_hillshade_of_the_worked_cell() -> None:
    assert hillshade(grid(T3, 5), 315, 45).z[1, 1] == pytest.approx(154.03, abs=0.01)


def test_level_ground_has_no_aspect_and_even_light() -> None:
    slope, aspect = slope_aspect(grid(np.full((4, 5), 7.0)))
    assert np.all(slope.z == 0)
    assert np.isnan(aspect.z).all()
    assert hillshade(grid(np.full((4, 5), 7.0)), 10, 30).z == pytest.approx(127.5)


@pytest.mark.parametrize("method", Method)
@pytest.mark.parametrize("shape", [(1, 1), (1, 5), (5, 1), (2, 2), (3, 7)])
def test_a_plane_keeps_its_slope_to_the_edge(shape: tuple[int, int], method: Method) -> None:
    base = grid(np.zeros(shape), 2.0)
    x, y = np.meshgrid(base.x_m(), base.y_m())
    slope, aspect = slope_aspect(base.like(0.3 * x - 0.4 * y), method)
    east, north = 0.3 * (shape[1] > 1), -0.4 * (shape[0] > 1)
    assert slope.z == pytest.approx(np.hypot(east, north), abs=1e-12)
    if east or north:
        expected = np.degrees(np.arctan2(-east, -north)) % 360
        assert aspect.z == pytest.approx(expected, abs=1e-6)


def test_a_hole_takes_only_its_own_cell() -> None:
    base = grid(np.zeros((7, 7)))
    x, y = np.meshgrid(base.x_m(), base.y_m())
    z = 0.3 * x - 0.4 * y
    z[3, 3] = np.nan
    slope, aspect = slope_aspect(base.like(z))
    gone = np.isnan(slope.z)
    assert gone.sum() == 1
    assert gone[3, 3]
    assert np.isnan(aspect.z[3, 3])
    assert slope.z[~gone] == pytest.approx(0.5, abs=1e-12)
    lit = hillshade(base.like(z)).z
    assert np.array_equal(np.isnan(lit), gone)


def test_an_only_cell_among_holes_is_level() -> None:
    z = np.full((3, 3), np.nan)
    z[1, 1] = 5.0
    slope, aspect = slope_aspect(grid(z))
    assert slope.z[1, 1] == 0
    assert np.isnan(aspect.z).all()


def test_lamps_mix_by_share() -> None:
    ground = grid(T1, 5)
    mixed = sum(
        lamp.share * hillshade(ground, lamp.azimuth_deg, lamp.altitude_deg).z for lamp in FOUR_LAMPS
    )
    assert lit_by(ground).z == pytest.approx(mixed, abs=1e-9)
    assert sum(lamp.share for lamp in FOUR_LAMPS) == pytest.approx(1.0)


def test_steeper_by_z_factor() -> None:
    ground = grid(T3, 5)
    steeper = ground.like(ground.z * 2)
    assert hillshade(ground, z_factor=2.0).z == pytest.approx(hillshade(steeper).z, abs=1e-9)


def test_large_grids_are_split_without_a_seam() -> None:
    rng = np.random.default_rng(5)
    z = rng.normal(size=(900, 700))
    whole, _ = slope_aspect(grid(z))
    for first in (0, 440, 890):
        strip, _ = slope_aspect(grid(z[first : first + 10]))
        assert np.array_equal(strip.z[1:-1], whole.z[first + 1 : first + 9])


def test_classes_and_their_areas() -> None:
    slope = grid([[0.0, 0.02, 0.0599, np.nan], [0.15, 0.35, 0.99, 3.0]], 10.0)
    classes = slope_classes(slope)
    assert classes.z[0, :3].tolist() == [0, 1, 1]
    assert classes.z[1].tolist() == [3, 6, 6, 7]
    assert np.isnan(classes.z[0, 3])
    assert class_areas_m2(classes).tolist() == [100, 200, 0, 100, 0, 0, 200, 100]
    assert len(class_limits()) == len(SLOPE_CLASSES) - 1


def test_own_limits_must_rise() -> None:
    slope = grid([[0.1]])
    assert slope_classes(slope, [0.05, 0.08]).z[0, 0] == 2
    with pytest.raises(InputError, match="rise"):
        slope_classes(slope, [0.2, 0.1])
