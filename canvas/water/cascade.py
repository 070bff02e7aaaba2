"""A storm led through swales, ponds, tanks and drains that spill into each other.

Each store is a level pool: what stands in it decides what leaves over its sills, through its
pipes and into the ground. Stores are taken from the top down, so a network that runs in a ring is
refused, and the ring named.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from canvas.base.errors import BadData, InputError
from canvas.base.grid import Floats
from canvas.base.progress import Progress, silent
from canvas.base.sources import cites
from canvas.water import routing_kernels as kernels
from canvas.water.hydrographs import Hydrograph
from canvas.water.storage import StageStorage

#: Where water goes that leaves the land.
AWAY = ""
#: Heads over a sill at which its flow is tabled [m]; between them it is taken straight.
_HEADS = np.concatenate((np.linspace(0.0, 0.02, 9), 0.02 * 1.12 ** np.arange(1, 50)))
#: A flow that counts as spilling [m³/s].
_SPILLS = 1e-6


@dataclass(frozen=True, slots=True)
class Outlet:
    """A way out of a store.

    `flow`: flow [m³/s] at a head [m] over `level_m`, never falling. `to`: the store it leads to,
    `AWAY` off the land. `capacity_m3s`: what it is built for; None where nothing is said. `spill`:
    whether water here is overflow (a sill, a spillway, a low bank) rather than drawn off (a pipe).
    """

    key: str
    level_m: float
    flow: Callable[[float], float]
    to: str = AWAY
    capacity_m3s: float | None = None
    spill: bool = True
    label: str = ""


@dataclass(frozen=True, slots=True)
class Store:
    """A swale, pond, tank, or (without storage) a drain or sill that passes water on.

    `runoff`: what flows in from its own catchment. `soak_m_s`: rate of soaking through its water
    area. `start_m`: level at the start; empty when not given.
    """

    ident: str
    label: str
    storage: StageStorage | None
    outlets: tuple[Outlet, ...]
    runoff: Hydrograph | None = None
    soak_m_s: float = 0.0
    start_m: float | None = None

    @property
    def full_m(self) -> float | None:
        """The level at which it first spills."""
        spills = [o.level_m for o in self.outlets if o.spill]
        return min(spills) if spills else None


@dataclass(frozen=True, slots=True, eq=False)
class Passed:
    """What went through one outlet."""

    outlet: Outlet
    volume_m3: float
    peak_m3s: float
    #: When it first ran [s]; None when it never did.
    first_s: float | None
    #: Mean flow of each step [m³/s].
    flow: Hydrograph

    @property
    def load(self) -> float | None:
        """Peak over capacity; None when no capacity is known."""
        capacity = self.outlet.capacity_m3s
        return self.peak_m3s / capacity if capacity else None


@dataclass(frozen=True, slots=True, eq=False)
class Routed:
    """What a storm did to one store."""

    store: Store
    inflow_m3: float
    inflow_peak_m3s: float
    soaked_m3: float
    start_m3: float
    end_m3: float
    peak_m: float | None
    peak_m3: float
    peak_s: float
    passed: tuple[Passed, ...]
    #: Level at the end of each step [m], from the start; empty without storage.
    level_m: Floats

    @property
    def spilled_m3(self) -> float:
        """What it spilt."""
        return sum(p.volume_m3 for p in self.passed if p.outlet.spill)

    @property
    def spill_peak_m3s(self) -> float:
        """The greatest of its spills' peaks added up."""
        flows = [p.peak_m3s for p in self.passed if p.outlet.spill]
        return sum(flows)

    @property
    def first_spill_s(self) -> float | None:
        """When it first spilt [s]."""
        times = [p.first_s for p in self.passed if p.outlet.spill and p.first_s is not None]
        return min(times) if times else None

    @property
    def error_m3(self) -> float:
        """What its own books lack [m³]."""
        out = sum(p.volume_m3 for p in self.passed) + self.soaked_m3
        return self.start_m3 + self.inflow_m3 - out - self.end_m3


@dataclass(frozen=True, slots=True, eq=False)
class Cascade:
    """What a storm did to all stores, in the order water meets them."""

    routed: Mapping[str, Routed]
    step_s: float
    #: What leaves the land [m³].
    away_m3: float
    runoff_m3: float

    @property
    def error(self) -> float:
        """What the books of the whole lack, as a share of all that came."""
        stores = self.routed.values()
        came = self.runoff_m3 + sum(r.start_m3 for r in stores)
        went = self.away_m3 + sum(r.soaked_m3 + r.end_m3 for r in stores)
        return abs(came - went) / came if came > 1e-9 else 0.0


