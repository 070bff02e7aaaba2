"""Grades, bends and dead ends of tracks."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString, Point

from canvas.base.errors import InputError
from canvas.base.grid import Grid
from canvas.ground.alignment import alignment, bends, climb_and_fall, dead_ends, steepest
from canvas.ground.profile import Section, section


def ramp(x: np.ndarray) -> np.ndarray:
    """Level for 40 m, up 20 % for 12 m, up 8 % for 60 m, down 5 %."""
    return np.interp(x, [0, 40, 52, 112, 200], [0, 0, 2.4, 7.2, 2.8])


@pytest.fixture
def ground() -> Grid:
    base = Grid(np.zeros((40, 200)), 0.0, 40.0, 1.0)
    x, _ = np.meshgrid(base.x_m(), base.y_m())
    return base.like(ramp(x))


def test_steepest_and_sustained(ground: Grid) -> None:
    found = alignment(ground, LineString([(1, 20), (199, 20)]), 3.5)
    assert found.steepest is not None
    assert found.sustained is not None
    assert found.steepest.grade == pytest.approx(0.20, abs=1e-9)
    assert 40 <= found.steepest.at.x <= 52
    # 12 m at 20 % and 8 m at 8 %: (2.4 + 0.64) / 20, less the foot of the ramp, which cells of
    # 1 m round off by 0.05 m.
    assert found.sustained.grade == pytest.approx(0.152, abs=0.0026)
    assert found.sustained.to_m - found.sustained.from_m == pytest.approx(20)
    assert found.climb_m == pytest.approx(7.2, abs=0.1)
    assert found.fall_m == pytest.approx(0.05 * 87, abs=0.1)
    assert found.bends == ()
    assert found.tightest is None


def test_direction_only_turns_the_sign(ground: Grid) -> None:
    out = section(ground, LineString([(1, 20), (199, 20)]))
    back = section(ground, LineString([(199, 20), (1, 20)]))
    one, other = steepest(out, 20), steepest(back, 20)
    assert one is not None
    assert other is not None
    assert one.grade == pytest.approx(-other.grade)
    assert one.at.distance(other.at) < 0.6
    assert climb_and_fall(out) == pytest.approx(climb_and_fall(back)[::-1])


def test_a_short_line_is_taken_whole(ground: Grid) -> None:
    found = steepest(section(ground, LineString([(41, 5), (51, 5)])), 20)
    assert found is not None
    assert (found.from_m, found.to_m) == (0, 10)
    assert found.grade == pytest.approx(0.2)


def test_no_data_no_grade() -> None:
    nothing = Section(np.array([0.0, 30.0]), np.zeros(2), np.zeros(2), np.full(2, np.nan))
    assert steepest(nothing, 20) is None
    assert climb_and_fall(nothing) == (0, 0)
    with pytest.raises(InputError):
        steepest(nothing, 0)


def curve(radius: float, turn_deg: float, points: int) -> np.ndarray:
    """An arc clicked at even points, with straight legs of 40 m before and after."""
    t = np.linspace(0, np.radians(abs(turn_deg)), points)
    xy = np.column_stack((radius * np.sin(t), radius * (1 - np.cos(t))))
    on = 40 * np.array([np.cos(t[-1]), np.sin(t[-1])])
    return np.vstack((xy[0] - [40, 0], xy, xy[-1] + on)) * [1, np.sign(turn_deg)]


@pytest.mark.parametrize(
    ("radius", "turn", "points"),
    [(15, 90, 60), (15, 90, 5), (15, 120, 4), (40, 60, 8), (8, 180, 12), (25, -90, 30)],
)
def test_points_along_an_arc_give_its_radius(radius: float, turn: float, points: int) -> None:
    found = bends(LineString(curve(radius, turn, points)), 3.5)
    tightest = min(found, key=lambda bend: bend.radius_m)
    # Half a turn and more is read as the arc inside the chords: up to 5 % tight.
    assert tightest.radius_m == pytest.approx(radius, rel=0.05 if turn >= 180 else 0.02)
    assert tightest.inside_radius_m == pytest.approx(tightest.radius_m - 1.75)
    assert np.sign(tightest.turn_deg) == np.sign(turn)
    # Turns below 5° at both ends are left out.
    assert sum(bend.turn_deg for bend in found) == pytest.approx(turn, abs=10)


def test_uneven_clicks_along_an_arc() -> None:
    xy = curve(15, 90, 60)[[0, 1, 8, 12, 28, 34, 50, 60, 61]]
    assert min(b.radius_m for b in bends(LineString(xy), 3.5)) == pytest.approx(15, rel=0.02)


def test_a_sharp_corner_is_as_tight_as_drawn() -> None:
    (bend,) = bends(LineString([(0, 0), (50, 0), (50, 50)]), 4.0)
    # The curve that stays within 2 m of the corner: 2 / (sec 45° - 1).
    assert bend.radius_m == pytest.approx(2 / (np.sqrt(2) - 1))
    assert bend.inside_radius_m == pytest.approx(2 / (np.sqrt(2) - 1) - 2)
    assert bend.room_radius_m == pytest.approx(50)
    assert bend.at.equals(Point(50, 0))
    assert bend.distance_m == 50
    assert bend.turn_deg == pytest.approx(90)


def test_two_near_corners_count_as_one() -> None:
    hairpin = bends(LineString([(0, 0), (50, 0), (50, 6), (0, 6)]), 3.5)
    # Legs 6 m apart hold a half circle of 3 m.
    assert [b.radius_m for b in hairpin] == pytest.approx([3, 3])
    assert hairpin[0].inside_radius_m == pytest.approx(1.25)
    (_, tight) = bends(LineString([(0, 0), (50, 0), (51.5, 1.5), (51.5, 50)]), 3.5)
    assert tight.radius_m < 7


def test_turning_back_on_itself() -> None:
    (bend,) = bends(LineString([(0, 0), (50, 0), (0, 0.5)]), 3.5)
    assert bend.inside_radius_m == 0


def test_wiggles_are_no_bends() -> None:
    rng = np.random.default_rng(0)
    wiggly = np.column_stack((np.arange(0, 60, 1.0), rng.normal(0, 0.08, 60)))
    assert bends(LineString(wiggly), 3.5) == []


def test_dead_ends() -> None:
    lines = [
        LineString([(0, 0), (100, 0)]),
        LineString([(50, 0.3), (50, 80)]),
        LineString([(50, 80), (90, 80), (90, 40), (50, 40)]),
        LineString([(200, 0), (220, 0), (220, 20), (200, 0)]),
    ]
    road = LineString([(-0.5, -50), (-0.5, 50)])
    found = dead_ends(lines, 1.0, meets=[road])
    assert [(end.line, end.at.x, end.at.y) for end in found] == [(0, 100, 0)]
    assert {(e.line, e.at.x) for e in dead_ends(lines, 1.0)} == {(0, 0.0), (0, 100.0)}
    assert len(dead_ends(lines, 0.1)) == 3
