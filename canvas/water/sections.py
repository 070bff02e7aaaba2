"""Cross-sections of swales, drains and channels, and how water runs in them."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from canvas.base import resources
from canvas.base.errors import InputError
from canvas.base.sources import cites

GRAVITY = 9.81


class Section(Protocol):
    """A cross-section, asked at a depth of water [m]."""

    def area_m2(self, depth_m: float) -> float:
        """Return the wetted area: also the volume per metre of length."""

    def top_m(self, depth_m: float) -> float:
        """Return the width of the water's surface."""

    def wetted_m(self, depth_m: float) -> float:
        """Return the wetted perimeter."""


@dataclass(frozen=True, slots=True)
class Trapezoid:
    """A flat bottom between two slopes of `z` (horizontal : vertical), which may differ."""

    bottom_m: float
    left_z: float
    right_z: float

    def __post_init__(self) -> None:
        """Refuse what holds nothing."""
        if min(self.bottom_m, self.left_z, self.right_z) < 0.0 or not (
            self.bottom_m + self.left_z + self.right_z > 0.0
        ):
            raise InputError(f"no trapezoid: {self}")

    @classmethod
    def even(cls, bottom_m: float, z: float) -> Trapezoid:
        """Return a trapezoid with equal sides."""
        return cls(bottom_m, z, z)

    def area_m2(self, depth_m: float) -> float:
        """Return the wetted area."""
        return (self.bottom_m + 0.5 * (self.left_z + self.right_z) * depth_m) * depth_m

    def top_m(self, depth_m: float) -> float:
        """Return the width of the water's surface."""
        return self.bottom_m + (self.left_z + self.right_z) * depth_m

    def wetted_m(self, depth_m: float) -> float:
        """Return the wetted perimeter."""
        sides = math.hypot(1.0, self.left_z) + math.hypot(1.0, self.right_z)
        return self.bottom_m + sides * depth_m


@dataclass(frozen=True, slots=True)
class Parabola:
    """A rounded section, `top_m` wide where it is `full_m` deep."""

    full_top_m: float
    full_m: float

    def __post_init__(self) -> None:
        """Refuse what holds nothing."""
        if not (self.full_top_m > 0.0 and self.full_m > 0.0):
            raise InputError(f"no parabola: {self}")

    def area_m2(self, depth_m: float) -> float:
        """Return the wetted area."""
        return 2.0 / 3.0 * self.top_m(depth_m) * depth_m

    def top_m(self, depth_m: float) -> float:
        """Return the width of the water's surface."""
        return self.full_top_m * math.sqrt(max(depth_m, 0.0) / self.full_m)

    def wetted_m(self, depth_m: float) -> float:
        """Return the wetted perimeter, exactly."""
        if depth_m <= 0.0:
            return 0.0
        half = 0.5 * self.top_m(depth_m)
        x = 2.0 * depth_m / half
        return half * (math.hypot(1.0, x) + math.asinh(x) / x)


@dataclass(frozen=True, slots=True)
class Wedge:
    """Water held by a bank on a plain slope, nothing dug; bank face `z` : 1."""

    slope: float
    z: float

    def __post_init__(self) -> None:
        """Refuse level ground: the wedge would have no end."""
        if not (self.slope > 0.0 and self.z >= 0.0):
            raise InputError(f"no wedge: {self}")

    def area_m2(self, depth_m: float) -> float:
        """Return the wetted area."""
        return 0.5 * depth_m**2 * (1.0 / self.slope + self.z)

    def top_m(self, depth_m: float) -> float:
        """Return the width of the water's surface."""
        return depth_m * (1.0 / self.slope + self.z)

    def wetted_m(self, depth_m: float) -> float:
        """Return the wetted perimeter."""
        return depth_m * (math.hypot(1.0, self.slope) / self.slope + math.hypot(1.0, self.z))


