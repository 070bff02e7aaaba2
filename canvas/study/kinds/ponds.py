"""Dams and ponds: crest, toe, water, spillway, the way below them, and what they hold and cost."""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely import LineString, MultiLineString
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from canvas.base.fact import Fact
from canvas.base.grid import Floats
from canvas.ground.catchment import drop_path
from canvas.ground.contours import contours
from canvas.ground.excavation import Dugout, rim_line
from canvas.ground.materials import material
from canvas.ground.pond import Pool
from canvas.ground.spillway import Spillway
from canvas.site.elements.ponds import Dam, DugPond
from canvas.study.earth.ponds import PondWork
from canvas.study.earth.registry import EARTH, Work
from canvas.study.kinds import common
from canvas.study.kinds.earth_facts import IN_BANK, LOOSE, PLACED, earth_facts, trouble
from canvas.study.kinds.pads import earth_parts
from canvas.study.kinds.pits import soil_facts
from canvas.study.kinds.pond_safety import breach_facts, flood_facts
from canvas.study.kinds.shapes import band
from canvas.study.pits import nearest_pit
from canvas.study.scene import Parts, Scene, facts_of, parts_of
from canvas.study.storm.facts import STORM_READS
from canvas.water.ponds import USABLE, crest_width_m

#: Deep enough to keep cool and be worth having in a dry season; common practice, no source.
DEEP_M = 2.0
#: Depth lines are so far apart where the water is at least so deep [m].
DEPTH_STEPS_M = ((3.0, 1.0), (1.5, 0.5), (0.0, 0.25))
#: A flat bottom's own depth gets no line: it would wander over the bottom [m].
OFF_BOTTOM_M = 1e-3
#: The way below a dam is followed so far [m].
BELOW_M = 3000.0
STAYS = "stays behind the dam"
ROUND = "runs round the dam's end: draw the line further into the bank"
OPEN = "reaches the edge of the ground data: at least so much"


@parts_of("dam")
def dam_parts(item: Dam, scene: Scene) -> Parts:
    """Return crest, bank, toe, water and its edge, spillway, depth lines and the way below."""
    parts: Parts = {"shape": item.geometry, "crest": item.geometry}
    work = scene.work(item.id)
    if work is None or not isinstance(work.thing, PondWork):
        return parts
    made = work.thing
    dam = made.dam
    parts["crest"] = substring(item.geometry, *dam.ends_m())
    parts["crest_top"] = band(parts["crest"], item.width_m)
    parts["bank"] = dam.footprint()
    parts["toe"] = shapely.union_all([patch.outline() for patch in work.patches])
    parts |= water_parts(made.pond.water)
    if made.spillway is not None:
        parts |= spillway_parts(made.spillway)
    if dam.dry_toe_xy_m is not None:
        parts |= _below(dam.dry_toe_xy_m, item.breach_width_m, scene)
    return parts


def water_parts(water: Pool) -> Parts:
    """Return the full water, its edge and its lines of equal depth."""
    edge = water.edge()
    parts: Parts = {"water": edge, "water_edge": edge.boundary}
    step = next(step for deep, step in DEPTH_STEPS_M if water.deepest_m >= deep)
    depth = water.depth()
    found = contours(depth.like(depth.z - OFF_BOTTOM_M), step)
    lines = [LineString(xy) for _, xy in found if len(xy) > 1]
    parts["depth_lines"] = MultiLineString(lines)
    return parts


def spillway_parts(made: Spillway) -> Parts:
    """Return the spillway's cut, its line down the flow, and its sill across it."""
    parts: Parts = {"spillway": made.patch.outline(), "spillway_line": made.channel.line}
    sill = [line.xyz_m for line in made.patch.lines if line.held.name == "SILL"]
    if sill:
        parts["sill"] = LineString(sill[0][:, :2])
    return parts


def _below(toe: tuple[float, float], width_m: float, scene: Scene) -> Parts:
    """Return the way water takes from the dry toe, and the strip along it.

    On the ground as surveyed: the flood of a breach goes over small works.
    """
    found = scene.flow()
    way = drop_path(found, *toe) if found is not None else None
    if found is None or way is None:
        return {}
    # A flood does not follow every pebble, and a wide strip along such a line is slow to make.
    least = max(width_m / 8, found.ground.cell_m / 2)
    line = substring(way.line, 0, min(way.line.length, BELOW_M)).simplify(least)
    if not isinstance(line, LineString) or not line.length:
        return {}
    strip = line.buffer(width_m / 2, quad_segs=4, cap_style="flat")
    return {"breach_line": line, "breach_path": strip}


