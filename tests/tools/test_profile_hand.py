"""A design profile in hand: taken hold of, moved, typed, without a desk."""

from __future__ import annotations

import numpy as np
import pytest

from canvas.base.errors import BadData
from canvas.ground.gradeline import GradeLine, Knee
from canvas.ground.profile import Section
from canvas.tools.profile import ProfileHand, Reach

RUN = np.linspace(0.0, 100.0, 101)
GROUND = Section(RUN, RUN, 0 * RUN, 100 + 0.1 * RUN)
NEAR = Reach(1.0, 0.5)


def hand() -> ProfileHand:
    return ProfileHand(GradeLine((Knee(0, 100), Knee(50, 107, 20), Knee(100, 110))), GROUND, 12.0)


def test_the_nearest_point_within_reach_is_held() -> None:
    held = hand()
    assert held.under(50.8, 107.4, NEAR) == 1
    assert held.under(50.8, 107.6, NEAR) is None
    assert not held.press(30, 100, NEAR)
    assert held.knee is None
    assert held.press(50, 107, NEAR)
    assert held.busy


def test_a_held_point_follows_snaps_and_goes_back() -> None:
    held = hand()
    held.press(50, 107, NEAR)
    assert not held.move(60, 107.2, NEAR)
    assert held.line.knees[1] == Knee(60, 107.2, 20)
    # The ground at 60 m stands at 106 m: within reach it is caught, unless asked not to.
    assert held.move(60, 106.3, NEAR)
    assert held.line.knees[1].level_m == 106.0
    assert not held.move(60, 106.3, NEAR, snap=False)
    assert held.line.knees[1].level_m == 106.3
    held.cancel()
    assert held.line == hand().line
    assert not held.release()


def test_points_keep_their_order_and_ends_their_stations() -> None:
    held = hand()
    held.press(50, 107, NEAR)
    held.move(140, 107, NEAR)
    assert held.line.knees[1].station_m == 99.5
    assert held.release()
    held.press(0, 100, NEAR)
    held.move(12, 101.9, NEAR, snap=False)
    assert held.line.knees[0] == Knee(0, 101.9)


def test_points_are_added_on_the_line_and_taken_out() -> None:
    held = hand()
    held.chosen = 1
    held.add_after()
    assert held.chosen == 2
    assert held.knee == Knee(75, float(hand().line.level_m(75)), 12.0)
    held.remove()
    assert held.line.knees == hand().line.knees
    with pytest.raises(BadData, match="stands here already"):
        held.add(50.2)
    held.chosen = 0
    with pytest.raises(BadData, match="keeps its start"):
        held.remove()


@pytest.mark.parametrize(
    ("what", "value", "knee"),
    [
        ("station", 40.0, Knee(40, 107, 20)),
        ("level", 104.5, Knee(50, 104.5, 20)),
        ("curve", 8.0, Knee(50, 107, 8)),
        ("grade", 0.08, Knee(50, 104, 20)),
    ],
)
def test_figures_are_typed(what: str, value: float, knee: Knee) -> None:
    held = hand()
    held.chosen = 1
    held.put(what, value)
    assert held.knee == knee


def test_the_grade_after_moves_the_next_point() -> None:
    held = hand()
    held.chosen = 1
    assert held.grades() == pytest.approx((0.14, 0.06))
    held.put("after", -0.02)
    assert held.line.knees[2].level_m == pytest.approx(106.0)


@pytest.mark.parametrize(
    ("chosen", "what", "value"),
    [(1, "station", 120.0), (0, "station", 5.0), (0, "curve", 10.0), (0, "grade", 0.1),
     (2, "after", 0.1), (1, "curve", -1.0), (None, "level", 100.0)],
)  # fmt: skip
def test_what_cannot_be_typed_is_refused(chosen: int | None, what: str, value: float) -> None:
    held = hand()
    held.chosen = chosen
    with pytest.raises(BadData):
        held.put(what, value)
    assert held.line == hand().line


def test_nudges_and_the_ground() -> None:
    held = hand()
    assert not held.nudge(1, 0)
    held.step(1)
    held.step(1)
    assert held.chosen == 1
    assert held.nudge(-2.0, 0.05)
    assert held.knee == Knee(48, 107.05, 20)
    assert held.to_ground()
    assert held.knee == Knee(48, 104.8, 20)
    assert not held.to_ground()
