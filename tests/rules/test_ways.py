"""Where ways end, and whether one can turn there."""

from __future__ import annotations

from rules.conftest import check, make_subject, metres, rule_of
from shapely import LineString, Point

DEAD_END = rule_of(
    relation="dead_end",
    a={"kind": "track"},
    b={"kind": ["track", "public_road"]},
    joined=metres(3),
    arm=metres(8),
    within=metres(30),
    limit=metres(100),
)
ROAD = make_subject("public_road", "road", LineString([(0, -50), (0, 50)]))


class TestDeadEnds:
    def test_the_far_end_is_located(self) -> None:
        drive = make_subject("track", "drive", LineString([(0, 0), (150, 0)]))
        (found,) = check(DEAD_END, ROAD, drive)
        assert found.where.equals(Point(150, 0))
        assert (found.measured, found.required) == (150.0, 100.0)

    def test_a_branch_long_enough_is_a_turning(self) -> None:
        drive = make_subject("track", "drive", LineString([(0, 0), (150, 0)]))
        arm = make_subject("track", "arm", LineString([(140, 0), (140, 9)]))
        stub = make_subject("track", "stub", LineString([(140, 0), (140, 5)]))
        # The arm's own end turns by backing into the drive.
        assert check(DEAD_END, ROAD, drive, arm) == ()
        assert {f.elements[0] for f in check(DEAD_END, ROAD, drive, stub)} == {"drive"}

    def test_a_loop_is_a_turning(self) -> None:
        loop = [(0, 0), (120, 0), (140, 0), (160, 15), (140, 30), (125, 15), (122, 1)]
        assert check(DEAD_END, ROAD, make_subject("track", "d", LineString(loop))) == ()

    def test_joined_tracks_count_together(self) -> None:
        first = make_subject("track", "a", LineString([(0, 0), (70, 0)]))
        second = make_subject("track", "b", LineString([(70, 0), (70, 70)]))
        (found,) = check(DEAD_END, ROAD, first, second)
        assert found.elements == ("b",)
        assert found.measured == 140.0
