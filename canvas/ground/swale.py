"""Swales and drains: a channel with a bank below it, swept along a traced line."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
import shapely.ops
from shapely import LineString, Point, Polygon

from canvas.base.errors import BadData, InputError
from canvas.base.grid import Bounds, Floats, Grid
from canvas.ground.bank import Sill, Works
from canvas.ground.crosssection import CrossSection
from canvas.ground.faces import Held, HeldLine
from canvas.ground.frames import (
    AnyGround,
    LineFrame,
    finer_by,
    frame_of_line,
    line_points,
    wider,
)
from canvas.ground.patch import (
    Earth,
    Mask,
    Patch,
    Shaped,
    Shaper,
    earth,
    finished,
    on_enough_ground,
)
from canvas.ground.pond import Pool, pool
from canvas.ground.wings import LONGEST_M, Wing, raise_wing, wings

#: Crest lines carry a point at least this often, in cells of the patch.
POINTS_EVERY = 4


@dataclass(frozen=True, slots=True, eq=False)
class Swale:
    """A channel and bank in the ground."""

    works: Works
    line: LineString
    #: Level of the lip at each point of the line.
    lip_m: Floats
    patch: Patch
    earth: Earth
    #: Water held up to the lowest sill, measured on the patch [m³].
    holds_m3: float
    #: The same by cross-section times length: what the section promises on even ground.
    by_section_m3: float
    water_edge: Polygon | shapely.MultiPolygon
    #: The bank's top, with its returns uphill.
    crest: LineString
    #: Every closed end's bank reaches ground as high as itself.
    ends_meet: bool
    #: Mean steepness of the ground across the line (ratio).
    cross_slope: float
    #: The bank lies on the right of the line.
    bank_right: bool


def swale(
    ground: AnyGround,
    line: LineString,
    lip_m: Floats | float,
    works: Works,
    name: str = "",
    bank_right: bool | None = None,
) -> Swale:
    """Return a channel with a bank along `line`, its lip at `lip_m` (one level, or per point).

    The bank lies on the lower side unless told. On a graded line the full level follows the lip.
    Raises `BadData` when the line leaves the known ground.
    """
    xy, run = line_points(line)
    given = np.asarray(lip_m, np.float64)
    levels = np.full(len(xy), float(given)) if given.ndim == 0 else given
    if levels.shape != (len(xy),):
        raise InputError("a level for each point of a line without repeats")
    _check(ground, xy)
    left_m, right_m = _beside(ground, line)
    right = right_m <= left_m if bank_right is None else bank_right
    parts = finer_by(ground, min(works.channel.top_m, 2 * works.crest_m))

    returns = wings(ground, line, levels, works, right)
    slope = abs(left_m - right_m) / (4 * ground.cell_m)
    wedge = min(max(works.full_m, 0.0) / slope, LONGEST_M) if slope > 0 else LONGEST_M
    plan = Plan(line, run, levels, works, right, returns, wedge)
    section = works.section() if right else works.section().mirrored()

    frame: LineFrame | None = None

    def make(cells: Grid, reach_m: float) -> tuple[Shaper, Shaped]:
        nonlocal frame
        frame = frame_of_line(cells, plan.line, reach_m)
        shaper = _swept(cells, plan, section, frame, reach_m)
        return shaper, shaper.at()

    first = works.crest_m + works.bank.top_m + 4 * works.bank.height_m + 3.0
    first = max(first, 2 * works.crest_m + works.bank.top_m + wedge + 2 * ground.cell_m)
    shaper, shaped = on_enough_ground(ground, plan.bounds, parts, first, make)
    patch = finished(name, shaper, shaped)
    crest, held = _crest(patch.levels, plan)
    assert frame is not None  # made with the cells
    patch = replace(patch, lines=held, full=_full(patch, plan, frame))
    holds, edge = _held(patch)
    return Swale(
        works,
        line,
        levels,
        patch,
        earth(patch),
        holds,
        works.area_m2(hill_slope=slope) * float(run[-1]),
        edge,
        crest,
        all(wing is None or wing.meets for wing in returns),
        slope,
        right,
    )


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """A line with its works and what follows from both."""

    line: LineString
    run: Floats
    lip_m: Floats
    works: Works
    #: The bank's side.
    right: bool
    wings: tuple[Wing | None, Wing | None]
    #: How far the full water lies up the hill.
    wedge_m: float

    @property
    def bounds(self) -> Bounds:
        """Where the work lies."""
        lines = [self.line, *(wing.line for wing in self.wings if wing is not None)]
        west, south, east, north = shapely.total_bounds(lines)
        return wider((float(west), float(south), float(east), float(north)), self.wedge_m / 2)


def _check(ground: AnyGround, xy: Floats) -> None:
    if np.isnan(ground.sample(xy[:, 0], xy[:, 1])).any():
        raise BadData(
            "the line leaves the known ground",
            remedy="Shorten it, or bring in ground that reaches further.",
        )


def lower_is_right(ground: AnyGround, line: LineString) -> bool:
    """Return whether the ground on the right of a line lies lower than on its left."""
    left, right = _beside(ground, line)
    return right <= left


def _beside(ground: AnyGround, line: LineString) -> tuple[float, float]:
    """Return the mean level two cells to the left and two cells to the right of a line."""
    mean = []
    for side in (2 * ground.cell_m, -2 * ground.cell_m):
        beside = shapely.segmentize(line.offset_curve(side), ground.cell_m)
        xy = shapely.get_coordinates(beside)
        z = ground.sample(xy[:, 0], xy[:, 1])
        mean.append(float(np.mean(z[~np.isnan(z)])) if np.isfinite(z).any() else math.nan)
    return mean[0], mean[1]


def cross_slope(ground: AnyGround, line: LineString) -> float:
    """Return the mean steepness of the ground across a line (ratio), over four cells."""
    left, right = _beside(ground, line)
    return abs(left - right) / (4 * ground.cell_m)


def _swept(
    cells: Grid, plan: Plan, section: CrossSection, frame: LineFrame, reach_m: float
) -> Shaper:
    """Return a shaper of channel and bank: ends rounded and returned, or open; sills let in."""
    works, run, right = plan.works, plan.run, plan.right
    aside = frame.aside_m
    at_start = frame.along_m < run[-1] / 2
    level = _lip_at(plan, frame.along_m)
    shaper = Shaper.by_section(cells, aside, level, section)
    for end, wing in zip((at_start, ~at_start), plan.wings, strict=True):
        if wing is None:
            shaper.free((frame.past_m > 0) & end)
        else:
            raise_wing(shaper, wing, works, reach_m)
    for sill in works.sills:
        part = _round_sill(cells, plan.line, sill, reach_m)
        along, side = frame.along_m[part], aside[part]
        low, high = shaper.low[part], shaper.high[part]
        there = (np.abs(along - sill.at_m) <= sill.length_m / 2) & (frame.past_m[part] == 0)
        there &= (side > 0) if right else (side < 0)
        top = level[part] + sill.above_lip_m
        low[there] = np.minimum(low, top)[there]
        # Ground higher than the sill just below it would hold the water back: it is cut too.
        near = there & (np.abs(side) <= works.crest_m + works.bank.top_m / 2 + works.bank.outer)
        high[near] = np.minimum(high, np.maximum(top, low))[near]
    return shaper


def _round_sill(cells: Grid, line: LineString, sill: Sill, reach_m: float) -> tuple[slice, slice]:
    """Return the rows and columns of the cells within reach of a sill's stretch of the line."""
    half = sill.length_m / 2
    stretch = shapely.ops.substring(line, max(sill.at_m - half, 0.0), sill.at_m + half)
    window = cells.window(wider(stretch.bounds, reach_m + cells.cell_m))
    row = round((cells.north_m - window.north_m) / cells.cell_m)
    col = round((window.west_m - cells.west_m) / cells.cell_m)
    return slice(row, row + window.shape[0]), slice(col, col + window.shape[1])


