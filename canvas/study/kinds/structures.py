"""Buildings, fences, gates."""

from __future__ import annotations

import math

import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from canvas.base.fact import Fact
from canvas.site.elements.building import Building, Fence, Gate
from canvas.study.kinds import common
from canvas.study.kinds.shapes import bar, bearing_at
from canvas.study.scene import Parts, Scene, facts_of, parts_of

#: A gate stands in a fence or track when it is this near.
GATE_REACH_M = 3.0


@parts_of("building")
def building_parts(item: Building, scene: Scene) -> Parts:
    """Return outer wall, roof edge and the roof's ridge."""
    wall = item.geometry
    eaves = wall.buffer(item.eaves_m, join_style="mitre") if item.eaves_m > 0 else wall
    return {"shape": wall, "wall": wall, "eaves": eaves, "ridge": ridge_line(wall)}


def ridge_line(wall: Polygon) -> LineString:
    """Return a plain gable ridge: the long middle line of the smallest rectangle around."""
    a, b, c, d = shapely.get_coordinates(wall.minimum_rotated_rectangle)[:4]
    if math.dist(a, b) < math.dist(b, c):
        a, b, c, d = b, c, d, a
    start = ((a[0] + d[0]) / 2, (a[1] + d[1]) / 2)
    end = ((b[0] + c[0]) / 2, (b[1] + c[1]) / 2)
    return LineString([start, end])


@facts_of("building")
def building_facts(item: Building, scene: Scene) -> list[Fact]:
    """Return footprint, heights, how the ground falls under it, and the floor against it."""
    facts = common.area_facts(item.geometry, scene)
    mean_height = (item.wall_height_m + item.ridge_height_m) / 2
    facts += [
        Fact("wall_height_m", "Wall height", item.wall_height_m, "m"),
        Fact("ridge_height_m", "Ridge height", item.ridge_height_m, "m", basis="above the floor"),
        Fact("volume_m3", "Volume", item.geometry.area * mean_height, "m3", basis="gable roof"),
    ]
    under = scene.terrain.under(item.geometry)
    if under is not None:
        facts.append(
            Fact("ground_fall_m", "Ground falls under it", under.z_max_m - under.z_min_m, "m")
        )
        if item.floor_level_m is not None:
            cut = under.z_max_m - item.floor_level_m
            fill = item.floor_level_m - under.z_min_m
            facts += [
                Fact("floor_level_m", "Floor level", item.floor_level_m, "m"),
                Fact("floor_below_m", "Highest ground above the floor", cut, "m"),
                Fact("floor_above_m", "Floor above the lowest ground", fill, "m"),
            ]
    return facts


@parts_of("fence")
def fence_parts(item: Fence, scene: Scene) -> Parts:
    """Return the line."""
    return {"shape": item.geometry, "centre_line": item.geometry}


@facts_of("fence", reads=("gate",))
def fence_facts(item: Fence, scene: Scene) -> list[Fact]:
    """Return lengths, posts and the gates that stand in it."""
    line = item.geometry
    gates = [g for g in scene.of_kind("gate") if g.geometry.distance(line) <= GATE_REACH_M]
    posts = math.floor(line.length / item.post_spacing_m) + 1
    return [
        *common.line_facts(line, scene),
        Fact("height_m", "Height", item.height_m, "m"),
        common.count("posts", "Posts", posts, "corners and strainers come on top"),
        common.count("gates", "Gates in it", len(gates)),
    ]


def gate_bearing(item: Gate, scene: Scene) -> float:
    """Return the bearing a gate lies along: its own, its fence's, or across its track."""
    if item.bearing_deg is not None:
        return item.bearing_deg
    for key, turn in (("fence", 0.0), ("site_boundary", 0.0), ("track", 90.0)):
        near = [
            line
            for other in scene.of_kind(key)
            if (line := _line_of(other.geometry)).distance(item.geometry) <= GATE_REACH_M
        ]
        if near:
            line = min(near, key=lambda each: each.distance(item.geometry))
            return (bearing_at(line, item.geometry) + turn) % 360
    return 0.0


def _line_of(geometry: BaseGeometry) -> LineString:
    if isinstance(geometry, Polygon):
        return LineString(geometry.exterior.coords)
    assert isinstance(geometry, LineString)
    return geometry


@parts_of("gate")
def gate_parts(item: Gate, scene: Scene) -> Parts:
    """Return the point and the closed gate as a line."""
    leaf = bar(item.geometry, item.width_m, gate_bearing(item, scene))
    return {"shape": item.geometry, "leaf": leaf}


@facts_of("gate", reads=("fence", "site_boundary", "track"))
def gate_facts(item: Gate, scene: Scene) -> list[Fact]:
    """Return where it is, its width and bearing."""
    return [
        *common.point_facts(item.geometry, scene),
        Fact("width_m", "Clear width", item.width_m, "m"),
        Fact("bearing_deg", "Lies along", gate_bearing(item, scene) % 180, "deg", basis="grid"),
    ]
