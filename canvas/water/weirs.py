"""Weirs, sills, orifices, spillways: how much passes at which head."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from canvas.base import resources
from canvas.base.errors import InputError
from canvas.base.sources import cites
from canvas.water.sections import GRAVITY, Section, Trapezoid, manning_flow, normal_depth

#: Broad-crested coefficient, rounded approach [m^0.5/s].
BROAD = 1.70
#: Grassed level sill [m^0.5/s].
LEVEL_SILL = 1.45


@cites("hec22")
def weir_flow(head_m: float, length_m: float, coefficient: float = BROAD) -> float:
    """Return the flow over a level crest [m³/s] at a head [m]: C L H^1.5."""
    return float(coefficient * length_m * max(head_m, 0.0) ** 1.5)


@cites("hec22")
def weir_head(flow_m3s: float, length_m: float, coefficient: float = BROAD) -> float:
    """Return the head [m] at which a level crest passes a flow."""
    if not (length_m > 0.0 and coefficient > 0.0):
        raise InputError(f"a weir needs a length, got {length_m} m")
    return float((max(flow_m3s, 0.0) / (coefficient * length_m)) ** (2.0 / 3.0))


@cites("hec22")
def broad_coefficient(head_m: float, breadth_m: float) -> float:
    """Return the coefficient of a broad-crested weir by head and breadth (2 to 3 m)."""
    table = resources.toml("hydraulics.toml")["weir"]
    narrow = float(np.interp(head_m, table["head_m"], table["breadth_2"]))
    wide = float(np.interp(head_m, table["head_m"], table["breadth_3"]))
    return narrow + (wide - narrow) * min(max(breadth_m - 2.0, 0.0), 1.0)


@cites("villemonte1947")
def submerged_factor(head_m: float, tail_m: float, power: float = 1.5) -> float:
    """Return what is left of a weir's flow when its tailwater stands `tail_m` over the crest."""
    if tail_m <= 0.0 or head_m <= 0.0:
        return 1.0
    return float((1.0 - min(tail_m / head_m, 1.0) ** power) ** 0.385)


@cites("hec22")
def v_notch_flow(head_m: float, angle_deg: float, coefficient: float = 0.58) -> float:
    """Return the flow through a sharp V-notch [m³/s]: 8/15 C sqrt(2g) tan(angle/2) H^2.5."""
    part = 8.0 / 15.0 * coefficient * math.sqrt(2.0 * GRAVITY)
    return float(part * math.tan(math.radians(angle_deg) / 2.0) * max(head_m, 0.0) ** 2.5)


def rectangular_notch_flow(
    head_m: float, length_m: float, coefficient: float = 1.84, contractions: int = 2
) -> float:
    """Return the flow through a sharp rectangular notch [m³/s], after Francis (from memory)."""
    head = max(head_m, 0.0)
    return float(coefficient * max(length_m - 0.1 * contractions * head, 0.0) * head**1.5)


@cites("hec22")
def orifice_flow(head_m: float, area_m2: float, coefficient: float = 0.6) -> float:
    """Return the flow through a drowned opening [m³/s], head over its centre [m]."""
    return coefficient * area_m2 * math.sqrt(2.0 * GRAVITY * max(head_m, 0.0))


def notch_flow(section: Section, head_m: float) -> float:
    """Return the flow over a sill of any section [m³/s]: critical flow, no loss before it.

    For a rectangle it equals the ideal broad-crested weir.
    """
    if head_m <= 0.0:
        return 0.0
    low, high = 0.0, head_m
    for _ in range(60):
        depth = 0.5 * (low + high)
        area, top = section.area_m2(depth), section.top_m(depth)
        energy = depth + (0.5 * area / top if top > 0.0 else 0.0)
        low, high = (depth, high) if energy < head_m else (low, depth)
    area, top = section.area_m2(low), section.top_m(low)
    return area * math.sqrt(GRAVITY * area / top) if top > 0.0 else 0.0


# Level sills ------------------------------------------------------------------------------------

#: Length of level sill per flow [m per m³/s]: rule, second-hand rule, on to forest.
SILL_RULES = {"rule": 107.6, "grass": 139.9, "forest": 430.6}


@cites("ncls")
def sill_length(flow_m3s: float, rule: str = "rule") -> float:
    """Return the length of level sill [m] a flow needs, by the rule for what lies below."""
    if rule not in SILL_RULES:
        raise InputError(f"sill rules are {', '.join(SILL_RULES)}, got {rule!r}")
    return SILL_RULES[rule] * flow_m3s


