"""Swales and drains: a channel with a bank below it, swept along a traced line."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import LineString, Point, Polygon

from canvas.base.errors import BadData, InputError
from canvas.base.grid import Floats, Grid
from canvas.ground.crosssection import FREE_M, BankSection, Channel, CrossSection, bound, run_out
from canvas.ground.faces import Held, HeldLine
from canvas.ground.frames import finer_by, frame_of_line, line_points
from canvas.ground.patch import (
    Earth,
    Patch,
    Shaped,
    Shaper,
    earth,
    finished,
    on_enough_ground,
    region,
)

#: Crest lines carry a point at least this often, in cells of the patch.
POINTS_EVERY = 4


@dataclass(frozen=True, slots=True)
class Sill:
    """A lowered stretch of the bank where water is let over, level along its length."""

    #: Middle of it, along the line.
    at_m: float
    length_m: float
    #: Its level above the channel's lip; below the bank's top.
    above_lip_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Works:
    """What a swale or drain is made of. Levels count from the lip, the line's own level."""

    channel: Channel
    bank: BankSection
    #: Level ground left between channel and bank.
    berm_m: float = 0.0
    #: Slope the hill above the channel is cut back to, run per rise.
    cut_batter: float = 1.0
    sills: tuple[Sill, ...] = ()
    #: The bank is carried round both ends into the hill; without, the ends are left open.
    end_blocks: tuple[bool, bool] = (True, True)
    #: Built higher by this share, to settle to its height.
    settlement: float = 0.0

    @property
    def crest_m(self) -> float:
        """Distance of the bank's middle from the channel's, once settled."""
        bank = self.bank
        return self.channel.top_m / 2 + self.berm_m + bank.inner * bank.height_m + bank.top_m / 2

    @property
    def full_m(self) -> float:
        """Level the water stands at when it starts to leave: the lowest sill, or the bank's top."""
        return min([self.bank.height_m, *(sill.above_lip_m for sill in self.sills)])

    @property
    def freeboard_m(self) -> float:
        """Height of the settled bank above the full water."""
        return self.bank.height_m - self.full_m

    def area_m2(self, above_lip_m: float | None = None, hill_slope: float = math.inf) -> float:
        """Return the water's cross-section, up to `full_m` unless a level is given.

        The channel's own, and above the lip the berm and what lies between the bank's wet face
        and the hill: its cut, and where the ground is gentler than the cut (`hill_slope`, a
        ratio; the line's own level is the lip's), the wedge on the ground beyond it.
        """
        level = self.full_m if above_lip_m is None else above_lip_m
        lip, half = self.channel.depth_m, self.channel.top_m / 2
        if level <= 0:
            return self.channel.area_m2(max(lip + level, 0.0))
        width = self.channel.top_m + self.berm_m
        sides = (self.cut_batter + self.bank.inner) / 2
        area = self.channel.area_m2(lip) + level * (width + sides * level)
        gentler = 1 / hill_slope - self.cut_batter if hill_slope > 0 else math.inf
        if 0 < gentler < math.inf and level > half / gentler:
            start = half / gentler
            area += gentler * (level**2 - start**2) / 2 - half * (level - start)
        return area

    def section(self) -> CrossSection:
        """Return the bounds on the ground, the bank on the right."""
        lip = self.channel.top_m / 2
        shape = self.channel.shape()
        top = self.bank.height_m
        foot = lip + self.berm_m
        inner = foot + self.bank.inner * top
        outer = inner + self.bank.top_m
        low = [
            (-lip - 1e-6, -FREE_M),
            *shape,
            (foot, 0.0),
            (inner, top),
            (outer, top),
            run_out(outer, top, -1 / self.bank.outer, 1),
        ]
        # The hill on either side may stand higher than the bank, never steeper than its cut.
        reach = max(self.cut_batter, 0.02)
        high = [
            run_out(-lip, 0.0, 1 / reach, -1),
            *shape,
            *([(foot, 0.0)] if self.berm_m > 0 else []),
        ]
        face = min(reach, self.bank.inner) if self.bank.inner > 0 else reach
        high.append(run_out(foot, 0.0, 1 / max(face, 0.02), 1))
        return CrossSection(bound([(-10 * lip, -FREE_M), *low]), bound(high), (-lip, foot))


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
    #: What is dug for the channel, in the bank, over what the bank takes, compacted; see `earth`.
    water_edge: Polygon | shapely.MultiPolygon
    crest: LineString


