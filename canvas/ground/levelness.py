"""How level a line lies on the ground, and a traced line set onto a straight grade."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import InputError
from canvas.base.grid import Floats, Grid
from canvas.ground.frames import line_points
from canvas.ground.profile import Sampled
from canvas.ground.snag import Snag, distinct, without_loops

Mask = NDArray[np.bool_]

#: A line that strays further from its level than this is no level line [m].
LEVEL_WITHIN_M = 0.02
#: Points are set in until the line holds its level this well [m].
AIM_M = 0.015
#: Rounds of moving points onto the level and setting in more.
ROUNDS = 8
#: A point is moved no further than this onto its level in one round, in cells, looked for in
#: so many steps each way.
MOVE_CELLS = 1.5
MOVE_STEPS = 12
#: Pieces shorter than this are not parted [m].
SHORTEST_M = 0.25


@dataclass(frozen=True, slots=True)
class LevelErrors:
    """How far the ground strays from a line's level; all NaN where no ground is known."""

    #: Greatest distance, and the mean of all.
    worst_m: float
    mean_m: float
    #: Where the worst is, and whether the ground lies above the level there (+) or below (−).
    at_m: float
    off_m: float
    x_m: float
    y_m: float


NOTHING = LevelErrors(*(math.nan,) * 6)


def falling(line: LineString, start_m: float, grade: float) -> Floats:
    """Return the level at each point of a line that starts at a level and falls evenly."""
    return np.asarray(start_m - grade * line_points(line)[1], np.float64)


def mean_start_m(ground: Sampled, line: LineString, grade: float) -> float:
    """Return the start level at which a line, falling evenly, lies in the mean on the ground."""
    along, x, y = _stations(line, ground.cell_m / 2)
    start = ground.sample(x, y) + grade * along
    known = np.isfinite(start)
    return float(start[known].mean()) if known.any() else math.nan


def level_errors(
    ground: Sampled, line: LineString, level_m: Floats, snags: Sequence[Snag] = ()
) -> LevelErrors:
    """Return how far the surface strays from a line's level, its snags left out."""
    xy, run = line_points(line)
    if len(level_m) != len(xy):
        raise InputError("a level for each point of the line")
    along, x, y = _stations(line, ground.cell_m / 4)
    keep = np.ones(len(along), bool)
    for snag in snags:
        keep &= (along < snag.from_m) | (along > snag.to_m)
    along, x, y = along[keep], x[keep], y[keep]
    off = ground.sample(x, y) - np.interp(along, run, level_m)
    if not np.isfinite(off).any():
        return NOTHING
    k = int(np.nanargmax(np.abs(off)))
    worst = float(off[k])
    return LevelErrors(
        abs(worst), float(np.nanmean(np.abs(off))), float(along[k]), worst, float(x[k]), float(y[k])
    )


def _stations(line: LineString, step_m: float) -> tuple[Floats, Floats, Floats]:
    """Return distances along a line, every step and every point, and where they are."""
    xy, run = line_points(line)
    along = np.unique(np.concatenate((np.arange(0.0, run[-1], step_m), run)))
    return along, np.interp(along, run, xy[:, 0]), np.interp(along, run, xy[:, 1])


def snags_beside(
    ground: Sampled, line: LineString, level_m: Floats, kept: BaseGeometry, clear_m: float
) -> tuple[Snag, ...]:
    """Return where a line leads round what is kept: the stretches within `clear_m` of it."""
    run = line_points(line)[1]
    along, x, y = _stations(line, ground.cell_m / 4)
    shapely.prepare(kept)
    near = shapely.dwithin(shapely.points(x, y), kept, clear_m + ground.cell_m / 2)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], near.astype(int), [0]))))
    off = ground.sample(x, y) - np.interp(along, run, level_m)
    found = []
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        here = off[first:last]
        known = np.isfinite(here)
        worst = float(here[np.nanargmax(np.abs(here))]) if known.any() else math.nan
        found.append(Snag(float(along[first]), float(along[last - 1]), worst))
    return tuple(found)


