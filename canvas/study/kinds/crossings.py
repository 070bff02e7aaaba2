"""Turning heads, passing bays, culverts, fords and water bars: what they take and pass."""

from __future__ import annotations

import math

import shapely
from shapely import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import UserError
from canvas.base.fact import Fact
from canvas.ground.catchment import drop_path
from canvas.ground.curves import rounded
from canvas.ground.formation import Track as Formed
from canvas.ground.materials import material
from canvas.ground.platform import Platform
from canvas.ground.swale import Swale as Dug
from canvas.ground.waysides import passing_place
from canvas.site.elements.access import Track
from canvas.site.elements.crossings import Culvert, Ford, PassingBay, TurningHead, WaterBar
from canvas.study.earth.crossings import TROUGH_BOTTOM_M, Pipes, end_near, head_outline
from canvas.study.earth.registry import EARTH
from canvas.study.earth.ways import bay_beside
from canvas.study.kinds import common
from canvas.study.kinds.earth_facts import earth_facts, trouble
from canvas.study.kinds.pads import earth_parts
from canvas.study.kinds.shapes import band, bearing_at, disc
from canvas.study.kinds.swales import peak_m3s
from canvas.study.kinds.tracks import formed
from canvas.study.scene import Parts, Scene, facts_of, parts_of
from canvas.study.storm.facts import STORM_READS, as_typed, storm_facts
from canvas.study.waters import catchment_facts
from canvas.water import culverts, weirs
from canvas.water.sections import Trapezoid, manning_flow, normal_depth

READS = (*EARTH, *STORM_READS)
#: Water comes to a culvert within this of its inlet, in cells of the ground.
INLET_CELLS = 1.5
#: A ford's floor and a water bar's trough: Manning's n of rough earth and rock.
TROUGH_N = 0.035
#: Drawn width of a ditch-less pipe and of a water bar's bank [m].
BAR_DRAWN_M = 1.2
#: Depth over a ford beyond which a car floats or loses its footing [m]; common practice.
WADE_M = 0.15


def drop_from(place: Point, scene: Scene) -> LineString | None:
    """Return the way water takes that leaves a place, on the designed ground."""
    found = scene.flow(designed=True)
    path = drop_path(found, place.x, place.y) if found is not None else None
    return path.line if path is not None else None


def flow_at(typed: float | None, place: BaseGeometry, scene: Scene) -> list[Fact]:
    """Return what drains to a crossing, and the flow it is designed for."""
    facts = storm_facts(place, scene)
    if not any(fact.key == "catchment_m2" for fact in facts):
        drained = catchment_facts(place, scene, "Drains to it")
        reach = "yes" if any(fact.remark for fact in drained) else "no"
        told = common.words("catchment_at_least", "Catchment reaches the data's edge", reach)
        facts = [*drained, *([told] if drained else []), *facts]
    if typed is not None:
        return as_typed(facts, typed, "Design flow")
    return facts


def share_facts(flow: float | None, capacity: float) -> list[Fact]:
    """Return the design flow as a share of what a crossing passes."""
    if flow is None or capacity <= 0:
        return []
    return [Fact("flow_share", "Design flow, of what it passes", flow / capacity, "%")]


# -- turning heads and passing bays ----------------------------------------------------------------


@parts_of("turning_head")
def turning_parts(item: TurningHead, scene: Scene) -> Parts:
    """Return the point, the head's outline and its earth."""
    outline = head_outline(item, end_near(item, scene))
    return {"shape": item.geometry, "edge": outline, **earth_parts(scene.work(item.id))}


@facts_of("turning_head", reads=EARTH)
def turning_facts(item: TurningHead, scene: Scene) -> list[Fact]:
    """Return its size, its fall, its earth, and whose end it stands at."""
    work, end = scene.work(item.id), end_near(item, scene)
    outline = head_outline(item, end)
    named = "no track" if end is None else (end.track.name or "a track")
    facts = [
        *trouble(work),
        common.words("at", "Stands at the end of", named),
        common.area("area_m2", "Area", outline.area),
    ]
    if item.shape == "circle":
        facts.append(Fact("turn_radius_m", "Radius", item.radius_m, "m"))
    else:
        facts.append(Fact("turn_arm_m", "Tip to tip", item.arm_m, "m"))
    if work is not None and isinstance(work.thing, Platform):
        built = work.thing
        facts += [
            common.level("level_m", "Finished level, middle", built.level_m, scene),
            common.ratio("fall", "Falls by", built.pad.fall),
            *earth_facts(work.patches, built.earth, material(item.soil), scene),
        ]
    return [*facts, *common.point_facts(item.geometry, scene)]


