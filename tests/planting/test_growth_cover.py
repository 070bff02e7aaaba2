"""Growth by age and crown cover; the figures are the handbook's own arithmetic (PF14–PF19)."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import box

from canvas.base.errors import InputError
from canvas.planting.cover import crown_cover
from canvas.planting.growth import (
    CROWN_SHAPE,
    GROWN,
    HEIGHT_SHAPE,
    HERB_SHAPE,
    age_at,
    closure_years,
    grown_share,
    growth_rate,
    size_after,
)
from canvas.planting.layouts import Pattern, fill, plants_per_ha

years = st.floats(1, 100)
shapes = st.sampled_from([HERB_SHAPE, CROWN_SHAPE, HEIGHT_SHAPE, 2.0])


@given(years, shapes)
def test_nine_tenths_are_reached_when_said(t90: float, shape: float) -> None:
    assert grown_share(t90, t90, shape) == pytest.approx(GROWN)
    assert grown_share(0, t90, shape) == 0.0
    assert grown_share(-3, t90, shape) == 0.0


@given(years, shapes, st.floats(0.01, 0.98))
def test_age_and_share_are_each_others_inverse(t90: float, shape: float, share: float) -> None:
    assert grown_share(age_at(share, t90, shape), t90, shape) == pytest.approx(share)


@given(years, shapes, st.floats(0.1, 60), st.floats(0, 40), st.floats(0, 40))
def test_growing_twice_is_growing_once(
    t90: float, shape: float, mature: float, first: float, second: float
) -> None:
    at_once = size_after(first + second, mature, t90, shape)
    halfway = size_after(first, mature, t90, shape)
    if 1e-6 < halfway < mature * 0.999:
        assert size_after(second, mature, t90, shape, now=halfway) == pytest.approx(
            at_once, rel=1e-3
        )
    assert 0 <= at_once <= mature


def test_a_grown_tree_keeps_its_size() -> None:
    assert size_after(20, 10, 30, HEIGHT_SHAPE, now=12) == 12
    assert size_after(0, 10, 30, HEIGHT_SHAPE, now=4) == 4


def test_handbook_growth_figures() -> None:
    """PF16–PF19: the form was read (SLU forest biometrics), the numbers worked out from it."""
    assert growth_rate(20, 2) == pytest.approx(0.14849, abs=2e-5)
    assert grown_share(10, 20, 2) == pytest.approx(0.5983, abs=5e-4)
    assert grown_share(5, 20, 2) == pytest.approx(0.2746, abs=5e-4)
    assert closure_years(4.5, 6, 15, 2) == pytest.approx(10.15, abs=0.05)


def test_cover_when_crowns_touch() -> None:
    """PF14, PF15: the packing densities of equal circles, π/4 and π/√12."""
    land = box(0, 0, 200, 200)
    for pattern, packed in (
        (Pattern.SQUARE, math.pi / 4),
        (Pattern.TRIANGULAR, math.pi / math.sqrt(12)),
    ):
        drawn = crown_cover(land, fill(land.buffer(5), pattern, 5), 5)
        assert drawn == pytest.approx(packed, rel=0.02)


def test_crowns_that_never_touch() -> None:
    assert closure_years(6, 5, 20) is None
    assert closure_years(5, 5, 20) is None


def test_impossible_growth_is_refused() -> None:
    with pytest.raises(InputError):
        age_at(1.0, 20, 2)
    with pytest.raises(InputError):
        grown_share(5, 0, 2)


@pytest.mark.parametrize(
    "pattern", [Pattern.SQUARE, Pattern.TRIANGULAR, Pattern.RECTANGULAR, Pattern.QUINCUNX]
)
def test_drawn_crowns_cover_what_the_pattern_says(pattern: Pattern) -> None:
    """Crowns that don't touch cover their own circles, as many as stand on a hectare."""
    land = box(0, 0, 200, 200)
    xy = fill(land.buffer(5), pattern, 5, row_m=6)
    wanted = math.pi / 4 * 3.4**2 * plants_per_ha(pattern, 5, 6) / 10_000
    assert crown_cover(land, xy, 3.4) == pytest.approx(wanted, rel=0.02)


def test_overlapping_crowns_count_once() -> None:
    land = box(-5, -5, 5, 5)
    one = crown_cover(land, [(0, 0)], 4)
    assert crown_cover(land, [(0, 0), (0, 0)], [4, 2]) == pytest.approx(one)
    assert one == pytest.approx(math.pi * 4 / 100, rel=1e-3)


def test_no_plants_cover_nothing() -> None:
    assert crown_cover(box(0, 0, 9, 9), [], []) == 0.0
