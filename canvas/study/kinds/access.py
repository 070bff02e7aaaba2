"""Ways: tracks, public roads, paths."""

from __future__ import annotations

from shapely import Point

from canvas.base.fact import Fact
from canvas.base.quantity import FT
from canvas.ground.alignment import SUSTAINED_M, Alignment, bends, dead_ends
from canvas.site.elements.access import Path, PublicRoad, Track
from canvas.study.kinds import common
from canvas.study.kinds.shapes import band
from canvas.study.scene import Parts, Scene, facts_of, parts_of

#: A line's end within this distance of another way is joined to it.
JOIN_M = 3.0


@parts_of("track")
def track_parts(item: Track, scene: Scene) -> Parts:
    """Return centre line, carriageway and the width to keep clear."""
    line = item.geometry
    return {
        "shape": line,
        "centre_line": line,
        "edge": band(line, item.width_m),
        "clear_way": band(line, max(item.clear_width_m, item.width_m)),
    }


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


def track_ends(scene: Scene) -> dict[str, list[Point]]:
    """Return the dead ends of every track, by the track's identity."""
    tracks = [item for item in scene.of_kind("track") if isinstance(item, Track)]
    roads = [road.geometry for road in scene.of_kind("public_road")]
    found: dict[str, list[Point]] = {}
    for end in dead_ends([track.geometry for track in tracks], JOIN_M, roads):
        found.setdefault(tracks[end.line].id, []).append(end.at)
    return found


@facts_of("track", reads=("track", "public_road"))
def track_facts(item: Track, scene: Scene) -> list[Fact]:
    """Return lengths, grades, bends, surface and ends."""
    found = scene.terrain.alignment(item.geometry, item.width_m, SUSTAINED_M)
    turns = found.bends if found is not None else bends(item.geometry, item.width_m)
    tightest = min((bend.inside_radius_m for bend in turns), default=None)
    clear_m = max(item.clear_width_m, item.width_m)
    return [
        *common.line_facts(item.geometry, scene),
        *_grade_facts(found),
        Fact("min_inside_radius_m", "Tightest bend, inner edge", tightest, "m"),
        Fact("width_m", "Running width", item.width_m, "m"),
        Fact("clear_width_m", "Clear width", clear_m, "m"),
        Fact("clear_height_m", "Clear height", item.clear_height_m, "m"),
        common.area("surface_m2", "Surface", item.geometry.length * item.width_m),
        common.count("dead_ends", "Dead ends", len(track_ends(scene).get(item.id, []))),
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
