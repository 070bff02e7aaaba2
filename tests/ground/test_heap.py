"""Heaps and pits against the closed form of a box with battered sides."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely import Point, box

from canvas.base.errors import BadData
from canvas.ground.heap import Mound, heap
from canvas.ground.volumes import rectangular_basin_m3
from made_ground import plane

FOOT = box(40, 40, 64, 56)


def test_a_heap_holds_what_its_frustum_does() -> None:
    """HEC-22 eq. 8-7 upside down: the top is the basin's bottom."""
    made = heap(plane(100, 1, 0.0), Mound(FOOT, 2.0, 1.5))
    top = 24 - 2 * 1.5 * 2, 16 - 2 * 1.5 * 2
    form = rectangular_basin_m3(*top, 2.0, 1.5)
    assert made.volume_m3 == pytest.approx(form, rel=0.005)
    assert made.earth.fill_m3 == pytest.approx(made.volume_m3)
    assert made.reaches_m == pytest.approx(2.0)


def test_a_round_heap_too_steep_for_its_height_is_a_cone() -> None:
    """V = π r² h / 3 with h = r / batter."""
    made = heap(plane(100, 1, 0.1), Mound(Point(50, 50).buffer(9, quad_segs=64), 10.0, 1.5))
    assert made.reaches_m == pytest.approx(6.0, abs=0.25)
    assert made.volume_m3 == pytest.approx(math.pi * 81 * 6 / 3, rel=0.01)


@pytest.mark.parametrize("slope", [0.0, 0.25])
def test_a_pit_gives_as_much_on_any_slope(slope: float) -> None:
    made = heap(plane(100, 1, slope), Mound(FOOT, -1.5, 1.0, strip_m=0.2))
    form = rectangular_basin_m3(24 - 3, 16 - 3, 1.5, 1.0)
    assert made.volume_m3 == pytest.approx(form, rel=0.005)
    # The topsoil of all that is opened is no part of what it gives.
    assert made.earth.topsoil_off_m3 == pytest.approx(0.2 * FOOT.area, rel=0.01)
    assert made.earth.cut_m3 == pytest.approx(form - 0.2 * FOOT.area, rel=0.02)


def test_nothing_changes_beside_it() -> None:
    base = plane(100, 1, 0.2)
    made = heap(base, Mound(FOOT, 2.0, 1.5))
    outside = ~made.patch.mask
    assert np.isnan(made.patch.levels.z[outside]).all()
    assert made.patch.outline().area == pytest.approx(FOOT.area, rel=0.02)


def test_a_heap_beyond_the_ground_is_refused() -> None:
    with pytest.raises(BadData, match="beyond the known ground"):
        heap(plane(50, 1, 0.1), Mound(FOOT, 2.0, 1.5))
