"""The storm and its chain as rows and as JSON: one telling for desk, sheet and command line."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from canvas.base.fact import Fact
from canvas.base.quantity import UnitSystem, show
from canvas.study.ground_lines import GroundLine
from canvas.study.storm.chain import Chain, Spill, drawdown_h, remark_of, run_m3
from canvas.study.storm.design import CAUTION

if TYPE_CHECKING:
    from canvas.study.study import Study

#: Headings of the table of stores.
HEADINGS = (
    "Store", "Holds", "Filled by", "Comes to it", "Peak inflow", "Spills", "Peak spill",
    "Outlet passes", "Goes", "Soaks in", "Empty after",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Row:
    """One store in the storm, written for people."""

    ident: str
    cells: tuple[str, ...]
    #: More comes than an outlet passes, or water goes where nothing is made for it.
    over: bool
    #: Its catchment reaches the data's edge.
    at_least: bool


def main_spill(chain: Chain, ident: str) -> Spill | None:
    """Return the way most of a store's water leaves by in the storm; None when none does."""
    running = [s for s in chain.spills(ident) if s.runs]
    return max(running, key=lambda s: s.passed.volume_m3, default=None)


def rows(chain: Chain, units: UnitSystem = UnitSystem.METRIC) -> list[Row]:
    """Return the stores as water meets them."""
    return [_row(chain, ident, units) for ident in chain.order]


def _row(chain: Chain, ident: str, units: UnitSystem) -> Row:
    node, found, own = chain.network.nodes[ident], chain.routed(ident), chain.network.own[ident]
    least = "≥ " if own.at_least else ""
    spill = main_spill(chain, ident)
    if found is None:
        blank = (node.label, _volume(node.holds_m3, units), *("–",) * (len(HEADINGS) - 2))
        return Row(ident, blank, False, own.at_least)
    running = [s for s in chain.spills(ident) if s.runs]
    goes = "; ".join(f"{s.path.way.label}: {goes_to(chain, s)}" for s in running) or "–"
    hours = drawdown_h(node)
    capacity = spill.path.way.capacity_m3s if spill is not None else None
    return Row(
        ident,
        (
            node.label,
            _volume(node.holds_m3, units) if node.storage is not None else "–",
            chain.fill_said(ident),
            least + _volume(found.inflow_m3, units),
            least + show(found.inflow_peak_m3s, "m3/s", units),
            least + _volume(found.spilled_m3, units),
            least + show(spill.passed.peak_m3s if spill is not None else 0.0, "m3/s", units),
            show(capacity, "m3/s", units),
            goes,
            _volume(found.soaked_m3, units),
            "sealed" if math.isinf(hours)
            else show(hours, "hours", units),
        ),
        any(s.over for s in running),
        own.at_least,
    )  # fmt: skip


def _volume(value: float, units: UnitSystem) -> str:
    return show(value, "m3", units, 0 if value >= 100 else 1)


def goes_to(chain: Chain, spill: Spill) -> str:
    """Say where a spill goes."""
    return f"to {chain.to_label(spill.path.to)}" if spill.path.to else "off the land"


def spill_lines(chain: Chain) -> list[GroundLine]:
    """Return the ways of spills, with what goes by each in the storm."""
    found = []
    for ident in chain.order:
        for spill in chain.spills(ident):
            path, passed = spill.path, spill.passed
            if path.line is None:
                continue
            facts = (
                Fact("from", "From", chain.network.nodes[ident].label),
                Fact("way", "By", path.way.label),
                Fact("to", "To", chain.to_label(path.to)),
                Fact("volume_m3", "Spills", passed.volume_m3, "m3"),
                Fact("peak_m3s", "At most", passed.peak_m3s, "m3/s"),
                Fact("capacity_m3s", "It passes", path.way.capacity_m3s, "m3/s"),
                Fact("over", "More than it was made for", "yes" if spill.over else "no"),
            )
            found.append(GroundLine("spills", path.line, facts))
    return found


