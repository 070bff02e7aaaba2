"""A design profile that moves least earth, and one whose cut makes its fill."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.optimize import brentq, linprog
from scipy.sparse import diags_array, eye_array, hstack, vstack

from canvas.base.errors import BadData
from canvas.base.grid import Floats
from canvas.ground.formation import Roadbed
from canvas.ground.gradeline import GradeLine, Knee, straights
from canvas.ground.profile import Section

#: More stations than this are thinned for the search.
MOST_STATIONS = 300
#: A line is raised or lowered so far at most to balance, and to this [m].
MOST_SHIFT_M, SHIFT_M = 2.0, 0.001
#: Where a straight profile gets the points it is raised by: this share in from either end.
INNER = 0.1


def least_earth(
    ground: Section,
    steepest: float,
    curve_m: float = 0.0,
    within_m: float = 0.15,
) -> GradeLine:
    """Return the grade line nowhere steeper than `steepest` that departs least from the ground.

    Least by the area between the two along the centre line: a linear programme, then drawn with
    as few points as keep it `within_m`. Both ends stay on the ground. Raises `BadData` where they
    lie too far apart in height for the grade.
    """
    known = ~np.isnan(ground.z_m)
    run, z = ground.distance_m[known], ground.z_m[known]
    if len(run) < 2 or not steepest > 0:
        raise BadData("there is no ground along this line", remedy="Draw it on the known ground.")
    if len(run) > MOST_STATIONS:
        s = np.linspace(run[0], run[-1], MOST_STATIONS)
        run, z = s, np.interp(s, run, z)
    rise, length = abs(z[-1] - z[0]), run[-1] - run[0]
    if rise > steepest * length:
        raise BadData(
            f"the ends differ by {rise:.1f} m in height, a mean grade of"
            f" {100 * rise / length:.1f} % over {length:.0f} m",
            remedy=f"Make the track at least {rise / steepest:.0f} m long.",
        )
    level = _fitted(run, z, steepest, float(z[0]), float(z[-1]))
    keep = straights(run, level, within_m)
    return GradeLine(tuple(Knee(float(run[i]), float(level[i]), curve_m) for i in keep))


def _fitted(run: Floats, z: Floats, steepest: float, start: float, end: float) -> Floats:
    """Return levels that depart least from heights, by area, within a grade; ends are given."""
    n = len(run)
    step = np.diff(run)
    weight = np.gradient(run)
    # Unknowns: the levels over the lowest height, then how far each lies from the ground.
    base = float(min(z.min(), start, end)) - 10.0
    rise = diags_array([-np.ones(n - 1), np.ones(n - 1)], offsets=[0, 1], shape=(n - 1, n))
    one, none = eye_array(n), eye_array(n - 1, n) * 0.0
    rows = vstack(
        [hstack([rise, none]), hstack([-rise, none]), hstack([one, -one]), hstack([-one, -one])]
    )
    limit = np.concatenate((steepest * step, steepest * step, z - base, base - z))
    bounds: list[tuple[float, float | None]] = [(0.0, None)] * (2 * n)
    bounds[0] = (start - base, start - base)
    bounds[n - 1] = (end - base, end - base)
    cost = np.concatenate((np.zeros(n), weight))
    found = linprog(cost, A_ub=rows.tocsr(), b_ub=limit, bounds=bounds, method="highs")
    if not found.success:
        raise BadData("no profile within this grade was found", remedy="Allow a steeper grade.")
    return np.asarray(found.x[:n] + base, np.float64)


def balanced(
    bed: Roadbed, steepest: float, compacted_per_bank: float, curve_m: float = 0.0
) -> GradeLine:
    """Return the least-earth profile, raised or lowered between its ends until cut makes fill.

    By the earth the whole track moves, batters and all. Where no shift within the grade balances,
    the nearest is taken.
    """
    line = _with_inner(least_earth(bed.stations.profile(), steepest, curve_m), curve_m)
    low, high = _room(line, steepest)

    def over(shift: float) -> float:
        earth = bed.at(_raised(line, shift)).earth
        total = earth.cut_m3 + earth.fill_m3
        left = earth.cut_m3 * compacted_per_bank - earth.fill_m3
        return left / total if total > 0 else 0.0

    if high - low < SHIFT_M or over(low) <= 0:
        return _raised(line, low if high - low >= SHIFT_M else 0.0)
    if over(high) >= 0:
        return _raised(line, high)
    shift = brentq(over, low, high, xtol=SHIFT_M, maxiter=30, disp=False)
    return _raised(line, float(shift))


def _with_inner(line: GradeLine, curve_m: float) -> GradeLine:
    """Return a line with points between its ends, so that it can be raised between them."""
    if len(line.knees) > 2:
        return line
    first, last = line.knees
    run = last.station_m - first.station_m
    inner = [first.station_m + run * share for share in (INNER, 1 - INNER)]
    knees = [Knee(s, float(line.level_m(s)), min(curve_m, run * INNER)) for s in inner]
    return GradeLine((first, *knees, last))


def _raised(line: GradeLine, shift_m: float) -> GradeLine:
    """Return a line with all points but its ends raised."""
    first, *inner, last = line.knees
    raised = [replace(knee, level_m=knee.level_m + shift_m) for knee in inner]
    return GradeLine((first, *raised, last))


def _room(line: GradeLine, steepest: float) -> tuple[float, float]:
    """Return by how much a line may be lowered and raised between its ends within a grade."""
    low, high = -MOST_SHIFT_M, MOST_SHIFT_M
    at = [knee.station_m for knee in line.knees]
    for grade, run in ((line.grades[0], at[1] - at[0]), (-line.grades[-1], at[-1] - at[-2])):
        low = max(low, (-steepest - grade) * run)
        high = min(high, (steepest - grade) * run)
    return min(low, 0.0), max(high, 0.0)
