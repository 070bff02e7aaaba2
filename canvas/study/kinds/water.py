"""Water and waste water."""

from __future__ import annotations

from shapely.geometry.base import BaseGeometry

from canvas.base.fact import Fact
from canvas.site.elements.water import (
    SepticField,
    SepticTank,
    Tank,
    WaterBody,
    Watercourse,
    Well,
)
from canvas.study.kinds import common
from canvas.study.kinds.shapes import band, disc
from canvas.study.scene import Parts, Scene, facts_of, parts_of
from canvas.study.storm.facts import STORM_READS, storm_facts
from canvas.study.waters import catchment_facts

#: Drawn size of a septic tank's lid and a well's casing ring [m]; common practice, no source.
SEPTIC_TANK_M = 2.0
WELL_M = 1.0
#: Water pressure of one metre of height: density 1000 kg/m³ × 9.80665 m/s².
KPA_PER_M = 9.80665


@parts_of("watercourse")
def watercourse_parts(item: Watercourse, scene: Scene) -> Parts:
    """Return middle line, the bed from bank to bank, and the two banks as lines."""
    bed = band(item.geometry, item.width_m)
    return {
        "shape": item.geometry,
        "centre_line": item.geometry,
        "edge": bed,
        "bank_lines": bed.boundary,
    }


@facts_of("watercourse", reads=STORM_READS)
def watercourse_facts(item: Watercourse, scene: Scene) -> list[Fact]:
    """Return lengths, fall and mean grade, and whether it was drawn downstream."""
    facts = common.line_facts(item.geometry, scene)
    rise = next((f.value for f in facts if f.key == "rise_m"), None)
    if isinstance(rise, float):
        facts.append(common.ratio("mean_grade", "Mean fall", -rise / item.geometry.length))
        if rise > 0.5:
            facts.append(
                common.words("direction", "Direction", "Drawn uphill: turn the line round")
            )
    facts.append(Fact("width_m", "Bank to bank", item.width_m, "m"))
    return [*facts, *_drained(item.id, item.geometry, scene, "Drains")]


def _drained(ident: str, place: BaseGeometry, scene: Scene, label: str) -> list[Fact]:
    """Return what drains to a place and, where a storm is set, its runoff and peaks."""
    found = catchment_facts(place, scene, label)
    return storm_facts(ident, scene, label) if found and scene.design_storm().known else found


@parts_of("water_body")
def body_parts(item: WaterBody, scene: Scene) -> Parts:
    """Return the area and the water's edge."""
    return {"shape": item.geometry, "water_edge": item.geometry.boundary}


@facts_of("water_body", reads=STORM_READS)
def body_facts(item: WaterBody, scene: Scene) -> list[Fact]:
    """Return areas and depth."""
    facts = common.area_facts(item.geometry, scene)
    if item.depth_m is not None:
        facts.append(Fact("depth_m", "Deepest", item.depth_m, "m"))
    return [*facts, *_drained(item.id, item.geometry, scene, "Drains to it")]


@parts_of("well")
def well_parts(item: Well, scene: Scene) -> Parts:
    """Return the point and its casing ring."""
    return {"shape": item.geometry, "body": disc(item.geometry, WELL_M)}


@facts_of("well")
def well_facts(item: Well, scene: Scene) -> list[Fact]:
    """Return where it is, and the level of the standing water."""
    facts = common.point_facts(item.geometry, scene)
    ground = scene.terrain.height(item.geometry.x, item.geometry.y)
    if item.depth_m is not None:
        facts.append(Fact("depth_m", "Depth", item.depth_m, "m"))
    if item.water_level_m is not None:
        facts.append(Fact("water_below_m", "Standing water below ground", item.water_level_m, "m"))
        if ground is not None:
            facts.append(
                common.level("water_m", "Standing water", ground - item.water_level_m, scene)
            )
    if item.yield_l_s is not None:
        facts.append(Fact("yield_l_s", "Yield", item.yield_l_s, "L/s"))
    return facts


@parts_of("tank")
def tank_parts(item: Tank, scene: Scene) -> Parts:
    """Return the point and the wall as a disc."""
    return {"shape": item.geometry, "body": disc(item.geometry, item.diameter_m)}


@facts_of("tank", reads=("building",))
def tank_facts(item: Tank, scene: Scene) -> list[Fact]:
    """Return where it is, what it holds, and the head it gives at our dwellings."""
    facts = [
        *common.point_facts(item.geometry, scene),
        Fact("volume_l", "Holds", item.volume_l, "L"),
        Fact("fire_reserve_l", "Kept for fire", item.fire_reserve_l, "L"),
        Fact("diameter_m", "Diameter", item.diameter_m, "m"),
        Fact("height_m", "Height", item.height_m, "m"),
    ]
    base = scene.terrain.height(item.geometry.x, item.geometry.y)
    heads = [
        base - ground
        for house in scene.of_kind("building")
        if house.owner == "ours" and getattr(house, "use", "") == "dwelling"
        if base is not None
        and (ground := scene.terrain.height(house.geometry.centroid.x, house.geometry.centroid.y))
        is not None
    ]
    if heads:
        head = min(heads)
        facts.append(
            Fact("head_m", "Base above the dwelling's ground", head, "m", remark="before losses")
        )
        if head > 0:
            facts.append(
                Fact("head_kpa", "Standing pressure at the dwelling", head * KPA_PER_M, "kPa",
                     remark="tank nearly empty, tap at ground level, no losses")
            )  # fmt: skip
    return facts


@parts_of("septic_tank")
def septic_tank_parts(item: SepticTank, scene: Scene) -> Parts:
    """Return the point and the tank as a disc."""
    return {"shape": item.geometry, "body": disc(item.geometry, SEPTIC_TANK_M)}


@facts_of("septic_tank")
def septic_tank_facts(item: SepticTank, scene: Scene) -> list[Fact]:
    """Return where it is and whom it serves."""
    return [
        *common.point_facts(item.geometry, scene),
        Fact("volume_l", "Holds", item.volume_l, "L"),
        Fact("people", "People served", float(item.people), "people"),
    ]


@parts_of("septic_field")
def septic_field_parts(item: SepticField, scene: Scene) -> Parts:
    """Return the area waste water soaks into."""
    return {"shape": item.geometry, "field": item.geometry}


@facts_of("septic_field", reads=("septic_tank",))
def septic_field_facts(item: SepticField, scene: Scene) -> list[Fact]:
    """Return areas and slopes, the area for each person, and whether it lies below its tank."""
    facts = common.area_facts(item.geometry, scene)
    tanks = [tank for tank in scene.of_kind("septic_tank") if isinstance(tank, SepticTank)]
    if tanks:
        near = min(tanks, key=lambda tank: tank.geometry.distance(item.geometry))
        each = item.geometry.area / near.people
        facts.append(common.area("area_each_m2", "For each person", each))
        at_tank = scene.terrain.height(near.geometry.x, near.geometry.y)
        under = scene.terrain.under(item.geometry)
        if at_tank is not None and under is not None:
            facts.append(
                Fact("below_tank_m", "Highest ground below its tank", at_tank - under.z_max_m, "m")
            )
    return facts