def _lip_at(plan: Plan, along_m: Floats) -> Floats:
    """Return the lip's level at distances along the line."""
    if np.all(plan.lip_m == plan.lip_m[0]):
        return np.full(along_m.shape, float(plan.lip_m[0]))
    return np.asarray(np.interp(along_m, plan.run, plan.lip_m), np.float64)


def _crest(cells: Grid, plan: Plan) -> tuple[LineString, tuple[HeldLine, ...]]:
    """Return the bank's crest and what it, its sills and the channel hold."""
    works, run, lip_m = plan.works, plan.run, plan.lip_m
    ring = plan.line.buffer(works.crest_m, quad_segs=16).exterior
    xy = shapely.get_coordinates(shapely.segmentize(ring, POINTS_EVERY * cells.cell_m))[:-1]
    near, aside, past = _places(plan.line, run, xy)
    at_start = near < run[-1] / 2
    closed = np.where(at_start, plan.wings[0] is not None, plan.wings[1] is not None)
    keep = ((aside > 0) == plan.right) & ((past == 0) | closed)
    held: list[HeldLine] = []
    crest = LineString(xy[:2])
    for piece in _runs(xy, keep):
        along, _, _ = _places(plan.line, run, piece)
        z = np.interp(along, run, lip_m) + works.bank.height_m
        whole = _with_wings(np.column_stack((piece, z)), plan)
        held.append(HeldLine(Held.CREST, whole))
        if LineString(piece).length > crest.length:
            crest = LineString(whole[:, :2])
    for sill in works.sills:
        held.append(_sill_line(plan, sill))
    bed = np.column_stack((line_points(plan.line)[0], np.asarray(lip_m) - works.channel.depth_m))
    return crest, (*held, HeldLine(Held.INVERT, bed))