def order(stores: Sequence[Store]) -> tuple[str, ...]:
    """Return the stores from the top down; `BadData` names a ring, `InputError` a missing store."""
    by_ident = {s.ident: s for s in stores}
    if len(by_ident) != len(stores):
        raise InputError("two stores have the same identity")
    done: dict[str, bool] = {}
    listed: list[str] = []

    def visit(ident: str, path: tuple[str, ...]) -> None:
        if ident in path:
            ring = (*path[path.index(ident) :], ident)
            names = " → ".join(by_ident[i].label or i for i in ring)
            raise BadData(
                f"Water would run in a ring: {names}.",
                remedy="Lower one sill, or join stores that stand at one level into one.",
            )
        if ident in done:
            return
        for outlet in by_ident[ident].outlets:
            if outlet.to == AWAY:
                continue
            if outlet.to not in by_ident:
                raise InputError(f"{ident} spills into {outlet.to!r}, which is no store")
            visit(outlet.to, (*path, ident))
        done[ident] = True
        listed.append(ident)

    for store in stores:
        visit(store.ident, ())
    return tuple(reversed(listed))


@dataclass(slots=True)
class _Flows:
    """Inflow of each store while the network is worked through [m³ per step]."""

    step_s: float
    steps: int
    into: dict[str, Floats] = field(default_factory=dict)

    def of(self, ident: str) -> Floats:
        return self.into.setdefault(ident, np.zeros(self.steps))


@cites("puls")
def cascade(
    stores: Sequence[Store],
    step_s: float = 60.0,
    length_s: float | None = None,
    progress: Progress = silent,
) -> Cascade:
    """Lead the stores' runoff through the network, for `length_s`, else the longest runoff.

    Steps are cut finer where a store drains fast; volumes are passed on exactly.
    """
    names = order(stores)
    by_ident = {s.ident: s for s in stores}
    flows = [s.runoff for s in stores if s.runoff is not None]
    longest = max((len(h.flow_m3s) * h.step_s for h in flows), default=step_s)
    steps = max(int(np.ceil((length_s or longest) / step_s - 1e-9)), 1)
    work = _Flows(step_s, steps)
    edges = np.asarray(np.arange(steps + 1) * step_s, np.float64)
    total = 0.0
    for store in stores:
        if store.runoff is not None:
            own = np.diff(_running_m3(store.runoff, edges))
            work.of(store.ident)[:] += own
            total += float(own.sum())
    routed: dict[str, Routed] = {}
    away = 0.0
    for i, ident in enumerate(names):
        progress(i / len(names), f"routing {by_ident[ident].label or ident}")
        found = _through(by_ident[ident], work)
        routed[ident] = found
        for passed in found.passed:
            if passed.outlet.to == AWAY:
                away += passed.volume_m3
            else:
                work.of(passed.outlet.to)[:] += passed.flow.flow_m3s * step_s
    progress(1.0)
    return Cascade(routed, step_s, away, total)


def _running_m3(flow: Hydrograph, edges: Floats) -> Floats:
    """Return the volume of a hydrograph up to each time: exact for straight pieces."""
    q = np.append(flow.flow_m3s, 0.0)
    t = np.arange(len(q)) * flow.step_s
    sums = np.concatenate(([0.0], np.cumsum(0.5 * (q[1:] + q[:-1]) * flow.step_s)))
    i = np.clip(np.searchsorted(t, edges, side="right") - 1, 0, len(q) - 2)
    part = np.clip(edges - t[i], 0.0, flow.step_s)
    slope = (q[i + 1] - q[i]) / flow.step_s
    return np.asarray(sums[i] + q[i] * part + 0.5 * slope * part**2, np.float64)


def _through(store: Store, work: _Flows) -> Routed:
    inflow = work.of(store.ident)
    if store.storage is None:
        return _passes_on(store, inflow, work.step_s)
    volume, ways = _table(store.storage, store.outlets, store.soak_m_s)
    start = 0.0
    if store.start_m is not None:
        start = float(store.storage.volume(store.start_m))
    stored = np.zeros(work.steps + 1)
    passed = np.zeros((len(ways), work.steps))
    most = np.zeros(len(ways))
    kernels.route(
        np.ascontiguousarray(inflow), work.step_s, start, volume, ways, stored, passed, most
    )
    level = store.storage.level(stored)
    top = int(np.argmax(stored))
    outs = tuple(
        _passed(outlet, passed[i], float(most[i]), work.step_s)
        for i, outlet in enumerate(store.outlets)
    )
    return Routed(
        store,
        float(inflow.sum()),
        float(inflow.max()) / work.step_s,
        float(passed[-1].sum()),
        start,
        float(stored[-1]),
        float(level[top]),
        float(stored[top]),
        top * work.step_s,
        outs,
        level,
    )


