"""Culverts: headwater under inlet and outlet control, capacity, and what goes over the road."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np

from canvas.base import resources
from canvas.base.errors import InputError
from canvas.base.sources import cites
from canvas.water.sections import GRAVITY, Pipe, critical_depth, normal_depth, solve
from canvas.water.weirs import BROAD, weir_flow

#: From US units to SI in the source's equations.
_KU = 1.811


@dataclass(frozen=True, slots=True)
class Inlet:
    """How a pipe begins: constants of the inlet-control equations, entrance loss, roughness."""

    key: str
    label: str
    k: float
    m: float
    c: float
    y: float
    slope: float
    loss: float
    n: float


@cache
def inlets() -> dict[str, Inlet]:
    """Return every kind of inlet by key."""
    table = resources.toml("hydraulics.toml")["culvert"]
    names = ("k", "m", "c", "y", "slope", "loss", "n")
    return {
        key: Inlet(key, row["label"], *(float(row[name]) for name in names))
        for key, row in table.items()
        if isinstance(row, dict)
    }


@dataclass(frozen=True, slots=True)
class Culvert:
    """Round pipes side by side under a road."""

    bore_m: float
    length_m: float
    slope: float
    inlet: Inlet
    barrels: int = 1

    def __post_init__(self) -> None:
        """Refuse what passes nothing."""
        if not (self.bore_m > 0.0 and self.length_m > 0.0 and self.barrels >= 1):
            raise InputError(f"no culvert: {self}")

    @property
    def full_m2(self) -> float:
        """Area of one pipe."""
        return math.pi * self.bore_m**2 / 4.0


@dataclass(frozen=True, slots=True)
class Headwater:
    """Depth of water above the inlet's invert, by each control; the greater rules."""

    inlet_m: float
    outlet_m: float
    #: Speed at the outlet [m/s].
    outlet_speed_m_s: float

    @property
    def depth_m(self) -> float:
        """The depth that comes about."""
        return max(self.inlet_m, self.outlet_m)

    @property
    def control(self) -> str:
        """Which end rules."""
        return "inlet" if self.inlet_m >= self.outlet_m else "outlet"


@cites("hds5")
def inlet_headwater_m(culvert: Culvert, flow_m3s: float) -> float:
    """Return the headwater [m] when the inlet rules.

    A weir at low flow, an orifice at high; between them a straight line, where the source draws a
    tangent by eye.
    """
    d, inlet = culvert.bore_m, culvert.inlet
    root = culvert.full_m2 * math.sqrt(d)
    bend = inlet.slope * culvert.slope

    def weir(q: float) -> float:
        pipe = Pipe(d)
        depth = critical_depth(pipe, q)
        area, top = pipe.area_m2(depth), pipe.top_m(depth)
        energy = depth + (0.5 * area / top if top > 1e-9 else 0.5 * d)
        return float(energy / d + inlet.k * (_KU * q / root) ** inlet.m + bend)

    def orifice(q: float) -> float:
        return inlet.c * (_KU * q / root) ** 2 + inlet.y + bend

    flow = flow_m3s / culvert.barrels
    intensity = _KU * flow / root
    if intensity <= 3.5:
        ratio = weir(flow) if flow > 0.0 else 0.0
    elif intensity >= 4.0:
        ratio = orifice(flow)
    else:
        low, high = 3.5 * root / _KU, 4.0 * root / _KU
        share = (intensity - 3.5) / 0.5
        ratio = (1.0 - share) * weir(low) + share * orifice(high)
    return max(ratio, 0.0) * d


