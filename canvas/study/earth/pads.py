"""Platforms, terraces, heaps and borrow pits shaped on the ground."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from shapely import LineString, Polygon

from canvas.base.errors import BadData
from canvas.ground import platform as pads
from canvas.ground.crosssection import Batters
from canvas.ground.designed import Designed
from canvas.ground.heap import Mound, heap
from canvas.ground.materials import material
from canvas.ground.patch import Patch
from canvas.ground.terraces import Flight, terraces
from canvas.site.elements.earthworks import BorrowPit, Heap, Platform, Terraces
from canvas.study.earth.registry import Made, work_of

if TYPE_CHECKING:
    from canvas.study.scene import Scene

#: Samples across an outline, each way, from which the lie of the ground under it is taken.
SAMPLES = 12
#: A side faces up or down the hill when its outward normal is within 50° of straight.
FACING = math.cos(math.radians(50.0))
#: Ground flatter than this has no uphill side [ratio].
FLAT = 1e-4


@work_of("platform", rank=10)
def shape_platform(item: Platform, ground: Designed, scene: Scene) -> Made:
    """Return the pad in the ground, at the level given or the one that balances."""
    pad = pad_of(item, ground)
    if item.level == "balanced":
        earth = material(item.soil)
        made = pads.balanced(ground, pad, earth.compacted_per_bank, spare_m3=item.spare_m3)
    elif item.level_m is None:
        raise BadData(
            "it is to have a given level, and none is given",
            remedy="Give the finished level, or let the level be found.",
        )
    else:
        made = pads.platform(ground, pad, item.level_m)
    return Made(made, (met(made.patch),))


@work_of("terraces", rank=15)
def shape_terraces(item: Terraces, ground: Designed, scene: Scene) -> Made:
    """Return the flight of benches in the ground, each balanced for itself."""
    flight = Flight(
        item.geometry,
        item.benches,
        item.bench_m,
        item.riser,
        item.outward_fall,
        item.strip_m,
        item.respread_m,
        item.bench_topsoil_m,
    )
    made = terraces(ground, flight, material(item.soil).compacted_per_bank)
    return Made(made, tuple(met(patch) for patch in made.patches))


@work_of("heap", rank=80)
def shape_heap(item: Heap, ground: Designed, scene: Scene) -> Made:
    """Return the heap on the ground."""
    made = heap(ground, Mound(item.geometry, item.height_m, item.batter, item.strip_m))
    return Made(made, (made.patch,))


@work_of("borrow_pit", rank=85)
def shape_pit(item: BorrowPit, ground: Designed, scene: Scene) -> Made:
    """Return the pit in the ground."""
    batter = material(item.soil).cut_batter if item.batter is None else item.batter
    mound = Mound(item.geometry, -item.depth_m, batter, item.strip_m, item.respread_m)
    made = heap(ground, mound)
    return Made(made, (made.patch,))


def batters_for(item: Any) -> Batters:
    """Return the slopes an element's earth stands at: its own, else its soil's."""
    stands = material(item.soil)
    cut, fill = item.cut_batter, item.fill_batter
    return Batters(
        stands.cut_batter if cut is None else cut, stands.fill_batter if fill is None else fill
    )


def pad_of(item: Platform, ground: Designed) -> pads.Pad:
    """Return what a platform is to be on the ground as it is when its turn comes."""
    east, north = lie(ground, item.geometry)
    towards = item.fall_towards_deg
    if towards is None:
        towards = math.degrees(math.atan2(-east, -north)) % 360
    return pads.Pad(
        item.geometry,
        batters_for(item),
        fall=item.fall,
        towards_deg=towards,
        walls=walled(item.geometry, item.walls, (east, north)),
        strip_m=item.strip_m,
        respread_m=item.respread_m,
        surfacing_m=item.surfacing_m,
    )


def lie(ground: Designed, outline: Polygon) -> tuple[float, float]:
    """Return how the ground under an outline rises to the east and to the north [ratio].

    The plane fitted by least squares; 0, 0 where too little is known.
    """
    west, south, east, north = outline.bounds
    x, y = np.meshgrid(np.linspace(west, east, SAMPLES), np.linspace(south, north, SAMPLES))
    inside = shapely.contains_xy(outline, x, y)
    x, y = x[inside], y[inside]
    z = ground.sample(x, y)
    known = np.isfinite(z)
    if known.sum() < 3:
        return 0.0, 0.0
    middle = outline.centroid
    table = np.column_stack((x - middle.x, y - middle.y, np.ones(len(x))))[known]
    found = np.linalg.lstsq(table, z[known], rcond=None)[0]
    return float(found[0]), float(found[1])


def walled(outline: Polygon, which: str, rise: tuple[float, float]) -> tuple[LineString, ...]:
    """Return the sides of an outline that get a wall, by the field's choice.

    `rise` is how the ground rises to the east and north: on flat ground no side is uphill.
    """
    if which == "none":
        return ()
    ring = shapely.geometry.polygon.orient(outline).exterior
    xy = shapely.get_coordinates(ring)
    sides = [LineString(xy[i : i + 2]) for i in range(len(xy) - 1)]
    steep = math.hypot(*rise)
    if which == "all":
        return tuple(sides)
    if steep < FLAT:
        return ()
    up = np.array(rise) / steep
    legs = np.diff(xy, axis=0)
    # The ring runs counter-clockwise: outside lies to the right of each leg.
    out = np.column_stack((legs[:, 1], -legs[:, 0])) / np.hypot(*legs.T)[:, None]
    facing = out @ up
    taken = {
        "uphill": facing >= FACING,
        "downhill": facing <= -FACING,
        "both": np.abs(facing) >= FACING,
    }[which]
    return tuple(side for side, so in zip(sides, taken, strict=True) if so)


def met(patch: Patch) -> Patch:
    """Return a patch whose batters have met the ground; `BadData` for one whose have not."""
    if not patch.meets:
        raise BadData(
            "a batter never meets the ground: the hill is as steep as the batter, or the data end",
            remedy="Move it, take a steeper batter that still stands, or a wall on that side.",
        )
    return patch
