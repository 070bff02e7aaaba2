"""Excavated ponds: a basin dug within an outline, its rim raised with what was dug."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import LineString, Polygon

from canvas.base.errors import BadData, InputError
from canvas.base.grid import Grid
from canvas.ground.crosssection import FAR_M, CrossSection, bound, run_out
from canvas.ground.faces import Held, HeldLine
from canvas.ground.frames import AnyGround, finer_by, frame_of_outline
from canvas.ground.patch import (
    Earth,
    Patch,
    Shaped,
    Shaper,
    earth,
    finished,
    on_enough_ground,
)
from canvas.ground.pond import Pool, pool

#: Cells across a basin: its sides are a part of it only.
ACROSS = 32


@dataclass(frozen=True, slots=True)
class Excavation:
    """What an excavated pond is to be."""

    #: The water's edge when full.
    outline: Polygon
    depth_m: float
    #: Run per rise below the water, and of the rim's wet face above it.
    side: float
    #: Height of the rim over the full water, its top's width and its outer slope.
    freeboard_m: float = 0.3
    rim_m: float = 1.0
    outer: float = 2.0
    #: Slope the hill above is cut back to.
    cut_batter: float = 1.5
    strip_m: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Dugout:
    """An excavated pond in the ground."""

    excavation: Excavation
    #: The full water's level.
    water_m: float
    patch: Patch
    earth: Earth
    water: Pool
    #: Greatest depth the outline leaves room for.
    deepest_m: float


def _bounds(what: Excavation) -> CrossSection:
    """Return the bounds on the ground by distance outside the outline, from the full water."""
    foot, top = what.side * what.depth_m, what.side * what.freeboard_m
    inside = [(-FAR_M, -what.depth_m), (-foot, -what.depth_m), (0.0, 0.0)]
    low = [
        *inside,
        (top, what.freeboard_m),
        (top + what.rim_m, what.freeboard_m),
        run_out(top + what.rim_m, what.freeboard_m, -1 / what.outer, 1),
    ]
    # Ground above the rim is cut no steeper than the rim's own wet face runs below it.
    rise = 1 / max(min(what.cut_batter, what.side), 0.02)
    high = [*inside, run_out(0.0, 0.0, rise, 1)]
    return CrossSection(bound(low), bound(high), (-FAR_M, 0.0))


def _check(ground: AnyGround, what: Excavation) -> None:
    sizes = (what.depth_m, what.side, what.outer, what.cut_batter)
    if min(sizes) <= 0 or min(what.freeboard_m, what.rim_m) < 0:
        raise InputError(f"not a basin: {what}")
    if not shapely.box(*ground.bounds).covers(what.outline):
        raise BadData("the pond reaches beyond the known ground", remedy="Move it.")


def _shaper(what: Excavation, cells: Grid) -> Shaper:
    frame = frame_of_outline(cells, what.outline)
    return Shaper.by_section(cells, frame.outside_m, np.zeros(cells.shape), _bounds(what))


def _parts(ground: AnyGround, what: Excavation) -> int:
    xy = shapely.get_coordinates(shapely.oriented_envelope(what.outline))
    return finer_by(ground, float(np.hypot(*np.diff(xy, axis=0).T).min()), ACROSS)


def excavated(ground: AnyGround, what: Excavation, water_m: float, name: str = "") -> Dugout:
    """Return the basin dug for water at a level; low ground round it is raised to the rim."""
    _check(ground, what)

    def make(cells: Grid, reach_m: float) -> tuple[Shaper, Shaped]:
        shaper = _shaper(what, cells)
        return shaper, shaper.at(water_m)

    shaper, shaped = on_enough_ground(
        ground, what.outline.bounds, _parts(ground, what), _reach(what), make
    )
    return _dugout(what, water_m, finished(name, shaper, shaped, water_m))


def excavated_balanced(
    ground: AnyGround, what: Excavation, compacted_per_bank: float, name: str = ""
) -> Dugout:
    """Return the basin at the water level where what is dug makes the rim.

    On level ground there is always more dug than a low rim takes: then the level is the highest
    at which the rim still needs all of it. Raises `BadData` where none balances.
    """
    _check(ground, what)
    level = math.nan

    def make(cells: Grid, reach_m: float) -> tuple[Shaper, Shaped]:
        nonlocal level
        shaper = _shaper(what, cells)

        def left_over(at_m: float) -> float:
            shaped = shaper.at(at_m)
            if not what.strip_m:
                return shaped.cut_m3 * compacted_per_bank - shaped.fill_m3
            # Topsoil is no rim: it is gone from what is dug, and its place is to be filled.
            moved = earth(finished("", shaper, shaped, at_m), what.strip_m)
            return moved.cut_m3 * compacted_per_bank - moved.fill_m3

        z = cells.z[shaper.core]
        try:
            low, high = float(np.nanmin(z)) - 1.0, float(np.nanmax(z)) + what.depth_m
            level = shaper.balance(left_over, low, high, 0.002)
        except InputError:
            raise BadData(
                "no water level makes the earth dug equal the rim",
                remedy="Choose a level, or change the depth.",
            ) from None
        return shaper, shaper.at(level)

    shaper, shaped = on_enough_ground(
        ground, what.outline.bounds, _parts(ground, what), _reach(what), make
    )
    return _dugout(what, level, finished(name, shaper, shaped, level))


def _reach(what: Excavation) -> float:
    return what.side * what.freeboard_m + what.rim_m + 4 * what.outer + 4.0


def _dugout(what: Excavation, water_m: float, patch: Patch) -> Dugout:
    """Return the basin with its water, measured on the patch, and its rim held as a crest."""
    surface = patch.surface()
    inside = np.where(patch.core, surface.z, np.inf)
    row, col = np.unravel_index(np.argmin(inside), surface.shape)
    seed = (float(surface.x_m()[col]), float(surface.y_m()[row]))
    water = pool(surface, seed, water_m)
    rim = what.outline.buffer(what.side * what.freeboard_m + what.rim_m / 2).exterior
    xy = shapely.get_coordinates(shapely.segmentize(rim, 4 * surface.cell_m))
    level = np.full(len(xy), water_m + what.freeboard_m)
    return Dugout(
        what,
        water_m,
        replace(patch, lines=(HeldLine(Held.CREST, np.column_stack((xy, level))),)),
        earth(patch, what.strip_m),
        water,
        water_m - float(inside[row, col]),
    )


def rim_line(dugout: Dugout) -> LineString:
    """Return the middle of the rim's top."""
    what = dugout.excavation
    reach = what.side * what.freeboard_m + what.rim_m / 2
    return LineString(what.outline.buffer(reach).exterior.coords)
