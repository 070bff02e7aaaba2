"""Runoff and peak flow of anything water comes to, by more than one method."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData
from canvas.base.sources import cites
from canvas.ground.catchment import Catchment, cells_under
from canvas.ground.upstream import upstream
from canvas.study.storm.cover import CoverMap, Ground
from canvas.study.storm.design import DesignRain
from canvas.study.storm.travel import Travel, travel
from canvas.study.waters import AT_LEAST
from canvas.water.hydrographs import Hydrograph, storm_runoff
from canvas.water.peaks import (
    Peak,
    PeakRange,
    graphical_peak,
    rational_coefficient,
    rational_peak,
)
from canvas.water.runoff import Patch, composite_cn, runoff_m3
from canvas.water.storms import TYPES

if TYPE_CHECKING:
    from canvas.study.study import Study

#: Least runoff the peak by the curve number's graph is asked for [mm].
_LEAST_MM = 0.01
#: Runoff coefficients have columns for sandy, loamy and clayey soil.
_SOIL = {"A": 0, "B": 1, "C": 1, "D": 2}
_LIKE = {
    "woods": "woods", "brush": "woods", "orchard": "pasture", "dry_oak": "woods",
    "dry_juniper": "woods", "row_crop": "cultivated", "row_crop_contour": "cultivated",
    "row_crop_terraced": "cultivated", "small_grain_contour": "cultivated", "bare": "cultivated",
    "dirt_road": "cultivated", "gravel_road": "cultivated",
}  # fmt: skip
#: Coefficient of roofs, paving and open water: the upper end of what is published for roofs.
_SEALED = 0.95


@dataclass(frozen=True, slots=True, eq=False)
class PeakAt:
    """What the design storm brings to a place."""

    rain: DesignRain
    catchment: Catchment
    patches: tuple[Patch, ...]
    travel: Travel
    #: Runoff of the whole catchment: the sum over unlike patches.
    runoff_m3: float
    peaks: PeakRange
    #: Flow over time by the unit hydrograph.
    flow: Hydrograph

    @property
    def at_least(self) -> bool:
        """Whether the catchment reaches the data's edge: every figure is then "at least"."""
        return self.catchment.at_least

    @property
    def remark(self) -> str:
        """What to say beside each figure."""
        return AT_LEAST if self.at_least else ""

    @property
    def runoff_mm(self) -> float:
        """Mean depth of runoff."""
        area = self.catchment.area_m2
        return 1000.0 * self.runoff_m3 / area if area > 0 else 0.0

    @property
    def high_m3s(self) -> float:
        """The greatest of the peaks: what a sill or spillway is sized on."""
        return self.peaks.high_m3s


def storm_step_s(tc_h: float, area_m2: float = 0.0) -> float:
    """Return a step that follows a flood's rise: a tenth of its time, 10 s to 5 min."""
    return float(np.clip(tc_h * 360.0, 10.0, 300.0))


def peak_at(study: Study, place: BaseGeometry, years: float | None = None) -> PeakAt:
    """Return runoff and peaks of the design storm at a place, on the designed ground.

    `BadData` says what is missing: rain, or ground.
    """
    rain = study.design_storm(years)
    rain.needed()
    catchment = study.catchment(place, designed=True)
    cover = study.cover()
    if cover is None:
        raise BadData("there is no ground yet", remedy="Bring in a terrain model first.")
    return _peak(study, rain, catchment, cover, place)


def still_true(study: Study, before: Study, ident: str, years: float | None) -> PeakAt | None:
    """Return what an earlier study knows comes to an element, if all of it still holds; else None.

    So that a drag does not work out anew what comes to all that is not dragged.
    """
    found: PeakAt | None = before.known(("peak", ident, years or 0.0))
    if found is None or study.plan.get(ident) is not before.plan.get(ident):
        return None
    same = found.rain is study.design_storm(years) and study.cover() is before.cover()
    return found if same and found.catchment.flow is study.flow(designed=True) else None


def _peak(
    study: Study, rain: DesignRain, found: Catchment, cover: CoverMap, place: BaseGeometry
) -> PeakAt:
    flow = found.flow
    marks = np.zeros(flow.ground.shape, np.int32)
    marks.ravel()[cells_under(flow.ground, place)] = 1
    up = upstream(flow, marks, found.cells)
    way = up.way_from(int(up.farthest()[1]))
    trip = travel(flow, cover, way, up.run_m(way), rain.intensity)
    grounds = cover.patches(found.cells, rain.moisture)
    patches = tuple(patch for _, patch in grounds)
    slope = _mean_slope(study, found)
    off = storm_runoff(patches, rain.needed(), trip.hours, storm_step_s(trip.hours))
    total = runoff_m3(patches, rain.depth_mm)
    peaks = _peaks(rain, found.area_m2, grounds, trip.hours, slope, off, total)
    return PeakAt(rain, found, patches, trip, total, peaks, off)


def _mean_slope(study: Study, found: Catchment) -> float:
    faces = study.terrain.faces()
    if faces is None:
        return 0.0
    slopes = faces[0].z.ravel()[found.cells]
    known = slopes[np.isfinite(slopes)]
    return float(known.mean()) if len(known) else 0.0


@cites("neh630_16", "hec22")
def _peaks(
    rain: DesignRain,
    area_m2: float,
    grounds: tuple[tuple[Ground, Patch], ...],
    tc_h: float,
    slope: float,
    flow: Hydrograph,
    total_m3: float,
) -> PeakRange:
    """Return the peaks by the unit hydrograph, the graphical and the rational method.

    A synthetic storm has a graph of its own. Even or triangular rain says little of how violent a
    storm is: then all graphs count. Alternating blocks hold the table's bursts already.
    """
    found = [Peak(flow.peak_m3s, f"unit hydrograph, {rain.needed().label}", "neh630_16")]
    pattern = rain.record.pattern
    kinds = (pattern,) if pattern in TYPES else () if pattern == "alternating" else TYPES
    day = rain.day_mm
    if day is not None and total_m3 > 0.0:
        patches = [patch for _, patch in grounds]
        # Rain of another length is rarer or commoner by the day: its runoff is reckoned anew.
        depth = 1000.0 * runoff_m3(patches, day) / area_m2
        if depth > _LEAST_MM:
            cn = min(composite_cn(patches), 99.9)
            found += [graphical_peak(area_m2, day, cn, tc_h, kind, runoff=depth) for kind in kinds]
    coefficient = _coefficient(grounds, slope)
    found.append(
        rational_peak(coefficient, rain.intensity(tc_h * 60.0), area_m2, rain.years or 10.0)
    )
    return PeakRange(tuple(found))


def _coefficient(grounds: tuple[tuple[Ground, Patch], ...], slope: float) -> float:
    """Return the area-weighted runoff coefficient."""
    total = weight = 0.0
    for what, patch in grounds:
        if what.cover in ("paved", "water", "paved_road"):
            value = _SEALED
        else:
            like = _LIKE.get(what.cover, "pasture")
            value = rational_coefficient(like, slope, _SOIL[what.group])
        total += value * patch.area_m2
        weight += patch.area_m2
    return total / weight
