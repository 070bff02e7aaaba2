"""Platforms: a level or gently falling pad, its batters or walls, and the level that balances."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon

from canvas.base.errors import BadData, InputError
from canvas.base.grid import Floats, Grid
from canvas.ground import tally_kernels as tally
from canvas.ground.crosssection import Batters, rim
from canvas.ground.frames import AnyGround, finer_by, frame_of_outline
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
from canvas.ground.profile import section as along

#: A batter starts being followed this far from the pad [m]; wider when it has not met the ground.
FIRST_REACH_M = 10.0
#: Levels are balanced to this [m].
LEVEL_WITHIN_M = 0.001
#: Earth left over at the level found, as a share of what is moved: more is no balance.
UNEVEN = 0.02
#: Cells across a pad: more than the least, as batters are narrower than pads.
ACROSS = 16


@dataclass(frozen=True, slots=True)
class Pad:
    """What a platform is to be."""

    outline: Polygon
    batters: Batters
    #: Fall of the surface (ratio) and the azimuth it falls towards, for drainage.
    fall: float = 0.0
    towards_deg: float = 0.0
    #: Sides of the outline that get a retaining wall in place of a batter; on the outline.
    walls: tuple[LineString, ...] = ()
    #: Topsoil taken off where earth moves, and put back on the batters [m].
    strip_m: float = 0.0
    respread_m: float = 0.0
    #: What is laid on the pad itself, below its finished level: gravel, slab [m].
    surfacing_m: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Platform:
    """A pad in the ground."""

    pad: Pad
    patch: Patch
    #: Finished level at the middle of the outline.
    level_m: float
    earth: Earth
    walls: tuple[Wall, ...]


@dataclass(frozen=True, slots=True)
class Wall:
    """A retaining wall along a side of a pad."""

    line: LineString
    #: Greatest height held back, above 0 where it holds the pad, below 0 where the hill.
    tallest_m: float
    #: Face above ground on the low side [m²].
    face_m2: float


def middle(outline: Polygon) -> tuple[float, float]:
    """Return where a platform's level is given: the outline's middle."""
    return outline.centroid.x, outline.centroid.y


def plane_m(pad: Pad, x_m: Floats, y_m: Floats) -> Floats:
    """Return the pad's surface less its level at the middle, at points."""
    x0, y0 = middle(pad.outline)
    east, north = math.sin(math.radians(pad.towards_deg)), math.cos(math.radians(pad.towards_deg))
    return -pad.fall * ((x_m - x0) * east + (y_m - y0) * north)


def _shaper(pad: Pad, cells: Grid) -> Shaper:
    """Return a shaper of the pad with its middle at level 0."""
    frame = frame_of_outline(cells, pad.outline)
    inside = frame.outside_m <= 0
    x, y = np.meshgrid(cells.x_m(), cells.y_m())
    level = plane_m(pad, np.where(inside, x, frame.near_x_m), np.where(inside, y, frame.near_y_m))
    shaper = Shaper.by_section(cells, frame.outside_m, level, rim(pad.batters))
    if pad.walls:
        wall = shapely.union_all(list(pad.walls)).buffer(1e-6 + 1e-3 * cells.cell_m)
        held = np.zeros(cells.shape, bool)
        held[~inside] = shapely.contains_xy(wall, frame.near_x_m[~inside], frame.near_y_m[~inside])
        shaper.free(held)
    return shaper


def _across_m(outline: Polygon) -> float:
    """Return the width of an outline: the short side of its tightest rectangle."""
    box = shapely.oriented_envelope(outline)
    xy = shapely.get_coordinates(box)
    sides = np.hypot(*np.diff(xy, axis=0).T)
    return float(min(sides[0], sides[1])) if len(sides) >= 2 else 0.0


def _cover(pad: Pad, patch: Patch) -> Floats | None:
    """Return what is laid on the formation: surfacing on the pad, topsoil on the batters."""
    if not (pad.respread_m or pad.surfacing_m):
        return None
    cover = np.where(patch.core, pad.surfacing_m, pad.respread_m)
    return np.where(patch.mask, cover, 0.0)


def _as_built(pad: Pad, shaper: Shaper, shaped: Shaped, shift_m: float, name: str) -> Patch:
    patch = finished(name, shaper, shaped, shift_m)
    return replace(patch, cover_m=_cover(pad, patch))


def platform(ground: AnyGround, pad: Pad, level_m: float, name: str = "") -> Platform:
    """Return the pad built at a finished level (at the outline's middle)."""
    _check(ground, pad)
    parts = finer_by(ground, _across_m(pad.outline), ACROSS)

    def make(cells: Grid, reach_m: float) -> tuple[Shaper, Shaped]:
        shaper = _shaper(pad, cells)
        return shaper, shaper.at(level_m)

    shaper, shaped = on_enough_ground(ground, pad.outline.bounds, parts, FIRST_REACH_M, make)
    return _platform(ground, pad, level_m, _as_built(pad, shaper, shaped, level_m, name))


