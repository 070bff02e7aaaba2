"""Swales, diversion drains and level sills: how level, how much they hold, what they pass."""

from __future__ import annotations

import math

import shapely
from shapely import LineString, MultiLineString
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import UserError
from canvas.base.fact import Fact
from canvas.ground.faces import Held
from canvas.ground.frames import line_points
from canvas.ground.levelness import LevelErrors, level_errors, snags_beside
from canvas.ground.materials import material
from canvas.ground.patch import earth
from canvas.ground.snag import Snag
from canvas.ground.swale import Swale as Dug
from canvas.ground.swale import open_ends
from canvas.site.elements.swales import CheckDam, Drain, LevelSill, Swale
from canvas.site.records import Element, kind_of
from canvas.study.along_hill import (
    KEPT,
    Filled,
    half_width_m,
    kept,
    neighbours,
    roughness,
    soaking_mm_h,
    water_section,
)
from canvas.study.earth.registry import EARTH, Work
from canvas.study.earth.swales import grade_of, works_of
from canvas.study.kinds import common
from canvas.study.kinds.earth_facts import earth_facts, trouble
from canvas.study.kinds.shapes import band
from canvas.study.scene import Parts, Scene, facts_of, parts_of
from canvas.study.storm.facts import STORM_READS, as_typed, storm_facts
from canvas.study.waters import catchment_facts
from canvas.water import weirs
from canvas.water.sections import manning_flow, normal_depth, permissible_speed
from canvas.water.soak import drawdown_h
from canvas.water.swales import interval_hillside_m, spacing_m

Channelled = Swale | Drain | LevelSill
#: What the facts look at besides other earthworks: what a line leads round.
READS = tuple(dict.fromkeys((*EARTH, *STORM_READS, *KEPT, "test_pit")))
#: A lip set out with care may still lie off by so much [m]; common practice, no source.
LIP_OFF_M = 0.006


# -- parts ---------------------------------------------------------------------------------------


@parts_of("swale", "drain", "level_sill")
def channel_parts(item: Channelled, scene: Scene) -> Parts:
    """Return middle line, lip, bank's crest, sills, spills, full water and where earth moves.

    `water_edge` is the full water's rim, `water` its area; `spill` where water leaves: sills,
    open ends, else the bank's crest.
    """
    line = item.geometry
    found: Parts = {"shape": line, "centre_line": line}
    work = scene.work(item.id)
    if work is None or not isinstance(work.thing, Dug):
        return found | {"edge": band(line, 2 * _half(item))}
    dug = work.thing
    toe = dug.patch.outline()
    sills = _held(dug, Held.SILL)
    ends = open_ends(line, dug.works)
    spill: BaseGeometry = sills
    if sills.is_empty:
        spill = shapely.MultiPoint(ends) if ends else dug.crest
    return found | {
        "lip": _aside(line, dug, dug.works.channel.top_m / 2),
        "bank": dug.crest,
        "bank_lines": dug.crest,
        "water": dug.water_edge,
        "water_edge": dug.water_edge.boundary,
        "sill": sills,
        "spill": spill,
        "toe": toe,
        "edge": toe,
    }


def _half(item: Channelled) -> float:
    try:
        return half_width_m(works_of(item))
    except UserError:
        return item.depth_m


def _held(dug: Dug, what: Held) -> MultiLineString:
    lines = [LineString(each.xyz_m[:, :2]) for each in dug.patch.lines if each.held is what]
    return MultiLineString([line for line in lines if line.length > 0])


def _aside(line: LineString, dug: Dug, off_m: float) -> BaseGeometry:
    """Return the line moved to the bank's side."""
    return line.offset_curve(-off_m if dug.bank_right else off_m)


# -- what all three have ---------------------------------------------------------------------------


def level_of(item: Channelled, work: Work, scene: Scene) -> tuple[LevelErrors, tuple[Snag, ...]]:
    """Return how far the ground strays from the line's level, and where it leads round things."""
    dug, ground = work.thing, work.ground
    assert isinstance(dug, Dug)
    assert ground is not None
    reach = half_width_m(dug.works)
    near = item.geometry.buffer(reach + ground.cell_m)
    bodies = [each for each in kept(scene, item.id) if each.intersects(near)]
    if not bodies:
        return level_errors(ground, item.geometry, dug.lip_m), ()
    snags = snags_beside(ground, item.geometry, dug.lip_m, shapely.union_all(bodies), reach)
    return level_errors(ground, item.geometry, dug.lip_m, snags), snags


