"""Checks in gullies: wall and notch, what they pass and catch, and the next one up the gully."""

from __future__ import annotations

import math

import shapely
from shapely import LineString, Point
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import UserError
from canvas.base.fact import Fact
from canvas.ground.catchment import drop_path
from canvas.ground.check import LEVEL_BED, Check
from canvas.site.elements.swales import CheckDam
from canvas.study.earth.registry import EARTH, Work
from canvas.study.kinds import common
from canvas.study.kinds.earth_facts import trouble
from canvas.study.kinds.shapes import band
from canvas.study.kinds.swales import flow_facts, peak_m3s
from canvas.study.scene import Parts, Scene, facts_of, parts_of
from canvas.study.storm.facts import STORM_READS
from canvas.water import weirs

#: What is kept free over the water in the notch [m].
SPARE_M = 0.15
#: A way down the gully that passes within this of a check's line goes over it, in cells.
PASS_CELLS = 1.5


@parts_of("check_dam")
def check_parts(item: CheckDam, scene: Scene) -> Parts:
    """Return the line, the wall's toe, its notch (`sill`, `spill`) and apron."""
    line = item.geometry
    found: Parts = {"shape": line, "centre_line": line}
    work = scene.work(item.id)
    if work is None or not isinstance(work.thing, Check):
        wide = item.crest_m + item.height_m * (item.upstream + item.downstream)
        return found | {"edge": band(line, wide)}
    made = work.thing
    toe = made.patch.outline()
    found |= {"toe": toe, "edge": toe, "sill": made.notch, "spill": made.notch, "bank": line}
    if item.apron_m > 0:
        found["apron"] = _apron(item, made)
    return found


def _apron(item: CheckDam, made: Check) -> BaseGeometry:
    """Return the ground below the notch that is laid with rock."""
    start = item.crest_m / 2 + item.height_m * item.downstream
    side = 1.0 if made.water_right else -1.0
    near, far = (made.notch.offset_curve(side * off) for off in (start, start + item.apron_m))
    return shapely.convex_hull(shapely.union(near, far))


@facts_of("check_dam", reads=(*EARTH, *STORM_READS))
def check_facts(item: CheckDam, scene: Scene) -> list[Fact]:
    """Return levels, rock, what the notch passes, the soil it catches, spacing, catchment."""
    work = scene.work(item.id)
    if work is None or not isinstance(work.thing, Check):
        return [*trouble(work), *common.line_facts(item.geometry, scene)]
    made = work.thing
    stands = made.earth.fill_m3 + made.key_m3
    length, *rest = common.line_facts(item.geometry, scene)
    flow = flow_facts(item, made.notch, scene)
    design = peak_m3s(flow)
    head = max(item.notch_deep_m - SPARE_M, 0.0)
    spacing = made.spacing_m
    facts = [
        length,
        common.level("notch_level_m", "Notch level", made.notch_level_m, scene),
        common.level("bed_m", "Gully’s bed", made.bed_m, scene),
        Fact("height_m", "Notch above the bed", item.height_m, "m"),
        Fact("wall_m3", "Rock" if item.made_of == "rock" else "Logs and packing", stands, "m3",
             "as placed, keyed in"),
        Fact("sill_m", "Notch width", item.notch_m, "m"),
        Fact("sill_capacity_m3s", "Notch passes", weirs.weir_flow(head, item.notch_m), "m3/s",
             f"with {SPARE_M * 1000:.0f} mm to spare", source="hec22"),
        *_design_facts(item, made, design),
        common.ratio("bed_slope", "Bed falls by", made.bed_slope),
        Fact("spacing_m", "Next check up the gully at", spacing if math.isfinite(spacing) else None,
             "m", "its toe level with this notch", source="common_practice_water"),
        *_wedge_facts(item, made),
        *_gully_facts(item, made, scene),
    ]  # fmt: skip
    if not made.ends_meet:
        facts.append(
            common.words("ends", "Ends", "The wall's ends stand above the banks: draw it longer")
        )
    return [*facts, *flow, *rest]


def _design_facts(item: CheckDam, made: Check, design: float | None) -> list[Fact]:
    if design is None or not made.bed_slope >= LEVEL_BED:
        return []
    found = weirs.rock_check(item.height_m, made.bed_slope, 1.0, design, item.notch_m)
    return [
        Fact("sill_head_m", "Head in the design flow", found.head_m, "m", source="hec22"),
        Fact("notch_asked_m", "Notch depth asked", found.middle_m, "m",
             f"with {SPARE_M * 1000:.0f} mm to spare", source="common_practice_water"),
    ]  # fmt: skip


def _wedge_facts(item: CheckDam, made: Check) -> list[Fact]:
    """Return the soil caught once it is full to the notch, lying level."""
    if not made.bed_slope >= LEVEL_BED:
        return []
    long = item.height_m / made.bed_slope
    across = _width_m(made)
    # A wedge as long as the notch is high over the bed's fall; a V across: half its top's width,
    # whose width falls to nought up the gully with its depth.
    return [
        Fact("wedge_m", "Soil caught reaches back", long, "m", "lying level"),
        Fact("wedge_m3", "Soil caught when full", item.height_m * across * long / 6, "m3",
             "about: a V-shaped gully, lying level"),
    ]  # fmt: skip


def _width_m(made: Check) -> float:
    """Return the gully's width at the notch's level, along the check."""
    line, ground = made.spec.line, made.patch.ground
    below = shapely.line_interpolate_point(line, [i / 200 * line.length for i in range(201)])
    xy = shapely.get_coordinates(below)
    z = ground.sample(xy[:, 0], xy[:, 1])
    return float((z < made.notch_level_m).mean()) * float(line.length)


def _gully_facts(item: CheckDam, made: Check, scene: Scene) -> list[Fact]:
    """Return how the next check up this gully stands to this one."""
    best: tuple[float, Check] | None = None
    for other in scene.of_kind("check_dam"):
        if other.id == item.id:
            continue
        work = scene.work(other.id)
        if work is None or not isinstance(work.thing, Check):
            continue
        run = _run_between(work, made, scene)
        if run is not None and (best is None or run < best[0]):
            best = run, work.thing
    if best is None:
        return []
    run, upper = best
    return [
        Fact("above_m", "Next check up the gully stands", run, "m", "along the gully"),
        Fact("toe_above_m", "Its toe above this notch", upper.toe_m - made.notch_level_m, "m",
             remark="above 0 the bed between them is not held"),
    ]  # fmt: skip


def _run_between(upper: Work, lower: Check, scene: Scene) -> float | None:
    """Return how far water runs from an upper check to a lower one; None if it goes elsewhere."""
    made = upper.thing
    assert isinstance(made, Check)
    flow = scene.flow()
    if flow is None or made.toe_xy_m is None:
        return None
    try:
        way = drop_path(flow, *made.toe_xy_m)
    except UserError:
        return None
    if way is None:
        return None
    reach = PASS_CELLS * flow.ground.cell_m
    line: LineString = way.line
    spot = lower.spec.line.interpolate(lower.notch_at_m)
    if not line.crosses(lower.spec.line) and line.distance(spot) > reach:
        return None
    at = line.project(Point(spot))
    start = made.spec.line.interpolate(made.notch_at_m).distance(Point(made.toe_xy_m))
    return float(at) + start if at > 0 else None
