"""The chain: a storm led through swales, ponds, drains and hollows by where they really spill."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import UserError
from canvas.base.grid import Floats
from canvas.base.progress import Progress, silent
from canvas.ground.flow import Flow
from canvas.ground.upstream import upstream
from canvas.study.storm.cover import CoverMap
from canvas.study.storm.design import DesignRain
from canvas.study.storm.links import SpillPath, marks_of, paths_of, with_hollows
from canvas.study.storm.nodes import Node, nodes_of
from canvas.study.storm.peaks import storm_step_s
from canvas.study.storm.travel import travel
from canvas.study.waters import AT_LEAST
from canvas.water.cascade import Cascade, Outlet, Passed, Routed, Store, cascade, fills_at
from canvas.water.hydrographs import Hydrograph, storm_runoff
from canvas.water.runoff import Patch, runoff_m3
from canvas.water.storms import Storm

if TYPE_CHECKING:
    from canvas.study.study import Study

#: Routing goes on so long after the last runoff [s]: stores still drain then.
AFTER_S = 6 * 3600.0
#: Steps of the routing, and of the runs that look for the storm that fills each store [s].
STEP_S, COARSE_S = 60.0, 300.0
#: The greatest storm looked at for what fills a store, and how closely it is found [mm].
MOST_MM, WITHIN_MM = 500.0, 1.0
#: The books of the whole must close to this share.
CLOSED = 0.001
NOTHING = (
    "There is nothing to fill yet: draw a swale, a pond or a drain, and the storm is led through."
)


@dataclass(frozen=True, slots=True, eq=False)
class Own:
    """What runs to a store over the land, not through another store."""

    area_m2: float
    patches: tuple[Patch, ...]
    #: Time of concentration [h].
    tc_h: float
    #: The catchment, all above it counted, reaches the data's edge.
    at_least: bool

    def runoff(self, storm: Storm, step_s: float | None = None) -> Hydrograph:
        """Return the flow of a storm off it."""
        step = storm_step_s(self.tc_h) if step_s is None else step_s
        if not self.patches:
            return Hydrograph.none(step)
        return storm_runoff(self.patches, storm, self.tc_h, step)


@dataclass(frozen=True, slots=True, eq=False)
class Network:
    """Stores, what runs to them and where they spill: all but the storm."""

    nodes: Mapping[str, Node]
    own: Mapping[str, Own]
    paths: Mapping[tuple[str, str], SpillPath]

    def stores(
        self, storm: Storm, *, empty: bool = False, step_s: float | None = None
    ) -> list[Store]:
        """Return the stores with the runoff of a storm."""
        return [
            Store(
                node.ident, node.label, node.storage, tuple(self._outlets(node)),
                self.own[node.ident].runoff(storm, step_s),
                node.soak_m_s, None if empty else node.start_m,
            )
            for node in self.nodes.values()
        ]  # fmt: skip

    def _outlets(self, node: Node) -> list[Outlet]:
        return [
            Outlet(way.key, way.level_m, way.flow, self.paths[node.ident, way.key].to,
                   way.capacity_m3s, True, way.label)
            for way in node.ways
        ]  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Spill:
    """What leaves a store by one way in the storm."""

    path: SpillPath
    passed: Passed

    @property
    def runs(self) -> bool:
        """Whether water goes this way at all."""
        return self.passed.volume_m3 > 1e-3

    @property
    def over(self) -> bool:
        """Whether more comes than it is built for, or water goes where nothing was built for it."""
        if not self.runs:
            return False
        capacity = self.path.way.capacity_m3s
        if capacity is None:
            return not self.path.way.made
        return self.passed.peak_m3s > capacity * 1.0001


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """What a storm does to all stores."""

    rain: DesignRain
    network: Network
    #: None while there is no rain or nothing to fill; `trouble` then says what to do.
    run: Cascade | None = None
    #: Depth of storm at which each store first spills from empty [mm]; None: not up to the most.
    fills_mm: Mapping[str, float | None] = field(default_factory=dict)
    trouble: str = ""

    @property
    def order(self) -> tuple[str, ...]:
        """The stores as water meets them."""
        return tuple(self.run.routed) if self.run is not None else tuple(self.network.nodes)

    def node(self, ident: str) -> Node | None:
        """Return a store; None when it is none."""
        return self.network.nodes.get(ident)

    def routed(self, ident: str) -> Routed | None:
        """Return what the storm did to a store."""
        return self.run.routed.get(ident) if self.run is not None else None

    def spills(self, ident: str) -> tuple[Spill, ...]:
        """Return what leaves a store by each of its ways, the lowest first."""
        found = self.routed(ident)
        if found is None:
            return ()
        return tuple(
            Spill(self.network.paths[ident, passed.outlet.key], passed) for passed in found.passed
        )

    def running(self) -> tuple[Spill, ...]:
        """Return every spill that runs in this storm."""
        return tuple(s for ident in self.order for s in self.spills(ident) if s.runs)

    def to_label(self, ident: str) -> str:
        """Return the name of where a spill goes."""
        node = self.network.nodes.get(ident)
        return node.label if node is not None else "off the land"

    def flows(self, ident: str) -> tuple[Floats, Floats, Floats]:
        """Return times [h] of a store's steps, and what came and what spilt in them [m³/s]."""
        run, found = self.run, self.routed(ident)
        if run is None or found is None:
            return np.zeros(0), np.zeros(0), np.zeros(0)
        steps = len(found.passed[0].flow.flow_m3s) if found.passed else 0
        time = np.asarray((np.arange(steps) + 0.5) * run.step_s, np.float64)
        own = self.network.own[ident]
        came = np.zeros(steps)
        if own.patches and self.rain.storm is not None:
            came += own.runoff(self.rain.storm).at(time)
        for other in run.routed.values():
            for passed in other.passed:
                if passed.outlet.to == ident:
                    came += passed.flow.flow_m3s
        spilt = sum((p.flow.flow_m3s for p in found.passed if p.outlet.spill), np.zeros(steps))
        return np.asarray(time / 3600.0, np.float64), came, np.asarray(spilt, np.float64)

    @property
    def closed(self) -> bool:
        """Whether the books close to 0.1 %."""
        return self.run is not None and self.run.error <= CLOSED

    def fill_said(self, ident: str) -> str:
        """Say which storm fills a store, from empty."""
        node = self.network.nodes[ident]
        if node.storage is None:
            return "holds nothing back"
        depth = self.fills_mm.get(ident)
        if depth is None:
            return f"not by {MOST_MM:.0f} mm in {self.rain.hours:g} h"
        rare = self.rain.years_of(depth)
        return f"{depth:.0f} mm in {self.rain.hours:g} h" + (f", {rare}" if rare else "")

    def spill_line(self, ident: str) -> BaseGeometry | None:
        """Return the lines a store's water takes: of all ways that run, or of its lowest."""
        node = self.network.nodes[ident]
        keys = [s.path.way.key for s in self.spills(ident) if s.runs]
        if not keys and node.ways:
            keys = [min(node.ways, key=lambda way: way.level_m).key]
        lines = [self.network.paths[ident, key].line for key in keys]
        known = [line for line in lines if line is not None]
        return shapely.union_all(known) if known else None


