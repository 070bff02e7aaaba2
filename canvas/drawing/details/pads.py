"""Sections through platforms, terraces, heaps and pits, with the ground before and after."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, Point
from shapely.geometry.base import BaseGeometry

from canvas.base.grid import Floats
from canvas.base.quantity import UnitSystem, show
from canvas.drawing.details.crosscut import BUILT, EXISTING, CrossCut
from canvas.drawing.details.registry import Detail, details_of
from canvas.drawing.entries import Anchor, Fill, Hatch, Stroke
from canvas.ground.heap import Heap as Pile
from canvas.ground.patch import Mask
from canvas.ground.platform import Platform as Built
from canvas.ground.platform import plane_m
from canvas.ground.terraces import Terraces as Flight
from canvas.site.elements.earthworks import BorrowPit, Heap, Platform, Terraces
from canvas.study.earth.pads import FLAT, lie
from canvas.study.earth.registry import Work
from canvas.study.study import Study

#: Ground drawn beyond the work on either side [m], and places it is read at.
BEYOND_M = 1.5
PLACES = 800
#: A section is looked at so far beyond the element [m].
REACH_M = 60.0
#: Levels nearer than this are the same here [m].
SAME_M = 0.005
#: Batters lower than this are not dimensioned [m].
LEAST_M = 0.3
#: Drawn thickness of a retaining wall [m].
WALL_M = 0.3
INDICATIVE = "Levels are indicative: set out with a level on site."


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """The ground before and after along a straight line; `u` runs along it from its middle."""

    line: LineString
    u: Floats
    before: Floats
    after: Floats

    def at(self, u: float) -> tuple[float, float]:
        """Return the ground before and after at a place."""
        return (float(np.interp(u, self.u, self.before)), float(np.interp(u, self.u, self.after)))

    def crossings(self, edge: BaseGeometry) -> list[float]:
        """Return where the line crosses an edge, in order."""
        middle = self.line.length / 2
        met = shapely.get_coordinates(self.line.intersection(edge))
        return sorted(float(self.line.project(Point(spot))) - middle for spot in met)


#: (places (n, 2), the ground there, distances from the middle) → the ground as built.
Shape = Callable[[Floats, Floats, Floats], Floats]


def _cut(
    work: Work, middle: Point, towards: tuple[float, float], reach_m: float, shape: Shape
) -> Cut | None:
    """Return the section through a place, `towards` a unit vector; None where too little's known.

    It ends a little beyond where earth is moved. `shape` gives the work as designed: its patch
    has rounded its corners to its cells.
    """
    assert work.ground is not None
    u = np.linspace(-reach_m, reach_m, PLACES)
    xy = np.column_stack((middle.x + u * towards[0], middle.y + u * towards[1]))
    before = work.ground.sample(xy[:, 0], xy[:, 1])
    after = shape(xy, before, u)
    moved = np.flatnonzero(np.nan_to_num(np.abs(after - before)) > SAME_M)
    if not len(moved):
        return None
    wanted = (u >= u[moved[0]] - BEYOND_M) & (u <= u[moved[-1]] + BEYOND_M)
    keep = wanted & np.isfinite(before) & np.isfinite(after)
    if keep.sum() < 10:
        return None
    found = Cut(LineString([xy[0], xy[-1]]), u[keep], before[keep], after[keep])
    far = max(abs(found.u[0]), abs(found.u[-1]))
    if reach_m > 1.5 * far:
        # Look again, closer: the places stand too far apart.
        return _cut(work, middle, towards, 1.1 * far, shape)
    return found


def _outwards(before: Floats, low: Floats, high: Floats, inside: Mask) -> Floats:
    """Return the ground between its bounds, followed outwards from where `inside` until it meets.

    Beyond, where a bound is crossed again, the ground stays.
    """
    made = np.clip(before, low, high)
    within = (before >= low) & (before <= high)
    first, last = np.flatnonzero(inside)[[0, -1]]
    for side in (slice(first - 1, None, -1) if first else slice(0, 0), slice(last + 1, None)):
        met = np.flatnonzero(within[side])
        if len(met):
            made[side][met[0] :] = before[side][met[0] :]
    return made


def _as_pad(built: Built) -> Shape:
    """Return how a platform shapes a section: level inside, batters beyond, none past a wall."""
    pad = built.pad
    walls = shapely.union_all(list(pad.walls)).buffer(0.02)

    def shape(xy: Floats, before: Floats, u: Floats) -> Floats:
        spots = shapely.points(xy)
        inside = np.asarray(shapely.intersects(pad.outline, spots))
        if not inside.any():
            return before
        ways = shapely.shortest_line(pad.outline.exterior, spots)
        near = shapely.get_coordinates(ways).reshape(-1, 2, 2)[:, 0]
        far = np.where(inside, 0.0, shapely.length(ways))
        at = np.where(inside[:, None], xy, near)
        level = built.level_m + plane_m(pad, at[:, 0], at[:, 1])
        fill = pad.batters.fill
        low = level - far / fill if fill else np.where(inside, -np.inf, before)
        high = level + far * pad.batters.cut_rise
        made = _outwards(before, np.asarray(low), high, inside)
        walled = ~inside & shapely.intersects(walls, shapely.points(near))
        return np.where(walled, before, made)

    return shape


def _as_heap(pile: Pile) -> Shape:
    """Return how a heap or pit shapes a section."""
    mound = pile.mound

    def shape(xy: Floats, before: Floats, u: Floats) -> Floats:
        spots = shapely.points(xy)
        inside = shapely.intersects(mound.outline, spots)
        deep = shapely.distance(mound.outline.exterior, spots) / max(mound.batter, 0.02)
        rise = np.copysign(np.minimum(deep, abs(mound.height_m)), mound.height_m)
        return before + np.where(inside, rise, 0.0)

    return shape


def _as_flight(flight: Flight) -> Shape:
    """Return how terraces shape a section: benches, straight risers between, batters beyond."""
    pads = [bench.pad for bench in flight.benches]

    def shape(xy: Floats, before: Floats, u: Floats) -> Floats:
        spots = shapely.points(xy)
        on, level = np.zeros(len(u), bool), np.full(len(u), np.nan)
        for bench, pad in zip(flight.benches, pads, strict=True):
            here = shapely.intersects(pad.outline, spots)
            plane = bench.level_m + plane_m(pad, xy[:, 0], xy[:, 1])
            level, on = np.where(here, plane, level), on | here
        if not on.any():
            return before
        made = np.interp(u, u[on], level[on])
        first, last = np.flatnonzero(on)[[0, -1]]
        far = np.maximum(np.maximum(u[first] - u, u - u[last]), 0.0) / flight.flight.riser
        inside = (u >= u[first]) & (u <= u[last])
        return np.where(inside, made, _outwards(before, made - far, made + far, inside))

    return shape


def _downhill(work: Work, outline: shapely.Polygon) -> tuple[float, float]:
    """Return the way the ground falls under an outline; on flat ground the way it is shorter."""
    assert work.ground is not None
    east, north = lie(work.ground, outline)
    steep = math.hypot(east, north)
    if steep > FLAT:
        return -east / steep, -north / steep
    box = shapely.get_coordinates(shapely.oriented_envelope(outline))
    legs = np.diff(box, axis=0)[:2]
    short = legs[int(np.argmin(np.hypot(*legs.T)))]
    return float(short[0] / np.hypot(*short)), float(short[1] / np.hypot(*short))


def _drawn(cut: Cut, units: UnitSystem) -> CrossCut:
    """Return the section with the two grounds and what is moved between them."""
    low = float(min(cut.before.min(), cut.after.min()))
    high = float(max(cut.before.max(), cut.after.max()))
    made = CrossCut((float(cut.u[0]), float(cut.u[-1])), (low - 0.2, high + 0.3), units)
    made.moved(cut.u, cut.before, cut.after)
    made.line(np.column_stack((cut.u, cut.before)), EXISTING)
    made.line(np.column_stack((cut.u, cut.after)), BUILT)
    return made


def _edge(made: CrossCut, cut: Cut, edge: float, out: int, batter: float, word: str) -> None:
    """Dimension the batter beyond one edge of a pad; `out` is −1 to the left, +1 to the right."""
    beyond = cut.u[(cut.u - edge) * out > 0]
    apart = np.abs(np.interp(beyond, cut.u, cut.after) - np.interp(beyond, cut.u, cut.before))
    moved = beyond[apart > SAME_M]
    pad = cut.at(edge - 0.05 * out)[1]
    if not len(moved):
        return
    end = float(moved[-1] if out > 0 else moved[0])
    top = cut.at(end)[0]
    if abs(top - pad) < LEAST_M:
        return
    made.upward(min(pad, top), max(pad, top), end, f"{word} {made.length(abs(top - pad))}",
                off_mm=2.5 * out)  # fmt: skip
    if abs(end - edge) > 0.1:
        side = Anchor.LEFT if out < 0 else Anchor.RIGHT
        made.note((edge + end) / 2, (pad + top) / 2, f"{batter:g} : 1", (-2.5 * out, 0.0), side,
                  "dimension")  # fmt: skip


def _wall(made: CrossCut, cut: Cut, edge: float, out: int) -> None:
    """Draw a retaining wall at an edge, with its height."""
    pad = cut.at(edge - 0.1 * out)[1]
    ground = cut.at(edge)[0]
    if abs(pad - ground) < 0.05:
        return
    low, high = min(pad, ground), max(pad, ground)
    ring = [(edge, low), (edge + WALL_M * out, low), (edge + WALL_M * out, high), (edge, high)]
    made.area(ring, Fill("brick", Hatch.LINES, 0.9, -45.0, 0.9, 0.16))
    made.line([*ring, ring[0]], Stroke("brick", 0.35))
    made.upward(low, high, edge + WALL_M * out, f"wall {made.length(high - low)}", 2.5 * out)


def _pad_section(study: Study, item: Platform, cut: Cut, title: str, built: Built) -> Detail:
    units = study.plan.site.unit_system()
    made = _drawn(cut, units)
    edges = cut.crossings(item.geometry.boundary)
    if len(edges) >= 2:
        left, right = edges[0], edges[-1]
        foot = float(cut.after.min())
        made.across(left, right, foot, off_mm=-6.0)
        walls = shapely.union_all([wall.line for wall in built.walls]).buffer(0.05)
        for edge, out in ((left, -1), (right, 1)):
            spot = cut.line.interpolate(edge + cut.line.length / 2)
            if walls.intersects(spot):
                _wall(made, cut, edge, out)
                continue
            before, after = cut.at(edge + 0.2 * out)[0], cut.at(edge - 0.05 * out)[1]
            dug = before > after
            batter = built.pad.batters.cut if dug else built.pad.batters.fill
            _edge(made, cut, edge, out, batter or 0.0, "cut" if dug else "fill")
        middle = (left + right) / 2
        made.level(middle, cut.at(middle)[1], show(cut.at(middle)[1], "m", units))
    return made.detail(title, _pad_notes(item, built, units))


def _pad_notes(item: Platform, built: Built, units: UnitSystem) -> list[str]:
    earth = built.earth
    words = f"Cut {show(earth.cut_m3, 'm3', units, 0)} in the bank, "
    words += f"fill {show(earth.fill_m3, 'm3', units, 0)} compacted."
    if item.strip_m:
        words += f" Topsoil off {show(item.strip_m, 'm', units)}"
        words += (
            f", back on batters {show(item.respread_m, 'm', units)}." if item.respread_m else "."
        )
    if item.surfacing_m:
        words += f" Surfacing {show(item.surfacing_m, 'm', units)} included in the level."
    return [words, INDICATIVE]


@details_of("platform")
def platform_details(item: Platform, study: Study) -> list[Detail]:
    """Return the sections down the slope and along it, through the middle of the pad."""
    work = study.work(item.id)
    if work is None or not isinstance(work.thing, Built):
        return []
    down = _downhill(work, item.geometry)
    name, found = item.name or "Platform", []
    for words, way in (("down the slope", down), ("along the slope", (-down[1], down[0]))):
        middle = item.geometry.centroid
        cut = _cut(work, middle, way, _reach(item.geometry), _as_pad(work.thing))
        if cut is not None:
            found.append(_pad_section(study, item, cut, f"{name}: section {words}", work.thing))
    return found


def _reach(shape: BaseGeometry) -> float:
    west, south, east, north = shape.bounds
    return math.hypot(east - west, north - south) / 2 + REACH_M


@details_of("terraces")
def terraces_details(item: Terraces, study: Study) -> list[Detail]:
    """Return the section down the flight, at the middle of its upper edge."""
    work = study.work(item.id)
    if work is None or not isinstance(work.thing, Flight):
        return []
    flight = work.thing
    top, foot = flight.edges[0], flight.benches[-1].pad.outline
    start = top.interpolate(0.5, normalized=True)
    a = top.interpolate(max(top.length / 2 - 0.5, 0.0))
    b = top.interpolate(min(top.length / 2 + 0.5, top.length))
    way = np.array((b.y - a.y, a.x - b.x)) / max(a.distance(b), 1e-9)
    if np.dot((foot.centroid.x - start.x, foot.centroid.y - start.y), way) < 0:
        way = -way
    far = shapely.distance(start, foot) + item.bench_m
    middle = Point(start.x + way[0] * far / 2, start.y + way[1] * far / 2)
    cut = _cut(work, middle, (float(way[0]), float(way[1])), far / 2 + REACH_M, _as_flight(flight))
    if cut is None:
        return []
    units = study.plan.site.unit_system()
    made = _drawn(cut, units)
    before: float | None = None
    for nth, bench in enumerate(flight.benches):
        edges = cut.crossings(bench.pad.outline.boundary)
        if len(edges) < 2:
            continue
        u = (edges[0] + edges[-1]) / 2
        level = cut.at(u)[1]
        made.level(u, level, show(level, "m", units))
        if nth == 0:
            made.across(edges[0], edges[-1], level, off_mm=-6.0)
        if before is not None:
            made.upward(level, before, edges[0], off_mm=-2.0)
        before = level
    riser = "walls" if item.riser < 0.3 else f"risers {item.riser:g} : 1"
    notes = [f"{len(flight.benches)} benches {show(item.bench_m, 'm', units)} wide, {riser}.",
             INDICATIVE]  # fmt: skip
    return [made.detail(f"{item.name or 'Terraces'}: section down the slope", notes)]


@details_of("heap", "borrow_pit")
def heap_details(item: Heap | BorrowPit, study: Study) -> list[Detail]:
    """Return the section down the slope through the middle."""
    work = study.work(item.id)
    if work is None or not work.patches:
        return []
    middle = item.geometry.centroid
    cut = _cut(
        work, middle, _downhill(work, item.geometry), _reach(item.geometry), _as_heap(work.thing)
    )
    if cut is None:
        return []
    units = study.plan.site.unit_system()
    made = _drawn(cut, units)
    at = float(cut.u[int(np.argmax(np.abs(cut.after - cut.before)))])
    low, high = sorted(cut.at(at))
    made.upward(low, high, at, off_mm=2.0)
    edges = cut.crossings(item.geometry.boundary)
    if len(edges) >= 2:
        made.across(edges[0], edges[-1], float(min(cut.before.min(), cut.after.min())), off_mm=-6.0)
    label = item.name or ("Heap" if isinstance(item, Heap) else "Borrow pit")
    notes = [f"Sides {work.thing.mound.batter:g} : 1, run to rise.", INDICATIVE]
    return [made.detail(f"{label}: section down the slope", notes)]
