"""Shadows of crowns on slopes: the formulas' tables, and rays through the bodies themselves."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from canvas.base.errors import InputError
from canvas.base.grid import Grid
from canvas.sky.crowns import (
    FORMS,
    LONGEST_M,
    Lie,
    chord_m,
    crown_shadows,
    crowns,
    leaf_months,
    lie_at,
    pole_shadow_m,
    rise_along,
    sun_through,
    through_leaves,
    through_of,
)

LEVEL = np.array([0.0])


def lie(slope_deg: float, aspect_deg: float) -> Lie:
    """Ground falling towards an azimuth."""
    a, t = np.radians(aspect_deg), np.tan(np.radians(slope_deg))
    return Lie(np.array([-t * np.sin(a)]), np.array([-t * np.cos(a)]))


@pytest.mark.parametrize(
    ("height", "elevation", "slope", "length"),
    # Handbook, from geometry; slope above nought rises away from the sun.
    [
        (5, 30, 0, 8.660), (5, 30, 10, 6.634), (5, 30, -10, 12.468),
        (8, 20, 15, 12.660), (8, 20, -15, 83.315), (3, 12, -11, 165.05),
    ],
)  # fmt: skip
def test_a_pole(height: float, elevation: float, slope: float, length: float) -> None:
    got = pole_shadow_m(height, elevation, float(np.tan(np.radians(slope))))
    assert got == pytest.approx(length, rel=2e-4)


def test_a_pole_on_ground_as_steep_as_the_light() -> None:
    assert pole_shadow_m(5, 20, -np.tan(np.radians(20))) == float("inf")


@pytest.mark.parametrize(
    ("slope", "aspect", "sun", "rise"),
    [(15, 180, 180, 0.2679), (15, 180, 0, -0.2679), (15, 90, 180, 0.0), (20, 225, 150, 0.0942)],
)
def test_the_ground_along_a_shadow(slope: float, aspect: float, sun: float, rise: float) -> None:
    assert rise_along(lie(slope, aspect), sun + 180.0)[0] == pytest.approx(rise, abs=1e-4)


def north_of(rings: np.ndarray) -> tuple[float, float]:
    return float(rings[0, :, 1].min()), float(rings[0, :, 1].max())


@pytest.mark.parametrize(
    ("a", "c", "middle", "elevation", "slope", "near", "far", "area"),
    # Handbook; the third row also by projecting two million points of the surface.
    [
        (2, 2, 4, 45, 0, 1.172, 6.828, 17.77),
        (2, 3, 5, 30, 0, 3.092, 14.228, 34.98),
        (2, 3, 5, 30, 10, 2.369, 10.899, 26.80),
        (2, 3, 5, 30, -10, 4.452, 20.484, 50.36),
    ],
)
def test_a_round_crown(
    a: float, c: float, middle: float, elevation: float, slope: float, near: float, far: float,
    area: float,
) -> None:  # fmt: skip
    tree = crowns(0.0, 0.0, 2 * a, middle + c, middle - c)
    # Sun in the south: the shadow lies north, where the ground rises by `slope`.
    rings = crown_shadows(tree, elevation, 180.0, lie=lie(slope, 180.0), corners=256)
    assert north_of(rings) == pytest.approx((near, far), abs=0.005)
    assert shapely.Polygon(rings[0]).area == pytest.approx(area, abs=0.02)
    assert np.abs(rings[0, :, 0]).max() == pytest.approx(a, abs=1e-6)


@pytest.mark.parametrize(
    ("slope", "near", "far", "area"), [(0, -0.808, 9.151, 36.40), (8, -0.692, 7.838, 31.18)]
)
def test_a_column(slope: float, near: float, far: float, area: float) -> None:
    tree = crowns(0.0, 0.0, 4.0, 6.0, 1.0, form="column")
    rings = crown_shadows(tree, 40.0, 180.0, lie=lie(slope, 180.0), corners=512)
    assert north_of(rings) == pytest.approx((near, far), abs=0.005)
    assert shapely.Polygon(rings[0]).area == pytest.approx(area, abs=0.05)


@pytest.mark.parametrize("form", list(FORMS))
@pytest.mark.parametrize(("sun", "elevation"), [(200.0, 35.0), (75.0, 12.0), (310.0, 60.0)])
def test_any_form_on_ground_that_falls_sideways(form: str, sun: float, elevation: float) -> None:
    """Points all over the crown's surface, each thrown to the ground on its own."""
    rng = np.random.default_rng(1)
    radius, base, top = 2.5, 1.0, 7.0
    share = rng.uniform(0, 1, 200_000)
    width = {
        "round": np.sqrt(1 - (2 * share - 1) ** 2),
        "column": np.ones(share.size),
        "cone": 1 - share,
        "dome": np.sqrt(1 - share**2),
    }[form]
    turn = rng.uniform(0, 2 * np.pi, share.size)
    x, y = radius * width * np.cos(turn), radius * width * np.sin(turn)
    z = base + (top - base) * share
    gx, gy = 0.06, -0.10
    a, light = np.radians(sun), np.tan(np.radians(elevation))
    run = (z - gx * x - gy * y) / (light - gx * np.sin(a) - gy * np.cos(a))
    points = np.column_stack((x - run * np.sin(a), y - run * np.cos(a)))
    direct = shapely.MultiPoint(points).convex_hull
    tree = crowns(0.0, 0.0, 2 * radius, top, base, form=form)
    ground = Lie(np.array([gx]), np.array([gy]))
    ours = shapely.Polygon(crown_shadows(tree, elevation, sun, lie=ground, corners=128)[0])
    assert ours.symmetric_difference(direct).area < 0.012 * direct.area


