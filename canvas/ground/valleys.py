"""Drainage lines, valleys, ridges, and the keypoints where valleys flatten out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import LineString

from canvas.base.errors import InputError
from canvas.base.grid import Floats, Grid
from canvas.base.sources import cites
from canvas.ground import drain_kernels as kernels
from canvas.ground.flood import Ints, Longs, steps_of
from canvas.ground.flow import LEAVES, Flow, flow

#: A valley's or ridge's sides rise or fall at least so much on the mean (rise over run). Common
#: practice, no source.
LEAST_SIDES = 0.03
#: How far away a valley's and a ridge's sides are looked at: crests are broad and round where
#: valleys are narrow. Common practice, no source.
VALLEY_M, RIDGE_M = 15.0, 30.0
#: The upper slope is steeper than the lower by more than this at a keypoint (rise over run).
#: Common practice, no source.
LEAST_BREAK = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class DrainageLine:
    """One reach of the drainage network, from its head or a confluence to the next confluence."""

    #: Downhill, through cell centres; the last point lies on the reach it joins.
    line: LineString
    #: Strahler's: 1 for a head; where two of one order meet, the next higher.
    order: int
    #: Plan area that drains through its lower end, before what joins there.
    area_m2: float
    #: Index of the reach it runs into; -1 where water leaves the data.
    joins: int
    #: Its catchment touches the data's edge: the area is "at least".
    at_least: bool


@cites("strahler1957")
def drainage_lines(found: Flow, least_area_m2: float) -> tuple[DrainageLine, ...]:
    """Return the network of all cells through which at least an area drains, heads first.

    Every reach comes before the one it joins. A reach of a single cell, at the data's edge, is
    left out.
    """
    flat, least = _flat(found), _least_cells(found, least_area_m2)
    inflows, rank = np.zeros(found.count.size, np.uint8), np.zeros(found.count.size, np.uint8)
    cells_drained = kernels.grade(*flat, least, inflows, rank)
    cells, start = np.empty(2 * cells_drained, np.int32), np.empty(cells_drained + 1, np.int64)
    reaches = kernels.link(*flat, least, inflows, cells, start)
    start = start[: reaches + 1]
    long = np.flatnonzero(np.diff(start) > 1)
    heads, tails = cells[start[long]], cells[start[long + 1] - 1]
    index = dict(zip(heads.tolist(), range(len(long)), strict=True))
    confluence = inflows[tails] > 1
    last = np.where(confluence, cells[start[long + 1] - 2], tails)
    area = found.count.ravel()[last] * found.ground.cell_m**2
    at_edge = found.at_least.ravel()[last]
    xy = _centres(found.ground, cells[: start[-1]])
    return tuple(
        DrainageLine(
            LineString(xy[start[i] : start[i + 1]]),
            int(rank[heads[k]]),
            float(area[k]),
            index.get(int(tails[k]), -1) if confluence[k] else -1,
            bool(at_edge[k]),
        )
        for k, i in enumerate(long.tolist())
    )


def _flat(found: Flow) -> tuple[NDArray[np.uint8], Longs, Ints, Ints]:
    steps = steps_of(found.ground.shape[1])
    return found.way.ravel(), steps, found.order, found.count.ravel()


def _least_cells(found: Flow, least_area_m2: float) -> int:
    if not least_area_m2 > 0:
        raise InputError(f"drainage lines need an area above 0, got {least_area_m2}")
    return max(int(np.ceil(least_area_m2 / found.ground.cell_m**2 - 1e-9)), 1)


def _centres(grid: Grid, cells: Ints) -> Floats:
    cols = grid.shape[1]
    return np.column_stack((grid.x_m()[cells % cols], grid.y_m()[cells // cols]))


@dataclass(frozen=True, slots=True, eq=False)
class _Stem:
    """A drainage line from the divide down its main inflows to its mouth."""

    cells: Ints
    #: How many of the upper cells drain less than the threshold.
    head: int


def _stems(found: Flow, least_area_m2: float) -> list[_Stem]:
    """Return the stems of all drainage lines, each cell on one at most."""
    least, flat = _least_cells(found, least_area_m2), _flat(found)
    way, steps, _, count = flat
    above = np.full(count.size, -1, np.int32)
    kernels.main_inflow(*flat, above)
    drained = np.flatnonzero(count >= least)
    leaves = way[drained] == LEAVES
    below = drained + np.where(leaves, 0, steps[np.where(leaves, 0, way[drained])])
    feet = drained[leaves | (above[below] != drained)].astype(np.int32)
    start = np.empty(len(feet) + 1, np.int64)
    kernels.climb(above, feet, start, np.empty(0, np.int32))
    cells = np.empty(start[-1], np.int32)
    kernels.climb(above, feet, start, cells)
    stems = []
    for i in range(len(feet)):
        downhill = np.ascontiguousarray(cells[start[i] : start[i + 1]][::-1])
        stems.append(_Stem(downhill, int(np.searchsorted(count[downhill], least))))
    return stems


@dataclass(frozen=True, slots=True, eq=False)
class TerrainLine:
    """A stretch of valley floor or ridge crest, through cell centres."""

    #: A valley's runs downhill, a ridge's uphill.
    line: LineString
    #: Mean slope of the ground up (valley) or down (ridge) on both sides, rise over run.
    sides: float


def valley_lines(
    found: Flow,
    least_area_m2: float,
    least_sides: float = LEAST_SIDES,
    across_m: float = VALLEY_M,
    least_length_m: float = 0.0,
) -> tuple[TerrainLine, ...]:
    """Return where drainage lines run between rising sides.

    On an even slope every cell's water gathers downhill too, but no valley holds it. The sides
    are looked at `across_m` away (three cells at least) and must rise `least_sides` on their mean;
    stretches shorter than `least_length_m` (by default three times that distance) are left out.
    The area tells which valleys count; each is followed up as far as its sides rise half as much
    as further down.
    """
    return _between_sides(found, found.ground, least_area_m2, least_sides, across_m, least_length_m)


def ridge_lines(
    ground: Grid,
    least_area_m2: float,
    least_sides: float = LEAST_SIDES,
    across_m: float = RIDGE_M,
    least_length_m: float = 0.0,
) -> tuple[TerrainLine, ...]:
    """Return where the ground falls away on both sides: the valleys of the ground turned over.

    Through a summit the line runs over the top and on by the highest saddle, as water would
    through a hollow.
    """
    over = ground.like(-ground.z)
    return _between_sides(flow(over), over, least_area_m2, least_sides, across_m, least_length_m)


def _between_sides(
    found: Flow, ground: Grid, area_m2: float, least: float, across_m: float, length_m: float
) -> tuple[TerrainLine, ...]:
    across = max(across_m, 3 * ground.cell_m)
    shortest, near = length_m or 3 * across, max(round(across / ground.cell_m), 1)
    lines = []
    for stem in _stems(found, area_m2):
        xy = _centres(ground, stem.cells)
        raw = _sides(ground, xy, across)
        seen = np.isfinite(raw)
        share = np.maximum(_mean(seen.astype(np.float64), near), 1e-9)
        sides = _mean(np.where(seen, raw, 0.0), near) / share
        deep = seen & (sides >= least)
        # Above the threshold's cell a stem leaves the floor for the side somewhere: cut it there.
        least_above = max(least, 0.5 * float(sides[stem.head :].mean()))
        deep[: stem.head] &= raw[: stem.head] >= least_above
        for first, end in _runs(deep):
            if end - first > 1 and end > stem.head:
                line = LineString(xy[first:end])
                if line.length >= shortest:
                    lines.append(TerrainLine(line, float(sides[first:end].mean())))
    return tuple(lines)


def _sides(ground: Grid, xy: Floats, across: float) -> Floats:
    """Return the mean rise to both sides of a line's points, rise over run; NaN at the edge."""
    if len(xy) < 2:
        return np.full(len(xy), np.nan)
    ahead = np.gradient(_mean(xy, max(round(across / ground.cell_m), 1)), axis=0)
    ahead /= np.maximum(np.hypot(ahead[:, 0], ahead[:, 1]), 1e-12)[:, None]
    left = np.column_stack((-ahead[:, 1], ahead[:, 0])) * across
    one, other = ground.sample(*(xy + left).T), ground.sample(*(xy - left).T)
    return np.asarray((one + other - 2 * ground.sample(*xy.T)) / (2 * across), np.float64)


