"""Along a track: where drains cross it, where it widens, where one turns and passes."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np
from shapely import LineString, Point, Polygon
from shapely.affinity import rotate, translate

from canvas.base import resources
from canvas.base.errors import BadData
from canvas.base.grid import Floats
from canvas.base.sources import cites
from canvas.ground.frames import line_points
from canvas.ground.gradeline import GradeLine

#: A drain so near to a low point drains it [m].
NEAR_LOW_M = 10.0


def _table(*keys: str) -> Any:
    found: Any = resources.toml("roads.toml")
    for key in keys:
        found = found[key]
    return found


class DrainKind(StrEnum):
    """How water is led across a track."""

    DIP = "rolling_dips"
    BAR = "water_bars"


@dataclass(frozen=True, slots=True)
class Drain:
    """A place where water is to be led across."""

    station_m: float
    #: Why here: at a spacing, or because the profile is lowest here.
    lowest: bool
    #: The grade it lies on.
    grade: float


@cites("keller_sherar2003")
def drain_spacing_m(grade: float, kind: DrainKind, erodible: bool) -> float:
    """Return the greatest distance between cross drains at a grade (ratio).

    The source's classes leave gaps (0–3 %, 4–6 %): a grade between two is taken to the nearer.
    """
    return float(drain_spacings_m(np.array([grade]), kind, erodible)[0])


def drain_spacings_m(grades: Floats, kind: DrainKind, erodible: bool) -> Floats:
    """Return the greatest distance between cross drains at each of many grades."""
    table = _table("spacing", kind.value)
    k = np.searchsorted(table["below_grade"], np.abs(grades) - 1e-9)
    return np.asarray(table["erodible_m" if erodible else "resistant_m"], np.float64)[k]


def drained(low_m: float, placed_m: Iterable[float]) -> bool:
    """Return whether a low point has a drain near enough."""
    return any(abs(low_m - at) <= NEAR_LOW_M for at in placed_m)


def drains(
    line: GradeLine, kind: DrainKind, erodible: bool, placed_m: Sequence[float] = ()
) -> list[Drain]:
    """Return the cross drains a grade line needs besides those at the stations `placed_m`.

    Every stretch between a summit, a low or a drain is parted so that no part is longer than its
    grade's spacing; a stretch of mixed grades counts each metre by its own. Every low gets a
    drain, unless one lies within ten metres.
    """
    start, end = line.knees[0].station_m, line.knees[-1].station_m
    summits, lows = line.turning_points_m()
    there = np.array([s for s in placed_m if start < s < end])
    cuts = np.unique(np.concatenate(([start], summits, lows, there, [end])))
    found = [Drain(float(s), True, 0.0) for s in lows if not drained(float(s), there)]
    for a, b in itertools.pairwise(cuts):
        count = max(math.ceil((b - a) / 0.25), 2)
        s = np.linspace(a, b, count + 1)
        middle = (s[:-1] + s[1:]) / 2
        spacing = drain_spacings_m(line.grade(middle), kind, erodible)
        share = np.concatenate(([0.0], np.cumsum(np.diff(s) / spacing)))
        parts = math.ceil(share[-1] - 1e-6)
        for i in range(1, parts):
            at = float(np.interp(share[-1] * i / parts, share, s))
            found.append(Drain(at, False, float(line.grade(at))))
    return sorted(found, key=lambda drain: drain.station_m)


@cites("del_norte_fire")
def extra_width_m(radius_m: float) -> float:
    """Return how much wider a track is to be on a bend of this radius."""
    table = _table("widening")
    for limit, extra in zip(table["up_to_radius_m"], table["extra_m"], strict=True):
        if radius_m <= limit:
            return float(extra)
    return 0.0


def _end(line: LineString, at_start: bool) -> tuple[Floats, float]:
    """Return an end of a line and the direction one leaves it by, degrees from east."""
    xy, _ = line_points(line)
    xy = xy[::-1] if at_start else xy
    step = xy[-1] - xy[-2]
    return xy[-1], math.degrees(math.atan2(step[1], step[0]))


@cites("san_benito_roads")
def turning_circle(line: LineString, at_start: bool = False, radius_m: float = 0.0) -> Polygon:
    """Return a turning circle at an end of a track, its middle on the end."""
    end, _ = _end(line, at_start)
    return Point(end).buffer(radius_m or float(_table("turning", "circle", "radius_m")), 32)


@cites("san_benito_roads")
def hammerhead(
    line: LineString, width_m: float, at_start: bool = False, arm_m: float = 0.0
) -> Polygon:
    """Return a T across an end of a track: `arm_m` from tip to tip, as wide as the track."""
    end, turn = _end(line, at_start)
    reach = (arm_m or float(_table("turning", "hammerhead", "arm_m"))) / 2
    # Drawn heading east, the bar across the far end.
    bar = Polygon([(-width_m, -reach), (0, -reach), (0, reach), (-width_m, reach)])
    return translate(rotate(bar, turn, origin=(0, 0)), end[0], end[1])


@dataclass(frozen=True, slots=True)
class Bay:
    """A passing place beside a track."""

    station_m: float
    on_right: bool
    length_m: float
    width_m: float
    taper_m: float

    @classmethod
    @cites("san_benito_roads")
    def usual(cls, station_m: float, on_right: bool) -> Bay:
        """Return one of the source's measures."""
        table = _table("passing")
        long, wide, taper = (float(table[key]) for key in ("length_m", "width_m", "taper_m"))
        return cls(station_m, on_right, long, wide, taper)

    @property
    def reach_m(self) -> float:
        """Length of track it takes to either side of its middle, tapers included."""
        return self.length_m / 2 + self.taper_m

    def width_at(self, station_m: Floats) -> Floats:
        """Return how far it widens the track at stations."""
        off = np.abs(np.asarray(station_m, np.float64) - self.station_m)
        full = self.length_m / 2
        return np.asarray(np.interp(off, [full, self.reach_m], [self.width_m, 0.0]), np.float64)


def passing_place(line: LineString, bay: Bay, width_m: float) -> Polygon:
    """Return the ground beside a track where one waits for another: a bay with tapers.

    `width_m` is the track's; the bay begins at its edge.
    """
    xy, run = line_points(line)
    half = bay.reach_m
    if bay.station_m - half < 0 or bay.station_m + half > run[-1]:
        raise BadData(
            f"a passing place takes {2 * half:.0f} m of track with its tapers",
            remedy="Move it further from the track's end.",
        )
    full = bay.length_m / 2
    s = bay.station_m + np.array([-half, -full, full, half])
    dense = np.unique(np.concatenate((s, run[(run > s[0]) & (run < s[-1])])))
    k = np.clip(np.searchsorted(run, dense, side="right") - 1, 0, len(run) - 2)
    leg = np.diff(xy, axis=0)[k] / np.diff(run)[k][:, None]
    at = xy[k] + leg * (dense - run[k])[:, None]
    normal = np.column_stack((leg[:, 1], -leg[:, 0])) * (1.0 if bay.on_right else -1.0)
    inner = at + normal * width_m / 2
    outer = at + normal * (width_m / 2 + bay.width_at(dense))[:, None]
    return Polygon(np.vstack((inner, outer[::-1]))).buffer(0)