def _with_wings(piece: Floats, plan: Plan) -> Floats:
    """Return a stretch of crest with the wings put on to the ends they belong to."""
    for wing in plan.wings:
        if wing is None:
            continue
        way = np.column_stack((shapely.get_coordinates(wing.line), np.full(2, wing.crest_m)))
        first, last = (math.dist(piece[k, :2], way[0, :2]) for k in (0, -1))
        if min(first, last) > plan.works.crest_m:
            continue
        piece = np.vstack((way[::-1], piece)) if first < last else np.vstack((piece, way))
    return piece


def _places(line: LineString, run: Floats, xy: Floats) -> tuple[Floats, Floats, Floats]:
    """Return points' distance along a line, aside (+ right) and beyond its ends."""
    own = line_points(line)[0]
    points = shapely.points(xy)
    along = np.asarray(shapely.line_locate_point(line, points), np.float64)
    k = np.clip(np.searchsorted(run, along, side="right") - 1, 0, len(run) - 2)
    leg = (own[k + 1] - own[k]) / (run[k + 1] - run[k])[:, None]
    t = ((along - run[k]) / (run[k + 1] - run[k]))[:, None]
    off = xy - (own[k] + t * (own[k + 1] - own[k]))
    far = np.hypot(off[:, 0], off[:, 1])
    aside = np.where(off[:, 0] * leg[:, 1] - off[:, 1] * leg[:, 0] >= 0, far, -far)
    forward = off[:, 0] * leg[:, 0] + off[:, 1] * leg[:, 1]
    past = np.where((along <= 0) & (forward < -1e-9), -forward, 0.0)
    past = np.where((along >= run[-1]) & (forward > 1e-9), forward, past)
    return along, aside, past


def _runs(xy: Floats, keep: Mask) -> list[Floats]:
    """Return the stretches of a closed ring of points (first not repeated) that are kept."""
    if keep.all():
        return [np.vstack((xy, xy[:1]))]
    start = int(np.argmin(keep))
    turned, flags = np.roll(xy, -start, axis=0), np.roll(keep, -start)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(int), [0]))))
    pairs = zip(edges[::2], edges[1::2], strict=True)
    return [turned[a:b] for a, b in pairs if b - a >= 2]


def _sill_line(plan: Plan, sill: Sill) -> HeldLine:
    """Return a sill's line on the crest, its level following the lip's."""
    run, half = plan.run, sill.length_m / 2
    along = np.linspace(max(sill.at_m - half, 0.0), min(sill.at_m + half, run[-1]), 17)
    own, _ = line_points(plan.line)
    k = np.clip(np.searchsorted(run, along, side="right") - 1, 0, len(run) - 2)
    leg = (own[k + 1] - own[k]) / (run[k + 1] - run[k])[:, None]
    at = own[k] + leg * (along - run[k])[:, None]
    normal = np.column_stack((leg[:, 1], -leg[:, 0])) * (1.0 if plan.right else -1.0)
    z = np.interp(along, run, plan.lip_m) + sill.above_lip_m
    return HeldLine(Held.SILL, np.column_stack((at + plan.works.crest_m * normal, z)))


def _full(patch: Patch, plan: Plan, frame: LineFrame) -> Grid:
    """Return the full water's level on the wet side of the crest, NaN beyond it."""
    cells, works = patch.levels, plan.works
    level = _lip_at(plan, frame.along_m) + works.full_m
    at_start = frame.along_m < plan.run[-1] / 2
    # Up the hill between the wings; past an open end there is no water.
    room = np.where(at_start, *((works.crest_m if wing else 1e-9) for wing in plan.wings))
    hill = ((frame.aside_m > 0) != plan.right) & (frame.past_m < room)
    hill &= np.isfinite(frame.aside_m)
    bank_side = (np.abs(frame.aside_m) < works.crest_m) & (frame.past_m < room)
    return cells.like(np.where(bank_side | hill, level, np.nan))


def _held(patch: Patch) -> tuple[float, Polygon | shapely.MultiPolygon]:
    """Return the water a channel holds up to its full level, and that water's edge."""
    water = water_below_full(patch)
    return water.volume_m3, water.edge()


def water_below_full(patch: Patch) -> Pool:
    """Return the water a channel's patch holds, its levels counted from the full one, at 0."""
    full = patch.full
    if full is None:
        raise InputError(f"patch {patch.name!r} is no channel")
    surface = patch.surface().z
    # Water is where the surface lies below the full level: seen from there, one pool at nought.
    below = np.where(np.isnan(full.z), np.inf, surface - full.z)
    seed = int(np.argmin(np.where(patch.core, below, np.inf)))
    spot = np.unravel_index(seed, full.shape)
    place = float(full.x_m()[spot[1]]), float(full.y_m()[spot[0]])
    return pool(full.like(below), place, 0.0)


def open_ends(line: LineString, works: Works) -> Sequence[Point]:
    """Return the ends of a swale where nothing holds the water."""
    xy = shapely.get_coordinates(line)
    return [Point(xy[i]) for i, closed in zip((0, -1), works.end_blocks, strict=True) if not closed]