@facts_of("dam", reads=(*EARTH, *STORM_READS, "test_pit", "building", "track", "public_road"))
def dam_facts(item: Dam, scene: Scene) -> list[Fact]:
    """Return levels, water, earth, spillway against the flood, what lies below, the soil."""
    work = scene.work(item.id)
    plain = [common.length("length_m", "Line", item.geometry.length)]
    if work is None or not isinstance(work.thing, PondWork):
        return [*trouble(work), *plain]
    made = work.thing
    parts = scene.parts(item.id)
    return [
        *_levels(item, made, scene),
        *water_facts(made.pond.water, scene),
        common.words("pool", "The water", _where(made)),
        *_bank(item, work, made),
        *flood_facts(item, made, parts["water"], scene),
        *breach_facts(item, made, parts, scene),
        *near_soil(item.geometry, scene),
        *plain,
    ]


def _levels(item: Dam, made: PondWork, scene: Scene) -> list[Fact]:
    crest = common.level("crest_m", "Crest, settled", made.dam.bank.crest_m, scene)
    if item.crest_by == "level":
        crest = Fact("crest_m", "Crest, settled", made.dam.bank.crest_m, "m", scene.terrain.datum)
    over = item.settlement * made.dam.height_m
    return [
        crest,
        Fact("built_over_m", "Built higher at the deepest", over, "m", remark="it settles"),
        common.level("full_m", "Full water, at the sill", made.sill_m, scene),
        Fact("freeboard_m", "Freeboard", made.pond.freeboard_m, "m",
             basis="full water to settled crest"),
        Fact("height_m", "Height", made.dam.toe_height_m, "m", basis="crest over its lowest toe"),
        Fact("axis_height_m", "Height on its line", made.dam.height_m, "m"),
        common.length("crest_length_m", "Crest, length", _crest_length(made)),
    ]  # fmt: skip


def _crest_length(made: PondWork) -> float:
    first, last = made.dam.ends_m()
    return last - first


def _where(made: PondWork) -> str:
    water = made.pond.water
    return ROUND if water.escaped else OPEN if water.open else STAYS


def water_facts(water: Pool, scene: Scene) -> list[Fact]:
    """Return what a pool holds, its area and depths, and how far to trust them."""
    accuracy = scene.terrain.accuracy_m
    at_least = "at least" if water.open else ""
    return [
        Fact("holds_m3", "Holds when full", water.volume_m3, "m3",
             plus_minus=None if accuracy is None else accuracy * water.area_m2, remark=at_least),
        Fact("usable_m3", "Of it to be used", USABLE * water.volume_m3, "m3",
             remark="the last half metre is not drawn", source="wa_dams"),
        common.area("water_area_m2", "Water when full", water.area_m2),
        Fact("deepest_m", "Deepest", water.deepest_m, "m"),
        Fact("mean_depth_m", "Mean depth", _mean(water), "m"),
        common.ratio("deep_share", f"Deeper than {DEEP_M:g} m", water.share_deeper(DEEP_M)),
        Fact("quarter_depth_m", "Depth a quarter of it has", quarter_depth_m(water), "m"),
    ]  # fmt: skip


def _mean(water: Pool) -> float:
    return water.volume_m3 / water.area_m2 if water.area_m2 else 0.0


def quarter_depth_m(water: Pool) -> float:
    """Return the depth that a quarter of the water's area reaches."""
    depths: Floats = water.level_m - water.ground.z[water.wet]
    return float(np.quantile(depths, 0.75)) if depths.size else 0.0