@dataclass(frozen=True, slots=True)
class Pipe:
    """A round pipe running part full."""

    bore_m: float

    def _angle(self, depth_m: float) -> float:
        return 2.0 * math.acos(min(max(1.0 - 2.0 * depth_m / self.bore_m, -1.0), 1.0))

    def area_m2(self, depth_m: float) -> float:
        """Return the wetted area."""
        angle = self._angle(depth_m)
        return self.bore_m**2 / 8.0 * (angle - math.sin(angle))

    def top_m(self, depth_m: float) -> float:
        """Return the width of the water's surface."""
        return self.bore_m * math.sin(0.5 * self._angle(depth_m))

    def wetted_m(self, depth_m: float) -> float:
        """Return the wetted perimeter."""
        return 0.5 * self.bore_m * self._angle(depth_m)


# Flow -----------------------------------------------------------------------------------


def roughnesses() -> dict[str, float]:
    """Return Manning's n by lining."""
    return dict(resources.toml("hydraulics.toml")["manning"]["n"])


@dataclass(frozen=True, slots=True)
class ChannelFlow:
    """Even flow in a channel."""

    flow_m3s: float
    depth_m: float
    speed_m_s: float
    #: Mean shear on the deepest bed [Pa].
    shear_pa: float
    #: Speed over that of a wave: above 1 the flow shoots.
    froude: float


@cites("hec22")
def manning_flow(section: Section, depth_m: float, slope: float, n: float) -> ChannelFlow:
    """Return the even flow at a depth, by Manning."""
    area, wetted = section.area_m2(depth_m), section.wetted_m(depth_m)
    if not (area > 0.0 and wetted > 0.0):
        return ChannelFlow(0.0, 0.0, 0.0, 0.0, 0.0)
    speed = (area / wetted) ** (2.0 / 3.0) * math.sqrt(slope) / n
    wave = math.sqrt(GRAVITY * area / max(section.top_m(depth_m), 1e-9))
    return ChannelFlow(speed * area, depth_m, speed, 1000 * GRAVITY * depth_m * slope, speed / wave)


def solve(function: Callable[[float], float], target: float, high: float) -> float:
    """Return x in 0..high where a rising function reaches the target, by halving."""
    low = 0.0
    for _ in range(80):
        middle = 0.5 * (low + high)
        if function(middle) < target:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def normal_depth(section: Section, flow_m3s: float, slope: float, n: float) -> ChannelFlow:
    """Return the even flow that carries `flow_m3s`: its depth, speed and shear.

    What no depth up to a kilometre carries (a pipe beyond its fill, a slot) stands that deep, and
    its flow is less than asked.
    """
    if not (slope > 0.0 and n > 0.0 and flow_m3s >= 0.0):
        raise InputError(f"no even flow: {flow_m3s} m³/s on {slope}, n {n}")
    high = 0.01
    while manning_flow(section, high, slope, n).flow_m3s < flow_m3s and high < 1e3:
        high *= 2.0
    depth = solve(lambda d: manning_flow(section, d, slope, n).flow_m3s, flow_m3s, high)
    return manning_flow(section, depth, slope, n)


def critical_depth(section: Section, flow_m3s: float) -> float:
    """Return the depth at which the flow runs as fast as its own waves [m]."""

    def carried(depth: float) -> float:
        area = section.area_m2(depth)
        return area * math.sqrt(GRAVITY * area / max(section.top_m(depth), 1e-12))

    high = 0.01
    while carried(high) < flow_m3s and high < 1e3:
        high *= 2.0
    return solve(carried, flow_m3s, high)


def permissible_speed(
    lining: str, slope: float, loose: bool, *, chance: float = 1.0
) -> float | None:
    """Return the speed [m/s] a lining bears; None where it is not to be used.

    `loose`: the soil washes easily. `chance` of flowing in a year: a spillway that runs at most
    every 50 or 100 years may bear 10 or 25 % more.
    """
    table = resources.toml("hydraulics.toml")["velocity"]
    if lining not in linings():
        raise InputError(f"no such lining: {lining!r}")
    row = table[lining]["loose" if loose else "firm"]
    speed = float(row[0 if slope <= 0.05 else 1 if slope <= 0.10 else 2])
    if speed < 0.0:
        return None
    return speed * (1.25 if chance <= 0.01 else 1.1 if chance <= 0.02 else 1.0)


def linings() -> dict[str, str]:
    """Return the linings of the table of permissible speeds: key and label."""
    table = resources.toml("hydraulics.toml")["velocity"]
    return {key: row["label"] for key, row in table.items() if isinstance(row, dict)}