def books(chain: Chain, units: UnitSystem = UnitSystem.METRIC) -> list[tuple[str, str]]:
    """Return the books of the whole: what came, where it went, what is lacking."""
    run = chain.run
    if run is None:
        return []
    stores = run.routed.values()
    start, end = sum(r.start_m3 for r in stores), sum(r.end_m3 for r in stores)
    closes = "closes" if chain.closed else "does not close: do not trust these figures"
    return [
        ("Ran off into stores", show(run.runoff_m3, "m3", units)),
        ("Stood in ponds at the start", show(start, "m3", units)),
        ("Soaked in", show(sum(r.soaked_m3 for r in stores), "m3", units)),
        ("Left the land", show(run.away_m3, "m3", units)),
        ("Stands at the end", show(end, "m3", units)),
        ("Lacking", f"{show(run.error, '%', units, 4)} ({closes})"),
    ]


def notes(chain: Chain) -> list[str]:
    """Return what to know before trusting the figures."""
    found = list(chain.rain.remarks)
    if any(own.at_least for own in chain.network.own.values()):
        found.append("≥: the catchment reaches the edge of the ground data, more may come")
    return [*(note[:1].upper() + note[1:] for note in found), CAUTION]


def storm_json(study: Study) -> dict[str, Any]:
    """Return the storm and its chain for other programs; numbers are SI."""
    chain = study.chain()
    rain, run = chain.rain, chain.run
    return {
        "format": "hillwright storm",
        "version": 1,
        "site": study.plan.site.name,
        "storm": {
            "depth_mm": rain.depth_mm if rain.known else None,
            "hours": rain.hours,
            "years": rain.years,
            "pattern": rain.record.pattern,
            "moisture": rain.record.moisture,
            "ponds_at_start": rain.record.ponds,
            "basis": rain.basis,
            "remarks": list(rain.remarks),
        },
        "trouble": chain.trouble,
        "stores": [_store_json(chain, ident) for ident in chain.order],
        "balance": None
        if run is None
        else {
            "runoff_m3": run.runoff_m3,
            "start_m3": sum(r.start_m3 for r in run.routed.values()),
            "soaked_m3": sum(r.soaked_m3 for r in run.routed.values()),
            "away_m3": run.away_m3,
            "end_m3": sum(r.end_m3 for r in run.routed.values()),
            "error": run.error,
        },
        "caution": CAUTION,
    }


def _store_json(chain: Chain, ident: str) -> dict[str, Any]:
    node, own, found = chain.network.nodes[ident], chain.network.own[ident], chain.routed(ident)
    hours = drawdown_h(node)
    return {
        "id": ident,
        "kind": node.key,
        "name": node.label,
        "full_m": node.full_m,
        "holds_m3": node.holds_m3,
        "own_area_m2": own.area_m2,
        "own_runoff_m3": run_m3(own, chain.rain),
        "tc_h": own.tc_h,
        "at_least": own.at_least,
        "remark": remark_of(own),
        "fills_mm": chain.fills_mm.get(ident),
        "came_m3": found.inflow_m3 if found is not None else None,
        "came_peak_m3s": found.inflow_peak_m3s if found is not None else None,
        "soaked_m3": found.soaked_m3 if found is not None else None,
        "spilled_m3": found.spilled_m3 if found is not None else None,
        "peak_level_m": found.peak_m if found is not None else None,
        "drawdown_h": hours if math.isfinite(hours) else None,
        "ways": [
            {
                "way": s.path.way.label,
                "level_m": s.path.way.level_m,
                "to": s.path.to,
                "to_name": chain.to_label(s.path.to),
                "volume_m3": s.passed.volume_m3,
                "peak_m3s": s.passed.peak_m3s,
                "capacity_m3s": s.path.way.capacity_m3s,
                "first_s": s.passed.first_s,
                "over": s.over,
            }
            for s in chain.spills(ident)
        ],
    }