def test_default_outlines_lose_little() -> None:
    tree = crowns(0.0, 0.0, 4.0, 8.0, 2.0)
    fine = crown_shadows(tree, 10.0, 180.0, corners=512)
    usual = crown_shadows(tree, 10.0, 180.0)
    assert shapely.Polygon(usual[0]).area == pytest.approx(shapely.Polygon(fine[0]).area, rel=0.02)


def test_a_long_shadow_follows_the_land_it_falls_on() -> None:
    row, col = np.mgrid[0:200, 0:200]
    # Level, then rising at 30 % from 20 m north of the tree on.
    north = 200 - (row + 0.5) - 50
    ground = Grid(np.where(north > 20, 0.3 * (north - 20), 0.0) + 0 * col, -100, 150, 1.0)
    tree = crowns(0.0, 0.0, 4.0, 12.0, 2.0)
    flat = crown_shadows(tree, 15.0, 180.0)
    real = crown_shadows(tree, 15.0, 180.0, ground=ground)
    level = north_of(flat)
    assert level[1] == pytest.approx(12 / np.tan(np.radians(15)), rel=0.12)
    # A ray from the crown's middle (7 m) meets the rise at (7 + 6) / (tan 15 + 0.3).
    met = (7 + 0.3 * 20) / (np.tan(np.radians(15)) + 0.3)
    got = north_of(real)
    assert (got[0] + got[1]) / 2 == pytest.approx(met, rel=0.03)


def test_a_shadow_has_an_end() -> None:
    tree = crowns(0.0, 0.0, 4.0, 12.0, 2.0)
    rings = crown_shadows(tree, 5.0, 180.0, lie=lie(10.0, 0.0))
    assert rings[0, :, 1].max() <= LONGEST_M + 1e-6
    with pytest.raises(InputError):
        crown_shadows(tree, 0.0, 180.0)


def test_many_crowns_and_none() -> None:
    many = crowns([0, 1, 2], [0, 0, 0], [4.0, 0.0, 3.0], 5.0, form=["round", "cone", "cone"])
    assert many.count == 2
    assert many.form.tolist() == ["round", "cone"]
    with pytest.raises(InputError, match="pine"):
        crowns(0.0, 0.0, 4.0, 5.0, form="pine")
    assert crown_shadows(crowns([], [], [], []), 30.0, 90.0).shape == (0, 32, 2)


@pytest.mark.parametrize(
    ("a", "c", "elevation", "beside", "path", "share"),
    [(2, 2, 30, 0, 4.0, 0.3679), (2, 3, 30, 0, 4.3105, 0.3404), (2, 3, 30, 0.5, 3.7330, 0.3933)],
)
def test_light_through_leaves(
    a: float, c: float, elevation: float, beside: float, path: float, share: float
) -> None:
    got = chord_m(a, c, elevation, beside)
    assert got == pytest.approx(path, abs=1e-3)
    assert through_leaves(0.5, got) == pytest.approx(share, abs=1e-3)


def test_leaf_on_and_off() -> None:
    assert (through_of(True, False), through_of(False, True), through_of(False, False)) == (
        0.03, 0.03, 0.50,
    )  # fmt: skip
    north = leaf_months([5, 6, 8, 11, 14, 18, 20, 20, 16, 12, 8, 5])
    assert north == (False, False, False, *(True,) * 7, False, False)


@pytest.mark.parametrize("form", list(FORMS))
def test_a_point_is_shaded_when_it_lies_in_the_shadow(form: str) -> None:
    """Rays from points against the outline on the ground: the same answer but at the rim."""
    rng = np.random.default_rng(4)
    tree = crowns(0.0, 0.0, 6.0, 9.0, 2.0, through=0.25, form=form)
    wrong = 0
    for _ in range(300):
        elevation, azimuth = rng.uniform(8, 80), rng.uniform(0, 360)
        ring = crown_shadows(tree, elevation, azimuth, corners=96)[0]
        outline = shapely.Polygon(ring)
        west, south, east, north = outline.buffer(3).bounds
        x, y = rng.uniform(west, east), rng.uniform(south, north)
        got = sun_through(tree, LEVEL, (x, y, 0.0), np.array([elevation]), np.array([azimuth]))[0]
        point = shapely.Point(x, y)
        if outline.boundary.distance(point) > 0.6:
            wrong += (got < 1) != outline.contains(point)
    assert wrong == 0


def test_crowns_dim_one_another() -> None:
    trees = crowns([0.0, 0.0], [-10.0, -20.0], 8.0, 12.0, 0.0, through=0.5, form="column")
    got = sun_through(
        trees, np.zeros(2), (0.0, 0.0, 0.0), np.array([20.0, -5.0]), np.array([180.0, 180.0])
    )
    assert got.tolist() == [0.25, 0.0]


def test_the_lie_of_the_ground() -> None:
    row, col = np.mgrid[0:50, 0:50]
    ground = Grid(0.2 * col - 0.1 * row, 0, 50, 1.0)
    found = lie_at(ground, np.array([25.0]), np.array([25.0]))
    assert (found.east[0], found.north[0]) == pytest.approx((0.2, 0.1))
    outside = lie_at(ground, np.array([-400.0]), np.array([0.0]))
    assert (outside.east[0], outside.north[0]) == (0, 0)
