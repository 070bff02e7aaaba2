"""Flow shared between two neighbours: true directions of fall, contributing area, wetness."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from canvas.base.errors import InputError
from canvas.base.grid import Floats, Grid
from canvas.base.pool import over_rows
from canvas.base.sources import cites
from canvas.ground import spread_kernels as kernels
from canvas.ground.flood import steps_of
from canvas.ground.flow import Flow
from canvas.ground.surface import slope_aspect

#: The least slope (rise over run) wetness is reckoned with: level ground would be infinitely wet.
LEAST_SLOPE = 0.001


@dataclass(frozen=True, slots=True, eq=False)
class Spread:
    """Flow in any direction, each cell's shared between the two neighbours nearest to it."""

    #: Azimuth of the flow, degrees clockwise from grid north in [0, 360). NaN where water leaves
    #: the data and where there are none.
    azimuth_deg: Grid
    #: Plan area that drains through each cell, itself included.
    area_m2: Grid

    def specific_m(self) -> Grid:
        """Return the area that drains through each metre of contour [m²/m]."""
        return self.area_m2.like(self.area_m2.z / self.area_m2.cell_m)


@cites("tarboton1997")
def spread(flow: Flow) -> Spread:
    """Return true flow directions and the areas that gather along them (D-infinity).

    Water falls along the steepest of the eight triangular facets around a cell of the filled
    surface. On level ground and in hollows it goes the one way `flow` has it.
    """
    azimuth = _azimuth(flow)
    known = flow.count > 0
    area = np.where(known, flow.ground.cell_m**2, 0.0)
    kernels.share_down(azimuth.z.ravel(), steps_of(flow.ground.shape[1]), area.ravel())
    area[~known] = np.nan
    return Spread(azimuth, flow.ground.like(area))


def _azimuth(flow: Flow) -> Grid:
    levels, azimuth = flow.levels, np.empty(flow.ground.shape)
    steps = steps_of(flow.ground.shape[1] + 2).view(np.uint64)

    def work(first: int, end: int) -> None:
        kernels.bearing_rows(levels.water, levels.shut, steps, flow.way, first, end, azimuth)

    over_rows(flow.ground.shape, work)
    return flow.ground.like(azimuth)


def share_down(found: Spread, amount: Grid) -> Grid:
    """Return the sum of an amount over what drains through each cell, shared like the flow.

    No data counts as none. Raises `InputError` when the amount lies on other cells.
    """
    if amount.shape != found.azimuth_deg.shape:
        raise InputError(f"amounts of {amount.shape} on flow of {found.azimuth_deg.shape}")
    total = np.where(np.isfinite(amount.z), amount.z, 0.0)
    kernels.share_down(found.azimuth_deg.z.ravel(), steps_of(amount.shape[1]), total.ravel())
    total[np.isnan(found.area_m2.z)] = np.nan
    return amount.like(total)


@cites("beven_kirkby1979")
def wetness(flow: Flow, found: Spread | None = None, least_slope: float = LEAST_SLOPE) -> Grid:
    """Return the topographic wetness index ln(a / tan b) of every cell, NaN for no data.

    `a` is the area uphill per metre of contour [m²/m], by shared flow; tan b the slope of the
    ground, at least `least_slope`. High where much water comes and little runs on.
    """
    shared = found or spread(flow)
    slope, _ = slope_aspect(flow.ground)
    return flow.ground.like(wetness_index(shared.specific_m().z, slope.z, least_slope))


@cites("beven_kirkby1979")
def wetness_index(area_m: ArrayLike, slope: ArrayLike, least_slope: float = LEAST_SLOPE) -> Floats:
    """Return ln(a / tan b) for areas per metre of contour [m²/m] and slopes (rise over run)."""
    if not least_slope > 0:
        raise InputError(f"least slope must be above 0, got {least_slope}")
    return np.asarray(np.log(np.divide(area_m, np.maximum(slope, least_slope))), np.float64)
