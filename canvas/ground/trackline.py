"""Along a track's centre line: stations with ground and level, the hill's side, extra widths."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import LineString

from canvas.base.grid import Floats
from canvas.ground.curves import Rounded
from canvas.ground.frames import AnyGround, line_points
from canvas.ground.gradeline import GradeLine
from canvas.ground.profile import Section
from canvas.ground.waysides import Bay, extra_width_m

#: The side the hill lies on is read over this length of track [m].
SIDE_OVER_M = 12.0
#: Stations of the tables, apart [m].
STATION_M = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Stations:
    """The track by the metre; arrays are (stations,)."""

    station_m: Floats
    x_m: Floats
    y_m: Floats
    #: Ground before, and finished level, on the centre line.
    ground_m: Floats
    level_m: Floats
    grade: Floats
    #: Steepness of the ground across the track; above 0 when it falls to the right.
    side_slope: Floats

    def profile(self) -> Section:
        """Return the ground along the centre line."""
        return Section(self.station_m, self.x_m, self.y_m, self.ground_m)


def stations_of(
    ground: AnyGround, centre: LineString, grade_line: GradeLine | None, half_m: float
) -> Stations:
    """Return ground, level and side slope along a centre line, a metre apart."""
    xy, run = line_points(centre)
    s = np.unique(np.concatenate((np.arange(0.0, run[-1], STATION_M), [run[-1]])))
    at, normal = places(xy, run, s)
    reach = max(half_m, ground.cell_m)
    left, right = at - normal * reach, at + normal * reach
    z = ground.sample(at[:, 0], at[:, 1])
    across = ground.sample(left[:, 0], left[:, 1]) - ground.sample(right[:, 0], right[:, 1])
    level = z if grade_line is None else grade_line.level_m(s)
    grade = np.gradient(level, s) if grade_line is None else grade_line.grade(s)
    return Stations(s, at[:, 0], at[:, 1], z, level, grade, across / (2 * reach))


def places(xy: Floats, run: Floats, s: Floats) -> tuple[Floats, Floats]:
    """Return points of a line at distances along it, and unit normals to its right."""
    k = np.clip(np.searchsorted(run, s, side="right") - 1, 0, len(run) - 2)
    leg = np.diff(xy, axis=0)[k] / np.diff(run)[k][:, None]
    return xy[k] + leg * (s - run[k])[:, None], np.column_stack((leg[:, 1], -leg[:, 0]))


def lower_edge(ground: AnyGround, centre: LineString, half_m: float) -> Section:
    """Return the lowest ground under a track's width along its centre line.

    A grade line below it puts the whole width in cut: a full bench.
    """
    xy, run = line_points(centre)
    s = np.unique(np.concatenate((np.arange(0.0, run[-1], STATION_M), [run[-1]])))
    at, normal = places(xy, run, s)
    under = []
    for share in (-1.0, -0.5, 0.0, 0.5, 1.0):
        beside = at + normal * half_m * share
        under.append(ground.sample(beside[:, 0], beside[:, 1]))
    return Section(s, at[:, 0], at[:, 1], np.min(under, axis=0))


def falls_right(stations: Stations) -> Floats:
    """Return +1 where the ground falls to the right, −1 to the left, running over between."""
    slope = np.nan_to_num(stations.side_slope)
    s = stations.station_m
    width = max(round(SIDE_OVER_M / STATION_M), 1)
    padded = np.pad(slope, width // 2, mode="edge")
    mean = np.convolve(padded, np.ones(width) / width, mode="same")[width // 2 :][: len(s)]
    return np.asarray(np.clip(mean / 0.02, -1.0, 1.0), np.float64)


def widening_along(
    centre: Rounded, station_m: Floats, bays: Sequence[Bay] = ()
) -> tuple[Floats, Floats]:
    """Return the extra width on the left and on the right: each bend's by its radius, each bay."""
    left, right = np.zeros(len(station_m)), np.zeros(len(station_m))
    for bay in bays:
        side = right if bay.on_right else left
        np.maximum(side, bay.width_at(station_m), out=side)
    for curve in centre.curves:
        extra = extra_width_m(curve.radius_m)
        if extra <= 0:
            continue
        # It grows over ten metres before the bend and shrinks over ten beyond it.
        ease = np.array([curve.from_m - 10.0, curve.from_m, curve.to_m, curve.to_m + 10.0])
        grown = np.interp(station_m, ease, [0.0, extra, extra, 0.0])
        side = left if curve.turn_deg > 0 else right
        np.maximum(side, grown, out=side)
    return left, right
