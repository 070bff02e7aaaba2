"""Ground cover: what a storm leaves on it and what runs off."""

from __future__ import annotations

from canvas.base.fact import Fact
from canvas.site.elements.cover import GroundCover
from canvas.study.kinds import common
from canvas.study.scene import Parts, Scene, facts_of, parts_of
from canvas.study.storm.cover import Ground, group_of
from canvas.water.runoff import covers, runoff_mm


@parts_of("ground_cover")
def cover_parts(item: GroundCover, scene: Scene) -> Parts:
    """Return the area and its edge as a line."""
    return {"shape": item.geometry, "edge_line": item.geometry.boundary}


@facts_of("ground_cover", reads=("design_storm", "rain_table", "test_pit"))
def cover_facts(item: GroundCover, scene: Scene) -> list[Fact]:
    """Return areas, the curve number, and what the design storm makes run off."""
    rain = scene.design_storm()
    group = group_of(item, scene)
    what = Ground(item.cover, group or rain.record.group, item.condition)
    table, number = covers()[item.cover], what.number(rain.moisture)
    facts = [
        *common.area_facts(item.geometry, scene),
        common.words("cover_said", "Runoff cover", what.label, table.note),
        Fact("curve_number", "Curve number", number, "ratio",
             basis=f"{rain.moisture} soil before the storm", source=table.source, decimals=0),
    ]  # fmt: skip
    if not rain.known:
        return [*facts, common.words("storm", "Design storm", "not set", rain.trouble)]
    depth = float(runoff_mm(rain.depth_mm, number))
    volume = depth * item.geometry.area / 1000.0
    return [
        *facts,
        Fact("runoff_mm", "Runs off", depth, "mm", basis=rain.said(), source=table.source),
        Fact("runoff_m3", "Runoff", volume, "m3", basis=rain.said(), source=table.source),
    ]
