"""Horizons and sky view against geometry that can be worked out by hand, and real relief."""

from __future__ import annotations

import numpy as np
import pytest

from canvas.base.errors import InputError
from canvas.base.grid import Grid
from canvas.ground.surface import slope_aspect
from canvas.sky.horizon import (
    code_of,
    height_of,
    horizons,
    reach_m,
    sky_view,
    terrain_shadow,
)
from canvas.sky.spot import skyline
from open_data import RELIEF_EAST_M, RELIEF_NORTH_M, real_relief, relief_heights


def plane(slope_deg: float, aspect_deg: float, size: int = 60, cell: float = 1.0) -> Grid:
    """Ground that falls evenly towards `aspect_deg`."""
    row, col = np.mgrid[0:size, 0:size] * cell
    a = np.radians(aspect_deg)
    fall = np.tan(np.radians(slope_deg))
    return Grid(100 - fall * (np.sin(a) * col - np.cos(a) * row), 0, size * cell, cell)


def bowl(height_deg: float, size: int = 161) -> Grid:
    """A cone seen from its bottom: the same horizon all round the middle cell."""
    row, col = np.mgrid[0:size, 0:size] - size // 2
    return Grid(np.hypot(row, col) * np.tan(np.radians(height_deg)), 0, size, 1.0)


def test_codes_there_and_back() -> None:
    heights = np.array([0.0, 0.01, 0.5, 3.0, 20.0, 60.0, 89.0])
    assert height_of(code_of(heights)) == pytest.approx(heights, abs=1e-9)
    # A step of the code near level: 0.0009 degrees.
    assert height_of(np.array(1)) < 0.001
    assert code_of(-5.0) == 0


@pytest.mark.parametrize("aspect", [0.0, 45.0, 100.0, 213.0, 300.0])
def test_every_cell_of_a_plane_sees_its_own_slope(aspect: float) -> None:
    found = horizons(plane(20, aspect), directions=16)
    for k, azimuth in enumerate(found.azimuths_deg):
        rise = -np.tan(np.radians(20)) * np.cos(np.radians(azimuth - aspect))
        expected = np.degrees(np.arctan(max(rise, 0.0)))
        inner = found.heights(k).z[2:-2, 2:-2]
        # Earth's round takes less than 0.001 degrees over 60 m.
        assert inner == pytest.approx(np.full(inner.shape, expected), abs=0.003)


@pytest.mark.parametrize("directions", [8, 32, 36])
def test_an_even_horizon(directions: int) -> None:
    found = horizons(bowl(10.0), directions=directions)
    middle = found.profile(80.5, 80.5)
    assert middle is not None
    # Lines pass up to half a cell beside the middle of the bowl.
    assert middle == pytest.approx(np.full(directions, 10.0), abs=0.15)


def test_a_wall_far_off_is_followed_over_lower_ground() -> None:
    z = np.zeros((9, 200))
    z[:, 150] = 20.0
    z[:, 40] = 1.0  # a bank near by hides nothing of the wall
    found = horizons(Grid(z, 0, 9, 1.0), directions=4)
    east = found.heights(1).z[4]
    assert east[0] == pytest.approx(np.degrees(np.arctan(20 / 150)), abs=0.01)
    assert east[39] == pytest.approx(np.degrees(np.arctan(1 / 1)), abs=0.01)
    assert east[100] == pytest.approx(np.degrees(np.arctan(20 / 50)), abs=0.01)
    assert east[151] == 0
    west = found.heights(3).z[4]
    assert west[199] == pytest.approx(np.degrees(np.arctan(20 / 49)), abs=0.01)


def test_earth_falls_away() -> None:
    # 6.83 m over 10 km with the usual refraction (handbook, from geometry).
    z = np.zeros((3, 1001))
    z[:, 1000] = 100.0
    found = horizons(Grid(z, 0, 30, 10.0), directions=4)
    assert found.heights(1).z[1, 0] == pytest.approx(
        np.degrees(np.arctan((100 - 6.83) / 10_000)), abs=0.002
    )