def network_of(study: Study, flow: Flow, cover: CoverMap) -> Network:
    """Return the stores of a study's plan, what runs to each, and where each spills."""
    within = study.around()
    nodes = with_hollows(list(nodes_of(study)), flow, within)
    marks = marks_of(nodes, flow)
    paths = paths_of(nodes, marks, flow)
    up = upstream(flow, marks)
    rain = study.design_storm()
    patches = cover.by_mark(up.met, rain.moisture, len(nodes))
    far = up.farthest()
    own = {}
    for k, node in enumerate(nodes, start=1):
        cell = int(far[k]) if k < len(far) else -1
        if cell < 0:
            own[node.ident] = Own(0.0, (), 1.0, False)
            continue
        way = up.way_from(cell)
        hours = (
            travel(flow, cover, way, up.run_m(way), rain.intensity).hours if len(way) > 1 else 0.1
        )
        area = sum(patch.area_m2 for patch in patches[k])
        at_least = bool(flow.at_least[marks == k].any())
        own[node.ident] = Own(area, patches[k], hours, at_least)
    return Network({node.ident: node for node in nodes}, own, paths)


def chain(study: Study, progress: Progress = silent) -> Chain:
    """Return the chain of a study's works in its design storm."""
    rain = study.design_storm()
    empty = Network({}, {}, {})
    if not rain.known:
        return Chain(rain, empty, trouble=rain.trouble)
    flow, cover = study.flow(designed=True), study.cover()
    if flow is None or cover is None:
        return Chain(rain, empty, trouble="There is no ground yet: bring in a terrain model first.")
    progress(0.1, "finding where each store spills")
    network = network_of(study, flow, cover)
    if not network.nodes:
        return Chain(rain, network, trouble=NOTHING)
    storm = rain.needed()
    stores = network.stores(storm)
    try:
        progress(0.3, "leading the storm through")
        run = cascade(stores, STEP_S, _length_s(stores))
    except UserError as err:
        return Chain(rain, network, trouble=err.text())
    progress(0.5, "finding the storm that fills each")

    def of_depth(depth_mm: float) -> list[Store]:
        scaled = storm.times(depth_mm / storm.depth_mm)
        return network.stores(scaled, empty=True, step_s=COARSE_S)

    fills = fills_at(of_depth, MOST_MM, WITHIN_MM, step_s=COARSE_S)
    progress(1.0)
    return Chain(rain, network, run, fills)


def unknown_yet(rain: DesignRain) -> Chain:
    """Return the chain of a drag that began before any chain was worked out."""
    return Chain(rain, Network({}, {}, {}), trouble="It is worked out once you let go.")


def _length_s(stores: Sequence[Store]) -> float:
    flows = [s.runoff for s in stores if s.runoff is not None]
    longest = max((len(h.flow_m3s) * h.step_s for h in flows), default=STEP_S)
    return longest + AFTER_S


def drawdown_h(node: Node) -> float:
    """Return the hours a full store needs to soak away; inf where it is sealed."""
    if node.storage is None or node.full_m is None:
        return math.nan
    if node.soak_m_s <= 0.0:
        return math.inf
    table = node.storage
    full = min(node.full_m, float(table.level_m[-1]))
    level = np.linspace(float(table.level_m[0]), full, 201)
    volume, area = table.volume(level), table.area(level)
    mean = 0.5 * (area[1:] + area[:-1])
    parts = np.divide(np.diff(volume), mean, out=np.zeros(len(mean)), where=mean > 0.0)
    return float(parts.sum()) / node.soak_m_s / 3600.0


def remark_of(own: Own) -> str:
    """Return what to say beside figures of a store's catchment."""
    return AT_LEAST if own.at_least else ""


def run_m3(own: Own, rain: DesignRain) -> float:
    """Return the runoff of a store's own land in the storm."""
    return runoff_m3(own.patches, rain.depth_mm)