def _line_facts(item: Channelled, work: Work, scene: Scene) -> list[Fact]:
    """Return lip level, fall, level errors, and the ground's slope across."""
    dug = work.thing
    assert isinstance(dug, Dug)
    errors, snags = level_of(item, work, scene)
    grade = grade_of(item)
    start = float(dug.lip_m[0])
    label = "Sill level" if isinstance(item, LevelSill) else "Lip level at the start"
    facts = [common.level("lip_m", label, start, scene)]
    if isinstance(item, Drain) or grade:
        facts += [
            common.ratio("fall", "Falls along it", abs(grade)),
            common.level("lip_end_m", "Lip level at the end", float(dug.lip_m[-1]), scene),
        ]
    where = f"{errors.at_m:.0f} m along it"
    side = "above" if errors.off_m > 0 else "below"
    facts += [
        Fact("level_error_m", "Level error, worst", errors.worst_m, "m", where,
             remark=f"the ground lies {side} the line’s level there", decimals=3),
        Fact("level_error_mean_m", "Level error, mean", errors.mean_m, "m", decimals=3),
    ]  # fmt: skip
    if snags:
        long = sum(snag.to_m - snag.from_m for snag in snags)
        off = max((snag.off_m for snag in snags), key=abs)
        facts += [
            Fact("snag_m", "Led round what is kept", long, "m"),
            Fact("snag_off_m", "Ground off the level there", off, "m",
                 remark="dug deeper" if off > 0 else "filled"),
        ]  # fmt: skip
    facts.append(common.ratio("cross_slope", "Ground across it", dug.cross_slope))
    return facts


def _earth(item: Channelled, work: Work, scene: Scene) -> list[Fact]:
    dug = work.thing
    assert isinstance(dug, Dug)
    moved = earth(dug.patch, item.strip_m)
    facts = earth_facts(work.patches, moved, material(item.soil), scene)
    if dug.works.settlement > 0:
        placed = moved.fill_m3 * (1 + dug.works.settlement)
        facts.append(Fact("placed_m3", "Fill placed before it settles", placed, "m3"))
    return facts


def flow_facts(item: Channelled | CheckDam, place: BaseGeometry, scene: Scene) -> list[Fact]:
    """Return what drains to a place of an element, and the flow it is designed for."""
    facts = storm_facts(item.id, scene)
    if not any(fact.key == "catchment_m2" for fact in facts):
        drained = catchment_facts(place, scene, "Drains to it")
        reach = "yes" if any(fact.remark for fact in drained) else "no"
        told = common.words("catchment_at_least", "Catchment reaches the data's edge", reach)
        facts = [*drained, *([told] if drained else []), *facts]
    if item.design_flow_m3s is not None:
        return as_typed(facts, item.design_flow_m3s, "Design flow")
    return facts


def _wet(item: Channelled, work: Work) -> BaseGeometry:
    dug = work.thing
    assert isinstance(dug, Dug)
    return item.geometry if dug.water_edge.is_empty else dug.water_edge


def _sill_facts(length_m: float, capacity: float, head_m: float, item: Swale | LevelSill,
                flow: float | None) -> list[Fact]:  # fmt: skip
    facts = [
        Fact("sill_m", "Sill length", length_m, "m"),
        Fact("sill_capacity_m3s", "Sill passes", capacity, "m3/s",
             f"at {head_m * 1000:.0f} mm of head", source="hec22"),
    ]  # fmt: skip
    if flow is not None:
        head = weirs.weir_head(flow, length_m, weirs.LEVEL_SILL)
        facts += [
            Fact("sill_head_m", "Head in the design flow", head, "m", source="hec22"),
            Fact("sill_rule_m", "Sill length by rule", weirs.sill_length(flow, item.below), "m",
                 kind_of(item).spec("below").label_of(item.below).lower(), source="ncls"),
        ]  # fmt: skip
        if head > 0:
            more, _ = weirs.sill_error(head, LIP_OFF_M)
            facts.append(
                common.ratio("sill_low_more", f"More flows where it lies {LIP_OFF_M * 1000:.0f} mm"
                             " low", more, "of the design flow there")
            )  # fmt: skip
    return facts


def peak_m3s(facts: list[Fact]) -> float | None:
    """Return the flow it is designed for, of the facts about flow; None for none."""
    found = next((fact.value for fact in facts if fact.key == "peak_m3s"), None)
    return found if isinstance(found, float) else None


