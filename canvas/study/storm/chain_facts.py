"""Facts of a store in the chain: which storm fills it, what it spills, where to, how hard."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

import shapely
from shapely.geometry.base import BaseGeometry

from canvas.base.fact import Fact
from canvas.study.earth.registry import EARTH
from canvas.study.storm.chain import Chain, drawdown_h, remark_of
from canvas.study.storm.facts import STORM_READS

if TYPE_CHECKING:
    from canvas.study.study import Study

#: Kinds that can be stores in the chain.
CHAIN_KINDS = ("swale", "drain", "level_sill", "check_dam", "dam", "dug_pond", "culvert")
#: Kinds whose change may change the chain.
CHAIN_READS = tuple(dict.fromkeys((*EARTH, *STORM_READS, "site_boundary", "phase")))
LOAD = "Spill as a share of what its outlet passes"
LOOSE = "Goes where nothing is made for it"
#: The part of an element that rules know its spills by.
SPILL_PART = "spill_path"


def chain_facts(study: Study, ident: str) -> list[Fact]:
    """Return what the design storm does to a store; nothing for what is none."""
    chain = study.chain()
    node, found = chain.node(ident), chain.routed(ident)
    if node is None or found is None:
        why = chain.trouble or "it could not be built as drawn"
        return [Fact("spill_load", LOAD, None, "%", remark=why),
                Fact("loose_spill_l", LOOSE, None, "L", remark=why)]  # fmt: skip
    said, own = chain.rain.said(), chain.network.own[ident]
    older = "before this move" if study.passing else ""
    note = "; ".join(filter(None, (remark_of(own), older)))
    fills = chain.fills_mm.get(ident)
    facts = []
    if node.storage is not None:
        facts += [
            Fact("fills_mm", "Filled by a storm of", fills, "mm", basis="from empty",
                 remark="; ".join(filter(None, (chain.fill_said(ident), note)))),
            Fact("soaked_m3", "Soaks in", found.soaked_m3, "m3", basis=said, remark=note),
            Fact("drawdown_pool_h", "Empty again after",
                 hours if math.isfinite(hours := drawdown_h(node)) else None, "hours",
                 basis="from full, through its water area",
                 remark="" if math.isfinite(hours) else "it is sealed"),
        ]  # fmt: skip
    facts += [
        Fact("came_m3", "Comes to it", found.inflow_m3, "m3", basis=said, remark=note),
        Fact("came_peak_m3s", "At most", found.inflow_peak_m3s, "m3/s", basis=said, remark=note),
        Fact("spill_m3", "Spills", found.spilled_m3, "m3", basis=said, remark=note),
    ]
    return [*facts, *_spills(chain, ident, note)]


def _spills(chain: Chain, ident: str, note: str) -> list[Fact]:
    """Return peaks of the ways water leaves by, what they pass, and where it goes."""
    said = chain.rain.said()
    facts, loads, loose = [], [], 0.0
    for spill in chain.spills(ident):
        way, passed = spill.path.way, spill.passed
        if not way.made:
            loose += passed.volume_m3
        if way.capacity_m3s:
            loads.append(passed.peak_m3s / way.capacity_m3s)
        if not spill.runs:
            continue
        against = "" if way.capacity_m3s is None else f"it passes {way.capacity_m3s:.3g} m³/s"
        facts.append(
            Fact(f"spill_{way.key.replace(' ', '_')}_m3s", f"By the {way.label}, at most",
                 passed.peak_m3s, "m3/s", basis=said,
                 remark="; ".join(filter(None, (against, note))))
        )  # fmt: skip
        facts.append(
            Fact(f"spill_{way.key.replace(' ', '_')}_to", f"From the {way.label} it goes",
                 f"to {chain.to_label(spill.path.to)}" if spill.path.to else "off the land")
        )  # fmt: skip
    return [
        *facts,
        Fact("spill_load", LOAD, max(loads) if loads else None, "%", basis=said, remark=note),
        Fact("loose_spill_l", LOOSE, 1000.0 * loose, "L", basis=said),
    ]


def spill_part(study: Study, ident: str) -> BaseGeometry:
    """Return the lines a store's water takes in the storm; empty where none is known."""
    chain = study.chain()
    if chain.node(ident) is None:
        return shapely.GeometryCollection()
    return chain.spill_line(ident) or shapely.GeometryCollection()


class WithSpills(Mapping[str, BaseGeometry]):
    """An element's parts and, worked out when a rule first asks, the ways of its spills."""

    def __init__(self, study: Study, ident: str, parts: Mapping[str, BaseGeometry]) -> None:
        self._study = study
        self._ident = ident
        self._parts = parts
        self._spills: BaseGeometry | None = None

    def __getitem__(self, key: str) -> BaseGeometry:
        if key != SPILL_PART:
            return self._parts[key]
        if self._spills is None:
            self._spills = spill_part(self._study, self._ident)
        return self._spills

    def __iter__(self) -> Iterator[str]:
        yield from self._parts
        yield SPILL_PART

    def __len__(self) -> int:
        return len(self._parts) + 1
