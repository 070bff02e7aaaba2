"""Facts about storms that any kind may show: what drains to it, its runoff, its peak."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from shapely.geometry.base import BaseGeometry

from canvas.base.errors import UserError
from canvas.base.fact import Fact
from canvas.base.quantity import area_unit
from canvas.study.storm.cover import COVER_KINDS

if TYPE_CHECKING:
    from canvas.study.scene import Scene

#: Kinds whose change changes any runoff: for `reads` of facts that ask for a peak.
STORM_READS = ("design_storm", "rain_table", *COVER_KINDS, "test_pit")
#: Whether a catchment reaches the data's edge, where it does and no figure hangs on it.
BUT_TYPED = "yes; the flow is typed"


def storm_facts(place: BaseGeometry | str, scene: Scene, label: str = "Drains to it") -> list[Fact]:
    """Return catchment, runoff, time of concentration and peaks of an element or a place."""
    rain = scene.design_storm()
    if not rain.known:
        return [Fact("storm", "Design storm", "not set", remark=rain.trouble)]
    try:
        found = scene.peak(place)
    except UserError as err:
        return [Fact("storm", "Design storm", "not worked out", remark=err.text())]
    area, low, high = found.catchment.area_m2, found.peaks.low_m3s, found.peaks.high_m3s
    said = rain.said()
    ways = "; ".join(f"{p.method} {p.flow_m3s:.3g}" for p in found.peaks.peaks)
    spread = f"{low:.3g} to {high:.3g} m³/s by method: {ways}"
    notes = [note for note in (found.remark, spread) if note]
    return [
        Fact("catchment_m2", label, area, area_unit(area), basis="on the grid as designed",
             remark=found.remark),
        Fact("runoff_m3", "Runoff", found.runoff_m3, "m3", basis=said, remark=found.remark,
             source="tr55_1986"),
        Fact("tc_h", "Time of concentration", found.travel.hours, "hours",
             basis=found.travel.said(), source="hec22", decimals=2),
        Fact("peak_m3s", "Peak flow", high, "m3/s", basis=said, remark="; ".join(notes),
             source="hec22"),
        Fact("peak_least_m3s", "Peak flow by the mildest method", low, "m3/s", basis=said),
        Fact("catchment_at_least", "Catchment reaches the data's edge",
             "yes" if found.at_least else "no", remark=found.remark),
    ]  # fmt: skip


def as_typed(facts: list[Fact], flow_m3s: float, label: str) -> list[Fact]:
    """Return facts about storms with a typed flow in place of the one worked out.

    The flow is known then, whatever the catchment reaches: nothing asks for more ground.
    """
    gone = ("peak_m3s", "peak_least_m3s", "storm")
    kept = [_not_needed(fact) for fact in facts if fact.key not in gone]
    return [*kept, Fact("peak_m3s", label, flow_m3s, "m3/s", "as typed")]


def _not_needed(fact: Fact) -> Fact:
    if fact.key != "catchment_at_least" or fact.value != "yes":
        return fact
    return replace(fact, value=BUT_TYPED)
