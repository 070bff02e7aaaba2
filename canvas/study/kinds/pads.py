"""Platforms, terraces, heaps and borrow pits: their edges, their earth."""

from __future__ import annotations

import shapely
from shapely import MultiLineString, MultiPolygon
from shapely.geometry.base import BaseGeometry

from canvas.base.fact import Fact
from canvas.base.sources import Mark
from canvas.ground.heap import Heap as Pile
from canvas.ground.materials import Material, material
from canvas.ground.platform import Platform as Built
from canvas.ground.platform import batters_of
from canvas.ground.rings import straightened
from canvas.ground.terraces import Terraces as Flight
from canvas.site.elements.earthworks import BorrowPit, Heap, Platform, Terraces
from canvas.study.earth.moved import earth_of
from canvas.study.earth.registry import EARTH, Work
from canvas.study.kinds import common
from canvas.study.kinds.earth_facts import IN_BANK, LOOSE, earth_facts, topsoil_facts, trouble
from canvas.study.scene import Parts, Scene, facts_of, parts_of

#: What a batter's figure is.
RUN = "run for one of rise"
#: Share of a cell that outlines of earthworks may be straightened by.
SMOOTH = 0.4


def earth_parts(work: Work | None) -> Parts:
    """Return where a work moves earth, where it cuts and where it fills; none without a work."""
    if work is None or not work.patches:
        return {}
    sides = [(batters_of(patch), patch.levels.cell_m) for patch in work.patches]
    return {
        "toe": toe_of(work),
        "cut": _together([_smooth(side.cut, cell_m) for side, cell_m in sides]),
        "fill": _together([_smooth(side.fill, cell_m) for side, cell_m in sides]),
    }


def toe_of(work: Work) -> BaseGeometry:
    """Return where a work moves earth: from the tops of its cuts to the toes of its fills."""
    return _together([_smooth(patch.outline(), patch.levels.cell_m) for patch in work.patches])


def _together(areas: list[BaseGeometry]) -> BaseGeometry:
    return areas[0] if len(areas) == 1 else shapely.union_all(areas)


def _smooth(area: BaseGeometry, cell_m: float) -> BaseGeometry:
    """Return an area from cells as true as it is: a line between two is no truer than a part."""
    return straightened(area, SMOOTH * cell_m)


@parts_of("platform")
def platform_parts(item: Platform, scene: Scene) -> Parts:
    """Return the pad's edge, where earth is moved (`toe`), cut, fill, batters and walls."""
    work = scene.work(item.id)
    parts: Parts = {"shape": item.geometry, "edge": item.geometry, **earth_parts(work)}
    if "toe" in parts:
        parts["toe"] = shapely.union(parts["toe"], item.geometry)
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
        Fact("cut_batter", "Cut batter", built.pad.batters.cut, "ratio", RUN),
        Fact("fill_batter", "Fill batter", built.pad.batters.fill, "ratio", RUN),
        *stands_at(material(item.soil)),
    ]
    if built.walls:
        tallest = max((abs(wall.tallest_m) for wall in built.walls), default=0.0)
        facts += [
            Fact("wall_height_m", "Walls, tallest", tallest, "m"),
            Fact("wall_m", "Walls, length", sum(wall.line.length for wall in built.walls), "m"),
            common.area("wall_face_m2", "Walls, face", sum(wall.face_m2 for wall in built.walls)),
        ]
    return [*facts, *plain]


def stands_at(soil: Material) -> list[Fact]:
    """Return the slopes a kind of earth is taken to stand at, cut and filled."""
    source, mark = soil.sources.get("batter", ""), soil.marks.get("batter", Mark.PRACTICE)
    doubt = "" if mark is Mark.READ else mark.value
    return [
        Fact("cut_stands_at", "Its soil stands, cut, at", soil.cut_batter, "ratio", RUN,
             remark=doubt, source=source),
        Fact("fill_stands_at", "Its soil stands, filled, at", soil.fill_batter, "ratio", RUN,
             remark=doubt, source=source),
    ]  # fmt: skip


