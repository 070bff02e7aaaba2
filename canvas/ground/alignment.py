"""Tracks and paths on the ground as it is: grades, bends, climbs and dead ends."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, Point
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import InputError
from canvas.base.grid import Floats, Grid
from canvas.ground.profile import Section, section

#: Length a "sustained" grade is taken over unless a rule says otherwise (common practice).
SUSTAINED_M = 20.0
#: Wiggles of a drawn line below this share of the track's width are not bends.
WIGGLE_SHARE = 0.1


@dataclass(frozen=True, slots=True)
class Steepest:
    """The steepest stretch of a line, by the height between its two ends."""

    #: Rise over plan run in the line's direction; negative going down.
    grade: float
    from_m: float
    to_m: float
    #: Middle of the stretch.
    at: Point


@dataclass(frozen=True, slots=True)
class Bend:
    """One bend of a centre line."""

    at: Point
    distance_m: float
    #: Change of direction, degrees, + to the left.
    turn_deg: float
    #: Radius of the centre line as drawn; see `bends`.
    radius_m: float
    #: Radius of the inside edge: the centre line's less half the width, not below 0.
    inside_radius_m: float
    #: Centre-line radius there would be room for if the corner were rounded in its legs.
    room_radius_m: float


@dataclass(frozen=True, slots=True)
class Alignment:
    """What a centre line meets on the ground."""

    profile: Section
    steepest: Steepest | None
    sustained: Steepest | None
    bends: tuple[Bend, ...]
    climb_m: float
    fall_m: float

    @property
    def tightest(self) -> Bend | None:
        """The bend with the smallest inside radius."""
        return min(self.bends, key=lambda bend: bend.inside_radius_m, default=None)


def steepest(profile: Section, over_m: float) -> Steepest | None:
    """Return the stretch of plan length `over_m` that rises or falls most; None without data.

    A window slides along the line and both its ends are read from the profile, so the grade is
    the mean over the stretch. A line shorter than the window is taken whole.
    """
    if not over_m > 0:
        raise InputError(f"a grade needs a length to be taken over, got {over_m}")
    run = profile.distance_m
    over = min(over_m, float(run[-1]))
    # The height between the ends is piecewise linear in the start: its extremes lie at stations.
    starts = np.unique(np.clip(np.concatenate((run, run - over)), 0.0, run[-1] - over))
    grade = (profile.at(starts + over) - profile.at(starts)) / over
    if np.isnan(grade).all():
        return None
    worst = int(np.nanargmax(np.abs(grade)))
    start = float(starts[worst])
    middle = start + over / 2
    at = Point(np.interp(middle, run, profile.x_m), np.interp(middle, run, profile.y_m))
    return Steepest(float(grade[worst]), start, start + over, at)


def climb_and_fall(profile: Section) -> tuple[float, float]:
    """Return the sums of all rises and of all falls [m, both positive]."""
    steps = np.diff(profile.z_m[~np.isnan(profile.z_m)])
    return float(steps[steps > 0].sum()), float(-steps[steps < 0].sum())


def _turns(xy: Floats) -> tuple[Floats, Floats]:
    """Return leg lengths (n - 1,) and the turn at each inner vertex (n - 2,), radians, + left."""
    legs = np.diff(xy, axis=0)
    heading = np.arctan2(legs[:, 1], legs[:, 0])
    turn = (np.diff(heading) + math.pi) % (2 * math.pi) - math.pi
    return np.hypot(legs[:, 0], legs[:, 1]), turn


def _run_radius(legs: Floats, turn: Floats, spare: float, i: int) -> float:
    """Return the tightest radius any run of same-way turns that starts at vertex i asks for."""
    found = math.inf
    whole, length, tangents = abs(turn[i]), 0.0, 0.0
    for j in range(i, len(turn)):
        if j > i:
            if turn[j] * turn[i] <= 0:
                break
            length += legs[j]
            tangents += math.tan(abs(turn[j - 1]) / 2) + math.tan(abs(turn[j]) / 2)
            whole += abs(turn[j])
        # Arcs that touch every leg of the run, and what staying inside the width lets them gain.
        fits = length / tangents if tangents > 0 else 0.0
        beyond = 1 / math.cos(whole / 2) - 1 if whole < math.pi - 1e-9 else math.inf
        gain = spare / beyond if beyond > 0 else math.inf
        found = min(found, fits + gain)
        if whole >= math.pi:
            break
    return found


def bends(line: LineString, width_m: float, least_turn_deg: float = 5.0) -> list[Bend]:
    """Return the bends of a centre line with their radii.

    A drawn line only hints at the curve that is driven. The radius given at a vertex is the
    smaller of two:

    - the circle through it and its two neighbours, which is exact for points clicked along an
      arc;
    - the largest curve that stays within half the width of the drawn line: for one corner of
      turn θ, (width / 2) / (sec(θ/2) − 1); for several turns the same way, the arc that touches
      all legs between them, plus that same gain for their whole turn.

    So a sharp corner with long legs reads tight, as drawn; `room_radius_m` says what it could be
    rounded to: min(leg, leg) / tan(θ/2), half a leg where the next vertex needs the other half.
    Wiggles below a tenth of the width are smoothed away first; turns below `least_turn_deg`
    are left out.
    """
    plain = line.simplify(WIGGLE_SHARE * width_m) if width_m > 0 else line
    xy = shapely.get_coordinates(plain)
    if len(xy) < 3:
        return []
    legs, turn = _turns(xy)
    run = np.cumsum(legs)
    spare = width_m / 2
    starts = [_run_radius(legs, turn, spare, i) for i in range(len(turn))]
    ends = [_run_radius(legs[::-1], turn[::-1], spare, i) for i in range(len(turn))][::-1]
    found = []
    for i, angle in enumerate(turn):
        if abs(angle) < math.radians(least_turn_deg):
            continue
        a, b = legs[i], legs[i + 1]
        chord = math.dist(xy[i], xy[i + 2])
        circle = chord / (2 * math.sin(abs(angle))) if abs(angle) < math.pi / 2 else math.inf
        room_a = a if i == 0 else a / 2
        room_b = b if i == len(turn) - 1 else b / 2
        radius = min(circle, starts[i], ends[i])
        found.append(
            Bend(
                Point(xy[i + 1]),
                float(run[i]),
                math.degrees(angle),
                float(radius),
                max(float(radius) - spare, 0.0),
                float(min(room_a, room_b) / math.tan(abs(angle) / 2)),
            )
        )
    return found


def alignment(
    grid: Grid, line: LineString, width_m: float, sustained_m: float = SUSTAINED_M
) -> Alignment:
    """Return grades, bends and climbs of a centre line on the ground as it is.

    The steepest grade is taken over two cells and at least 2 m: over less, the noise of a survey
    (a few centimetres) reads as grade.
    """
    profile = section(grid, line)
    climb, fall = climb_and_fall(profile)
    return Alignment(
        profile,
        steepest(profile, max(2 * grid.cell_m, 2.0)),
        steepest(profile, sustained_m),
        tuple(bends(line, width_m)),
        climb,
        fall,
    )


@dataclass(frozen=True, slots=True)
class DeadEnd:
    """An end of a line that meets nothing."""

    #: Which of the lines given.
    line: int
    at: Point


def dead_ends(
    lines: Sequence[LineString], tolerance_m: float, meets: Sequence[BaseGeometry] = ()
) -> list[DeadEnd]:
    """Return the ends further than the tolerance from every other line and from all of `meets`.

    `meets` holds what else an end may lead to: a public road, a turning place, a gate. A line
    that comes back to itself has no dead end there.
    """
    tree = shapely.STRtree([*lines, *meets])
    found = []
    for i, line in enumerate(lines):
        coords = shapely.get_coordinates(line)
        if len(coords) < 2:
            continue
        ends = (Point(coords[0]), Point(coords[-1]))
        if ends[0].distance(ends[1]) <= tolerance_m and line.length > 4 * tolerance_m:
            continue
        for end in ends:
            near = tree.query(end, predicate="dwithin", distance=tolerance_m)
            if not any(int(k) != i for k in near):
                found.append(DeadEnd(i, end))
    return found
