"""What must hold for any ground: planes are exact, and turning the ground turns the answers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from shapely import LineString, affinity, box

from canvas.base.grid import Grid
from canvas.ground.alignment import bends
from canvas.ground.contours import contours
from canvas.ground.profile import under
from canvas.ground.surface import Method, hillshade, slope_aspect
from canvas.ground.traverse import Leg, traverse

grades = st.floats(-2, 2).filter(lambda g: g == 0 or abs(g) > 1e-6)
heights = hnp.arrays(
    np.float64,
    hnp.array_shapes(min_dims=2, max_dims=2, min_side=2, max_side=9),
    elements=st.one_of(st.floats(-50, 50, width=16), st.just(float("nan"))),
)


@given(grades, grades, st.sampled_from(Method), st.floats(0.1, 30))
@settings(max_examples=60, deadline=None)
def test_planes_are_exact(east: float, north: float, method: Method, cell: float) -> None:
    base = Grid(np.zeros((5, 6)), 0.0, 0.0, cell)
    x, y = np.meshgrid(base.x_m(), base.y_m())
    slope, aspect = slope_aspect(base.like(east * x + north * y), method)
    assert slope.z == pytest.approx(np.hypot(east, north), abs=1e-9)
    if np.hypot(east, north) > 1e-3:
        turn = aspect.z - np.degrees(np.arctan2(-east, -north))
        assert np.abs((turn + 180) % 360 - 180).max() < 1e-5


@given(heights, st.sampled_from(Method))
@settings(max_examples=80, deadline=None)
def test_turning_the_ground_turns_the_aspect(z: np.ndarray, method: Method) -> None:
    slope, aspect = slope_aspect(Grid(z, 0, 0, 1.0), method)
    # A quarter turn counter-clockwise on the map takes 90° off every azimuth.
    turned_slope, turned_aspect = slope_aspect(Grid(np.rot90(z).copy(), 0, 0, 1.0), method)
    assert turned_slope.z == pytest.approx(np.rot90(slope.z), abs=1e-9, nan_ok=True)
    steep = np.rot90(slope.z) > 1e-6
    turn = (turned_aspect.z - np.rot90(aspect.z) + 90 + 180) % 360 - 180
    assert np.all(np.abs(turn[steep]) < 1e-5)


@given(heights, st.floats(0, 360), st.floats(1, 89))
@settings(max_examples=60, deadline=None)
def test_shade_stays_in_range_and_turns_along(
    z: np.ndarray, azimuth: float, altitude: float
) -> None:
    lit = hillshade(Grid(z, 0, 0, 1.0), azimuth, altitude).z
    known = ~np.isnan(lit)
    assert np.array_equal(known, ~np.isnan(z))
    assert np.all((lit[known] >= 0) & (lit[known] <= 255.0 + 1e-9))
    turned = hillshade(Grid(np.rot90(z).copy(), 0, 0, 1.0), azimuth - 90, altitude).z
    assert turned == pytest.approx(np.rot90(lit), abs=1e-6, nan_ok=True)


@given(heights, st.sampled_from([0.25, 1.0, 3.0, 10.0]))
@settings(max_examples=120, deadline=None)
def test_contours_of_any_ground(z: np.ndarray, interval: float) -> None:
    grid = Grid(z, 0, 0, 1.0)
    ours = contours(grid, interval)
    assert ours.start[-1] == len(ours.xy_m)
    for i, (level, line) in enumerate(ours):
        assert len(line) >= 2
        assert np.all(np.any(np.diff(line, axis=0) != 0, axis=1))
        assert bool(ours.closed[i]) == np.array_equal(line[0], line[-1])
        assert level == pytest.approx(round(level / interval) * interval)
        # Every point lies on a link between two centres, at its height.
        on_link = np.minimum(
            np.abs((line[:, 0] - 0.5) % 1 - 0), np.abs(((line[:, 1] + 0.5) % 1) - 0)
        )
        assert np.all((on_link < 1e-9) | (on_link > 1 - 1e-9))
        here = grid.sample(line[:, 0], line[:, 1])
        assert np.nanmax(np.abs(here - level), initial=0.0) < 1e-6
    # An open line ends where the data do: at the rim or beside a hole.
    whole = not np.isnan(z).any()
    rows, cols = z.shape
    for i in np.flatnonzero(~ours.closed):
        ends = ours.line(i)[[0, -1]]
        for x, y in ends if whole else ():
            rim = min(x - 0.5, cols - 0.5 - x, -y - 0.5, rows - 0.5 + y)
            assert abs(rim) < 1e-9


@given(st.floats(0, 90), st.floats(0.05, 0.8), st.floats(5, 30), st.floats(5, 30))
@settings(max_examples=50, deadline=None)
def test_the_surface_under_a_turned_box(turn: float, grade: float, w: float, h: float) -> None:
    base = Grid(np.zeros((80, 80)), 0.0, 80.0, 1.0)
    _, y = np.meshgrid(base.x_m(), base.y_m())
    outline = affinity.rotate(box(40 - w / 2, 40 - h / 2, 40 + w / 2, 40 + h / 2), turn)
    found = under(base.like(grade * y), outline)
    assert found.surface_m2 == pytest.approx(outline.area * np.hypot(1, grade), rel=1e-9)
    assert found.slope_max == pytest.approx(grade)
    assert found.z_mean_m == pytest.approx(grade * 40, abs=0.05)


@given(
    st.lists(st.tuples(st.floats(0, 359), st.floats(3, 40)), min_size=3, max_size=10),
    st.floats(0, 360),
)
@settings(max_examples=80, deadline=None)
def test_bends_do_not_care_about_north(legs: list[tuple[float, float]], turn: float) -> None:
    angle = np.radians([a for a, _ in legs])
    steps = (
        np.column_stack((np.sin(angle), np.cos(angle))) * np.array([d for _, d in legs])[:, None]
    )
    line = LineString(np.vstack(([0, 0], np.cumsum(steps, axis=0))))
    one = bends(line, 3.0)
    other = bends(affinity.rotate(line, turn, origin=(0, 0)), 3.0)
    if len(one) != len(other):
        # A turn or wiggle on the very threshold may fall either way.
        return
    for a, b in zip(one, other, strict=True):
        assert a.radius_m == pytest.approx(b.radius_m, rel=1e-6, abs=1e-6)
        assert a.inside_radius_m >= 0


@given(
    st.lists(st.tuples(st.floats(0, 360), st.floats(1, 500)), min_size=3, max_size=12),
    st.floats(-3, 3),
)
@settings(max_examples=80, deadline=None)
def test_a_traverse_always_closes_after_adjustment(
    rows: list[tuple[float, float]], convergence: float
) -> None:
    legs = [Leg(bearing, distance) for bearing, distance in rows]
    plain, turned = traverse(legs), traverse(legs, (7e5, 6e6), convergence)
    assert plain.misclosure_m == pytest.approx(turned.misclosure_m, abs=1e-6)
    assert turned.area_m2 == pytest.approx(plain.area_m2, rel=1e-6, abs=1e-3)
    # The last adjusted leg ends on the first corner: its step is the typed one less its share.
    gap = np.array(plain.gap_xy_m)
    angle, length = np.radians(rows[-1][0]), rows[-1][1]
    typed = np.array([np.sin(angle), np.cos(angle)]) * length
    last = plain.xy_m[0] - plain.xy_m[-1]
    assert last == pytest.approx(typed - gap * length / plain.perimeter_m, abs=1e-6)