@parts_of("terraces")
def terraces_parts(item: Terraces, scene: Scene) -> Parts:
    """Return the line drawn, the benches (`edge`), their upper edges, and where earth is moved."""
    work = scene.work(item.id)
    parts: Parts = {"shape": item.geometry, **earth_parts(work)}
    if work is not None and isinstance(work.thing, Flight):
        benches = MultiPolygon([bench.pad.outline for bench in work.thing.benches])
        whole = shapely.union_all(benches)
        parts["edge"] = benches
        parts["upper_edge"] = MultiLineString(list(work.thing.edges))
        parts["toe"] = shapely.union(parts["toe"], whole)
        parts["batter"] = shapely.difference(parts["toe"], whole)
    return parts


@facts_of("terraces", reads=EARTH)
def terraces_facts(item: Terraces, scene: Scene) -> list[Fact]:
    """Return the benches' levels, the risers between them, earth by material, and lengths."""
    work = scene.work(item.id)
    plain = common.line_facts(item.geometry, scene)
    if work is None or not isinstance(work.thing, Flight):
        return [*trouble(work), *plain]
    flight = work.thing
    first, last = flight.benches[0], flight.benches[-1]
    facts = [
        common.count("benches", "Benches", len(flight.benches)),
        common.level("level_m", "Highest bench, middle", first.level_m, scene),
        common.level("lowest_bench_m", "Lowest bench, middle", last.level_m, scene),
        common.area("bench_m2", "Benches, in all", flight.bench_area_m2),
        common.ratio("mean_slope", "Ground they step down", sum(flight.slopes) / item.benches),
    ]
    if flight.drops_m:
        facts.append(Fact("riser_m", "Tallest riser", max(flight.drops_m), "m"))
        facts.append(Fact("least_riser_m", "Lowest riser", min(flight.drops_m), "m"))
    else:
        earth = first.earth
        facts.append(
            Fact("riser_m", "Tallest riser", max(earth.deepest_cut_m, earth.highest_fill_m), "m")
        )
    soil = material(item.soil)
    return [*facts, *earth_facts(work.patches, earth_of(item, work), soil, scene), *plain]


@parts_of("heap", "borrow_pit")
def heap_parts(item: Heap | BorrowPit, scene: Scene) -> Parts:
    """Return the outline, and its top or floor (`level_part`) where the sides leave one."""
    parts: Parts = {"shape": item.geometry, "edge": item.geometry, "toe": item.geometry}
    work = scene.work(item.id)
    if work is not None and isinstance(work.thing, Pile):
        mound = work.thing.mound
        inner = item.geometry.buffer(-mound.batter * abs(mound.height_m), join_style="mitre")
        if not inner.is_empty:
            parts["level_part"] = inner
        parts["cut" if mound.height_m < 0 else "fill"] = item.geometry
    return parts


@facts_of("heap", reads=EARTH)
def heap_facts(item: Heap, scene: Scene) -> list[Fact]:
    """Return what it holds and how high it comes."""
    work = scene.work(item.id)
    plain = common.area_facts(item.geometry, scene)
    if work is None or not isinstance(work.thing, Pile):
        return [*trouble(work), *plain]
    pile = work.thing
    facts = [
        Fact("holds_m3", "Holds", pile.volume_m3, "m3", LOOSE),
        Fact("fill_height_m", "Height", pile.reaches_m, "m", basis="above the ground under it"),
        Fact("batter", "Side batter", item.batter, "ratio", RUN),
    ]
    if item.strip_m:
        facts += topsoil_facts(pile.earth)
    return [*facts, *plain]


@facts_of("borrow_pit", reads=EARTH)
def pit_facts(item: BorrowPit, scene: Scene) -> list[Fact]:
    """Return what it gives and how deep it goes."""
    work = scene.work(item.id)
    plain = common.area_facts(item.geometry, scene)
    if work is None or not isinstance(work.thing, Pile):
        return [*trouble(work), *plain]
    pile, soil = work.thing, material(item.soil)
    gives = pile.earth.cut_m3
    return [
        Fact("gives_m3", f"Gives, {soil.label.lower()}", gives, "m3", IN_BANK),
        Fact("gives_loose_m3", "Gives", soil.loose_m3(gives), "m3", LOOSE),
        Fact("cut_depth_m", "Depth", pile.reaches_m, "m", basis="below the ground, in the end"),
        Fact("cut_batter", "Side batter", pile.mound.batter, "ratio", RUN),
        stands_at(soil)[0],
        *topsoil_facts(pile.earth),
        *plain,
    ]