def on_grade(
    ground: Grid, points: Floats, grade: float, anchor_m: float, snags: Sequence[Snag] = ()
) -> tuple[Floats, tuple[Snag, ...]]:
    """Return a traced line (n, 3) whose level falls evenly along it, on the ground's surface.

    A trace falls with every turn it walks; straightened and led round things its level no longer
    falls evenly with its own length. Points are moved up or down the slope onto the even grade,
    and more set in, until it holds. `anchor_m` along it keeps its level. Snags keep their place.
    """
    xy = points[:, :2].copy()
    fixed = _inside(_run(xy), snags)
    run = _run(xy)
    anchor = float(np.interp(anchor_m, run, points[:, 2]))
    keep = float(anchor_m)
    best: tuple[float, Floats, Mask] | None = None
    for _ in range(ROUNDS):
        run = _run(xy)
        level = anchor + grade * (keep - run)
        xy = np.where(fixed[:, None], xy, _onto(ground, xy, level))
        tidy = without_loops(distinct(np.column_stack((xy, fixed))))
        xy, fixed = tidy[:, :2].copy(), tidy[:, 2] > 0.5
        run = _run(xy)
        level = anchor + grade * (keep - run)
        free = _spans(run, fixed)
        errors = level_errors(ground, LineString(xy), level, free)
        if best is None or errors.worst_m < best[0]:
            best = (errors.worst_m, np.column_stack((xy, level)), fixed.copy())
        if not errors.worst_m > AIM_M:
            break
        count = len(xy)
        xy, fixed = _denser(ground, xy, level, fixed)
        if len(xy) == count:
            break
    assert best is not None  # the first round makes one
    made = best[1]
    spans = _spans(_run(made[:, :2]), best[2])
    offs = [_worst(ground, made, span) for span in spans]
    return made, tuple(
        Snag(span.from_m, span.to_m, off) for span, off in zip(spans, offs, strict=True)
    )


def _run(xy: Floats) -> Floats:
    return np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))))


def _inside(run: Floats, snags: Sequence[Snag]) -> Mask:
    held = np.zeros(len(run), bool)
    for snag in snags:
        held |= (run >= snag.from_m - 1e-6) & (run <= snag.to_m + 1e-6)
    return held


def _spans(run: Floats, fixed: Mask) -> list[Snag]:
    """Return the stretches between points that are held."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], fixed.astype(int), [0]))))
    # From the free point before to the free point after: the line leads to the detour there.
    last = len(run) - 1
    return [
        Snag(float(run[max(a - 1, 0)]), float(run[min(b, last)]), math.nan)
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    ]


def _worst(ground: Grid, made: Floats, span: Snag) -> float:
    run = _run(made[:, :2])
    at = np.linspace(span.from_m, span.to_m, 40)
    x, y, level = (np.interp(at, run, made[:, i]) for i in range(3))
    off = ground.sample(x, y) - level
    return float(off[np.nanargmax(np.abs(off))]) if np.isfinite(off).any() else math.nan


def _onto(ground: Grid, xy: Floats, level: Floats) -> Floats:
    """Return points moved square to the line onto their levels, to the nearest place that has it.

    Where none is within reach a point stays.
    """
    ahead = np.vstack((xy[1:], xy[-1:])) - np.vstack((xy[:1], xy[:-1]))
    long = np.maximum(np.hypot(*ahead.T), 1e-9)
    square = np.column_stack((-ahead[:, 1], ahead[:, 0])) / long[:, None]
    reach = MOVE_CELLS * ground.cell_m
    away = np.linspace(-reach, reach, 2 * MOVE_STEPS + 1)
    x = xy[:, 0, None] + away * square[:, 0, None]
    y = xy[:, 1, None] + away * square[:, 1, None]
    off = ground.sample(x, y) - level[:, None]
    first, second = off[:, :-1], off[:, 1:]
    with np.errstate(divide="ignore", invalid="ignore"):
        spot = away[:-1] + first / (first - second) * (away[1] - away[0])
    crosses = (first * second <= 0) & (first != second)
    near = np.where(crosses, np.abs(spot), np.inf)
    best = np.argmin(near, axis=1)
    rows = np.arange(len(xy))
    go = np.where(np.isfinite(near[rows, best]), spot[rows, best], 0.0)
    return np.asarray(xy + go[:, None] * square, np.float64)


def _denser(ground: Grid, xy: Floats, level: Floats, fixed: Mask) -> tuple[Floats, Mask]:
    """Set a point into every free piece that strays, where it strays most."""
    share = np.linspace(0.0, 1.0, 9)[1:-1]
    first, step = xy[:-1, :, None], (xy[1:] - xy[:-1])[:, :, None]
    place = first + share * step
    wanted = level[:-1, None] + share * (level[1:] - level[:-1])[:, None]
    off = np.nan_to_num(np.abs(ground.sample(place[:, 0], place[:, 1]) - wanted))
    worst = np.argmax(off, axis=1)
    rows = np.arange(len(worst))
    long = np.hypot(step[:, 0, 0], step[:, 1, 0])
    stray = (off[rows, worst] > AIM_M) & ~fixed[:-1] & ~fixed[1:] & (long > SHORTEST_M)
    at = np.flatnonzero(stray)
    more = place[at, :, worst[at]]
    return np.insert(xy, at + 1, more, axis=0), np.insert(fixed, at + 1, False)