def _beside(item: PassingBay, scene: Scene) -> tuple[Track, Polygon] | None:
    """Return the track a passing bay lies beside, and the ground it takes."""
    for track in scene.of_kind("track"):
        assert isinstance(track, Track)
        shaped = track.forming != "none"
        line = rounded(track.geometry, track.radius_m).line if shaped else track.geometry
        bay = bay_beside(item, track, line)
        if bay is not None:
            return track, passing_place(line, bay, track.width_m)
    return None


@parts_of("passing_bay")
def bay_parts(item: PassingBay, scene: Scene) -> Parts:
    """Return the point and the ground it takes beside its track."""
    found = _beside(item, scene)
    edge = found[1] if found is not None else disc(item.geometry, item.width_m)
    return {"shape": item.geometry, "edge": edge}


@facts_of("passing_bay", reads=("track",))
def bay_facts(item: PassingBay, scene: Scene) -> list[Fact]:
    """Return its size and its track; its earth is the track's."""
    found = _beside(item, scene)
    facts = []
    if found is None:
        told = "No track beside it has room for it: move it along, or nearer"
        facts.append(common.words("trouble", "Cannot be built so", told))
    else:
        track, edge = found
        shaped = "counted with the track's" if track.forming != "none" else "the track isn't shaped"
        facts += [
            common.words("at", "Stands beside", track.name or "a track", f"its earth: {shaped}"),
            common.area("area_m2", "Area beside the track", edge.area),
            Fact("passing_width_m", "Width with the track", track.width_m + item.width_m, "m"),
        ]
    facts += [
        Fact("bay_length_m", "Length", item.length_m, "m"),
        Fact("bay_width_m", "Extra width", item.width_m, "m"),
    ]
    return [*facts, *common.point_facts(item.geometry, scene)]


# -- culverts --------------------------------------------------------------------------------------


def pipe_of(item: Culvert, pipes: Pipes) -> culverts.Culvert:
    """Return a culvert as hydraulics see it."""
    inlet = culverts.inlets()[item.inlet]
    return culverts.Culvert(item.bore_m, pipes.length_m, pipes.slope, inlet, item.barrels)


@parts_of("culvert")
def culvert_parts(item: Culvert, scene: Scene) -> Parts:
    """Return the pipe, its rock apron, the low place over it and the way what overtops it takes."""
    line = item.geometry
    parts: Parts = {
        "shape": line,
        "centre_line": line,
        "edge": band(line, item.bore_m * (2 * item.barrels - 1)),
        "apron": _apron(item),
    }
    work = scene.work(item.id)
    if work is not None and isinstance(work.thing, Pipes):
        parts["low"] = work.thing.low
        way = _overflow(item, work.thing, scene)
        if way is not None:
            parts["overflow"] = way
    return parts


def _inlet(item: Culvert, scene: Scene) -> BaseGeometry:
    """Return the ground at a culvert's inlet that its water comes to."""
    cell = scene.terrain.grid.cell_m if scene.terrain.grid is not None else 1.0
    return Point(item.geometry.coords[0]).buffer(INLET_CELLS * cell)


def _overflow(item: Culvert, pipes: Pipes, scene: Scene) -> LineString | None:
    """Return the way water takes that goes over the culvert in the design flow; None when none."""
    design = item.design_flow_m3s
    if design is None:
        try:
            design = scene.peak(_inlet(item, scene)).high_m3s
        except UserError:
            return None
    passes = culverts.capacity_m3s(pipe_of(item, pipes), pipes.road_m - pipes.inlet_m)
    return drop_from(pipes.low, scene) if design > passes else None


def _apron_m(item: Culvert) -> tuple[float, float]:
    long = item.apron_m if item.apron_m is not None else culverts.APRON_BORES * item.bore_m
    return long, 3.0 * item.bore_m * item.barrels


def _apron(item: Culvert) -> BaseGeometry:
    """Return the ground below the outlet that is laid with rock."""
    (ax, ay), (bx, by) = item.geometry.coords[-2][:2], item.geometry.coords[-1][:2]
    long, wide = _apron_m(item)
    run = math.hypot(bx - ax, by - ay)
    end = (bx + (bx - ax) / run * long, by + (by - ay) / run * long)
    return band(LineString([(bx, by), end]), wide) if long > 0 else Polygon()


