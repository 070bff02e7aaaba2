"""Culverts and fords cut through along their lines, with levels, cover and the design water."""

from __future__ import annotations

import numpy as np
from shapely import LineString

from canvas.base.grid import Floats
from canvas.base.quantity import show
from canvas.drawing.details.crosscut import BUILT, EXISTING, CrossCut
from canvas.drawing.details.registry import Detail, details_of
from canvas.drawing.entries import Fill, Hatch, Stroke
from canvas.ground.formation import Track as Formed
from canvas.site.elements.crossings import Culvert, Ford
from canvas.study.earth.crossings import Pipes
from canvas.study.study import Study

#: Ground shown beyond a pipe's ends, and beyond a ford's banks [m].
BEYOND_M = 3.0
PLACES = 500
APRON_M = 0.3
FLOODS = "Floods kill: never drive or walk through moving water, however shallow it looks."
INDICATIVE = "Levels are indicative: set out with a level on site."


def _facts(study: Study, ident: str) -> dict[str, float]:
    found = reversed(study.facts(ident))
    return {fact.key: fact.value for fact in found if isinstance(fact.value, float)}


def _longer(line: LineString, by_m: float) -> LineString:
    """Return a straight line through a line's ends, longer at both."""
    a, b = np.array(line.coords[0][:2]), np.array(line.coords[-1][:2])
    ahead = (b - a) / np.hypot(*(b - a))
    return LineString([a - ahead * by_m, b + ahead * by_m])


def _grounds(study: Study, line: LineString) -> tuple[Floats, Floats, Floats]:
    """Return distances along a line, the ground as it is and as designed."""
    u = np.linspace(0.0, line.length, PLACES)
    a, b = np.array(line.coords[0][:2]), np.array(line.coords[-1][:2])
    xy = a + (b - a) * (u / line.length)[:, None]
    before = study.terrain.height_at(xy[:, 0], xy[:, 1])
    ground = study.designed()
    after = before if ground is None else ground.sample(xy[:, 0], xy[:, 1])
    keep = np.isfinite(before) & np.isfinite(after)
    return u[keep], before[keep], np.asarray(after)[keep]


@details_of("culvert")
def culvert_details(item: Culvert, study: Study) -> list[Detail]:
    """Return the section along the pipe: way over it, cover, inverts, apron, design water."""
    work = study.work(item.id)
    if work is None or not isinstance(work.thing, Pipes):
        return []
    pipes, facts, units = work.thing, _facts(study, item.id), study.plan.site.unit_system()
    apron = facts.get("apron_m", 0.0)
    u, before, after = _grounds(study, _longer(item.geometry, BEYOND_M + apron))
    if len(u) < 10:
        return []
    start = BEYOND_M + apron
    end = start + pipes.length_m
    low = min(pipes.outlet_m - APRON_M, float(after.min()))
    high = max(float(after.max()), float(before.max()))
    cut = CrossCut((float(u[0]), float(u[-1])), (low - 0.3, high + 0.6), units, right_mm=10.0)
    head = facts.get("headwater_m")
    if head:
        cut.water(u[u <= start], after[u <= start], pipes.inlet_m + head)
    cut.moved(u, before, after)
    crown = [(start, pipes.inlet_m + item.bore_m), (end, pipes.outlet_m + item.bore_m)]
    invert = [(start, pipes.inlet_m), (end, pipes.outlet_m)]
    cut.area([*invert, *crown[::-1]], Fill("water_fill", alpha=0.9))
    if apron > 0:
        bed, far = pipes.outlet_m, end + apron
        rock = [(end, bed), (far, bed), (far, bed - APRON_M), (end, bed - APRON_M)]
        cut.area(rock, Fill("earth", Hatch.DOTS, 0.9, 0.0, 0.9, 0.3))
        cut.line([*rock, rock[0]], Stroke("earth", 0.25))
        cut.across(end, end + apron, pipes.outlet_m - APRON_M, f"rock {cut.length(apron)}", -3.0)
    cut.line(np.column_stack((u, before)), EXISTING)
    cut.line(np.column_stack((u, after)), BUILT)
    cut.line(invert, Stroke("water", 0.45))
    cut.line(crown, Stroke("water", 0.45))
    cut.across(start, end, low, f"pipe {cut.length(pipes.length_m)},"
               f" falls {show(pipes.slope, '%', units)}", -7.5)  # fmt: skip
    over = start + float(item.geometry.project(pipes.low))
    top = float(np.interp(over, [start, end], [crown[0][1], crown[1][1]]))
    way = float(np.interp(over, u, after))
    cut.upward(top, way, over, f"cover {cut.length(way - top)}")
    cut.level(start, pipes.inlet_m + item.bore_m, f"invert {show(pipes.inlet_m, 'm', units)}",
              "water")  # fmt: skip
    cut.level(end, pipes.outlet_m + item.bore_m, f"invert {show(pipes.outlet_m, 'm', units)}",
              "water")  # fmt: skip
    return [cut.detail(f"{item.name or 'Culvert'}: section along the pipe",
                       [_culvert_note(item, facts, study), INDICATIVE])]  # fmt: skip