def balanced(
    ground: AnyGround,
    pad: Pad,
    compacted_per_bank: float,
    name: str = "",
    spare_m3: float = 0.0,
) -> Platform:
    """Return the pad at the level where what is dug, compacted, makes what is filled.

    `spare_m3` of the cut (in the bank) is to be left over for use elsewhere. Topsoil is kept
    out of the balance. Raises `BadData` where no level balances, as with a pad that is allowed
    no fill.
    """
    _check(ground, pad)
    if not compacted_per_bank > 0:
        raise InputError(f"compacted per bank must be above 0, got {compacted_per_bank}")
    if pad.batters.fill is None:
        raise BadData(
            "no level of a platform without fill balances: all it digs is left over",
            remedy="Allow fill below it, or choose a level yourself.",
        )
    parts = finer_by(ground, _across_m(pad.outline), ACROSS)
    level = math.nan

    def make(cells: Grid, reach_m: float) -> tuple[Shaper, Shaped]:
        nonlocal level
        shaper = _shaper(pad, cells)
        level = _balance(pad, shaper, compacted_per_bank, spare_m3)
        return shaper, shaper.at(level)

    shaper, shaped = on_enough_ground(ground, pad.outline.bounds, parts, FIRST_REACH_M, make)
    return _platform(ground, pad, level, _as_built(pad, shaper, shaped, level, name))


def _balance(pad: Pad, shaper: Shaper, compacted_per_bank: float, spare_m3: float) -> float:
    """Return the level that balances on the cells at hand."""
    z = shaper.ground.z
    inside = z[shaper.core]
    plane = shaper.low[shaper.core]
    plain = not (pad.strip_m or pad.respread_m or pad.surfacing_m)

    def left_over(level: float) -> float:
        shaped = shaper.at(level)
        if plain:
            return (shaped.cut_m3 - spare_m3) * compacted_per_bank - shaped.fill_m3
        patch = _as_built(pad, shaper, shaped, level, "")
        moved = earth(patch, pad.strip_m)
        return (moved.cut_m3 - spare_m3) * compacted_per_bank - moved.fill_m3

    low = float((inside - plane).min()) - pad.strip_m - abs(spare_m3) / pad.outline.area
    high = float((inside - plane).max()) + pad.surfacing_m + abs(spare_m3) / pad.outline.area
    try:
        level = shaper.balance(left_over, low - 0.5, high + 0.5, LEVEL_WITHIN_M)
    except InputError:
        raise BadData(
            "no level of this platform makes its cut equal its fill",
            remedy="Ask for less spare earth, or choose a level yourself.",
        ) from None
    shaped = shaper.at(level)
    moved_m3 = shaped.cut_m3 + shaped.fill_m3
    if abs(left_over(level)) > UNEVEN * moved_m3 + pad.outline.area * 2 * LEVEL_WITHIN_M:
        # The fill's toe leaps down the hill between two levels: neither balances.
        raise BadData(
            "no level of this platform makes its cut equal its fill: its fill runs away downhill",
            remedy="Take a steeper fill batter that still stands, a wall on the downhill side, "
            "or a level of your own.",
        )
    return level


def _check(ground: AnyGround, pad: Pad) -> None:
    known = shapely.box(*ground.bounds).covers(pad.outline)
    if not known or np.isnan(ground.sample(*middle(pad.outline))):
        raise BadData(
            "the platform reaches beyond the known ground",
            remedy="Move it, or bring in ground that reaches further.",
        )


def _platform(ground: AnyGround, pad: Pad, level_m: float, patch: Patch) -> Platform:
    walls = tuple(_wall(ground, pad, level_m, line) for line in pad.walls)
    return Platform(pad, patch, level_m, earth(patch, pad.strip_m), walls)


def _wall(ground: AnyGround, pad: Pad, level_m: float, line: LineString) -> Wall:
    """Return what a wall along a side holds back: the pad's level against the ground's."""
    cut = along(ground, line, ground.cell_m / 4)
    held = level_m + plane_m(pad, cut.x_m, cut.y_m) - cut.z_m
    tall = float(held[np.nanargmax(np.abs(held))]) if not np.isnan(held).all() else math.nan
    area = np.abs(np.nan_to_num(held))
    return Wall(line, tall, float(np.trapezoid(area, cut.distance_m)))


@dataclass(frozen=True, slots=True)
class Batter:
    """The steep ground round a pad, for drawing: where it is cut and where it is filled."""

    cut: MultiPolygon
    fill: MultiPolygon


def batters_of(patch: Patch) -> Batter:
    """Return where a patch digs and where it fills, outlined between its cells."""
    cut, fill = np.empty(patch.core.shape), np.empty(patch.core.shape)
    given = (patch.levels.z, patch.ground.z, patch.bite_m)
    levels, ground, bite = (np.ascontiguousarray(each, np.float64) for each in given)
    tally.cut_and_fill(levels, ground, bite, cut, fill)
    return Batter(region(patch.levels, cut), region(patch.levels, fill))


def sides(outline: Polygon, numbers: Sequence[int]) -> tuple[LineString, ...]:
    """Return sides of an outline by number, 0 for the first of its outer ring."""
    xy = shapely.get_coordinates(outline.exterior)
    return tuple(LineString(xy[i : i + 2]) for i in numbers)
