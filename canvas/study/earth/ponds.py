"""Dams with the water behind them and their spillways, and ponds dug into the ground."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import LineString, Point

from canvas.base.errors import BadData
from canvas.base.grid import Bounds
from canvas.ground.dam import Bank, Dam, Pond, Trench, behind, crest_for, dam
from canvas.ground.designed import Designed
from canvas.ground.excavation import Dugout, Excavation, excavated, excavated_balanced
from canvas.ground.frames import cells_of, wider
from canvas.ground.materials import material
from canvas.ground.pond import Basin, StageStorage
from canvas.ground.profile import section
from canvas.ground.spillway import Channel, Spillway, beside_dam, spillway
from canvas.site.elements.ponds import Dam as DamElement
from canvas.site.elements.ponds import DugPond
from canvas.study.earth.pads import met
from canvas.study.earth.registry import Made, work_of

if TYPE_CHECKING:
    from canvas.study.scene import Scene

#: Water is sought so far round a dam at first [m]; further while it runs on.
NEAR_M = 60.0
#: The highest dam a volume is sought with [m].
HIGHEST_M = 25.0
#: Times the crest for a volume is guessed anew, and how near it is enough [m].
SECANTS, HAIR_M = 6, 0.004
#: Firm ground left between a bank's end and its spillway [m].
CLEAR_M = 2.0
BALANCE_REMEDY = "Set the full water by level, change the depth, or move the pond."
#: Length of a dug pond's outlet beyond its rim [m].
OUTLET_M = 6.0


@dataclass(frozen=True, slots=True, eq=False)
class PondWork:
    """A dam, the water behind it and the spillway beside it."""

    dam: Dam
    pond: Pond
    spillway: Spillway | None
    #: Level of the spillway's sill: the full water.
    sill_m: float
    #: What it holds at each level up to the sill.
    storage: StageStorage


def bank_of(item: DamElement, crest_m: float) -> Bank:
    """Return the bank a dam is to have."""
    trench = Trench(item.trench_bottom_m, item.trench_depth_m, item.trench_side)
    return Bank(
        item.geometry,
        crest_m,
        item.width_m,
        item.upstream,
        item.downstream,
        item.settlement,
        trench if item.trench_depth_m > 0 else None,
        item.strip_m,
    )


def held(ground: Designed, made: Dam, level_m: float) -> Pond:
    """Return the water behind a dam, looked for no further than it runs.

    The ground is taken in a window round the dam that grows while water comes to its edge.
    """
    bounds = _both(made.patch.levels.bounds, made.bank.axis.bounds)
    whole = shapely.box(*ground.bounds)
    reach = NEAR_M
    while True:
        cells = cells_of(ground, wider(bounds, reach), 1)
        found = behind(made, level_m, Basin(cells))
        if not found.water.open or shapely.box(*cells.bounds).covers(whole):
            return found
        reach *= 2


def _both(one: Bounds, other: Bounds) -> Bounds:
    return (
        min(one[0], other[0]), min(one[1], other[1]), max(one[2], other[2]), max(one[3], other[3])
    )  # fmt: skip


def lowest_on(ground: Designed, line: LineString) -> float:
    """Return the lowest ground along a dam's axis."""
    z = section(ground, line, ground.cell_m / 2).z_m
    if np.isnan(z).any():
        raise BadData("the dam's line leaves the known ground", remedy="Shorten or move it.")
    return float(z.min())


def crest_of(item: DamElement, ground: Designed) -> float:
    """Return the crest's level by whichever way it is set."""
    low = lowest_on(ground, item.geometry)
    if item.crest_by == "height":
        return low + item.rise_m
    if item.crest_by == "level":
        if item.level_m is None:
            raise BadData("no crest level is given", remedy="Type the level on the card.")
        return item.level_m
    if item.hold_m3 is None:
        raise BadData("no volume to hold is given", remedy="Type the volume on the card.")
    return _crest_holding(item, ground, low, item.hold_m3)


def _crest_holding(item: DamElement, ground: Designed, low: float, wanted_m3: float) -> float:
    """Return the lowest crest whose pond holds a volume up to its sill."""
    known: dict[float, float] = {}
    wanted = math.cbrt(wanted_m3)

    def more(crest: float) -> float:
        """Return the cube root held less the one wanted: it runs nearly straight."""
        if crest not in known:
            known[crest] = _held_root(item, ground, crest) - wanted
        return known[crest]

    bottom = low + item.sill_below_m + 0.05
    guess = _straight(more, bottom, wanted)
    for nth in range(4):
        if 0 <= more(guess + nth * HAIR_M) < math.inf:
            return guess + nth * HAIR_M
    enough = [crest for crest, found in known.items() if found >= 0]
    top = min(enough, default=bottom + 1.0)
    while more(top) < 0:
        if top - bottom > HIGHEST_M:
            raise BadData(
                f"no dam up to {HIGHEST_M:.0f} m high holds that much on this line",
                remedy="Ask less, or move the line to a wider hollow.",
            )
        top = bottom + 2 * (top - bottom)
    crest = crest_for(more, bottom, top)
    if math.isinf(more(crest)):
        raise BadData(
            "the water runs round the dam's end, or off the known ground, before it holds so much",
            remedy="Draw the line further into both banks, ask less, or move it.",
        )
    return crest


