"""Whether a pond lets its flood out in time, and what lies below a dam."""

from __future__ import annotations

from dataclasses import dataclass

from shapely.geometry.base import BaseGeometry

from canvas.base.fact import Fact
from canvas.ground.excavation import Dugout
from canvas.site.elements.ponds import Dam, DugPond
from canvas.study.earth.ponds import PondWork
from canvas.study.kinds import common
from canvas.study.scene import Parts, Scene
from canvas.study.storm.facts import as_typed, storm_facts
from canvas.study.waters import catchment_facts
from canvas.water import ponds
from canvas.water.weirs import spillway_flow, spillway_run, spillway_width

#: Left between the design flood and the settled crest of a dam [m].
DRY_M = 0.3
#: Heads are sought to this [m].
WITHIN_M = 0.001
NONE = "none: a flood goes over the bank"


@dataclass(frozen=True, slots=True)
class Outlet:
    """What a pond spills over."""

    width_m: float
    #: From the sill up to where water would go over the bank.
    freeboard_m: float
    #: Of it to be left dry in the design flood.
    dry_m: float
    exit_grade: float
    side: float

    @property
    def capacity_m3s(self) -> float:
        """Flow with the dry part of the freeboard left."""
        return spillway_flow(max(self.freeboard_m - self.dry_m, 0.0), self.width_m)

    def needed_m(self, flow_m3s: float) -> float | None:
        """Return the width that passes a flow so; None where no freeboard is left to flow in."""
        head = self.freeboard_m - self.dry_m
        return spillway_width(flow_m3s, head) if head > 0 else None

    def head_m(self, flow_m3s: float) -> float:
        """Return how high over the sill a flow stands."""
        low, high = 0.0, 0.5
        while spillway_flow(high, self.width_m) < flow_m3s:
            high *= 2
        while high - low > WITHIN_M:
            middle = (low + high) / 2
            if spillway_flow(middle, self.width_m) < flow_m3s:
                low = middle
            else:
                high = middle
        return high


def outlet_of(item: Dam | DugPond) -> Outlet | None:
    """Return what a pond spills over; None when it has neither spillway nor outlet."""
    if isinstance(item, Dam):
        if item.spillway == "none":
            return None
        return Outlet(
            item.spill_width_m, item.sill_below_m, DRY_M, item.spill_grade, item.spill_side
        )
    if not item.outlet:
        return None
    return Outlet(item.outlet_width_m, item.freeboard_m, 0.0, 0.03, max(item.outer, 1.0))


def flood_facts(
    item: Dam | DugPond, made: PondWork | Dugout, water: BaseGeometry, scene: Scene
) -> list[Fact]:
    """Return catchment, design flood, what the outlet passes, and the freeboard that is left."""
    pool = made.pond.water if isinstance(made, PondWork) else made.water
    facts = [] if water.is_empty else _storm(water, scene)
    if not any(fact.key == "catchment_m2" for fact in facts) and not water.is_empty:
        # All that comes to the water, and all that leaves it, crosses its edge.
        drained = catchment_facts(water.boundary, scene, "Drains to it")
        reach = "yes" if any(fact.remark for fact in drained) else "no"
        told = common.words("catchment_at_least", "Catchment reaches the data's edge", reach)
        facts = [*drained, *([told] if drained else []), *facts]
    if item.design_flow_m3s is not None:
        facts = as_typed(facts, item.design_flow_m3s, "Design flood")
    facts += _filling(pool.volume_m3, facts)
    peak = next((fact.value for fact in facts if fact.key == "peak_m3s"), None)
    fetch = _fetch_m(water)
    open_ = any(fact.key == "catchment_at_least" and fact.value == "yes" for fact in facts)
    least = "at least: more may drain to it" if open_ else ""
    return [*facts, *_outlet(item, peak if isinstance(peak, float) else None, fetch, least)]


def _storm(water: BaseGeometry, scene: Scene) -> list[Fact]:
    """Return what the design storm brings; not while something is dragged."""
    if scene.passing and scene.design_storm().known:
        return [common.words("storm", "Design storm", "worked out when it is let go")]
    return storm_facts(water, scene, "Drains to it")


def _filling(holds_m3: float, facts: list[Fact]) -> list[Fact]:
    """Return how much land drains to each cubic metre held, and the runoff that fills it."""
    area = next((fact.value for fact in facts if fact.key == "catchment_m2"), None)
    if not isinstance(area, float) or not holds_m3 > 0 or not area > 0:
        return []
    return [
        Fact("catchment_per_m3", "Catchment for each m³ held", area / holds_m3, "ratio",
             remark="square metres", decimals=1),
        Fact("fill_mm", "Runoff that fills it", 1000 * holds_m3 / area, "mm",
             remark="over the whole catchment"),
    ]  # fmt: skip