def test_far_ground_is_looked_over() -> None:
    ground = Grid(np.zeros((50, 50)), 0, 50, 1.0)
    far_z = np.zeros((200, 200))
    far_z[:, :20] = 300.0  # a range 750 m west of the middle, and on
    far = Grid(far_z, -1000 + 25, 1000 + 25, 10.0)
    found = horizons(ground, far, directions=8)
    assert found.reach_m == pytest.approx(1000)
    near = horizons(ground, directions=8)
    assert near.codes.max() == 0
    assert near.note
    edge = far.x_m()[19]
    for col in (0, 25, 49):
        got = found.heights(6).z[25, col]
        # The far ground is looked at once a cell, so a cliff may be met 10 m late.
        assert got == pytest.approx(np.degrees(np.arctan(300 / (col + 0.5 - edge))), abs=0.3)
    assert found.heights(2).z.max() == 0


def test_far_ground_joins_where_the_near_ends() -> None:
    whole = bowl(12.0, 401)
    near = whole.window((150, 150, 251, 251))
    split = horizons(near, whole, directions=16)
    full = horizons(whole, directions=16)
    part = full.codes[:, 150:251, 150:251]
    assert height_of(split.codes) == pytest.approx(height_of(part), abs=0.25)


def test_holes_are_left_out() -> None:
    ground = plane(10, 180)
    z = ground.z.copy()
    z[20:24, 20:24] = np.nan
    found = horizons(ground.like(z), directions=8)
    heights = found.heights(0)
    assert np.isnan(heights.z[21, 21])
    assert found.profile(21.5, 60 - 21.5) is None
    assert heights.z[30, 30] == pytest.approx(10.0, abs=0.01)
    slope, aspect = slope_aspect(ground.like(z))
    assert np.isnan(sky_view(found, slope, aspect).z[21, 21])


def test_too_few_directions() -> None:
    with pytest.raises(InputError):
        horizons(plane(1, 0), directions=2)


@pytest.mark.parametrize(
    ("slope_deg", "expected"),
    # (1 + cos b) / 2, on an open slope.
    [(0, 1.0), (10, 0.99240), (20, 0.96985), (30, 0.93301)],
)
@pytest.mark.parametrize("aspect", [0.0, 130.0, 225.0])
def test_sky_of_an_open_slope(slope_deg: float, aspect: float, expected: float) -> None:
    ground = plane(slope_deg, aspect)
    slope, facing = slope_aspect(ground)
    got = sky_view(horizons(ground), slope, facing).z[30, 30]
    assert got == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize(("height", "expected"), [(10, 0.96985), (30, 0.75)])
def test_sky_of_a_hollow(height: float, expected: float) -> None:
    """Cos² of an even horizon on level ground."""
    ground = bowl(height)
    flat = ground.like(np.zeros(ground.shape))
    got = sky_view(horizons(ground, directions=32), flat, flat).z[80, 80]
    assert got == pytest.approx(expected, abs=3e-3)


@pytest.mark.parametrize(("height", "expected"), [(10, 0.99240), (30, 0.93301), (45, 0.85355)])
def test_sky_beside_an_endless_wall(height: float, expected: float) -> None:
    """(1 + cos h) / 2 with h the wall's height square to it."""
    # A terrace 100 m to the east, over 8 times as long as that.
    z = np.zeros((1601, 206))
    z[:, 200:] = 100 * np.tan(np.radians(height))
    ground = Grid(z, 0, 1601, 1.0)
    flat = ground.like(np.zeros(ground.shape))
    got = sky_view(horizons(ground, directions=36), flat, flat).z[800, 100]
    assert got == pytest.approx(expected, abs=2e-3)


@pytest.fixture(scope="module")
def hills() -> Grid:
    return real_relief()


def test_real_relief_against_marching_rays(hills: Grid) -> None:
    """Forty random cells, 32 directions, against rays followed in steps of half a cell."""
    found = horizons(hills, directions=32)
    rng = np.random.default_rng(7)
    rows, cols = hills.shape
    off = []
    for _ in range(40):
        r, c = int(rng.integers(320, rows - 320)), int(rng.integers(320, cols - 320))
        x, y = hills.x_m()[c], hills.y_m()[r]
        ours = found.profile(x, y)
        assert ours is not None
        off.append(ours - skyline(x, y, hills, directions=32).land_deg)
    apart = np.array(off)
    # Measured before: bias below 0.06, scatter 0.6 degrees on steep smooth ground.
    assert abs(apart.mean()) < 0.06
    assert apart.std() < 0.6
    assert np.abs(apart[:, ::8]).mean() < 0.15  # along rows and columns