def _mean(values: Floats, half: int) -> Floats:
    """Return the moving mean over `half` values to each side, fewer but as many near the ends."""
    n = len(values)
    width = np.minimum(half, np.minimum(np.arange(n), np.arange(n)[::-1]))
    run = np.concatenate((np.zeros((1, *values.shape[1:])), np.cumsum(values, axis=0)))
    at = np.arange(n)
    total = run[at + width + 1] - run[at - width]
    return np.asarray(total / (2 * width + 1).reshape(-1, *(1,) * (values.ndim - 1)), np.float64)


def _runs(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return first and end of each run of true flags."""
    turns = np.flatnonzero(np.diff(flags.astype(np.int8), prepend=0, append=0))
    return [(int(a), int(b)) for a, b in zip(turns[::2], turns[1::2], strict=True)]


@dataclass(frozen=True, slots=True)
class ProfileBreak:
    """Where a profile's steep upper slope gives way to the flatter lower one."""

    distance_m: float
    z_m: float
    #: Mean falls over the reach looked at, rise over run.
    slope_above: float
    slope_below: float
    #: Greatest hollowness, z'' [1/m].
    hollow_per_m: float
    #: The steepest place above it, where the profile turns from rounded to hollow.
    steepest_m: float


def profile_break(
    distance_m: Floats,
    z_m: Floats,
    step_m: float,
    smooth_m: float = 0.0,
    reach_m: float = 0.0,
    least_break: float = LEAST_BREAK,
) -> ProfileBreak | None:
    """Return the most hollow place of a profile that runs downhill; None without one.

    The profile is resampled every `step_m` and smoothed by two moving means over `smooth_m` (three
    samples at least). The slope over `reach_m` above (ten samples by default) must be steeper
    than that below by more than `least_break`.
    """
    if not step_m > 0:
        raise InputError(f"profile step must be above 0, got {step_m}")
    s = np.arange(distance_m[0], distance_m[-1] + step_m * 1e-9, step_m)
    if len(s) < 5:
        return None
    half = max(round(smooth_m / step_m / 2), 1)
    z = _mean(_mean(np.interp(s, distance_m, z_m), half), half)
    hollow = np.full(len(s), -np.inf)
    hollow[1:-1] = (z[:-2] - 2 * z[1:-1] + z[2:]) / step_m**2
    at, reach = np.arange(len(s)), max(round((reach_m or 10 * step_m) / step_m), 2)
    back, on = np.minimum(reach, at), np.minimum(reach, at[::-1])
    above = (z[at - back] - z) / (np.maximum(back, 1) * step_m)
    below = (z - z[at + on]) / (np.maximum(on, 1) * step_m)
    # Near the ends too little is seen of one side; moving means are narrower there, too.
    fit = (np.minimum(back, on) >= 2 * half) & (above - below > least_break)
    if not fit.any():
        return None
    i = int(np.argmax(np.where(fit, hollow, -np.inf)))
    steepest = int(np.argmin(np.gradient(z, step_m)[: i + 1]))
    return ProfileBreak(
        float(s[i]),
        float(z[i]),
        float(above[i]),
        float(below[i]),
        float(hollow[i]),
        float(s[steepest]),
    )


@dataclass(frozen=True, slots=True)
class Keypoint:
    """The keypoint of a valley: there a dam holds most, and level lines spread water best."""

    x_m: float
    y_m: float
    z_m: float
    #: Plan area that drains to it.
    area_m2: float
    at_least: bool
    #: On the valley's profile, measured from the divide.
    profile: ProfileBreak


def keypoints(
    found: Flow, least_area_m2: float, least_break: float = LEAST_BREAK, smooth_m: float = 15.0
) -> tuple[Keypoint, ...]:
    """Return each valley's keypoint, where it has one: the largest catchment first.

    The valley is followed from the divide down its main inflows to where it joins a larger one, on
    the filled surface: a hollow's floor is as level as its water. Distances run along a line
    smoothed over five cells, as cell to cell reads up to 8 % long.
    """
    grid, filled = found.ground, found.filled.z.ravel()
    cells, profiles = [], []
    for stem in _stems(found, least_area_m2):
        if len(stem.cells) < 5:
            continue
        xy = _mean(_centres(grid, stem.cells), 2)
        along = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))))
        step = 2 * grid.cell_m
        reach = max(2 * smooth_m, 10 * step)
        seen = profile_break(along, filled[stem.cells], step, smooth_m, reach, least_break)
        if seen is not None:
            cells.append(int(stem.cells[np.argmin(np.abs(along - seen.distance_m))]))
            profiles.append(seen)
    at = np.array(cells, np.int32)
    xy, touching = _centres(grid, at), found.at_least.ravel()[at]
    area, z = found.count.ravel()[at] * grid.cell_m**2, grid.z.ravel()[at]
    return tuple(
        Keypoint(
            float(xy[i, 0]),
            float(xy[i, 1]),
            float(z[i]),
            float(area[i]),
            bool(touching[i]),
            profiles[i],
        )
        for i in np.argsort(-area, kind="stable").tolist()
    )
