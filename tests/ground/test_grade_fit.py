"""Profiles that move least earth: exact where that is known, never beyond their grade."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString

from canvas.base.errors import BadData
from canvas.base.grid import Floats
from canvas.ground.crosssection import Batters
from canvas.ground.curves import rounded
from canvas.ground.formation import Build, Crossfall, Roadbed
from canvas.ground.gradefit import balanced, least_earth
from canvas.ground.gradeline import GradeLine, Knee, follow_ground
from canvas.ground.profile import Section
from made_ground import ground, plane

RUN = np.linspace(0.0, 200.0, 201)


def along(z: Floats) -> Section:
    return Section(RUN, RUN, 0 * RUN, z)


def apart_m2(line: GradeLine, z: Floats) -> float:
    return float(np.trapezoid(np.abs(line.level_m(RUN) - z), RUN))


def test_even_ground_is_followed_by_one_straight() -> None:
    found = least_earth(along(100 + 0.08 * RUN), 0.12)
    assert [k.station_m for k in found.knees] == pytest.approx([0, 200])
    assert [k.level_m for k in found.knees] == pytest.approx([100, 116])


def test_a_step_is_climbed_half_before_and_half_after_it() -> None:
    """A step of 4 m at 10 %: 40 m long; least area is symmetric about the step."""
    z = np.where(RUN < 100, 100.0, 104.0)
    found = least_earth(along(z), 0.10, within_m=0.02)
    level = found.level_m(np.array([79.0, 100.0, 121.0]))
    assert level == pytest.approx([100.0, 102.0, 104.0], abs=0.11)
    # Two triangles, 20 m long and 2 m high.
    assert apart_m2(found, z) == pytest.approx(40.0, rel=0.05)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.06, 0.2))
def test_no_other_line_of_that_grade_departs_less(seed: int, steepest: float) -> None:
    rng = np.random.default_rng(seed)
    z = 100 + 2.5 * np.sin(RUN / rng.uniform(12, 30)) + np.cumsum(rng.normal(0, 0.04, 201))
    found = least_earth(along(z), steepest, within_m=1e-6)
    assert np.abs(found.grades).max() <= steepest + 1e-6
    assert found.knees[0].level_m == pytest.approx(z[0])
    assert found.knees[-1].level_m == pytest.approx(z[-1])
    near = follow_ground(along(z), steepest, within_m=1e-6)
    assert apart_m2(found, z) <= apart_m2(near, z) + 1e-3


def test_ends_too_far_apart_say_the_length_needed() -> None:
    with pytest.raises(BadData) as trouble:
        least_earth(along(100 + 0.2 * RUN), 0.12)
    assert "333 m" in trouble.value.remedy


@pytest.mark.parametrize("crossfall", [Crossfall.OUT, Crossfall.LEVEL])
def test_a_balanced_profile_makes_its_fill_of_its_cut(crossfall: Crossfall) -> None:
    land = ground(300, 1.0, lambda x, y: 100 + 0.1 * y + 1.2 * np.sin(x / 14))
    centre = rounded(LineString([(50, 150), (250, 160)]), 15)
    bed = Roadbed(land, centre, Build(4, Batters(1, 1.5), crossfall, 0.04))
    earth = bed.at(balanced(bed, 0.10, 0.9)).earth
    assert earth.cut_m3 * 0.9 == pytest.approx(earth.fill_m3, rel=0.02)


def test_a_bed_answers_alike_whatever_it_was_asked_before() -> None:
    land = plane(300, 1.0, 0.2)
    centre = rounded(LineString([(50, 150), (150, 170), (250, 150)]), 15)
    bed = Roadbed(land, centre, Build(4, Batters(1, 1.5), aggregate_m=0.15, strip_m=0.1))
    length = centre.line.length
    lines = [
        GradeLine((Knee(0, z), Knee(length / 2, z + 3, 20), Knee(length, z)))
        for z in (100.0, 108.0, 99.0, 100.0)
    ]
    asked = [bed.at(each).earth for each in lines]
    fresh = [Roadbed(land, centre, bed.build).at(each).earth for each in lines]
    assert asked == fresh
    assert asked[0] == asked[3]
