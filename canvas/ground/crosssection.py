"""Cross-sections: what an earthwork asks of the ground at a distance from its line or outline."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from canvas.base.errors import InputError
from canvas.base.grid import Floats
from canvas.base.sources import cites

#: How far a batter may run before it is said not to meet the ground [m].
FAR_M = 500.0
#: A bound that binds nowhere on Earth [m].
FREE_M = 1e6
#: Straight pieces half a parabola is drawn with.
PIECES = 16


@dataclass(frozen=True, slots=True, eq=False)
class CrossSection:
    """Two bounds on the ground, as heights above a reference level against a distance `u`.

    Ground below `low` is filled up to it, ground above `high` is cut down to it, and between
    them it stays. Where both agree the ground is shaped exactly: that stretch, `core_m`, is what
    the earthwork is for. Each bound is (points, 2): distance, height; distances rise, and two
    alike are a vertical step. Beyond its ends a bound keeps its last height.
    """

    low: Floats
    high: Floats
    #: Distances between which the ground is shaped, or filling or digging starts.
    core_m: tuple[float, float]

    def __post_init__(self) -> None:
        """Refuse bounds that run backwards."""
        for bound in (self.low, self.high):
            if bound.ndim != 2 or bound.shape[1] != 2 or len(bound) < 2:
                raise InputError(f"a bound needs (points, 2), got {bound.shape}")
            if np.any(np.diff(bound[:, 0]) < 0):
                raise InputError("a bound's distances must rise")

    def mirrored(self) -> CrossSection:
        """Return the section seen from the other end of the line."""
        low, high = self.low[::-1] * (-1, 1), self.high[::-1] * (-1, 1)
        return CrossSection(low.copy(), high.copy(), (-self.core_m[1], -self.core_m[0]))

    def heights(self, u_m: Floats | float, ground_m: Floats | float) -> Floats:
        """Return what becomes of ground heights [m above the reference] at distances `u_m`."""
        low = np.interp(u_m, self.low[:, 0], self.low[:, 1])
        high = np.interp(u_m, self.high[:, 0], self.high[:, 1])
        return np.asarray(np.minimum(np.maximum(ground_m, low), high))


def bound(points: Sequence[tuple[float, float]]) -> Floats:
    """Return a bound from (distance, height) pairs."""
    return np.array(points, dtype=np.float64)


def run_out(u_m: float, v_m: float, rise_per_m: float, side: int) -> tuple[float, float]:
    """Return the far end of a straight batter that leaves (u, v) to one side (+1 or -1)."""
    return u_m + side * FAR_M, v_m + rise_per_m * FAR_M


@dataclass(frozen=True, slots=True)
class Batters:
    """Slopes of earth, run per rise: cut above the work, fill below it."""

    cut: float
    #: None where no fill is placed: the ground below stays as it is.
    fill: float | None

    def __post_init__(self) -> None:
        """Refuse slopes no earth can have."""
        if self.cut < 0 or (self.fill is not None and self.fill <= 0):
            raise InputError(f"a batter is run per rise above 0, got {self.cut}, {self.fill}")

    @property
    def cut_rise(self) -> float:
        """Rise per metre of the cut; a sheer face is taken as 50 to 1."""
        return 1.0 / max(self.cut, 0.02)

    def lower(self, points: Sequence[tuple[float, float]]) -> Floats:
        """Return the lower bound along a bench's points, the fill's slopes at both ends.

        Where no fill is placed it binds nowhere: low ground stays low, under the bench too.
        """
        (left, a), (right, b) = points[0], points[-1]
        if self.fill is None:
            return bound([(left - FAR_M, -FREE_M), (right + FAR_M, -FREE_M)])
        fall = -1.0 / self.fill
        return bound([run_out(left, a, fall, -1), *points, run_out(right, b, fall, 1)])

    def upper(self, points: Sequence[tuple[float, float]]) -> Floats:
        """Return the upper bound along a bench's points, the cut's slopes at both ends."""
        (left, a), (right, b) = points[0], points[-1]
        rise = self.cut_rise
        return bound([run_out(left, a, rise, -1), *points, run_out(right, b, rise, 1)])


def bench(half_m: float, batters: Batters, crossfall: float = 0.0) -> CrossSection:
    """Return a bench 2 x `half_m` wide: level, or falling to the right by `crossfall`."""
    points = [(-half_m, half_m * crossfall), (half_m, -half_m * crossfall)]
    return CrossSection(batters.lower(points), batters.upper(points), (-half_m, half_m))


def rim(batters: Batters) -> CrossSection:
    """Return what lies outside an outline (`u` > 0) at the reference level: batters only."""
    # Inside, however far from the outline, the pad is level.
    points = [(-2 * FAR_M, 0.0), (0.0, 0.0)]
    low, high = batters.lower(points), batters.upper(points)
    return CrossSection(low[1:] if batters.fill else low, high[1:], (-2 * FAR_M, 0.0))


@dataclass(frozen=True, slots=True)
class Trapezoid:
    """A channel with a flat bottom and straight sides."""

    bottom_m: float
    depth_m: float
    #: Run per rise of both sides.
    side: float

    def __post_init__(self) -> None:
        """Refuse a channel that holds nothing."""
        if self.bottom_m < 0 or self.depth_m <= 0 or self.side < 0 or self.top_m <= 0:
            raise InputError(f"not a channel: {self}")

    @property
    def top_m(self) -> float:
        """Width at the lip."""
        return self.bottom_m + 2 * self.side * self.depth_m

    @property
    def side_run(self) -> float:
        """Run per rise of the side at the lip."""
        return self.side

    @cites("chow1959")
    def area_m2(self, depth_m: float) -> float:
        """Return the wetted area at a depth of water; the sides go on beyond the lip."""
        return self.bottom_m * depth_m + self.side * depth_m**2

    def width_m(self, depth_m: float) -> float:
        """Return the water's width at a depth."""
        return self.bottom_m + 2 * self.side * depth_m

    def wetted_m(self, depth_m: float) -> float:
        """Return the wetted perimeter at a depth."""
        return self.bottom_m + 2 * depth_m * math.hypot(1.0, self.side)

    def shape(self) -> list[tuple[float, float]]:
        """Return (distance from the middle, height from the lip), left lip to right lip."""
        half, edge = self.bottom_m / 2, self.top_m / 2
        return [(-edge, 0.0), (-half, -self.depth_m), (half, -self.depth_m), (edge, 0.0)]


