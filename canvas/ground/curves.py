"""Horizontal curves: a drawn centre line rounded with arcs of a stated radius."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, Point

from canvas.base.errors import InputError
from canvas.base.grid import Floats

#: Straight pieces of an arc stray this far from it at most [m].
SAGITTA_M = 0.01
#: Turns gentler than this are left as they are.
LEAST_TURN_DEG = 0.5


@dataclass(frozen=True, slots=True)
class Curve:
    """One arc of a centre line."""

    #: Where the two straights would meet.
    corner: Point
    #: Change of direction, + to the left.
    turn_deg: float
    asked_m: float
    #: The radius there was room for.
    radius_m: float
    #: Along the rounded line.
    from_m: float
    to_m: float

    @property
    def arc_m(self) -> float:
        """Length along the arc."""
        return self.radius_m * math.radians(abs(self.turn_deg))

    @property
    def tangent_m(self) -> float:
        """From the corner to either end of the arc."""
        return self.radius_m * math.tan(math.radians(abs(self.turn_deg)) / 2)

    @property
    def external_m(self) -> float:
        """From the corner to the arc's middle."""
        return self.radius_m * (1 / math.cos(math.radians(abs(self.turn_deg)) / 2) - 1)

    @property
    def fits(self) -> bool:
        """Whether the legs leave room for the radius asked."""
        return self.radius_m >= self.asked_m * (1 - 1e-9)


@dataclass(frozen=True, slots=True)
class Rounded:
    """A centre line of straights and arcs."""

    line: LineString
    curves: tuple[Curve, ...]

    @property
    def tightest_m(self) -> float:
        """The smallest radius; infinite without curves."""
        return min((curve.radius_m for curve in self.curves), default=math.inf)


def rounded(line: LineString, radius_m: float, radii_m: Sequence[float | None] = ()) -> Rounded:
    """Return a drawn line with its corners rounded to `radius_m`.

    `radii_m` may give a corner its own (one per inner point, None for the general one). Where
    two legs leave too little room, the arcs on either side of the short leg are made smaller in
    like measure, and the curve says so.
    """
    xy = shapely.get_coordinates(line)
    steps = np.hypot(*np.diff(xy, axis=0).T)
    xy = xy[np.concatenate(([True], steps > 1e-6))]
    if len(xy) < 2:
        raise InputError("a centre line needs some length")
    corners = len(xy) - 2
    asked = np.full(corners, radius_m)
    for i, own in enumerate(radii_m[:corners]):
        asked[i] = radius_m if own is None else own
    if corners and not np.all(asked >= 0):
        raise InputError("a radius can't be below 0")
    legs = np.diff(xy, axis=0)
    length = np.hypot(legs[:, 0], legs[:, 1])
    heading = np.arctan2(legs[:, 1], legs[:, 0])
    turn = (np.diff(heading) + math.pi) % (2 * math.pi) - math.pi
    half = np.tan(np.minimum(np.abs(turn), math.radians(179.0)) / 2)
    radius = _fitted(asked, half, length)
    return _drawn(xy, legs / length[:, None], turn, half, radius, asked)


def _fitted(asked: Floats, half: Floats, length: Floats) -> Floats:
    """Return the radii whose tangents fit into the legs."""
    tangent = asked * half
    need = np.zeros(len(length))
    need[:-1] += tangent
    need[1:] += tangent
    share = np.minimum(np.divide(length, need, out=np.ones_like(need), where=need > 0), 1.0)
    return np.asarray(asked * np.minimum(share[:-1], share[1:]), np.float64)


def _drawn(
    xy: Floats, ahead: Floats, turn: Floats, half: Floats, radius: Floats, asked: Floats
) -> Rounded:
    """Return the points of straights and arcs, and the arcs."""
    points, curves, run = [xy[0]], [], 0.0
    for i, angle in enumerate(turn):
        corner, r = xy[i + 1], float(radius[i])
        if abs(angle) < math.radians(LEAST_TURN_DEG) or r < 1e-6:
            run += math.dist(points[-1], corner)
            points.append(corner)
            if abs(angle) >= math.radians(LEAST_TURN_DEG):
                own = float(asked[i])
                curves.append(Curve(Point(corner), math.degrees(angle), own, r, run, run))
            continue
        start = corner - ahead[i] * r * half[i]
        run += math.dist(points[-1], start)
        side = math.copysign(1.0, angle)
        centre = start + side * r * np.array([-ahead[i, 1], ahead[i, 0]])
        apart = 2 * math.acos(max(1 - SAGITTA_M / r, 0.0))
        count = max(math.ceil(abs(angle) / apart), 2)
        first = math.atan2(start[1] - centre[1], start[0] - centre[0])
        at = first + angle * np.linspace(0.0, 1.0, count + 1)
        arc = centre + r * np.column_stack((np.cos(at), np.sin(at)))
        points.extend(arc)
        chords = float(np.hypot(*np.diff(arc, axis=0).T).sum())
        curves.append(
            Curve(Point(corner), math.degrees(angle), float(asked[i]), r, run, run + chords)
        )
        run += chords
    points.append(xy[-1])
    return Rounded(LineString(_apart(np.array(points))), tuple(curves))


def _apart(xy: Floats) -> Floats:
    """Return points without repeats."""
    steps = np.hypot(*np.diff(xy, axis=0).T)
    return xy[np.concatenate(([True], steps > 1e-6))]
