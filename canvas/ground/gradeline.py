"""The design profile of a track: straight grades joined by vertical curves."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from canvas.base.errors import BadData, InputError
from canvas.base.grid import Floats
from canvas.ground.profile import Section


@dataclass(frozen=True, slots=True)
class Knee:
    """Where two straight grades meet, and the length of the curve that eases them."""

    station_m: float
    level_m: float
    curve_m: float = 0.0


@dataclass(frozen=True, slots=True)
class GradeLine:
    """Levels along a line: straights between knees, a parabola over each knee's curve.

    Stations are plan distances from the line's start and rise. Curves that would overlap are
    shortened to touch.
    """

    knees: tuple[Knee, ...]

    def __post_init__(self) -> None:
        """Check the order and make curves fit."""
        if len(self.knees) < 2:
            raise InputError("a grade line needs a start and an end")
        at = np.array([knee.station_m for knee in self.knees])
        if np.any(np.diff(at) <= 0):
            raise BadData(
                "the points of the profile must follow one another along the line",
                remedy="Move the point between its neighbours.",
            )
        # In plan an easing curve takes half its length from the straight on either side.
        fitted = []
        for i, knee in enumerate(self.knees):
            if i in (0, len(self.knees) - 1):
                fitted.append(replace(knee, curve_m=0.0))
                continue
            room = min(at[i] - at[i - 1], at[i + 1] - at[i])
            inner = 2.0 if len(self.knees) == 3 else 1.0
            fitted.append(replace(knee, curve_m=min(max(knee.curve_m, 0.0), inner * room)))
        object.__setattr__(self, "knees", tuple(fitted))

    @property
    def grades(self) -> Floats:
        """Rise over run of each straight, (knees - 1,)."""
        at = np.array([knee.station_m for knee in self.knees])
        z = np.array([knee.level_m for knee in self.knees])
        return np.asarray(np.diff(z) / np.diff(at), np.float64)

    @property
    def length_m(self) -> float:
        """Plan length."""
        return self.knees[-1].station_m - self.knees[0].station_m

    def level_m(self, station_m: ArrayLike) -> Floats:
        """Return levels at stations; beyond the ends the last grades go on."""
        s = np.asarray(station_m, np.float64)
        at = np.array([knee.station_m for knee in self.knees])
        z = np.array([knee.level_m for knee in self.knees])
        g = self.grades
        k = np.clip(np.searchsorted(at, s, side="right") - 1, 0, len(g) - 1)
        level = z[k] + g[k] * (s - at[k])
        for i, knee in enumerate(self.knees[1:-1], start=1):
            if knee.curve_m > 0:
                # On the straight's side of the knee, a parabola from each end of the curve.
                into = knee.curve_m / 2 - np.abs(s - knee.station_m)
                turn = g[i] - g[i - 1]
                level = level + np.where(into > 0, turn * into**2 / (2 * knee.curve_m), 0.0)
        return np.asarray(level, np.float64)

    def grade(self, station_m: ArrayLike) -> Floats:
        """Return rise over run at stations."""
        s = np.asarray(station_m, np.float64)
        at = np.array([knee.station_m for knee in self.knees])
        g = self.grades
        k = np.clip(np.searchsorted(at, s, side="right") - 1, 0, len(g) - 1)
        grade = g[k].astype(np.float64)
        for i, knee in enumerate(self.knees[1:-1], start=1):
            if knee.curve_m > 0:
                t = np.clip((s - knee.station_m) / knee.curve_m + 0.5, 0.0, 1.0)
                inside = np.abs(s - knee.station_m) < knee.curve_m / 2
                grade = np.where(inside, g[i - 1] + t * (g[i] - g[i - 1]), grade)
        return np.asarray(grade, np.float64)

    @property
    def steepest(self) -> float:
        """The grade furthest from level, with its sign."""
        g = self.grades
        return float(g[np.argmax(np.abs(g))])

    def turning_points_m(self) -> tuple[Floats, Floats]:
        """Return the stations of the summits and of the lows, where the grade changes sign."""
        summits: list[float] = []
        lows: list[float] = []
        g = self.grades
        for i, knee in enumerate(self.knees[1:-1], start=1):
            before, after = g[i - 1], g[i]
            if before > 0 > after or before < 0 < after:
                into = knee.curve_m * abs(before) / abs(before - after)
                at = knee.station_m - knee.curve_m / 2 + into
                (summits if before > 0 else lows).append(at)
        return np.array(summits), np.array(lows)


def middle_offset_m(grade_change: float, curve_m: float) -> float:
    """Return how far a vertical curve passes from its knee: A L / 8 with A a ratio."""
    return abs(grade_change) * curve_m / 8


def _cone(run: Floats, z: Floats, grade: float, lower: bool) -> Floats:
    """Return the closest line below (or above) heights that is nowhere steeper than `grade`."""
    out = (z if lower else -z).copy()
    steps = np.diff(run) * grade
    for i in range(1, len(out)):
        out[i] = min(out[i], out[i - 1] + steps[i - 1])
    for i in range(len(out) - 2, -1, -1):
        out[i] = min(out[i], out[i + 1] + steps[i])
    return out if lower else -out


def follow_ground(
    ground: Section,
    steepest: float,
    curve_m: float = 0.0,
    within_m: float = 0.15,
    below: bool = False,
    hold_ends: bool = True,
) -> GradeLine:
    """Return a grade line near the ground that is nowhere steeper than `steepest` (ratio).

    Midway between the closest such lines above and below the ground; with `below`, the one
    below, which puts all of it in cut. It is then drawn with as few knees as keep it `within_m`.
    Raises `BadData` where the ends lie too far apart in height for the grade, or without data.
    """
    known = ~np.isnan(ground.z_m)
    run, z = ground.distance_m[known], ground.z_m[known]
    if len(run) < 2 or not steepest > 0:
        raise BadData("there is no ground along this line", remedy="Draw it on the known ground.")
    rise = abs(z[-1] - z[0]) / (run[-1] - run[0])
    if hold_ends and rise > steepest:
        raise BadData(
            f"the ends differ by {abs(z[-1] - z[0]):.1f} m in height, a mean grade of"
            f" {100 * rise:.1f} % over {run[-1] - run[0]:.0f} m",
            remedy=f"Make the track at least {abs(z[-1] - z[0]) / steepest:.0f} m long.",
        )
    low = _cone(run, z, steepest, lower=True)
    level = low if below else (low + _cone(run, z, steepest, lower=False)) / 2
    if hold_ends and not below:
        for i in (0, -1):
            reach = steepest * np.abs(run - run[i])
            level = np.clip(level, z[i] - reach, z[i] + reach)
    keep = straights(run, level, within_m)
    return GradeLine(tuple(Knee(float(run[i]), float(level[i]), curve_m) for i in keep))


def straights(run: Floats, level: Floats, within_m: float) -> Sequence[int]:
    """Return which points a line of straights needs to stay within a height of a profile."""
    keep, todo = {0, len(run) - 1}, [(0, len(run) - 1)]
    while todo:
        a, b = todo.pop()
        if b - a < 2:
            continue
        t = (run[a : b + 1] - run[a]) / (run[b] - run[a])
        off = np.abs(level[a : b + 1] - (level[a] + t * (level[b] - level[a])))
        worst = int(np.argmax(off))
        if off[worst] > within_m:
            keep.add(a + worst)
            todo += [(a, a + worst), (a + worst, b)]
    return sorted(keep)


def moved(line: GradeLine, knee: int, station_m: float, level_m: float) -> GradeLine:
    """Return the line with one knee moved."""
    knees = list(line.knees)
    knees[knee] = replace(knees[knee], station_m=station_m, level_m=level_m)
    return GradeLine(tuple(knees))


def least_length_m(rise_m: float, grade: float) -> float:
    """Return the plan length that climbs `rise_m` at a grade (ratio)."""
    return rise_m / grade if grade > 0 else math.inf
