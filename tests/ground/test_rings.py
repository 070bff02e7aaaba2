"""Areas put together from rings: islands in holes, and outlines straightened. By hand."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import LinearRing, Point, box

from canvas.base.grid import Grid
from canvas.ground.patch import region
from canvas.ground.rings import nested, straightened


def test_an_area_in_a_hole_is_kept() -> None:
    """A square ring 20 m wide round a square of 4 m: 400 − 100 + 16 m²."""
    rings = [LinearRing(box(*at).exterior) for at in ((0, 0, 20, 20), (8, 8, 12, 12))]
    made = nested(rings, [LinearRing(box(5, 5, 15, 15).exterior)])
    assert made.is_valid
    assert made.area == pytest.approx(316)


def test_a_region_keeps_its_islands() -> None:
    """Ripples of 10 m round a middle: above 0 within 2.5 m and between 7.5 and 12.5 m of it."""
    cells = Grid(np.zeros((160, 160)), -20.0, 20.0, 0.25)
    x, y = np.meshgrid(cells.x_m(), cells.y_m())
    found = region(cells, np.cos(np.hypot(x, y) * np.pi / 5))
    inner = [part for part in found.geoms if part.distance(Point(0, 0)) < 15]
    rings = np.pi * (2.5**2 + 12.5**2 - 7.5**2)
    assert sum(part.area for part in inner if part.centroid.distance(Point(0, 0)) < 1) > 0
    within = shapely.intersection(found, Point(0, 0).buffer(15, quad_segs=64))
    assert within.area == pytest.approx(rings, rel=0.01)


def test_a_surface_that_just_reaches_nought_gives_a_valid_region() -> None:
    """Levels in whole steps touch 0 in corners and along rows; every cell falls where it should."""
    rng = np.random.default_rng(5)
    cells = Grid(np.zeros((30, 40)), 0.0, 30.0, 1.0)
    x, y = np.meshgrid(cells.x_m(), cells.y_m())
    for _ in range(10):
        height = np.round(2 * rng.standard_normal(cells.shape)) / 2
        found = region(cells, height)
        assert found.is_valid
        clear = np.abs(height) > 1e-6
        assert np.array_equal(shapely.contains_xy(found, x, y)[clear], (height > 0)[clear])


def test_straightened_outlines_keep_parts_and_holes() -> None:
    """Points 0.1 m off a straight side go within 0.2 m, a hole narrower than that stays."""
    side = [(k, 0.1 * (k % 2)) for k in range(11)]
    ragged = shapely.Polygon([*side, (10, 10), (0, 10)], [[(4, 4), (4.1, 4), (4.1, 4.1)]])
    made = straightened(shapely.MultiPolygon([ragged, box(20, 0, 20.1, 0.1)]), 0.2)
    assert made.is_valid
    assert shapely.get_num_geometries(made) == 2
    # Four corners and the hole's three: the first point closes each ring.
    assert len(shapely.get_coordinates(made.geoms[0])) == 5 + 4
    assert made.area == pytest.approx(100, abs=1)