def _straight(more: Callable[[float], float], bottom: float, wanted: float) -> float:
    """Return the crest that secants lead to; not to be trusted where the water escapes."""
    last, crest = bottom + 1.0, bottom + 1.0
    before = more(last)
    if before + wanted > 0 and math.isfinite(before):
        crest = bottom + min(wanted / (before + wanted), HIGHEST_M)
    for _ in range(SECANTS):
        found = more(crest)
        if not math.isfinite(found) or not math.isfinite(before) or found == before:
            break
        further = crest - found * (crest - last) / (found - before)
        last, before = crest, found
        crest = min(max(further, bottom), bottom + HIGHEST_M)
        if abs(crest - last) < HAIR_M:
            break
    return crest


def _held_root(item: DamElement, ground: Designed, crest: float) -> float:
    """Return the cube root of the volume held behind a crest; infinite when it isn't held.

    Water that runs round the dam is no water held; a lower crest may yet hold enough.
    """
    made = dam(ground, bank_of(item, crest), item.id, _side(item))
    try:
        found = held(ground, made, crest - item.sill_below_m)
    except BadData:
        return 0.0
    return math.cbrt(found.water.volume_m3) if found.holds else math.inf


_WATER_RIGHT = {"found": None, "left": False, "right": True}


def _side(item: DamElement) -> bool | None:
    return _WATER_RIGHT[item.water_on]


@work_of("dam", rank=30)
def dam_work(item: DamElement, ground: Designed, scene: Scene) -> Made:
    """Shape a dam, fill the water behind it to its sill, and cut the spillway beside it."""
    crest = crest_of(item, ground)
    made = dam(ground, bank_of(item, crest), item.id, _side(item))
    sill = crest - item.sill_below_m
    pond = held(ground, made, sill)
    if pond.water.volume_m3 <= 0:
        raise BadData(
            "the spillway's sill is lower than the ground above the dam: it would hold nothing",
            remedy="Raise the crest, or set the sill less far below it.",
        )
    patches = [met(made.patch)]
    cut = None
    if item.spillway != "none":
        line = beside_dam(
            ground, made, sill, item.spill_width_m, item.spillway == "start", item.spill_grade,
            CLEAR_M,
        )  # fmt: skip
        channel = Channel(
            line, item.spill_width_m, sill, _level_length(item, line), item.spill_grade,
            item.spill_side,
        )  # fmt: skip
        # Laid straight over what is there: `of` would sort it before works of later phases.
        cut = spillway(Designed(ground.base, (*ground.patches, made.patch)), channel, item.id)
        patches.append(cut.patch)
    return Made(PondWork(made, pond, cut, sill, pond.water.storage()), tuple(patches))


def _level_length(item: DamElement, line: LineString) -> float:
    """Return how far the sill's level runs: from the water to past the crest's line."""
    to_crest = math.dist(*line.coords[:2])
    return min(to_crest + item.spill_level_m / 2, line.length)


def excavation_of(item: DugPond) -> Excavation:
    """Return the basin a dug pond is to be."""
    batter = item.cut_batter if item.cut_batter is not None else material(item.soil).cut_batter
    return Excavation(
        item.geometry,
        item.depth_m,
        item.side,
        item.freeboard_m,
        item.rim_m,
        item.outer,
        batter,
        item.strip_m,
    )


@work_of("dug_pond", rank=35)
def dug_work(item: DugPond, ground: Designed, scene: Scene) -> Made:
    """Dig a pond, raise its rim with what is dug, and let it out where the ground is lowest."""
    what = excavation_of(item)
    if item.level == "set":
        if item.water_m is None:
            raise BadData("no full water level is given", remedy="Type the level on the card.")
        made = excavated(ground, what, item.water_m, item.id)
    else:
        try:
            made = excavated_balanced(ground, what, material(item.soil).compacted_per_bank, item.id)
        except BadData as err:
            raise BadData(err.what, remedy=BALANCE_REMEDY) from err
    if not item.outlet:
        return Made(made, (met(made.patch),))
    channel = Channel(outlet_line(item, made, ground.sample), item.outlet_width_m, made.water_m,
                      _outlet_level(item), 0.03, max(item.outer, 1.0))  # fmt: skip
    cut = spillway(Designed(ground.base, (*ground.patches, made.patch)), channel, item.id)
    return Made(made, (met(made.patch), cut.patch))


def _rim_run(item: DugPond) -> float:
    """Return how far the rim's outer edge lies outside the water's edge."""
    return item.side * item.freeboard_m + item.rim_m


def _outlet_level(item: DugPond) -> float:
    return 1.0 + _rim_run(item)


def outlet_line(
    item: DugPond, made: Dugout, sample: Callable[[np.ndarray, np.ndarray], np.ndarray]
) -> LineString:
    """Return the outlet's line: from the water through the rim, where the ground is lowest."""
    beyond = _rim_run(item) + item.outer * item.freeboard_m + 1.0
    ring = shapely.segmentize(made.excavation.outline.buffer(beyond).exterior, 1.0)
    xy = shapely.get_coordinates(ring)
    z = sample(xy[:, 0], xy[:, 1])
    if np.isnan(z).all():
        raise BadData("no ground is known round the pond", remedy="Move it.")
    out = Point(xy[int(np.nanargmin(z))])
    edge = made.excavation.outline.exterior
    foot = edge.interpolate(edge.project(out))
    dx, dy = out.x - foot.x, out.y - foot.y
    size = math.hypot(dx, dy)
    dx, dy = dx / size, dy / size
    return LineString(
        [
            (foot.x - dx, foot.y - dy),
            (out.x + dx * OUTLET_M, out.y + dy * OUTLET_M),
        ]
    )