@facts_of("culvert", reads=READS)
def culvert_facts(item: Culvert, scene: Scene) -> list[Fact]:
    """Return inverts, cover, headwater and capacity, outlet protection, what goes over the way."""
    work = scene.work(item.id)
    if work is None or not isinstance(work.thing, Pipes):
        return [*trouble(work), *common.line_facts(item.geometry, scene)]
    pipes = work.thing
    pipe = pipe_of(item, pipes)
    flow = flow_at(item.design_flow_m3s, _inlet(item, scene), scene)
    over_m = pipes.road_m - pipes.inlet_m
    capacity = culverts.capacity_m3s(pipe, over_m)
    design = peak_m3s(flow)
    long, wide = _apron_m(item)
    thick = 0.3
    return [
        common.level("inlet_level_m", "Inlet invert", pipes.inlet_m, scene),
        common.level("outlet_level_m", "Outlet invert", pipes.outlet_m, scene),
        Fact("pipe_m", "Pipe", pipes.length_m * item.barrels, "m", f"{item.barrels} × bore"
             f" {item.bore_m * 1000:.0f} mm"),
        common.ratio("pipe_slope", "Falls by", pipes.slope),
        Fact("cover_m", "Earth over the pipe", pipes.cover_m(item.bore_m), "m", "midway"),
        Fact("capacity_m3s", "Passes before the way is overtopped", capacity, "m3/s",
             f"water {over_m:.2f} m over the inlet's invert", source="hds5"),
        *share_facts(design, capacity),
        *(_water_facts(pipe, pipes, design, scene) if design else []),
        Fact("apron_m", "Rock apron, length", long, "m", source="common_practice_water"),
        Fact("apron_width_m", "Rock apron, width", wide, "m", source="common_practice_water"),
        Fact("apron_m3", "Rock", long * wide * thick, "m3", f"{thick:.1f} m thick"),
        *flow,
        *common.line_facts(item.geometry, scene),
    ]  # fmt: skip


def _water_facts(pipe: culverts.Culvert, pipes: Pipes, design: float, scene: Scene) -> list[Fact]:
    """Return what the design flow does: headwater, speed, and what goes over the way."""
    over_m = pipes.road_m - pipes.inlet_m
    alone = culverts.headwater(pipe, design)
    met = culverts.crossing(pipe, design, over_m, pipes.dip_m)
    facts = [
        Fact("headwater_m", "Water over the inlet's invert", met.headwater_m, "m",
             f"in the design flow, {alone.control} control", source="hds5"),
        Fact("outlet_speed_m_s", "Speed at the outlet", alone.outlet_speed_m_s, "m/s",
             "in the design flow", source="hds5"),
    ]  # fmt: skip
    if met.over_m3s <= 0:
        spare = over_m - met.headwater_m
        return [*facts, Fact("spare_m", "Water stays below the way by", spare, "m")]
    way = drop_from(pipes.low, scene)
    runs = f"then runs {way.length:.0f} m to where it leaves the data" if way is not None else ""
    return [
        *facts,
        Fact("over_m3s", "Goes over the way", met.over_m3s, "m3/s",
             f"along {pipes.dip_m:.0f} m", remark=runs, source="hec22"),
        Fact("overtops_m", "Depth over the way", met.headwater_m - over_m, "m", source="hec22"),
    ]  # fmt: skip


# -- fords -----------------------------------------------------------------------------------------


@parts_of("ford")
def ford_parts(item: Ford, scene: Scene) -> Parts:
    """Return the line, the paved way and its earth."""
    work = scene.work(item.id)
    line = item.geometry
    if work is None or not isinstance(work.thing, Formed):
        return {"shape": line, "centre_line": line, "edge": band(line, item.width_m)}
    return {
        "shape": line, "centre_line": line, "edge": work.thing.carriageway, **earth_parts(work)
    }  # fmt: skip


@facts_of("ford", reads=READS)
def ford_facts(item: Ford, scene: Scene) -> list[Fact]:
    """Return levels, ramps, the depth and speed of the design flow over it, and its earth."""
    work = scene.work(item.id)
    if work is None or not isinstance(work.thing, Formed):
        return [*trouble(work), *common.line_facts(item.geometry, scene)]
    made = work.thing
    grades = made.grade_line.grades
    bed = made.grade_line.knees[1].level_m
    flow = flow_at(item.design_flow_m3s, item.geometry, scene)
    design = peak_m3s(flow)
    banks = min(made.grade_line.knees[0].level_m, made.grade_line.knees[-1].level_m) - bed
    section = Trapezoid(
        item.floor_m, 1 / max(abs(float(grades[0])), 1e-3), 1 / max(abs(float(grades[-1])), 1e-3)
    )
    capacity = weirs.notch_flow(section, max(banks, 0.0))
    facts = [
        common.level("bed_level_m", "Floor", bed, scene),
        common.ratio("ramp", "Steeper ramp", max(abs(float(grades[0])), abs(float(grades[-1])))),
        Fact("floor_m2", "Floor", made.carriageway.area, "m2"),
        Fact("floor_m3", "Rock or concrete", made.aggregate_m3, "m3", "in place"),
        Fact("bank_m", "Lower bank over the floor", banks, "m"),
        Fact("capacity_m3s", "Passes between its banks", capacity, "m3/s",
             "critical flow over the dip", source="hec22"),
        *share_facts(design, capacity),
    ]  # fmt: skip
    if design:
        facts += _wading(section, design)
    moved = earth_facts(work.patches, made.earth, material(item.soil), scene)
    return [
        *facts,
        *[fact for fact in moved if fact.key != "laid_m3"],
        *flow,
        *common.line_facts(item.geometry, scene),
    ]