def swale(
    ground: Grid,
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
    right = lower_is_right(ground, line) if bank_right is None else bank_right
    section = works.section() if right else works.section().mirrored()
    parts = finer_by(ground, min(works.channel.top_m, 2 * works.crest_m))

    def make(cells: Grid, reach_m: float) -> tuple[Shaper, Shaped]:
        shaper = _swept(cells, line, levels, run, works, section, right, reach_m)
        return shaper, shaper.at()

    first = works.crest_m + works.bank.top_m + 4 * works.bank.height_m + 3.0
    shaper, shaped = on_enough_ground(ground, line.bounds, parts, first, make)
    patch = finished(name, shaper, shaped)
    crest, held = _crest(patch.levels, line, levels, run, works, right)
    patch = replace(patch, lines=held, full=_full(patch, line, levels, run, works, right, crest))
    holds, edge = _held(patch)
    slope = cross_slope(ground, line)
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
    )


def _check(ground: Grid, xy: Floats) -> None:
    if np.isnan(ground.sample(xy[:, 0], xy[:, 1])).any():
        raise BadData(
            "the line leaves the known ground",
            remedy="Shorten it, or bring in ground that reaches further.",
        )


def lower_is_right(ground: Grid, line: LineString) -> bool:
    """Return whether the ground on the right of a line lies lower than on its left."""
    left, right = _beside(ground, line)
    return right <= left


def _beside(ground: Grid, line: LineString) -> tuple[float, float]:
    """Return the mean level two cells to the left and two cells to the right of a line."""
    mean = []
    for side in (2 * ground.cell_m, -2 * ground.cell_m):
        beside = shapely.segmentize(line.offset_curve(side), ground.cell_m)
        xy = shapely.get_coordinates(beside)
        z = ground.sample(xy[:, 0], xy[:, 1])
        mean.append(float(np.mean(z[~np.isnan(z)])) if np.isfinite(z).any() else math.nan)
    return mean[0], mean[1]


def cross_slope(ground: Grid, line: LineString) -> float:
    """Return the mean steepness of the ground across a line (ratio), over four cells."""
    left, right = _beside(ground, line)
    return abs(left - right) / (4 * ground.cell_m)


def _swept(
    cells: Grid,
    line: LineString,
    lip_m: Floats,
    run: Floats,
    works: Works,
    section: CrossSection,
    right: bool,
    reach_m: float,
) -> Shaper:
    """Return a shaper of the channel and bank, rounded or open at the ends, sills let in."""
    frame = frame_of_line(cells, line, reach_m)
    beyond_start = (frame.past_m > 0) & (frame.along_m < run[-1] / 2)
    beyond_end = (frame.past_m > 0) & ~beyond_start
    aside = frame.aside_m.copy()
    open_end = np.zeros(cells.shape, bool)
    for beyond, blocked in zip((beyond_start, beyond_end), works.end_blocks, strict=True):
        if blocked:
            # Round an end the bank goes right round: every side is the bank's.
            aside[beyond] = np.abs(aside[beyond]) * (1 if right else -1)
        else:
            open_end |= beyond
    level = np.interp(frame.along_m, run, lip_m)
    shaper = Shaper.by_section(cells, aside, level, section)
    shaper.free(open_end)
    for sill in works.sills:
        there = (np.abs(frame.along_m - sill.at_m) <= sill.length_m / 2) & (frame.past_m == 0)
        there &= (aside > 0) if right else (aside < 0)
        top = level + sill.above_lip_m
        shaper.low[there] = np.minimum(shaper.low, top)[there]
        # Ground higher than the sill just below it would hold the water back: it is cut too.
        near = there & (np.abs(aside) <= works.crest_m + works.bank.top_m / 2 + works.bank.outer)
        shaper.high[near] = np.minimum(shaper.high, np.maximum(top, shaper.low))[near]
    return shaper


