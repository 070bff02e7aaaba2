"""Flow over time: unit hydrographs, the runoff of a storm, first sizes of a store."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from canvas.base.errors import InputError
from canvas.base.grid import Floats
from canvas.base.sources import cites
from canvas.water.runoff import Patch, runoff_mm
from canvas.water.storms import Storm


@dataclass(frozen=True, slots=True, eq=False)
class Hydrograph:
    """Flow [m³/s] at equal steps from time 0, straight between, nought after the last."""

    step_s: float
    flow_m3s: Floats

    def __post_init__(self) -> None:
        """Refuse flow that is not."""
        if not self.step_s > 0.0 or self.flow_m3s.ndim != 1 or not len(self.flow_m3s):
            raise InputError("a hydrograph needs a step and at least one flow")
        if not (self.flow_m3s >= 0.0).all():
            raise InputError("flows must not be negative")

    @classmethod
    def none(cls, step_s: float) -> Hydrograph:
        """Return no flow at all."""
        return cls(step_s, np.zeros(1))

    @property
    def time_s(self) -> Floats:
        """Times of the flows [s]."""
        return np.asarray(np.arange(len(self.flow_m3s)) * self.step_s, np.float64)

    @property
    def peak_m3s(self) -> float:
        """The greatest flow."""
        return float(self.flow_m3s.max())

    @property
    def peak_s(self) -> float:
        """When it comes [s]."""
        return float(np.argmax(self.flow_m3s)) * self.step_s

    @property
    def volume_m3(self) -> float:
        """What flows in all, the fall from the last flow to nought counted."""
        q = self.flow_m3s
        return float((q.sum() - 0.5 * q[0]) * self.step_s)

    def at(self, time_s: ArrayLike) -> Floats:
        """Return the flow at these times."""
        return np.asarray(
            np.interp(np.asarray(time_s, np.float64), self.time_s, self.flow_m3s, right=0.0)
        )

    def plus(self, other: Hydrograph) -> Hydrograph:
        """Return both together; their steps must agree."""
        if abs(self.step_s - other.step_s) > 1e-9 * self.step_s:
            raise InputError(f"steps of {self.step_s} and {other.step_s} s do not go together")
        total = np.zeros(max(len(self.flow_m3s), len(other.flow_m3s)))
        total[: len(self.flow_m3s)] += self.flow_m3s
        total[: len(other.flow_m3s)] += other.flow_m3s
        return Hydrograph(self.step_s, total)


#: Dimensionless unit hydrograph: time over time to peak, flow over peak flow.
_TIMES = np.concatenate((np.arange(0.0, 2.0, 0.1), np.arange(2.0, 4.01, 0.2), [4.5, 5.0]))
_FLOWS = np.array([
    0.000, 0.030, 0.100, 0.190, 0.310, 0.470, 0.660, 0.820, 0.930, 0.990,
    1.000, 0.990, 0.930, 0.860, 0.780, 0.680, 0.560, 0.460, 0.390, 0.330,
    0.280, 0.207, 0.147, 0.107, 0.077, 0.055, 0.040, 0.029, 0.021, 0.015, 0.011,
    0.005, 0.000,
])  # fmt: skip
#: Peak of a triangular unit hydrograph [m³/s per km² and mm, hours].
UNIT_PEAK = 0.2083


@cites("hec22")
def triangle_peak(area_m2: float, runoff: float, to_peak_h: float) -> float:
    """Return the peak [m³/s] of the triangle for a runoff [mm] and a time to peak [h].

    The source prints ten times the constant, which fits runoff in centimetres.
    """
    return UNIT_PEAK * area_m2 / 1e6 * runoff / to_peak_h


@cites("hec22")
def to_peak_short_h(tc_h: float) -> float:
    """Return the time to peak [h] as two thirds of the time of concentration."""
    return 2.0 / 3.0 * tc_h


@cites("neh630_16")
def to_peak_h(tc_h: float, burst_h: float | None = None) -> float:
    """Return the time to peak [h]: half the burst of rain plus the lag of 0.6 tc.

    The burst is 0.133 tc when not given.
    """
    burst = 0.133 * tc_h if burst_h is None else burst_h
    return burst / 2.0 + 0.6 * tc_h


@cites("neh630_16")
def unit_hydrograph(tc_h: float, step_s: float, *, triangle: bool = False) -> Floats:
    """Return the shares of a burst of runoff that leave in each step, summing to exactly 1.

    By the curvilinear unit hydrograph, or the triangle (base 8/3 of the time to peak).
    """
    if not (tc_h > 0.0 and step_s > 0.0):
        raise InputError(f"a unit hydrograph needs tc and a step, got {tc_h} h, {step_s} s")
    peak_s = to_peak_h(tc_h, step_s / 3600.0) * 3600.0
    t, q = (np.array([0.0, 1.0, 8.0 / 3.0]), np.array([0.0, 1.0, 0.0])) if triangle else (
        _TIMES, _FLOWS
    )  # fmt: skip
    fine = np.linspace(0.0, t[-1], 2001)
    area = np.concatenate(
        ([0.0], np.cumsum(np.interp(fine[1:], t, q) + np.interp(fine[:-1], t, q)))
    )
    count = int(np.ceil(t[-1] * peak_s / step_s)) + 1
    # What has left by the middle of each step, so that flows stand at whole steps.
    edges = (np.arange(count + 1) - 0.5) * step_s / peak_s
    left = np.interp(edges, fine, area / area[-1])
    left[-1] = 1.0
    return np.diff(left)


def storm_runoff(
    patches: Iterable[Patch],
    storm: Storm,
    tc_h: float,
    step_s: float = 60.0,
    *,
    triangle: bool = False,
) -> Hydrograph:
    """Return the flow off a catchment: its patches' runoff led through the unit hydrograph.

    Its volume equals the sum of the patches' runoff.
    """
    count = int(np.ceil(storm.length_s / step_s - 1e-9))
    fallen = storm.at(np.arange(count + 1) * step_s)
    made = np.zeros(count)
    for patch in patches:
        made += np.diff(runoff_mm(fallen, patch.cn)) * patch.area_m2 / 1000.0
    spread = unit_hydrograph(tc_h, step_s, triangle=triangle)
    # A burst in step i leaves from its end on, in flows at whole steps.
    flow = np.convolve(made, spread) / step_s
    return Hydrograph(step_s, np.maximum(np.concatenate(([0.0], flow)), 0.0))


@cites("hec22")
def detention_m3(time_s: float, inflow_m3s: float, outflow_m3s: float) -> float:
    """Return a first size [m³] of a store that lowers a peak; `time_s` is the inflow's base.

    Methods scatter by a factor of two: route the hydrograph for design.
    """
    return 0.5 * time_s * max(inflow_m3s - outflow_m3s, 0.0)