def _passed(outlet: Outlet, volume: Floats, peak: float, step_s: float) -> Passed:
    flow = volume / step_s
    running = np.flatnonzero(flow > _SPILLS)
    first = float(running[0]) * step_s if len(running) else None
    return Passed(
        outlet, float(volume.sum()), peak, first, Hydrograph(step_s, np.maximum(flow, 0.0))
    )


def _passes_on(store: Store, inflow: Floats, step_s: float) -> Routed:
    """Pass all on through the first outlet, the rest to the next when it is full."""
    left = inflow.copy()
    outs = []
    if not store.outlets:
        raise InputError(f"{store.ident} holds nothing and leads nowhere")
    for i, outlet in enumerate(store.outlets):
        last = i == len(store.outlets) - 1
        most = np.inf if last or outlet.capacity_m3s is None else outlet.capacity_m3s * step_s
        took = np.minimum(left, most)
        left = left - took
        outs.append(_passed(outlet, took, float(took.max()) / step_s, step_s))
    total, peak = float(inflow.sum()), float(inflow.max()) / step_s
    return Routed(store, total, peak, 0.0, 0.0, 0.0, None, 0.0, 0.0, tuple(outs), np.zeros(0))


@lru_cache(maxsize=256)
def _table(
    storage: StageStorage, outlets: tuple[Outlet, ...], soak_m_s: float
) -> tuple[Floats, Floats]:
    """Return volumes and the flow out each way at them; the last way is the ground.

    Kept: a store runs through many storms while it is asked which one fills it.
    """
    levels = [storage.level_m, storage.level_m[0] + np.array([1e-4, 1e-3, 1e-2])]
    levels += [outlet.level_m + _HEADS for outlet in outlets]
    level = np.unique(np.concatenate(levels))
    level = level[level >= storage.level_m[0]]
    volume = np.asarray(storage.volume(level))
    # Levels that hold no more than the one below say nothing; the highest of them rules.
    keep = np.append(np.diff(volume) > 1e-12 * max(volume[-1], 1.0), True)
    level, volume = level[keep], volume[keep]
    volume[0] = 0.0
    ways = np.zeros((len(outlets) + 1, len(level)))
    for i, outlet in enumerate(outlets):
        flow = [outlet.flow(float(h)) if h > 0.0 else 0.0 for h in level - outlet.level_m]
        ways[i] = np.maximum.accumulate(np.maximum(flow, 0.0))
    ways[-1] = soak_m_s * np.maximum.accumulate(storage.area(level))
    ways[:, 0] = np.where(level[0] > storage.level_m[0], ways[:, 0], 0.0)
    return np.ascontiguousarray(volume), np.ascontiguousarray(ways)


def fills_at(
    make: Callable[[float], Sequence[Store]],
    most_mm: float = 500.0,
    within_mm: float = 0.5,
    progress: Progress = silent,
    step_s: float = 60.0,
) -> dict[str, float | None]:
    """Return the depth of storm [mm] at which each store first spills; None when none up to `most`.

    `make` returns the network for a storm of a depth. More rain never spills less, so halving
    finds each depth; runs serve all stores at once.
    """
    runs: dict[float, Cascade] = {}

    def spills(ident: str, depth: float) -> bool:
        if depth not in runs:
            runs[depth] = cascade(make(depth), step_s)
        return runs[depth].routed[ident].spilled_m3 > 0.0

    idents = [s.ident for s in make(most_mm) if s.full_m is not None]
    found: dict[str, float | None] = {}
    halvings = int(np.ceil(np.log2(most_mm / within_mm)))
    for i, ident in enumerate(idents):
        progress(i / len(idents), "finding the storm that fills each")
        if not spills(ident, most_mm):
            found[ident] = None
            continue
        low, high = 0.0, most_mm
        for _ in range(halvings):
            middle = 0.5 * (low + high)
            low, high = (low, middle) if spills(ident, middle) else (middle, high)
        found[ident] = high
    progress(1.0)
    return found