@dataclass(frozen=True, slots=True)
class Parabola:
    """A channel with a rounded bottom, as a blade leaves it."""

    top_m: float
    depth_m: float

    def __post_init__(self) -> None:
        """Refuse a channel that holds nothing."""
        if self.top_m <= 0 or self.depth_m <= 0:
            raise InputError(f"not a channel: {self}")

    @property
    def side_run(self) -> float:
        """Run per rise of the side at the lip, where a straight batter takes over."""
        return self.top_m / (4 * self.depth_m)

    def width_m(self, depth_m: float) -> float:
        """Return the water's width at a depth; above the lip the batter goes on straight."""
        inside = min(depth_m, self.depth_m)
        width = self.top_m * math.sqrt(max(inside, 0.0) / self.depth_m)
        return width + 2 * self.side_run * max(depth_m - self.depth_m, 0.0)

    @cites("chow1959")
    def area_m2(self, depth_m: float) -> float:
        """Return the wetted area at a depth."""
        inside = min(depth_m, self.depth_m)
        above = max(depth_m - self.depth_m, 0.0)
        area = 2 / 3 * self.top_m * math.sqrt(max(inside, 0.0) / self.depth_m) * inside
        return area + above * (self.top_m + self.side_run * above)

    def wetted_m(self, depth_m: float) -> float:
        """Return the wetted perimeter at a depth: the arc, exactly."""
        inside = min(depth_m, self.depth_m)
        if inside <= 0:
            return 0.0
        half = self.width_m(inside) / 2
        steep = 2 * inside / half
        root = math.hypot(1.0, steep)
        arc = half * (root + math.asinh(steep) / steep)
        above = max(depth_m - self.depth_m, 0.0)
        return arc + 2 * above * math.hypot(1.0, self.side_run)

    def shape(self) -> list[tuple[float, float]]:
        """Return (distance from the middle, height from the lip), left lip to right lip."""
        u = np.linspace(-1.0, 1.0, 2 * PIECES + 1)
        pairs = zip(u * self.top_m / 2, (u**2 - 1.0) * self.depth_m, strict=True)
        return [(float(a), float(b)) for a, b in pairs]


Channel = Trapezoid | Parabola


@cites("chow1959")
def hydraulic_radius_m(channel: Channel, depth_m: float) -> float:
    """Return area over wetted perimeter at a depth."""
    return channel.area_m2(depth_m) / channel.wetted_m(depth_m)


def wedge_area_m2(height_m: float, slope: float, face: float) -> float:
    """Return the water held behind a bank on plain ground without digging [m³ per m].

    `slope` is the ground's (ratio), `face` the bank's wet face (run per rise).
    """
    if slope <= 0:
        raise InputError(f"a wedge needs falling ground, got slope {slope}")
    return height_m**2 / 2 * (1 / slope + face)


@dataclass(frozen=True, slots=True)
class BankSection:
    """A bank of earth: flat top, inner (wet) and outer face."""

    top_m: float
    height_m: float
    inner: float
    outer: float

    def __post_init__(self) -> None:
        """Refuse a bank that isn't one."""
        if self.top_m < 0 or self.height_m < 0 or self.inner < 0 or self.outer <= 0:
            raise InputError(f"not a bank: {self}")

    def area_m2(self, settlement: float = 0.0) -> float:
        """Return the area above level ground, built higher by a share to settle to its height."""
        built = self.height_m * (1 + settlement)
        return self.top_m * built + (self.inner + self.outer) / 2 * built**2