def _wading(section: Trapezoid, design: float) -> list[Fact]:
    """Return depth and speed of a flow over a ford: critical, as over a broad weir."""
    low, high = 0.0, 10.0
    for _ in range(60):
        head = 0.5 * (low + high)
        low, high = (head, high) if weirs.notch_flow(section, head) < design else (low, head)
    head = 0.5 * (low + high)
    deep, top = 0.0, head
    for _ in range(60):
        middle = 0.5 * (deep + top)
        energy = middle + 0.5 * section.area_m2(middle) / section.top_m(middle)
        deep, top = (middle, top) if energy < head else (deep, middle)
    speed = design / section.area_m2(deep)
    warns = "do not cross: floods kill" if head > WADE_M else ""
    return [
        Fact("ford_depth_m", "Water above the floor, upstream", head, "m", "in the design flow",
             remark=warns, source="hec22"),
        Fact("ford_speed_m_s", "Speed over the floor", speed, "m/s", "in the design flow",
             source="hec22"),
    ]  # fmt: skip


# -- water bars ------------------------------------------------------------------------------------


@parts_of("water_bar")
def bar_parts(item: WaterBar, scene: Scene) -> Parts:
    """Return the line, the bar's ground and where its water leaves (`spill`)."""
    line = item.geometry
    work = scene.work(item.id)
    parts: Parts = {
        "shape": line,
        "centre_line": line,
        "edge": band(line, BAR_DRAWN_M),
        "spill": Point(line.coords[-1]),
    }
    if work is not None and isinstance(work.thing, Dug):
        toe = work.thing.patch.outline()
        parts |= {"edge": toe, "toe": toe, "bank": work.thing.crest}
    return parts


@facts_of("water_bar", reads=READS)
def bar_facts(item: WaterBar, scene: Scene) -> list[Fact]:
    """Return its fall, angle to the track, what it carries against what comes, and its earth."""
    work = scene.work(item.id)
    if work is None or not isinstance(work.thing, Dug):
        return [*trouble(work), *common.line_facts(item.geometry, scene)]
    dug = work.thing
    fall = float(dug.lip_m[0] - dug.lip_m[-1]) / item.geometry.length
    flow = flow_at(item.design_flow_m3s, item.geometry, scene)
    trough = Trapezoid(TROUGH_BOTTOM_M, item.side, item.side)
    deep = item.trough_m + item.bar_m
    carries = manning_flow(trough, deep, max(fall, 1e-4), TROUGH_N).flow_m3s
    design = peak_m3s(flow)
    facts = [
        common.ratio("fall", "Falls to its outlet by", fall),
        Fact("bar_deep_m", "Bank above the trough", deep, "m"),
        Fact("capacity_m3s", "Carries to the bank's top", carries, "m3/s", "even flow",
             source="hec22"),
        *share_facts(design, carries),
    ]  # fmt: skip
    if design:
        even = normal_depth(trough, design, max(fall, 1e-4), TROUGH_N)
        facts.append(
            Fact("flow_depth_m", "Depth in the design flow", even.depth_m, "m", source="hec22")
        )
    facts += _angle(item, scene)
    return [
        *facts,
        *earth_facts(work.patches, dug.earth, material(item.soil), scene),
        *flow,
        *common.line_facts(item.geometry, scene),
    ]


def _angle(item: WaterBar, scene: Scene) -> list[Fact]:
    """Return the angle between a bar and the track it crosses."""
    for track in scene.of_kind("track"):
        assert isinstance(track, Track)
        made = formed(track.id, scene)
        line = made.centre.line if made is not None else track.geometry
        meet = shapely.intersection(line, item.geometry)
        if not meet.is_empty:
            place = meet.representative_point()
            turn = abs(bearing_at(line, place) - bearing_at(item.geometry, place)) % 180
            angle = min(turn, 180 - turn)
            return [Fact("angle_deg", "Angle to the track", angle, "deg", source="sf_handbook")]
    return [common.words("across", "Crosses", "no track")]