@cites("hds5")
def outlet_headwater_m(culvert: Culvert, flow_m3s: float, tailwater_m: float = 0.0) -> float:
    """Return the headwater [m] when the outlet rules: losses of the full pipe over its end.

    The level at the end is the greater of the tailwater and half way from critical depth to the
    crown; tailwater counts from the outlet's invert.
    """
    flow = flow_m3s / culvert.barrels
    d = culvert.bore_m
    speed = flow / culvert.full_m2
    friction = 2.0 * GRAVITY * culvert.inlet.n**2 * culvert.length_m / (d / 4.0) ** (4.0 / 3.0)
    loss = (1.0 + culvert.inlet.loss + friction) * speed**2 / (2.0 * GRAVITY)
    critical = min(critical_depth(Pipe(d), flow), d)
    end = max(tailwater_m, 0.5 * (critical + d))
    return float(max(end + loss - culvert.slope * culvert.length_m, 0.0))


def headwater(culvert: Culvert, flow_m3s: float, tailwater_m: float = 0.0) -> Headwater:
    """Return the headwater of a flow, and its speed at the outlet."""
    flow = flow_m3s / culvert.barrels
    inlet = inlet_headwater_m(culvert, flow_m3s)
    outlet = outlet_headwater_m(culvert, flow_m3s, tailwater_m)
    speed = flow / culvert.full_m2
    if flow > 0.0 and culvert.slope > 0.0:
        even = normal_depth(Pipe(culvert.bore_m), flow, culvert.slope, culvert.inlet.n)
        if even.depth_m < 0.93 * culvert.bore_m:
            speed = max(even.speed_m_s, speed)
    return Headwater(inlet, outlet, speed)


def capacity_m3s(culvert: Culvert, headwater_m: float, tailwater_m: float = 0.0) -> float:
    """Return the flow [m³/s] a culvert passes at a headwater [m] above its inlet's invert."""
    high = 10.0 * culvert.barrels * culvert.full_m2 * math.sqrt(
        2.0 * GRAVITY * max(headwater_m, 0.01)
    )  # fmt: skip

    def needed(flow: float) -> float:
        return max(
            inlet_headwater_m(culvert, flow), outlet_headwater_m(culvert, flow, tailwater_m)
        )  # fmt: skip

    def let_in(head_m: float) -> float:
        return solve(lambda q: inlet_headwater_m(culvert, q), head_m, high)

    # A full pipe starts at a headwater of its own. Below it the pipe does not run full and passes
    # what the inlet alone lets in; just above it, no less than that.
    start = needed(1e-9)
    if start >= headwater_m:
        return let_in(headwater_m)
    found = solve(needed, headwater_m, high)
    drowned = tailwater_m > 0.5 * culvert.bore_m
    return found if drowned else max(found, let_in(start))


@dataclass(frozen=True, slots=True)
class Crossing:
    """What happens at a road crossing in a flow."""

    headwater_m: float
    through_m3s: float
    over_m3s: float


def crossing(
    culvert: Culvert, flow_m3s: float, road_m: float, dip_length_m: float, tailwater_m: float = 0.0
) -> Crossing:
    """Return how a flow parts between pipe and road, `road_m` above the inlet's invert.

    Over the road it passes a broad weir as long as the dip.
    """
    alone = headwater(culvert, flow_m3s, tailwater_m).depth_m
    if alone <= road_m:
        return Crossing(alone, flow_m3s, 0.0)

    def passed(depth: float) -> float:
        over = weir_flow(depth - road_m, dip_length_m, BROAD)
        return capacity_m3s(culvert, depth, tailwater_m) + over

    depth = solve(passed, flow_m3s, max(alone, road_m) + 1e-6)
    over = weir_flow(depth - road_m, dip_length_m, BROAD)
    return Crossing(depth, flow_m3s - over, over)


#: Least outlet protection, common practice: riprap this many bores long.
APRON_BORES = 4.0


def apron_m(culvert: Culvert) -> tuple[float, float]:
    """Return length and width [m] of the rock apron below a culvert; common practice."""
    length = APRON_BORES * culvert.bore_m
    return length, culvert.barrels * culvert.bore_m * 3.0


def rating(culvert: Culvert, heads_m: np.ndarray) -> np.ndarray:
    """Return the capacity at each headwater, rising with it."""
    found = np.array([capacity_m3s(culvert, float(h)) if h > 0.0 else 0.0 for h in heads_m])
    return np.maximum.accumulate(found)