def _fetch_m(water: BaseGeometry) -> float:
    """Return the longest stretch of open water, from its bounding box."""
    if water.is_empty:
        return 0.0
    west, south, east, north = water.bounds
    return float(max(east - west, north - south))


def _outlet(item: Dam | DugPond, peak: float | None, fetch_m: float, least: str) -> list[Fact]:
    outlet = outlet_of(item)
    if outlet is None:
        return [
            common.words("outlet_words", "Spillway", NONE if isinstance(item, Dam) else "none"),
            Fact("sill_capacity_m3s", "Spillway passes", 0.0, "m3/s"),
        ]
    dam = isinstance(item, Dam)
    left = f"with {outlet.dry_m:g} m left dry" if outlet.dry_m else "to the rim"
    facts = [
        common.words("outlet_words", "Spillway", "beside the bank" if dam else "through the rim"),
        Fact("spillway_width_m", "Spillway, width", outlet.width_m, "m"),
        Fact("sill_capacity_m3s", "Spillway passes", outlet.capacity_m3s, "m3/s", left,
             source="hec22"),
    ]  # fmt: skip
    if peak is not None and peak > 0:
        head = outlet.head_m(peak)
        run = spillway_run(peak, outlet.width_m, outlet.exit_grade, side_z=outlet.side)
        facts += [
            common.ratio("capacity_share", "Passes of the design flood",
                         outlet.capacity_m3s / peak, source="hec22"),
            Fact("spillway_needed_m", "Spillway, width needed", outlet.needed_m(peak), "m",
                 f"in the design flood, {left}", remark=least, source="hec22"),
            Fact("flood_head_m", "Flood over the sill", head, "m", source="hec22"),
            Fact("dry_freeboard_m", "Left dry in the flood", outlet.freeboard_m - head, "m"),
            Fact("exit_speed_m_s", "Speed down the exit", run.exit_manning_m_s, "m/s",
                 remark="compare with what the grass there bears", source="hec22"),
        ]  # fmt: skip
        if dam:
            needed = ponds.freeboard_m(head, fetch_m)
            facts.append(
                Fact("freeboard_needed_m", "Freeboard asked", needed, "m",
                     basis="flood, and waves of a gale", source="kdwp_ponds")
            )  # fmt: skip
    elif dam:
        facts.append(
            Fact("freeboard_needed_m", "Freeboard asked", ponds.freeboard_m(0.0, fetch_m), "m",
                 remark="without a design flood", source="kdwp_ponds")
        )  # fmt: skip
    return facts


def breach_facts(item: Dam, made: PondWork, parts: Parts, scene: Scene) -> list[Fact]:
    """Return what a failure would let go, what of ours lies in its way, and whose work it is."""
    volume, height = made.pond.water.volume_m3, made.dam.toe_height_m
    strip = parts.get("breach_path")
    below = _in_the_way(strip, scene) if strip is not None else []
    facts = [
        Fact("breach_peak_m3s", "Flood if it failed", ponds.breach_peak_m3s(volume, height),
             "m3/s", remark="an order of magnitude", source="froehlich1995", decimals=0),
        common.words("breach_below", "Known in its way", ", ".join(below) or "nothing drawn",
                     "a strip along the fall line, not a flood map"),
        Fact("height_by_volume", "Height times water held", height * volume, "ratio",
             remark="m × m³", decimals=0),
    ]  # fmt: skip
    dwelling = any(name.startswith("dwelling") for name in below)
    why = ponds.needs_engineer(height, volume, dwelling_below=dwelling or bool(below))
    told = f"needed: {why}" if why else "ask whether the code wants one"
    return [*facts, common.words("engineer", "Engineer", told)]


def _in_the_way(strip: BaseGeometry, scene: Scene) -> list[str]:
    """Return what lies in a strip, in words: dwellings, buildings, roads and tracks."""
    found = []
    for kind in ("building", "public_road", "track"):
        for other in scene.of_kind(kind):
            if not other.geometry.intersects(strip):
                continue
            use = getattr(other, "use", "") if kind == "building" else ""
            what = use or {"public_road": "road", "track": "track"}.get(kind, "building")
            found.append(f"{what} {other.name}".strip())
    return found
