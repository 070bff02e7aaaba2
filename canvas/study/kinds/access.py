"""Ways besides tracks: public roads, paths."""

from __future__ import annotations

from canvas.base.fact import Fact
from canvas.base.quantity import FT
from canvas.ground.alignment import SUSTAINED_M, Alignment
from canvas.site.elements.access import Path, PublicRoad
from canvas.study.kinds import common
from canvas.study.kinds.shapes import band
from canvas.study.scene import Parts, Scene, facts_of, parts_of


@parts_of("public_road", "path")
def way_parts(item: PublicRoad | Path, scene: Scene) -> Parts:
    """Return centre line and surface."""
    line = item.geometry
    return {"shape": line, "centre_line": line, "edge": band(line, item.width_m)}


def _grade_facts(found: Alignment | None) -> list[Fact]:
    if found is None or found.steepest is None or found.sustained is None:
        return []
    span = f"over {SUSTAINED_M:g} m ({SUSTAINED_M / FT:.0f} ft)"
    return [
        common.ratio("max_grade", "Steepest grade", abs(found.steepest.grade), "on the ground"),
        common.ratio("sustained_grade", "Steepest held grade", abs(found.sustained.grade), span),
        Fact("climb_m", "Climbs in all", found.climb_m, "m"),
        Fact("fall_m", "Falls in all", found.fall_m, "m"),
    ]


@facts_of("public_road")
def road_facts(item: PublicRoad, scene: Scene) -> list[Fact]:
    """Return lengths and width."""
    return [
        *common.line_facts(item.geometry, scene),
        Fact("width_m", "Carriageway width", item.width_m, "m"),
    ]


@facts_of("path")
def path_facts(item: Path, scene: Scene) -> list[Fact]:
    """Return lengths, grades and surface."""
    found = scene.terrain.alignment(item.geometry, item.width_m, SUSTAINED_M)
    return [
        *common.line_facts(item.geometry, scene),
        *_grade_facts(found),
        Fact("width_m", "Width", item.width_m, "m"),
        common.area("surface_m2", "Surface", item.geometry.length * item.width_m),
    ]