def _plain(item: Channelled, work: Work | None, scene: Scene) -> list[Fact]:
    return [*trouble(work), *common.line_facts(item.geometry, scene)]


# -- swale ---------------------------------------------------------------------------------------


@facts_of("swale", reads=READS)
def swale_facts(item: Swale, scene: Scene) -> list[Fact]:
    """Return length, level, what it holds, its sill, soaking away, earth, neighbours, catchment."""
    work = scene.work(item.id)
    if work is None or not isinstance(work.thing, Dug):
        return _plain(item, work, scene)
    dug = work.thing
    works = dug.works
    length, *rest = common.line_facts(item.geometry, scene)
    flow = flow_facts(item, _wet(item, work), scene)
    facts = [
        length,
        *_line_facts(item, work, scene),
        Fact("holds_m3", "Holds", dug.holds_m3, "m3", "to its sill, on the ground"),
        Fact("holds_by_section_m3", "Holds", dug.by_section_m3, "m3", "by its section",
             source="chow1959"),
        Fact("holds_m3_m", "Holds for each metre", dug.holds_m3 / item.geometry.length, "m3",
             decimals=2),
        Fact("freeboard_m", "Freeboard", works.freeboard_m, "m",
             "bank above full water, once settled"),
    ]  # fmt: skip
    if item.sill != "none":
        sill = works.sills[0]
        at = float(_at(dug, sill.at_m)) + sill.above_lip_m
        head = works.bank.height_m - sill.above_lip_m
        wide = min(sill.length_m, item.geometry.length)
        passes = weirs.weir_flow(head, wide, weirs.LEVEL_SILL)
        facts.append(common.level("sill_level_m", "Sill level", at, scene))
        facts += _sill_facts(wide, passes, head, item, peak_m3s(flow))
    facts.append(
        common.count("ends_closed", "End blocks reach high ground", float(dug.ends_meet),
                     "" if dug.ends_meet else "0: full water runs round an end")
    )  # fmt: skip
    return [
        *facts,
        *_soak_facts(item, dug, scene),
        *flow,
        *_storm_share(dug, flow),
        *_next_facts(item, dug, scene),
        *_earth(item, work, scene),
        *rest,
    ]


def _at(dug: Dug, along_m: float) -> float:
    """Return the lip's level at a distance along the line."""
    run = float(line_points(dug.line)[1][-1])
    first, last = float(dug.lip_m[0]), float(dug.lip_m[-1])
    return first + (last - first) * along_m / run


def _soak_facts(item: Swale, dug: Dug, scene: Scene) -> list[Fact]:
    section = Filled(dug.works, dug.cross_slope)
    rate, other, whence = soaking_mm_h(item, scene)
    # The time goes with the rate: worked out once, at 1 mm/h.
    slow = drawdown_h(section, section.full_m, 1.0)
    hours = slow / rate if rate > 0 else math.inf
    facts = [
        Fact("soaks_mm_h", "Soaks in", rate, "mm/h", whence,
             source="epa_storm_manual" if whence.endswith("not measured") else ""),
        Fact("drawdown_h", "Soaked away in", hours if math.isfinite(hours) else None, "hours",
             "from full, through bed and sides"),
    ]  # fmt: skip
    if other is not None:
        facts.append(
            Fact("drawdown_other_h", "Soaked away in", slow / other,
                 "hours", "by basic infiltration rates", source="fao_infiltration",
                 remark="the two sources differ widely: measure the rate")
        )  # fmt: skip
    return facts


def _storm_share(dug: Dug, flow: list[Fact]) -> list[Fact]:
    """Return how much of the design storm's runoff it holds, and the spacing that holds all."""
    known = {fact.key: fact.value for fact in flow}
    runoff, area = known.get("runoff_m3"), known.get("catchment_m2")
    if not (isinstance(runoff, float) and isinstance(area, float)) or not (runoff > 0 and area > 0):
        return []
    apart = spacing_m(dug.holds_m3 / float(dug.line.length), 1000 * runoff / area)
    return [
        common.ratio("holds_share", "Holds of the storm’s runoff", dug.holds_m3 / runoff),
        Fact("storage_spacing_m", "Swales that hold it all stand apart", apart, "m",
             "on the level, by what each holds"),
    ]  # fmt: skip


