"""Tracks: curves and profiles against their formulas, earth against even slopes, waysides."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, box

from canvas.base.errors import BadData, InputError
from canvas.ground.crosssection import Batters, Trapezoid
from canvas.ground.curves import rounded
from canvas.ground.formation import Build, Crossfall, track
from canvas.ground.gradeline import (
    GradeLine,
    Knee,
    follow_ground,
    least_length_m,
    middle_offset_m,
    moved,
)
from canvas.ground.trackline import lower_edge, stations_of
from canvas.ground.volumes import end_areas, even_slope_bench
from canvas.ground.waysides import (
    Bay,
    DrainKind,
    drains,
    hammerhead,
    passing_place,
    turning_circle,
)
from made_ground import ground, plane

EAST = LineString([(50, 150), (250, 150)])
LEVEL = Build(4, Batters(1, 1.5), Crossfall.LEVEL)


def test_the_handbooks_curve() -> None:
    """E0: radius 15, 90°: arc 23.56, tangent 15.0, external 6.21 m."""
    made = rounded(LineString([(0, 0), (50, 0), (50, 50)]), 15)
    (curve,) = made.curves
    assert curve.arc_m == pytest.approx(23.56, abs=0.01)
    assert curve.tangent_m == pytest.approx(15.0)
    assert curve.external_m == pytest.approx(6.21, abs=0.01)
    assert curve.fits
    assert made.line.length == pytest.approx(35 + 23.56 + 35, abs=0.03)
    away = np.hypot(*(shapely.get_coordinates(made.line)[1:-1] - (35, 15)).T)
    assert away == pytest.approx(15, abs=1e-6)


def test_curves_shrink_where_legs_are_short_and_say_so() -> None:
    made = rounded(LineString([(0, 0), (50, 0), (50, 10), (100, 10)]), 15)
    assert [curve.radius_m for curve in made.curves] == pytest.approx([5, 5])
    assert not any(curve.fits for curve in made.curves)
    own = rounded(LineString([(0, 0), (50, 0), (50, 60), (100, 60)]), 15, [30, None])
    assert [curve.radius_m for curve in own.curves] == pytest.approx([30, 15])
    assert math.isinf(rounded(EAST, 15).tightest_m)


def test_vertical_curves_ease_the_knee() -> None:
    """E0: change of grade 20 %, 30 m long: 0.75 m off the knee. The grade runs evenly."""
    line = GradeLine((Knee(0, 100), Knee(50, 105, 30), Knee(100, 100)))
    assert 105 - float(line.level_m(50)) == pytest.approx(0.75)
    assert middle_offset_m(0.2, 30) == pytest.approx(0.75)
    assert line.grade([34.9, 50, 65.1]) == pytest.approx([0.1, 0, -0.1])
    summits, lows = line.turning_points_m()
    assert summits == pytest.approx([50])
    assert len(lows) == 0
    s = np.linspace(0, 100, 2001)
    assert np.gradient(line.level_m(s), s)[1:-1] == pytest.approx(line.grade(s)[1:-1], abs=5e-4)


def test_a_knee_moves_and_curves_never_overlap() -> None:
    line = GradeLine((Knee(0, 100), Knee(30, 103, 50), Knee(50, 103, 50), Knee(90, 100)))
    inner = line.knees[1:-1]
    assert inner[0].station_m + inner[0].curve_m / 2 <= inner[1].station_m - inner[1].curve_m / 2
    assert moved(line, 1, 35, 104).knees[1].level_m == 104
    with pytest.raises(BadData, match="follow one another"):
        moved(line, 1, 60, 104)


def test_climbing_twelve_metres_at_twelve_percent() -> None:
    assert least_length_m(12, 0.12) == pytest.approx(100.0)


@given(st.integers(0, 5), st.floats(0.06, 0.2))
def test_a_grade_line_keeps_its_grade_and_ends(seed: int, steepest: float) -> None:
    rng = np.random.default_rng(seed)
    run = np.linspace(0, 200, 201)
    z = 100 + 3 * np.sin(run / 20) + np.cumsum(rng.normal(0, 0.05, 201))
    from canvas.ground.profile import Section

    found = follow_ground(Section(run, run, 0 * run, z), steepest, 10)
    assert np.abs(found.grades).max() <= steepest + 1e-9
    assert found.knees[0].level_m == pytest.approx(z[0])
    assert found.knees[-1].level_m == pytest.approx(z[-1])
    below = follow_ground(Section(run, run, 0 * run, z), steepest, within_m=1e-6, below=True)
    assert np.all(below.level_m(run) <= z + 1e-6)


def test_ends_too_far_apart_in_height_are_refused_with_the_length_needed() -> None:
    hill = plane(300, 1, 0.2)
    up = LineString([(150, 100), (150, 200)])
    with pytest.raises(BadData, match=r"20\.0 %") as trouble:
        follow_ground(stations_of(hill, up, None, 2).profile(), 0.12)
    assert "167 m" in trouble.value.remedy


def test_earth_of_a_track_is_the_even_slopes() -> None:
    hill = plane(300, 1, 0.2)
    form = even_slope_bench(4, 0.2, 1, 1.5, 0.9)
    level = 100 + 0.2 * (2 - form.cut_width_m)
    made = track(hill, rounded(EAST, 15), GradeLine((Knee(0, level), Knee(200, level))), LEVEL)
    assert made.earth.cut_m3 / 200 == pytest.approx(form.cut_m2, rel=0.015)
    assert made.earth.fill_m3 / 200 == pytest.approx(form.fill_m2, rel=0.015)
    assert made.patch.meets
    across = end_areas(
        made.patch.ground, made.patch.surface(), np.array([[60.0, 150], [240, 150]]), 10, 6
    ).volumes()
    assert across.cut_m3 / 180 == pytest.approx(form.cut_m2, rel=0.02)
    assert across.fill_m3 / 180 == pytest.approx(form.fill_m2, rel=0.02)


def test_a_full_bench_is_all_cut() -> None:
    """The handbook: W 4, slope 0.2, cut 1:1 gives 2.0 m³ per metre."""
    hill = plane(300, 1, 0.2)
    line = follow_ground(lower_edge(hill, EAST, 2), 0.12, below=True)
    build = Build(4, Batters(1, None), Crossfall.LEVEL)
    made = track(hill, rounded(EAST, 15), line, build)
    assert made.earth.cut_m3 / 200 == pytest.approx(2.0, rel=0.01)
    assert made.earth.fill_m3 == 0
    assert made.unsupported.area == pytest.approx(0, abs=1)
    high = track(hill, rounded(EAST, 15), GradeLine((Knee(0, 100), Knee(200, 100))), build)
    # Level with the ground in the middle, the outer half hangs, but for its first 5 cm.
    assert high.unsupported.area == pytest.approx(200 * (2 - 0.25), rel=0.05)
    steep = plane(300, 1, 0.6)
    assert len(track(steep, rounded(EAST, 15), line, build).wants_full_bench()) > 190
    assert not len(made.wants_full_bench())


@pytest.mark.parametrize(
    ("fall", "hill_side", "valley_side"),
    [(Crossfall.OUT, 0.06, -0.06), (Crossfall.IN, -0.06, 0.06), (Crossfall.CROWN, -0.06, -0.06)],
)
def test_the_carriageway_sheds_its_water_as_told(
    fall: Crossfall, hill_side: float, valley_side: float
) -> None:
    hill = plane(300, 1, 0.2)
    build = Build(4, Batters(1, 1.5), fall, 0.04)
    line = GradeLine((Knee(0, 100), Knee(200, 100)))
    for way in (EAST, EAST.reverse()):
        made = track(hill, rounded(way, 15), line, build)
        z = made.patch.levels.sample([150.0, 150.0], [151.5, 148.5])
        assert z - 100 == pytest.approx([hill_side, valley_side], abs=0.005)


def test_a_ditch_lies_on_the_hill_side_whichever_way_it_is_drawn() -> None:
    hill = plane(300, 1, 0.2)
    build = Build(4, Batters(1, 1.5), Crossfall.LEVEL, ditch=Trapezoid(0.3, 0.3, 1.5))
    line = GradeLine((Knee(0, 100), Knee(200, 100)))
    for way in (EAST, EAST.reverse()):
        made = track(hill, rounded(way, 15), line, build)
        middle = 152 + build.ditch.top_m / 2 if build.ditch else 0.0
        assert made.patch.levels.sample(150.0, middle) == pytest.approx(99.7, abs=0.02)


def test_stone_and_topsoil_are_layers() -> None:
    hill = plane(300, 1, 0.1)
    line = GradeLine((Knee(0, 100), Knee(200, 100)))
    plain = track(hill, rounded(EAST, 15), line, LEVEL)
    build = Build(4, Batters(1, 1.5), Crossfall.LEVEL, aggregate_m=0.15, strip_m=0.1)
    made = track(hill, rounded(EAST, 15), line, build)
    assert made.carriageway.area == pytest.approx(800)
    assert made.aggregate_m3 == pytest.approx(0.15 * 800)
    assert made.earth.laid_m3 == pytest.approx(0.15 * 800, rel=0.01)
    dug = (made.earth.cut_m3 - made.earth.fill_m3) - (plain.earth.cut_m3 - plain.earth.fill_m3)
    assert dug == pytest.approx(made.earth.laid_m3 - made.earth.topsoil_off_m3, rel=0.02)


def test_bends_are_widened_on_the_inside() -> None:
    hill = plane(300, 1, 0.05)
    bent = rounded(LineString([(60, 100), (150, 100), (150, 220)]), 20)
    line = follow_ground(stations_of(hill, bent.line, None, 2).profile(), 0.15)
    made = track(hill, bent, line, LEVEL)
    plain = bent.line.buffer(2, cap_style="flat")
    extra = made.carriageway.difference(plain)
    assert made.carriageway.area - plain.area == pytest.approx(1.22 * (31.4 + 10), rel=0.15)
    # Inside of a left turn: to the north-west of the corner.
    assert extra.centroid.x < 150
    assert extra.centroid.y > 100


def test_drains_come_as_often_as_the_table_says() -> None:
    climb = GradeLine((Knee(0, 100), Knee(180, 121.6)))
    assert len(drains(climb, DrainKind.DIP, erodible=False)) == 2
    assert len(drains(climb, DrainKind.DIP, erodible=True)) == 5
    gaps = np.diff([0, *(d.station_m for d in drains(climb, DrainKind.DIP, erodible=True)), 180])
    assert gaps.max() <= 35
    sag = GradeLine((Knee(0, 100), Knee(60, 97, 20), Knee(120, 100)))
    assert any(
        d.lowest and d.station_m == pytest.approx(60) for d in drains(sag, DrainKind.BAR, True)
    )


def test_turning_and_passing_places() -> None:
    assert turning_circle(EAST).area == pytest.approx(math.pi * 12.2**2, rel=0.01)
    head = hammerhead(EAST, 4)
    assert head.area == pytest.approx(18.3 * 4)
    assert head.bounds == pytest.approx((246, 150 - 9.15, 250, 150 + 9.15))
    assert hammerhead(EAST, 4, at_start=True).bounds[0] == pytest.approx(50)
    bay = passing_place(EAST, Bay.usual(100, on_right=True), 4)
    assert bay.area == pytest.approx((9.1 + 7.6) * 3.7)
    assert bay.bounds == pytest.approx((150 - 12.15, 150 - 5.7, 150 + 12.15, 148))
    with pytest.raises(BadData, match="tapers"):
        passing_place(EAST, Bay.usual(5, on_right=True), 4)


def test_what_cannot_be_is_refused() -> None:
    hill = plane(100, 1, 0.1)
    line = GradeLine((Knee(0, 100), Knee(200, 100)))
    with pytest.raises(BadData, match="known ground"):
        track(hill, rounded(EAST, 15), line, LEVEL)
    with pytest.raises(InputError):
        Batters(1, 0)
    off = stations_of(hill, LineString([(500, 500), (600, 500)]), None, 2).profile()
    with pytest.raises(BadData, match="no ground"):
        follow_ground(off, 0.1)


def test_turning_the_ground_turns_the_track() -> None:
    build = Build(4, Batters(1, 1.5), Crossfall.OUT)
    line = GradeLine((Knee(0, 100), Knee(200, 100)))
    one = track(plane(300, 1, 0.2), rounded(EAST, 15), line, build)
    way = shapely.affinity.rotate(EAST, -35, origin=(150, 150))
    two = track(plane(300, 1, 0.2, 35), rounded(way, 15), line, build)
    assert two.earth.cut_m3 == pytest.approx(one.earth.cut_m3, rel=0.02)
    assert two.earth.fill_m3 == pytest.approx(one.earth.fill_m3, rel=0.02)
    assert box(*hill_bounds()).covers(two.patch.outline())


def hill_bounds() -> tuple[float, float, float, float]:
    return ground(300, 1, lambda x, y: 0 * x).bounds