def _crest(
    cells: Grid, line: LineString, lip_m: Floats, run: Floats, works: Works, right: bool
) -> tuple[LineString, tuple[HeldLine, ...]]:
    """Return the bank's crest and what it, its sills and the channel hold."""
    ring = line.buffer(works.crest_m, quad_segs=16).exterior
    xy = shapely.get_coordinates(shapely.segmentize(ring, POINTS_EVERY * cells.cell_m))[:-1]
    near, aside, past = _places(line, run, xy)
    bank_side = (aside > 0) == right
    start, end = works.end_blocks
    at_start = (past > 0) & (near < run[-1] / 2)
    keep = np.where(past > 0, np.where(at_start, start, end), bank_side)
    pieces = _runs(xy, keep)
    held, crest = [], LineString(xy[:2])
    for piece in pieces:
        along, _, _ = _places(line, run, piece)
        z = np.interp(along, run, lip_m) + works.bank.height_m
        held.append(HeldLine(Held.CREST, np.column_stack((piece, z))))
        if LineString(piece).length > crest.length:
            crest = LineString(piece)
    for sill in works.sills:
        held.append(_sill_line(line, lip_m, run, works, right, sill))
    middle = np.column_stack(
        (shapely.get_coordinates(line), np.asarray(lip_m) - works.channel.depth_m)
    )
    return crest, (*held, HeldLine(Held.INVERT, middle))


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


def _runs(xy: Floats, keep: np.typing.NDArray[np.bool_]) -> list[Floats]:
    """Return the stretches of a closed ring of points (first not repeated) that are kept."""
    if keep.all():
        return [np.vstack((xy, xy[:1]))]
    start = int(np.argmin(keep))
    turned, flags = np.roll(xy, -start, axis=0), np.roll(keep, -start)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(int), [0]))))
    pairs = zip(edges[::2], edges[1::2], strict=True)
    return [turned[a:b] for a, b in pairs if b - a >= 2]


def _sill_line(
    line: LineString, lip_m: Floats, run: Floats, works: Works, right: bool, sill: Sill
) -> HeldLine:
    """Return a sill's line on the crest, level along its length at the lip of its middle."""
    half = sill.length_m / 2
    along = np.linspace(max(sill.at_m - half, 0.0), min(sill.at_m + half, run[-1]), 17)
    own, _ = line_points(line)
    k = np.clip(np.searchsorted(run, along, side="right") - 1, 0, len(run) - 2)
    leg = (own[k + 1] - own[k]) / (run[k + 1] - run[k])[:, None]
    at = own[k] + leg * (along - run[k])[:, None]
    normal = np.column_stack((leg[:, 1], -leg[:, 0])) * (1.0 if right else -1.0)
    z = np.interp(along, run, lip_m) + sill.above_lip_m
    return HeldLine(Held.SILL, np.column_stack((at + works.crest_m * normal, z)))


def _full(
    patch: Patch,
    line: LineString,
    lip_m: Floats,
    run: Floats,
    works: Works,
    right: bool,
    crest: LineString,
) -> Grid:
    """Return the full water's level on the wet side of the crest, NaN beyond it."""
    cells = patch.levels
    reach = works.crest_m + works.bank.top_m + 2 * cells.cell_m
    frame = frame_of_line(cells, line, max(reach, 4 * works.crest_m))
    level = np.interp(frame.along_m, run, lip_m) + works.full_m
    far = np.abs(frame.aside_m)
    hill = ((frame.aside_m > 0) != right) & (frame.past_m == 0) & np.isfinite(frame.aside_m)
    wet = (far < works.crest_m) | hill
    return cells.like(np.where(wet, level, np.nan))


def _held(patch: Patch) -> tuple[float, Polygon | shapely.MultiPolygon]:
    """Return the water a channel holds up to its full level, and that water's edge."""
    full = patch.full
    assert full is not None  # made just before
    depth = np.where(
        np.isnan(full.z),
        np.nan,
        full.z - np.where(np.isnan(patch.levels.z), patch.ground.z, patch.levels.z),
    )
    wet = _joined(depth > 0, patch.core)
    held = float(depth[wet].sum()) * full.cell_m**2
    return held, region(full, np.where(wet, depth, -full.cell_m))


def _joined(
    wet: np.typing.NDArray[np.bool_], core: np.typing.NDArray[np.bool_]
) -> np.typing.NDArray[np.bool_]:
    """Return the wet cells that hang together with the channel."""
    from scipy.ndimage import label

    number, _ = label(wet, np.ones((3, 3), int))
    mine = np.unique(number[wet & core])
    return np.asarray(np.isin(number, mine[mine > 0]), bool)


def open_ends(line: LineString, works: Works) -> Sequence[Point]:
    """Return the ends of a swale where nothing holds the water."""
    xy = shapely.get_coordinates(line)
    return [Point(xy[i]) for i, closed in zip((0, -1), works.end_blocks, strict=True) if not closed]