def _bank(item: Dam, work: Work, made: PondWork) -> list[Fact]:
    """Return the earth placed and dug by material, and what has to be borrowed for it."""
    soil, dam = material(item.soil), made.dam
    spill = made.spillway.earth.cut_m3 if made.spillway is not None else 0.0
    takes = soil.bank_for_m3(dam.placed_m3)
    borrow = max(takes - spill - dam.trench_m3, 0.0)
    height = dam.toe_height_m
    return [
        Fact("earth_m3", f"Earth placed, {soil.label.lower()}", dam.placed_m3, "m3", PLACED,
             remark="settlement, cut-off trench and stripped ground filled"),
        Fact("settled_m3", "Bank once settled", dam.earth.fill_m3, "m3", PLACED),
        Fact("trench_m3", "Cut-off trench", dam.trench_m3, "m3", IN_BANK),
        Fact("cut_m3", "Spillway cut", spill, "m3", IN_BANK),
        *_spill_bed(made),
        Fact("topsoil_off_m3", "Topsoil stripped", dam.earth.topsoil_off_m3, "m3", IN_BANK),
        Fact("fill_bank_m3", "Bank takes", takes, "m3", IN_BANK),
        Fact("borrow_m3", "To be borrowed", borrow, "m3", IN_BANK,
             remark="if what the spillway and trench yield is fit; dig it inside the pond first"),
        Fact("borrow_loose_m3", "To be carried", soil.loose_m3(borrow), "m3", LOOSE),
        common.area("bank_m2", "Under the bank", dam.earth.area_m2),
        Fact("water_to_earth", "Water for each measure of earth",
             made.pond.water_per_earth, "ratio", decimals=1),
        Fact("crest_needed_m", "Crest width asked for its height", crest_width_m(height), "m",
             source="nrcs378_old"),
        Fact("faces_sum", "Both faces, run per rise", item.upstream + item.downstream, "ratio"),
        Fact("fill_batter", "Earth stands at, run per rise", soil.fill_batter, "ratio"),
    ]  # fmt: skip


def _spill_bed(made: PondWork) -> list[Fact]:
    """Return how far the ground stands over the spillway's bed where it stands least."""
    if made.spillway is None or not math.isfinite(made.spillway.least_cut_m):
        return []
    low = made.spillway.least_cut_m
    return [
        Fact("spill_least_cut_m", "Ground over the spillway's bed, least", low, "m",
             remark="below 0 it would stand on fill: move the end, or lead it by hand")
    ]  # fmt: skip


def near_soil(place: BaseGeometry, scene: Scene) -> list[Fact]:
    """Return what the nearest test pit says of the soil, or that there is none."""
    near = nearest_pit(place, scene)
    if near is None:
        return [common.words("pond_soil", "For a pond", "not known: no test pit within 100 m")]
    wanted = ("clay_share", "crumb_class", "pond_soil")
    return [fact for fact in soil_facts(near.pit, near.basis) if fact.key in wanted]


@parts_of("dug_pond")
def dug_parts(item: DugPond, scene: Scene) -> Parts:
    """Return the edge, where earth is moved, the rim, the water and its edge, the outlet."""
    parts: Parts = {"shape": item.geometry, "edge": item.geometry}
    work = scene.work(item.id)
    if work is None or not isinstance(work.thing, Dugout):
        return parts | {"water": item.geometry, "water_edge": item.geometry.boundary}
    parts |= water_parts(work.thing.water)
    parts["rim"] = rim_line(work.thing)
    parts |= earth_parts(work)
    if len(work.patches) > 1:
        parts["spillway"] = work.patches[1].outline()
        sill = [each.xyz_m for each in work.patches[1].lines if each.held.name == "INVERT"]
        parts["spillway_line"] = LineString(sill[0][:, :2])
    return parts


@facts_of("dug_pond", reads=(*EARTH, *STORM_READS, "test_pit"))
def dug_facts(item: DugPond, scene: Scene) -> list[Fact]:
    """Return levels, water, earth by material, the outlet against the flood, the soil."""
    work = scene.work(item.id)
    plain = [common.area("area_m2", "Area", item.geometry.area)]
    if work is None or not isinstance(work.thing, Dugout):
        return [*trouble(work), *plain]
    made = work.thing
    full = common.level("full_m", "Full water", made.water_m, scene)
    if item.level == "set":
        full = Fact("full_m", "Full water", made.water_m, "m", scene.terrain.datum)
    fill = made.earth.fill_m3
    return [
        full,
        Fact("freeboard_m", "Rim above the full water", item.freeboard_m, "m"),
        Fact("sides_run", "Sides, run per rise", item.side, "ratio"),
        *water_facts(made.water, scene),
        *earth_facts(work.patches, made.earth, material(item.soil), scene),
        Fact("water_to_earth", "Water for each measure of earth dug",
             made.water.volume_m3 / made.earth.cut_m3 if made.earth.cut_m3 > 0 else math.nan,
             "ratio", decimals=1),
        Fact("height_m", "Rim over the ground", made.earth.highest_fill_m if fill else 0.0, "m"),
        *flood_facts(item, made, made.water.edge(), scene),
        *near_soil(item.geometry, scene),
        *plain,
    ]  # fmt: skip
