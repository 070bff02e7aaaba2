"""Plants per hectare against printed tables and worked examples."""

from __future__ import annotations

import math

import pytest
from published.ref import Ref

from canvas.planting.layouts import Pattern, plants_per_ha, row_distance_m

NURSERY = "nursery tables of planting patterns (3 x 3 m gives 1111, 8 x 8 m gives 156)"
TROPICS = "Fruit growing in the tropics, handbook, ch. 10 (400 trees/ha at 5 x 5, 100 at 10 x 10)"
TRIANGLE = "worked example of triangular planting: 3 m gives 1283 trees/ha"

PER_HA = [
    (Pattern.SQUARE, 3, None, Ref(1111, 0.5, NURSERY)),
    (Pattern.SQUARE, 2, None, Ref(2500, 0.5, NURSERY)),
    (Pattern.SQUARE, 8, None, Ref(156, 0.5, NURSERY)),
    (Pattern.SQUARE, 5, None, Ref(400, 0.5, TROPICS)),
    (Pattern.SQUARE, 10, None, Ref(100, 0.5, TROPICS)),
    (Pattern.RECTANGULAR, 2, 3, Ref(1667, 0.5, NURSERY)),
    (Pattern.TRIANGULAR, 3, None, Ref(1283, 0.5, TRIANGLE)),
]


@pytest.mark.parametrize(("pattern", "spacing", "row", "ref"), PER_HA)
def test_plants_per_hectare(pattern: Pattern, spacing: float, row: float, ref: Ref) -> None:
    ref.check(plants_per_ha(pattern, spacing, row))


def test_triangular_takes_fifteen_in_a_hundred_more() -> None:
    more = plants_per_ha(Pattern.TRIANGULAR, 6) / plants_per_ha(Pattern.SQUARE, 6) - 1
    Ref(0.15, 0.005, "greentreenursery.com, Planting patterns: the 15 % rule").check(more)


def test_quincunx_centre_distance() -> None:
    # 30 ft between corners; the old text prints 21.2 ft (and 21 1/4) to the centre.
    half_ft = row_distance_m(Pattern.QUINCUNX, 30.0)
    Ref(21.2, 0.05, "old orchard text: 30 ft quincunx, 21.2 ft to the centre").check(
        math.hypot(half_ft, 15.0)
    )


def test_quincunx_doubles_the_trees() -> None:
    ratio = plants_per_ha(Pattern.QUINCUNX, 9) / plants_per_ha(Pattern.SQUARE, 9)
    Ref(2.0, 0.01, "Burritt, Apple Growing: the filler practically doubles the trees").check(ratio)