def _next_facts(item: Swale, dug: Dug, scene: Scene) -> list[Fact]:
    """Return how far it is to the next swale up and down the hill."""
    others = [
        (other, level)
        for other in scene.of_kind("swale")
        if other.id != item.id and (level := _mean_level(other, scene)) is not None
    ]
    interval = interval_hillside_m(dug.cross_slope, wide=True)
    facts = [
        Fact("interval_m", "Vertical interval advised", interval, "m",
             "by the slope, against erosion", source="fao13_3", remark="from memory"),
    ]  # fmt: skip
    above, below = neighbours(item, float(dug.lip_m.mean()), others)
    for key, word, found in (("above", "above", above), ("below", "below", below)):
        if found is not None:
            facts += [
                Fact(f"{key}_m", f"Next swale {word}", found.horizontal_m, "m", "on the level"),
                Fact(f"{key}_drop_m", f"Next swale {word}", found.vertical_m, "m", "in height"),
            ]
    return facts


def _mean_level(other: Element, scene: Scene) -> float | None:
    """Return the mean level of another swale's lip, without shaping it where it is given."""
    assert isinstance(other, Swale)
    if other.lip_m is not None:
        return other.lip_m - other.grade * other.geometry.length / 2
    made = scene.work(other.id)
    if made is None or not isinstance(made.thing, Dug):
        return None
    return float(made.thing.lip_m.mean())


# -- drain ---------------------------------------------------------------------------------------


@facts_of("drain", reads=READS)
def drain_facts(item: Drain, scene: Scene) -> list[Fact]:
    """Return length, fall, what it carries and how fast, earth and catchment."""
    work = scene.work(item.id)
    if work is None or not isinstance(work.thing, Dug):
        return _plain(item, work, scene)
    length, *rest = common.line_facts(item.geometry, scene)
    flow = flow_facts(item, _wet(item, work), scene)
    return [
        length,
        *_line_facts(item, work, scene),
        *_carry_facts(item, peak_m3s(flow)),
        *flow,
        *_earth(item, work, scene),
        *rest,
    ]


def _carry_facts(item: Drain, design: float | None) -> list[Fact]:
    """Return what it carries below its freeboard, and speeds against what the lining bears."""
    slope, n, section = abs(item.grade), roughness(item), water_section(item)
    deep = max(item.depth_m + item.bank_m - item.freeboard_m, 0.0)
    facts = [Fact("freeboard_m", "Freeboard", item.freeboard_m, "m"),
             Fact("roughness", "Manning’s n", n, "ratio", decimals=3, source="hec22")]  # fmt: skip
    if slope <= 0:
        return [*facts, common.words("carries", "Carries", "Nothing: it has no fall")]
    full = manning_flow(section, deep, slope, n)
    bears = permissible_speed(item.lining, slope, item.washes)
    facts += [
        Fact("capacity_m3s", "Carries below its freeboard", full.flow_m3s, "m3/s",
             f"{deep:.2f} m deep, even flow", source="hec22"),
        Fact("speed_m_s", "Speed when full", full.speed_m_s, "m/s", source="hec22"),
    ]  # fmt: skip
    speed = full.speed_m_s
    if design is not None:
        even = normal_depth(section, design, slope, n)
        speed = even.speed_m_s
        facts += [
            Fact("flow_depth_m", "Depth in the design flow", even.depth_m, "m", source="hec22"),
            Fact("design_speed_m_s", "Speed in the design flow", speed, "m/s", source="hec22"),
        ]
    if bears is None:
        return [*facts, common.words("bears", "Lining bears", "Not to be used on this fall")]
    return [
        *facts,
        Fact("bears_m_s", "Lining bears", bears, "m/s", source="kar_5_40_56"),
        Fact("speed_share", "Speed as a share of what the lining bears", speed / bears, "%"),
    ]


# -- level sill ------------------------------------------------------------------------------------


@facts_of("level_sill", reads=READS)
def level_sill_facts(item: LevelSill, scene: Scene) -> list[Fact]:
    """Return length, level, what it passes, earth and catchment."""
    work = scene.work(item.id)
    if work is None or not isinstance(work.thing, Dug):
        return _plain(item, work, scene)
    length, *rest = common.line_facts(item.geometry, scene)
    flow = flow_facts(item, _wet(item, work), scene)
    long = float(item.geometry.length)
    passes = weirs.weir_flow(item.head_m, long, weirs.LEVEL_SILL)
    return [
        length,
        *_line_facts(item, work, scene),
        *_sill_facts(long, passes, item.head_m, item, peak_m3s(flow)),
        Fact("holds_m3", "Trench holds", work.thing.holds_m3, "m3"),
        *flow,
        *_earth(item, work, scene),
        *rest,
    ]