#: Row and column of the data; horizons N, E, S, W [degrees]; sky view. Computed for the
#: handbook by other code, with 36 directions in steps of 40 m.
SPOTS = (
    (172, 201, (1.056, 2.306, 11.359, 10.679), 0.9811),
    (150, 150, (10.249, 3.840, 2.032, 0.0), 0.9938),
    (200, 250, (15.130, 1.887, 4.231, 8.576), 0.9815),
)


@pytest.mark.parametrize(("row", "col", "heights", "seen"), SPOTS)
def test_the_handbooks_horizons(
    row: int, col: int, heights: tuple[float, float, float, float], seen: float
) -> None:
    """Along rows and columns only the spacing that way counts, so squares of either will do."""
    z = relief_heights()
    for cell, directions in ((RELIEF_EAST_M, (1, 3)), (RELIEF_NORTH_M, (0, 2))):
        found = horizons(Grid(z, 0, 0, cell), directions=4)
        for k in directions:
            # Its steps of 40 m pass between the tops of ridges: up to 0.3 degrees lower.
            assert found.heights(k).z[row, col] == pytest.approx(heights[k], abs=0.3)


@pytest.mark.parametrize(("row", "col", "heights", "seen"), SPOTS)
def test_the_handbooks_sky_views(
    row: int, col: int, heights: tuple[float, float, float, float], seen: float
) -> None:
    finer = real_relief(5, col)
    x, y = (col + 0.5) * RELIEF_EAST_M, finer.bounds[3] - (row + 0.5) * RELIEF_NORTH_M
    around = skyline(x, y, finer, directions=36)
    assert around.sky_view == pytest.approx(seen, abs=0.002)
    assert around.land_deg[[0, 9, 18, 27]] == pytest.approx(heights, abs=0.3)


def test_maps_of_the_sky_agree_with_single_spots(hills: Grid) -> None:
    flat = hills.like(np.zeros(hills.shape))
    view = sky_view(horizons(hills, directions=16), flat, flat)
    rng = np.random.default_rng(5)
    apart = []
    for _ in range(25):
        r, c = int(rng.integers(400, 1300)), int(rng.integers(400, 1200))
        alone = skyline(float(hills.x_m()[c]), float(hills.y_m()[r]), hills, directions=64)
        apart.append(view.z[r, c] - alone.sky_view)
    assert abs(np.mean(apart)) < 0.001
    assert np.abs(apart).max() < 0.004


def test_the_lands_own_shadow() -> None:
    z = np.zeros((20, 60))
    z[:, 20] = 10.0
    ground = Grid(z, 0, 20, 1.0)
    # Sun in the west at 30 degrees: the bank's shadow reaches 17.3 m east.
    lit = terrain_shadow(ground, 270.0, 30.0).z[10]
    assert lit[:20].sum() == 0
    assert lit[21:37].tolist() == [1.0] * 16
    assert lit[38:].sum() == 0
    assert terrain_shadow(ground, 270.0, -3.0).z.min() == 1


def test_shadow_and_horizon_agree() -> None:
    rng = np.random.default_rng(3)
    ground = Grid(rng.uniform(0, 5, (40, 50)).cumsum(axis=1) % 13, 0, 40, 1.0)
    found = horizons(ground, directions=8)
    for k, azimuth in enumerate(found.azimuths_deg):
        shadow = terrain_shadow(ground, float(azimuth), 25.0).z == 1
        assert (shadow == (found.heights(k).z >= 25.0)).mean() > 0.999


def test_reach_counts_from_the_middle() -> None:
    ground = Grid(np.zeros((10, 30)), 0, 10, 1.0)
    assert reach_m(ground) == 5
    assert reach_m(ground, Grid(np.zeros((10, 10)), -35, 55, 10.0)) == 50
