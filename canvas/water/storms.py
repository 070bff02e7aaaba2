"""A storm: how a depth of rain falls over time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from canvas.base import resources
from canvas.base.errors import BadData, InputError
from canvas.base.grid import Floats
from canvas.base.sources import cites
from canvas.water.rain import RainTable
from canvas.water.runoff import runoff_mm

#: The synthetic 24-hour storms, mildest first.
TYPES = ("IA", "I", "III", "II")


@dataclass(frozen=True, slots=True, eq=False)
class Storm:
    """Rain over time: `fallen_mm` (n,) since the start at `time_s` (n,), straight between."""

    time_s: Floats
    fallen_mm: Floats
    label: str = ""
    #: Where the pattern comes from: a key of the sources table; "" for a plain shape.
    source: str = ""

    def __post_init__(self) -> None:
        """Refuse rain that falls upward or back in time."""
        t, p = self.time_s, self.fallen_mm
        if t.shape != p.shape or t.ndim != 1 or len(t) < 2 or t[0] != 0.0 or p[0] != 0.0:
            raise InputError("a storm starts with nothing at time 0 and goes on from there")
        if not ((np.diff(t) > 0).all() and (np.diff(p) >= 0).all()):
            raise InputError("times must rise and rain must not be taken back")

    @property
    def depth_mm(self) -> float:
        """All the rain of the storm [mm]."""
        return float(self.fallen_mm[-1])

    @property
    def length_s(self) -> float:
        """How long it lasts [s]."""
        return float(self.time_s[-1])

    def at(self, time_s: ArrayLike) -> Floats:
        """Return the rain fallen by these times [mm]."""
        return np.asarray(np.interp(np.asarray(time_s, np.float64), self.time_s, self.fallen_mm))

    def steps(self, step_s: float) -> Floats:
        """Return the rain of each step from the start [mm]; they sum to the storm's depth."""
        count = int(np.ceil(self.length_s / step_s - 1e-9))
        return np.diff(self.at(np.arange(count + 1) * step_s))

    def excess(self, cn: float, time_s: ArrayLike) -> Floats:
        """Return the runoff made by these times [mm] on ground of one curve number."""
        return runoff_mm(self.at(time_s), cn)

    @property
    def peak_mm_h(self) -> float:
        """The heaviest rate [mm/h]."""
        return float((np.diff(self.fallen_mm) / np.diff(self.time_s)).max() * 3600.0)

    def times(self, factor: float) -> Storm:
        """Return the same storm with every depth multiplied."""
        return replace(self, fallen_mm=self.fallen_mm * factor)


def _shaped(depth_mm: float, hours: float, at: ArrayLike, share: ArrayLike, label: str,
            source: str = "") -> Storm:  # fmt: skip
    if not (depth_mm >= 0.0 and hours > 0.0):
        raise InputError(f"a storm of {depth_mm} mm in {hours} h")
    time = np.asarray(at, float) * hours * 3600.0
    return Storm(time, np.asarray(share, float) * depth_mm, label, source)


def uniform(depth_mm: float, hours: float) -> Storm:
    """Return rain that falls evenly."""
    return _shaped(depth_mm, hours, [0.0, 1.0], [0.0, 1.0], "even rain")


def triangular(depth_mm: float, hours: float, peak_at: float = 0.375) -> Storm:
    """Return rain that rises evenly to a peak and falls evenly; `peak_at` is a share of its length.

    The rate is triangular: the depth is drawn with 240 straight pieces, exact at their ends.
    """
    if not 0.0 <= peak_at <= 1.0:
        raise InputError(f"the peak lies within the storm, got {peak_at}")
    x = np.unique(np.append(np.linspace(0.0, 1.0, 241), peak_at))
    rising = np.divide(x**2, peak_at, out=np.zeros_like(x), where=peak_at > 0.0)
    falling = 1.0 - (1.0 - x) ** 2 / (1.0 - peak_at) if peak_at < 1.0 else rising
    share = np.where(x < peak_at, rising, falling)
    share[0] = 0.0
    return _shaped(depth_mm, hours, x, share, "triangular rain")


@cites("chow1988")
def synthetic(depth_mm: float, hours: float = 24.0, kind: str = "I") -> Storm:
    """Return a synthetic storm of type I, IA, II or III.

    The pattern is of 24 hours; a shorter storm takes the stretch of it that holds the most rain.
    """
    table = resources.toml("storms.toml")["pattern"]
    if kind not in TYPES:
        raise InputError(f"storm types are {', '.join(TYPES)}, got {kind!r}")
    if not 0.0 < hours <= 24.0:
        raise BadData(
            f"A synthetic storm lasts up to 24 hours, not {hours:g}.",
            remedy="Choose even or alternating rain for a longer one.",
        )
    t, share = np.asarray(table[kind]["hours"], float), np.asarray(table[kind]["share"], float)
    starts = np.clip(np.concatenate((t, t - hours)), 0.0, 24.0 - hours)
    held = np.interp(starts + hours, t, share) - np.interp(starts, t, share)
    start = float(starts[int(np.argmax(held))])
    inside = t[(t > start) & (t < start + hours)]
    at = np.concatenate(([start], inside, [start + hours]))
    part = np.interp(at, t, share)
    part = (part - part[0]) / (part[-1] - part[0])
    return _shaped(depth_mm, hours, (at - start) / hours, part, f"type {kind}", table["source"])


def alternating(table: RainTable, years: float, hours: float, step_min: float = 5.0,
                peak_at: float = 0.5) -> Storm:  # fmt: skip
    """Return the storm that holds the table's depth for every duration around its peak.

    The depths of 1, 2, 3 … steps give blocks; the largest stands at `peak_at`, the rest
    alternately after and before it.
    """
    count = max(round(hours * 60.0 / step_min), 1)
    depths = np.array([table.depth(step_min * (i + 1), years) for i in range(count)])
    blocks = np.diff(depths, prepend=0.0)
    if (blocks < 0.0).any():
        raise InputError("the rain table's depths fall with duration")
    blocks = np.sort(blocks)[::-1]
    placed = np.zeros(count)
    centre = min(int(peak_at * count), count - 1)
    after, before = centre, centre - 1
    for i, block in enumerate(blocks):
        take_after = (i % 2 == 0 and after < count) or before < 0
        if take_after:
            placed[after] = block
            after += 1
        else:
            placed[before] = block
            before -= 1
    time = np.arange(count + 1) * step_min * 60.0
    fallen = np.concatenate(([0.0], np.cumsum(placed)))
    return Storm(
        np.asarray(time, np.float64),
        np.asarray(fallen, np.float64),
        f"alternating blocks, {years:g} years",
    )


def own(minutes: Sequence[float], rain_mm: Sequence[float]) -> Storm:
    """Return a storm from the owner's gauge: rain fallen in each stretch up to the given minute."""
    t, p = np.asarray(minutes, float), np.asarray(rain_mm, float)
    if t.shape != p.shape or len(t) == 0:
        raise BadData("A storm needs as many depths as times.")
    if t[0] == 0.0:
        if p[0] != 0.0:
            raise BadData("Nothing can have fallen by minute 0.")
        t, p = t[1:], p[1:]
    if len(t) == 0 or not (np.diff(t, prepend=0.0) > 0.0).all():
        raise BadData("The times of a storm must rise from one to the next.")
    if not (np.isfinite(p).all() and (p >= 0.0).all()):
        raise BadData("Rain of a storm must be nought or more in every stretch.")
    fallen = np.concatenate(([0.0], np.cumsum(p)))
    return Storm(np.concatenate(([0.0], t * 60.0)), fallen, "own record")