def _culvert_note(item: Culvert, facts: dict[str, float], study: Study) -> str:
    units = study.plan.site.unit_system()
    words = f"{item.barrels} × {show(item.bore_m, 'm', units)}"
    words += f", passes {show(facts.get('capacity_m3s'), 'm3/s', units)}"
    if "peak_m3s" in facts:
        words += f"; design flow {show(facts['peak_m3s'], 'm3/s', units)}"
    if "over_m3s" in facts:
        words += f", of which {show(facts['over_m3s'], 'm3/s', units)} go over the way"
    return words + "."


@details_of("ford")
def ford_details(item: Ford, study: Study) -> list[Detail]:
    """Return the section along the ford: ramps, floor, and the design water over it."""
    work = study.work(item.id)
    if work is None or not isinstance(work.thing, Formed):
        return []
    made, facts, units = work.thing, _facts(study, item.id), study.plan.site.unit_system()
    u, before, after = _grounds(study, _longer(item.geometry, BEYOND_M))
    if len(u) < 10:
        return []
    knees = made.grade_line.knees
    bed = knees[1].level_m
    low, high = min(float(after.min()), bed - item.floor_thick_m), float(after.max())
    cut = CrossCut((float(u[0]), float(u[-1])), (low - 0.3, high + 0.4), units, right_mm=10.0)
    depth = facts.get("ford_depth_m")
    if depth:
        cut.water(u, after, bed + depth)
    cut.moved(u, before, after)
    start, end = BEYOND_M + knees[1].station_m, BEYOND_M + knees[2].station_m
    paved = (u >= BEYOND_M) & (u <= BEYOND_M + knees[-1].station_m)
    floor = np.column_stack((u[paved], after[paved]))
    under = np.column_stack((u[paved], after[paved] - item.floor_thick_m))[::-1]
    cut.area(np.vstack((floor, under)), Fill("earth", Hatch.DOTS, 0.9, 0.0, 0.9, 0.3))
    cut.line(np.column_stack((u, before)), EXISTING)
    cut.line(np.column_stack((u, after)), BUILT)
    cut.across(start, end, low, f"floor {cut.length(end - start)}", -4.0)
    cut.level((start + end) / 2, bed + (depth or 0.0), show(bed + (depth or 0.0), "m", units),
              "water" if depth else "ink")  # fmt: skip
    for a, b, grade in ((0, 1, made.grade_line.grades[0]), (2, 3, made.grade_line.grades[-1])):
        at = BEYOND_M + (knees[a].station_m + knees[b].station_m) / 2
        level = (knees[a].level_m + knees[b].level_m) / 2
        cut.note(at, level, show(abs(float(grade)), "%", units), (0.0, 2.6), role="dimension")
    words = f"Floor {show(bed, 'm', units)}"
    if depth:
        words += f"; design flow {cut.length(depth)} over it"
    return [cut.detail(f"{item.name or 'Ford'}: section along the way", [f"{words}. {FLOODS}",
                                                                      INDICATIVE])]  # fmt: skip
