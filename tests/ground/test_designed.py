"""The ground at a phase: sums kept, order kept, conflicts told."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString, box

from canvas.base.errors import InputError
from canvas.base.grid import Grid
from canvas.ground.bank import Works
from canvas.ground.crosssection import BankSection, Batters, Trapezoid
from canvas.ground.dam import Bank, dam
from canvas.ground.designed import Designed
from canvas.ground.platform import Pad, platform
from canvas.ground.swale import swale
from made_ground import ground, plane

HILL = plane(200, 2, 0.15)
LOW = platform(HILL, Pad(box(90, 60, 120, 78), Batters(1, 2)), 95.0, "low pad")
HIGH = platform(HILL, Pad(box(110, 70, 140, 88), Batters(1, 2)), 97.0, "high pad")


def test_changes_on_the_base_are_the_patches_own() -> None:
    designed = Designed.of(HILL, [LOW.patch])
    cell = HILL.cell_m**2
    net = LOW.earth.fill_m3 - LOW.earth.cut_m3
    assert float(designed.change.z.sum()) * cell == pytest.approx(net, abs=1e-6)
    assert np.array_equal(designed.levels.z, HILL.z + designed.change.z)
    west, south, east, north = LOW.patch.levels.bounds
    x, y = np.meshgrid(HILL.x_m(), HILL.y_m())
    outside = (x < west) | (x > east) | (y < south) | (y > north)
    assert not designed.change.z[outside].any()


def test_nothing_built_is_the_survey() -> None:
    designed = Designed.of(HILL)
    assert np.array_equal(designed.levels.z, HILL.z)
    assert np.array_equal(designed.flow_levels.z, HILL.z)
    assert not designed.faces.any
    assert not designed.conflicts()


def test_phases_are_built_in_order_and_the_later_has_its_way() -> None:
    first, second = LOW.patch.built_in(1), HIGH.patch.built_in(2)
    after_one = Designed.of(HILL, [second, first], until=1)
    assert [p.name for p in after_one.patches] == ["low pad"]
    both = Designed.of(HILL, [second, first])
    assert [p.name for p in both.patches] == ["low pad", "high pad"]
    spot = both.sample(np.array([115.0]), np.array([74.0]))
    assert spot == pytest.approx(97.0, abs=1e-6)
    turned = Designed.of(HILL, [first.built_in(2), second.built_in(1)])
    assert turned.sample(np.array([115.0]), np.array([74.0])) == pytest.approx(95.0, abs=1e-6)


def test_two_in_one_place_are_told_with_their_size() -> None:
    clash = Designed.of(HILL, [LOW.patch, HIGH.patch]).conflicts()
    assert [(c.first, c.second, c.same_phase) for c in clash] == [("low pad", "high pad", True)]
    # The pads share 10 m by 8 m, two metres apart in level.
    assert clash[0].area_m2 > 80
    assert clash[0].largest_m == pytest.approx(2.0, abs=0.05)
    assert clash[0].where.covers(box(112, 72, 118, 76))
    later = Designed.of(HILL, [LOW.patch, HIGH.patch.built_in(3)]).conflicts()
    assert not later[0].same_phase


def test_a_later_work_designed_on_the_earlier_counts_from_it() -> None:
    """Volumes of both add up to the change of the ground, each counted once."""
    first = Designed.of(HILL, [LOW.patch])
    cells = first.on(HIGH.patch.levels)
    second = platform(
        Grid(first.levels.z, HILL.west_m, HILL.north_m, HILL.cell_m), HIGH.pad, 97.0, "high pad"
    )
    both = Designed.of(HILL, [LOW.patch, second.patch])
    whole = float(both.change.z.sum()) * HILL.cell_m**2
    last = np.where(second.patch.mask, second.patch.levels.z - first.on(second.patch.levels).z, 0)
    parts = LOW.earth.fill_m3 - LOW.earth.cut_m3 + float(last.sum()) * second.patch.levels.cell_m**2
    assert whole == pytest.approx(parts, abs=1e-6)
    assert cells.shape == HIGH.patch.levels.shape


def test_levels_on_fine_cells_show_the_patch_as_made() -> None:
    designed = Designed.of(HILL, [LOW.patch])
    fine = designed.on(LOW.patch.levels)
    mask = LOW.patch.mask
    assert np.allclose(fine.z[mask], LOW.patch.levels.z[mask])
    assert np.allclose(fine.z[~mask], LOW.patch.ground.z[~mask])


def test_a_patch_of_other_cells_is_refused() -> None:
    other = ground(200, 3, lambda x, y: 100 + 0.15 * y)
    with pytest.raises(InputError, match="nest"):
        Designed.of(other, [LOW.patch])


def test_crests_of_all_works_are_held_together() -> None:
    hill = plane(200, 2, 0.1)
    works = Works(Trapezoid(0.6, 0.4, 2), BankSection(0.6, 0.5, 2, 2))
    one = swale(hill, LineString([(40, 120), (160, 120)]), 102.0, works, "upper")
    two = swale(hill, LineString([(40, 90), (160, 90)]), 99.0, works, "lower")
    faces = Designed.of(hill, [one.patch, two.patch]).faces
    held = faces.south_m[faces.south_m > -np.inf]
    assert set(np.round(held, 3)) == {102.5, 99.5}


def test_a_dam_stands_between_cells_wider_than_its_crest() -> None:
    """A 2 m crest on 5 m cells."""
    hollow = ground(400, 5, lambda x, y: 100 + 0.15 * abs(x - 200) + 0.03 * (y - 200))
    made = dam(hollow, Bank(LineString([(150, 200), (250, 200)]), 103.0, 2, 2.5, 2))
    designed = Designed.of(hollow, [made.patch])
    row, col = hollow.cell_at(202.0, 202.0) or (0, 0)
    held = designed.faces.south_m[row - 1 : row + 2, col]
    assert held.max() == pytest.approx(103.0)


def test_the_next_work_stands_on_the_one_before_in_all_its_detail() -> None:
    """A track on 2 m cells that crosses a 2.2 m swale meets its bank and bed, not their mean."""
    hill = plane(200, 2, 0.1)
    works = Works(Trapezoid(0.6, 0.4, 2), BankSection(0.6, 0.5, 2, 2))
    made = swale(hill, LineString([(40, 100), (160, 100)]), 100.0, works, "swale")
    before = Designed.of(hill, [made.patch])
    pad = Pad(box(95, 92, 105, 108), Batters(1, 2))
    on_swale, on_hill = platform(before, pad, 100.0, "pad"), platform(hill, pad, 100.0, "pad")
    strip = on_swale.patch.ground.sample(np.full(40, 100.0), np.linspace(96, 102, 40))
    assert strip.max() == pytest.approx(100.5, abs=0.05)
    assert strip.min() == pytest.approx(99.6, abs=0.05)
    # The pad takes ten metres of bank away: most of its 0.8 m² stands over the pad's level.
    assert on_swale.earth.cut_m3 - on_hill.earth.cut_m3 == pytest.approx(7, abs=1)
    both = Designed.of(hill, [made.patch, on_swale.patch.built_in(1)])
    assert [c.same_phase for c in both.conflicts()] == [False]
