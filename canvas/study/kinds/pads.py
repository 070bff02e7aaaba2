"""Platforms, terraces, heaps and borrow pits: their edges, their earth."""

from __future__ import annotations

import shapely
from shapely import MultiLineString

from canvas.base.fact import Fact
from canvas.ground.materials import material
from canvas.ground.platform import Platform as Built
from canvas.ground.platform import batters_of
from canvas.site.elements.earthworks import Platform
from canvas.study.earth.registry import EARTH, Work
from canvas.study.kinds import common
from canvas.study.kinds.earth_facts import earth_facts, trouble
from canvas.study.scene import Parts, Scene, facts_of, parts_of


def earth_parts(work: Work | None) -> Parts:
    """Return where a work moves earth, where it cuts and where it fills; none without a work."""
    if work is None or not work.patches:
        return {}
    sides = [batters_of(patch) for patch in work.patches]
    return {
        "toe": shapely.union_all([patch.outline() for patch in work.patches]),
        "cut": shapely.union_all([side.cut for side in sides]),
        "fill": shapely.union_all([side.fill for side in sides]),
    }


@parts_of("platform")
def platform_parts(item: Platform, scene: Scene) -> Parts:
    """Return the pad's edge, where earth is moved (`toe`), cut, fill, batters and walls."""
    work = scene.work(item.id)
    parts: Parts = {"shape": item.geometry, "edge": item.geometry, **earth_parts(work)}
    if "toe" in parts:
        parts["batter"] = shapely.difference(parts["toe"], item.geometry)
    if work is not None and isinstance(work.thing, Built) and work.thing.walls:
        parts["wall"] = MultiLineString([wall.line for wall in work.thing.walls])
    return parts


@facts_of("platform", reads=EARTH)
def platform_facts(item: Platform, scene: Scene) -> list[Fact]:
    """Return level, fall, earth by material, walls, areas and slopes."""
    work = scene.work(item.id)
    plain = common.area_facts(item.geometry, scene)
    if work is None or not isinstance(work.thing, Built):
        return [*trouble(work), *plain]
    built = work.thing
    level = common.level("level_m", "Finished level, middle", built.level_m, scene)
    if item.level == "set":
        level = Fact("level_m", "Finished level, middle", built.level_m, "m", scene.terrain.datum)
    facts = [level]
    if item.fall > 0:
        facts += [
            common.ratio("fall", "Falls by", item.fall),
            Fact("fall_towards_deg", "Falls towards", built.pad.towards_deg, "deg", "grid"),
        ]
    facts += earth_facts(work.patches, built.earth, material(item.soil), scene)
    facts += [
        Fact("cut_batter", "Cut batter, run for one of rise", built.pad.batters.cut, "ratio"),
        Fact("fill_batter", "Fill batter, run for one of rise", built.pad.batters.fill, "ratio"),
    ]
    if built.walls:
        tallest = max((abs(wall.tallest_m) for wall in built.walls), default=0.0)
        facts += [
            Fact("wall_height_m", "Walls, tallest", tallest, "m"),
            Fact("wall_m", "Walls, length", sum(wall.line.length for wall in built.walls), "m"),
            common.area("wall_face_m2", "Walls, face", sum(wall.face_m2 for wall in built.walls)),
        ]
    return [*facts, *plain]
