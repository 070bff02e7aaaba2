"""Overhead lines, buried services and firebreaks."""

from __future__ import annotations

import itertools
import math

import shapely
from shapely import MultiPoint

from canvas.base.fact import Fact
from canvas.site.elements.services import BuriedService, Firebreak, OverheadLine
from canvas.study.kinds import common
from canvas.study.kinds.shapes import band, closed
from canvas.study.scene import Parts, Scene, facts_of, parts_of


@parts_of("overhead_line")
def overhead_parts(item: OverheadLine, scene: Scene) -> Parts:
    """Return the middle line, the swath under the wires and the poles."""
    line = item.geometry
    strip = band(line, item.spread_m) if item.spread_m > 0 else line
    return {
        "shape": line,
        "centre_line": line,
        "strip": strip,
        "poles": MultiPoint(shapely.get_coordinates(line)),
    }


@facts_of("overhead_line")
def overhead_facts(item: OverheadLine, scene: Scene) -> list[Fact]:
    """Return lengths, spans and voltage."""
    coords = list(item.geometry.coords)
    spans = [math.dist(a, b) for a, b in itertools.pairwise(coords)]
    return [
        *common.line_facts(item.geometry, scene),
        Fact("voltage_kv", "Voltage", item.voltage_kv, "kV"),
        common.count("poles", "Poles", len(coords)),
        common.length("longest_span_m", "Longest span", max(spans)),
        Fact("wire_height_m", "Lowest wire above ground", item.height_m, "m"),
    ]


@parts_of("buried_service")
def buried_parts(item: BuriedService, scene: Scene) -> Parts:
    """Return the line."""
    return {"shape": item.geometry, "centre_line": item.geometry}


@facts_of("buried_service")
def buried_facts(item: BuriedService, scene: Scene) -> list[Fact]:
    """Return lengths and cover."""
    facts = common.line_facts(item.geometry, scene)
    facts.append(Fact("depth_m", "Cover", item.depth_m, "m", remark="locate before digging"))
    return facts


@parts_of("firebreak")
def firebreak_parts(item: Firebreak, scene: Scene) -> Parts:
    """Return the middle line and the belt."""
    line = item.geometry
    return {"shape": line, "centre_line": line, "belt": band(line, item.width_m)}


@facts_of("firebreak")
def firebreak_facts(item: Firebreak, scene: Scene) -> list[Fact]:
    """Return lengths, width, the area to keep bare, and whether it closes on itself."""
    belt = scene.parts(item.id)["belt"]
    return [
        *common.line_facts(item.geometry, scene),
        Fact("width_m", "Width", item.width_m, "m"),
        common.area("belt_m2", "Belt", belt.area),
        common.words("closed", "Ring", "closed" if closed(item.geometry) else "open"),
        common.ratio("max_slope", "Steepest ground under it", scene.terrain.max_slope(belt)),
    ]
