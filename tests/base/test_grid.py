"""The grid against SciPy's interpolator and rasterio's windows, both independent of it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from rasterio.transform import from_origin, rowcol, xy
from rasterio.windows import from_bounds
from scipy.interpolate import RegularGridInterpolator

from canvas.base.errors import InputError
from canvas.base.grid import Grid

# rasterio 1.4 multiplies affine 3's matrices in the old way.
pytestmark = pytest.mark.filterwarnings("ignore:Use `@` matmul:PendingDeprecationWarning")

WEST, NORTH, CELL = 614_000.0, 5_860_000.0, 2.5


def bumpy(rows: int = 12, cols: int = 17) -> Grid:
    return Grid(np.random.default_rng(7).normal(100, 10, (rows, cols)), WEST, NORTH, CELL)


def test_places_of_cells_are_those_of_a_geotiff() -> None:
    grid = bumpy()
    transform = from_origin(WEST, NORTH, CELL, CELL)
    for row, col in ((0, 0), (11, 16), (5, 3)):
        x, y = xy(transform, row, col)
        assert grid.x_m()[col] == pytest.approx(x)
        assert grid.y_m()[row] == pytest.approx(y)
        assert grid.cell_at(x, y) == (row, col)
    assert grid.cell_at(WEST + 0.1, NORTH - 0.1) == tuple(
        int(n) for n in rowcol(transform, WEST + 0.1, NORTH - 0.1)
    )
    assert grid.bounds == (WEST, NORTH - 12 * CELL, WEST + 17 * CELL, NORTH)
    assert grid.cell_at(WEST - 0.1, NORTH - 0.1) is None
    assert grid.cell_at(WEST + 0.1, NORTH + 0.1) is None


def test_samples_between_centres_agree_with_scipy() -> None:
    grid = bumpy()
    asked = RegularGridInterpolator((grid.y_m()[::-1], grid.x_m()), grid.z[::-1], method="linear")
    rng = np.random.default_rng(1)
    x = rng.uniform(grid.x_m()[0], grid.x_m()[-1], 500)
    y = rng.uniform(grid.y_m()[-1], grid.y_m()[0], 500)
    np.testing.assert_allclose(grid.sample(x, y), asked(np.column_stack([y, x])), rtol=1e-12)


def test_the_edge_value_holds_in_the_outer_half_cell_and_nothing_beyond() -> None:
    grid = bumpy()
    west, south, east, north = grid.bounds
    np.testing.assert_allclose(
        grid.sample([west, east, west, east], [north, north, south, south]),
        [grid.z[0, 0], grid.z[0, -1], grid.z[-1, 0], grid.z[-1, -1]],
    )
    outside = grid.sample(
        [west - 1e-6, east + 1e-6, west + 1, west + 1],
        [north - 1, north - 1, north + 1e-6, south - 1e-6],
    )
    assert np.isnan(outside).all()


def test_no_data_spreads_to_its_own_neighbours_only() -> None:
    z = np.arange(16.0).reshape(4, 4)
    z[1, 1] = np.nan
    grid = Grid(z, 0.0, 4.0, 1.0)
    assert np.isnan(grid.sample(1.9, 2.5))
    # On the next centre the lost cell weighs nought.
    assert grid.sample(2.5, 2.5) == z[1, 2]
    assert grid.sample(2.6, 2.5) == pytest.approx(0.9 * z[1, 2] + 0.1 * z[1, 3])
    assert np.isnan(grid.sample(np.nan, 2.0))


@pytest.mark.parametrize("shape", [(1, 1), (1, 5), (5, 1)])
def test_grids_one_cell_wide_can_be_sampled(shape: tuple[int, int]) -> None:
    grid = Grid(np.full(shape, 3.0), 0.0, float(shape[0]), 1.0)
    assert grid.sample(shape[1] / 2, shape[0] / 2) == 3.0


def test_a_plane_is_sampled_exactly_whatever_the_shape_asked() -> None:
    grid = bumpy()
    x, y = np.meshgrid(grid.x_m(), grid.y_m())
    plane = grid.like(50 + 0.1 * (x - WEST) - 0.2 * (NORTH - y))
    asked_x = np.array([[WEST + 5.0], [WEST + 20.0]])
    asked_y = np.array([NORTH - 7.0, NORTH - 11.0, NORTH - 20.3])
    got = plane.sample(asked_x, asked_y)
    assert got.shape == (2, 3)
    np.testing.assert_allclose(got, 50 + 0.1 * (asked_x - WEST) - 0.2 * (NORTH - asked_y))


inside = st.floats(0.01, 0.99)


@given(inside, inside, inside, inside)
def test_windows_are_those_of_rasterio_rounded_outwards(
    a: float, b: float, c: float, d: float
) -> None:
    grid = bumpy()
    west, south, east, north = grid.bounds
    x0, x1 = sorted((west + a * (east - west), west + b * (east - west)))
    y0, y1 = sorted((south + c * (north - south), south + d * (north - south)))
    if x1 - x0 < 1e-3 or y1 - y0 < 1e-3:
        return
    cut = grid.window((x0, y0, x1, y1))
    exact = from_bounds(x0, y0, x1, y1, from_origin(WEST, NORTH, CELL, CELL))
    row, col = round((NORTH - cut.north_m) / CELL), round((cut.west_m - WEST) / CELL)
    # Outwards by less than a cell on each side, give or take the last digits of a coordinate.
    for ours, theirs in (
        (-row, -exact.row_off),
        (-col, -exact.col_off),
        (row + cut.shape[0], exact.row_off + exact.height),
        (col + cut.shape[1], exact.col_off + exact.width),
    ):
        assert -1e-6 < ours - theirs < 1 + 1e-6
    np.testing.assert_array_equal(cut.z, grid.z[row : row + cut.shape[0], col : col + cut.shape[1]])


def test_a_window_is_clipped_and_never_empty() -> None:
    grid = bumpy()
    whole = grid.window((WEST - 100, NORTH - 1000, WEST + 1000, NORTH + 100))
    assert whole.bounds == grid.bounds
    assert grid.window((WEST - 50, NORTH + 10, WEST - 40, NORTH + 20)).shape == (1, 1)


def test_row_blocks_cover_every_row_once() -> None:
    rows = [row for block in bumpy().row_blocks(5) for row in range(block.start, block.stop)]
    assert rows == list(range(12))


def test_what_is_no_grid_is_refused() -> None:
    with pytest.raises(InputError):
        Grid(np.zeros(5), 0.0, 0.0, 1.0)
    with pytest.raises(InputError):
        Grid(np.zeros((2, 2)), 0.0, 0.0, 0.0)
    with pytest.raises(InputError, match="expected"):
        bumpy().like(np.zeros((2, 2)))
