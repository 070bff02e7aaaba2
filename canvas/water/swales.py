"""Swales, banks and terraces: storage, spacing, soaking away, level errors."""

from __future__ import annotations

import math
from dataclasses import dataclass

from canvas.base.errors import InputError
from canvas.base.sources import cites
from canvas.water.sections import Section
from canvas.water.soak import drawdown_h

#: Longest a swale may stand full [h]: mosquitoes, tree collars. Common practice.
LONGEST_FULL_H = 48.0
#: Least freeboard of a swale's bank over the design water [m].
LEAST_FREEBOARD_M = 0.15
#: Steepest land for a level ditch that holds water, without an opinion on the slope's stability.
STEEPEST_LEVEL = 0.25


@dataclass(frozen=True, slots=True)
class Bank:
    """An earth bank, settled: top width, height, and both slopes (horizontal : vertical)."""

    top_m: float
    height_m: float
    up_z: float
    down_z: float

    def area_m2(self, settlement: float = 0.0) -> float:
        """Return the area of its section, built higher by the settlement (a share of height)."""
        h = self.height_m * (1.0 + settlement)
        return self.top_m * h + 0.5 * (self.up_z + self.down_z) * h**2

    def cut_m2(self, compaction: float, settlement: float = 0.0) -> float:
        """Return the section to be dug for it, in the ground's own volume."""
        if not compaction > 0.0:
            raise InputError("compaction must be above 0")
        return self.area_m2(settlement) / compaction

    @property
    def base_m(self) -> float:
        """Width of its foot on level ground."""
        return self.top_m + (self.up_z + self.down_z) * self.height_m


@dataclass(frozen=True, slots=True)
class Swale:
    """A level ditch with a bank: its section, depth to the sill, freeboard of the bank above it."""

    section: Section
    depth_m: float
    freeboard_m: float = LEAST_FREEBOARD_M

    @property
    def storage_m3_m(self) -> float:
        """What it holds to its sill, per metre."""
        return self.section.area_m2(self.depth_m)

    def storage_with_error(self, error_m: float) -> float:
        """Return what is left of the storage, as a ratio, when its lip is low by `error_m`."""
        return self.section.area_m2(max(self.depth_m - error_m, 0.0)) / self.storage_m3_m

    def drawdown_h(self, rate_mm_h: float) -> float:
        """Return the hours until it has soaked away."""
        return drawdown_h(self.section, self.depth_m, rate_mm_h)


def spacing_m(storage_m3_m: float, runoff: float) -> float:
    """Return the distance [m] across the slope at which swales hold the whole runoff [mm]."""
    if not runoff > 0.0:
        return math.inf
    return 1000.0 * storage_m3_m / runoff


def spacing_with_rain_m(
    storage_m3_m: float, runoff: float, rain_mm: float, swale_m: float
) -> float:
    """Return the distance [m], centre to centre, when rain also falls into swales of a width."""
    if not runoff > 0.0:
        return math.inf
    left = 1000.0 * storage_m3_m - rain_mm * swale_m
    return swale_m + max(left, 0.0) / runoff


def along_slope_m(horizontal_m: float, slope: float) -> float:
    """Return the distance along the ground."""
    return horizontal_m * math.hypot(1.0, slope)


# Vertical intervals, by erosion rather than storage -------------------------------------


@cites("cps600")
def interval_terrace_m(slope: float, x: float, y: float) -> float:
    """Return the drop between terraces [m]: 0.3048 (x S + y), S in %; from memory.

    x 0.4 to 0.8 by rain, y 1.0, 2.5 or 4.0 by how well soil and cover resist.
    """
    return 0.3048 * (x * 100.0 * slope + y)


@cites("nptel_ramser")
def interval_ramser_m(slope: float) -> float:
    """Return Ramser's drop between bunds [m]."""
    return 0.3 * (100.0 * slope / 3.0 + 2.0)


@cites("fao13_3")
def interval_hillside_m(slope: float, *, wide: bool = False) -> float:
    """Return the drop between hillside ditches [m]: (S + 4) / 10 or, wide, (S + 6) / 10."""
    return (100.0 * slope + (6.0 if wide else 4.0)) / 10.0


def horizontal_m(interval_m: float, slope: float) -> float:
    """Return the horizontal distance of a drop."""
    return interval_m / slope


@dataclass(frozen=True, slots=True)
class BenchTerrace:
    """Benches down a slope, cut and fill in balance."""

    interval_m: float
    riser_run_m: float
    spacing_m: float
    length_m_ha: float
    bench_m2_ha: float
    cut_m3_m: float
    cut_m3_ha: float


@cites("fao13_3")
def bench_terrace(slope: float, bench_m: float, riser_z: float) -> BenchTerrace:
    """Return the measures of bench terraces: bench width, risers of `riser_z` : 1."""
    if not 1.0 - slope * riser_z > 0.0:
        raise InputError("risers flatter than the slope leave no bench")
    interval = slope * bench_m / (1.0 - slope * riser_z)
    run = riser_z * interval
    spacing = bench_m + run
    length = 1e4 / spacing
    cut = interval * bench_m / 8.0
    return BenchTerrace(interval, run, spacing, length, length * bench_m, cut, cut * length)


@cites("critchley1991")
def catchment_ratio(need_mm: float, rain_mm: float, coefficient: float, efficiency: float) -> float:
    """Return the area that must feed each area of crop."""
    return (need_mm - rain_mm) / (rain_mm * coefficient * efficiency)