def sill_error(head_m: float, error_m: float) -> tuple[float, float]:
    """Return how flow changes where the lip lies too low and too high by `error_m`, as ratios."""
    low = ((head_m + error_m) / head_m) ** 1.5 - 1.0
    high = (max(head_m - error_m, 0.0) / head_m) ** 1.5 - 1.0
    return low, high


# Spillways --------------------------------------------------------------------------------------

#: Widths are sought to this [m].
SPILLWAY_WITHIN_M = 0.001


@cites("hec22")
def spillway_flow(head_m: float, width_m: float) -> float:
    """Return the flow [m³/s] of a grassed spillway, from the source's table.

    Interpolated in head^1.5 and width; below the table's heads and beyond its widths in proportion.
    """
    table = resources.toml("hydraulics.toml")["spillway"]
    widths, heads = np.asarray(table["width_m"], float), np.asarray(table["head_m"], float)
    rows = np.asarray(table["flow"], float)
    inside = min(max(width_m, widths[0]), widths[-1])
    at_width = []
    for row in rows:
        known = row >= 0.0
        most = widths[known][-1]
        flow = float(np.interp(min(inside, most), widths[known], row[known]))
        at_width.append(flow * max(inside / most, 1.0))
    power = np.concatenate(([0.0], heads**1.5))
    flow = float(np.interp(max(head_m, 0.0) ** 1.5, power, np.concatenate(([0.0], at_width))))
    if head_m > heads[-1]:
        flow *= (head_m / heads[-1]) ** 1.5
    return float(flow * width_m / inside)


def spillway_width(flow_m3s: float, head_m: float) -> float:
    """Return the width [m] a grassed spillway needs at a head [m]: `spillway_flow` undone."""
    if not (head_m > 0.0 and math.isfinite(flow_m3s)):
        raise InputError(f"a spillway needs a flow and a head, got {flow_m3s} and {head_m}")
    low, high = 0.0, 1.0
    while spillway_flow(head_m, high) < flow_m3s:
        low, high = high, 2.0 * high
    while high - low > SPILLWAY_WITHIN_M:
        middle = 0.5 * (low + high)
        if spillway_flow(head_m, middle) < flow_m3s:
            low = middle
        else:
            high = middle
    return high


@dataclass(frozen=True, slots=True)
class SpillwayRun:
    """Flow on a spillway's control and down its exit channel."""

    critical_speed_m_s: float
    #: Steepest exit channel on which the flow stays slow.
    critical_slope: float
    #: Speed down the exit channel by the source's formula, and by Manning with its depth.
    exit_speed_m_s: float
    exit_depth_m: float
    exit_manning_m_s: float


@cites("hec22")
def spillway_run(
    flow_m3s: float, width_m: float, exit_slope: float, n: float = 0.04, side_z: float = 3.0
) -> SpillwayRun:
    """Return speeds on a grassed spillway; compare them with what the grass bears."""
    if not (flow_m3s > 0.0 and width_m > 0.0 and exit_slope > 0.0):
        raise InputError("a spillway needs flow, width and an exit slope")
    critical = 2.14 * (flow_m3s / width_m) ** (1.0 / 3.0)
    slope = 9.84 * n**2 * (critical * width_m / flow_m3s) ** (1.0 / 3.0)
    speed = critical * (exit_slope / slope) ** 0.3 if exit_slope > slope else critical
    even = normal_depth(Trapezoid.even(width_m, side_z), flow_m3s, exit_slope, n)
    return SpillwayRun(critical, slope, speed, even.depth_m, even.speed_m_s)


# Checks in gullies --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class RockCheck:
    """Rock or log checks in a gully, each standing at the foot of the pond of the one above."""

    spacing_m: float
    count: int
    #: Head over the low middle in the design flow [m], and the least depth of that middle [m].
    head_m: float
    middle_m: float


@cites("common_practice_water")
def rock_check(
    height_m: float, gully_slope: float, length_m: float, flow_m3s: float, weir_m: float
) -> RockCheck:
    """Return how checks stand in a gully: top of each level with the toe of the next above.

    `weir_m`: width of the lowered middle, which passes the flow with 0.15 m to spare.
    """
    if not (height_m > 0.0 and gully_slope > 0.0 and weir_m > 0.0):
        raise InputError("a check needs height, a falling gully and a middle")
    spacing = height_m / gully_slope
    head = weir_head(flow_m3s, weir_m, BROAD)
    return RockCheck(spacing, max(math.ceil(length_m / spacing), 1), head, head + 0.15)


def carries(section: Section, depth_m: float, slope: float, n: float, flow_m3s: float) -> bool:
    """Return whether a channel carries a flow at a depth."""
    return manning_flow(section, depth_m, slope, n).flow_m3s >= flow_m3s
