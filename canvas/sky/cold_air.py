"""Where cold air gathers on still, clear nights: risk classes, never temperatures.

Rules of thumb (common practice; the setting is that of FAO's book on frost protection): no
published numbers stand behind the limits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation, distance_transform_edt, uniform_filter
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import InputError
from canvas.base.grid import Floats, Grid
from canvas.base.sources import cites


@dataclass(frozen=True, slots=True)
class FrostClass:
    """A class of the frost map."""

    label: str
    meaning: str


#: Numbers in the map are places in this list.
FROST_CLASSES = (
    FrostClass("thermal belt", "upper slopes cold air drains away from"),
    FrostClass("ordinary", "slopes cold air runs down"),
    FrostClass("likely pool", "gentle ground below a large slope"),
    FrostClass("frost pocket", "hollows, and ground barely above their outlet"),
)
NOTE = (
    "For still, clear nights. In a wind-borne freeze it is the other way round: open upper slopes "
    "are the coldest. Ask where the frost lies in spring."
)
#: Height above a hollow's outlet that still fills with cold air [m].
POND_M = 2.0
#: Slope below which air lingers, and the land above that feeds it.
GENTLE, FEEDS_M2 = float(np.tan(np.radians(2.0))), 10_000.0
#: Radius over which a place is called upper or lower [m].
AROUND_M = 100.0


def position_index(ground: Grid, radius_m: float = AROUND_M) -> Grid:
    """Return how far each cell stands above the mean of the square around it [m]."""
    known = np.isfinite(ground.z)
    if not known.any():
        return ground
    # Holes take their nearest cell, and beyond the edge the slope goes on, so that an even slope
    # is neither high nor low anywhere.
    nearest = distance_transform_edt(~known, return_distances=False, return_indices=True)
    wide = max(round(radius_m / ground.cell_m), 1)
    around = np.pad(ground.z[tuple(nearest)], wide, mode="reflect", reflect_type="odd")
    mean = uniform_filter(around, 2 * wide + 1)[wide:-wide, wide:-wide]
    return ground.like(np.where(known, ground.z - mean, np.nan))


@cites("fao_frost2005")
def frost_risk(ground: Grid, filled: Grid, slope_ratio: Grid, above_m2: Grid) -> Grid:
    """Return each cell's place in `FROST_CLASSES`; NaN without ground.

    `filled` is the ground with its hollows filled to their outlets, `above_m2` the land that
    drains through each cell [m²]: cold air runs much as water does, but lies deeper.
    """
    for other in (filled, slope_ratio, above_m2):
        if other.shape != ground.shape:
            raise InputError(f"maps of {other.shape} and {ground.shape} cells don't match")
    hollow = filled.z - ground.z > 0.05
    pocket = hollow | _near_above(ground, filled, hollow)
    pool = (slope_ratio.z < GENTLE) & (above_m2.z >= FEEDS_M2)
    index = position_index(ground)
    risk = np.ones(ground.shape)
    # A sixth of the local relief above the mean is about the top third of a slope.
    relief = max(float(np.nanstd(index.z)), 1e-9)
    risk[(index.z > 0.5 * relief) & (index.z > 1.0)] = 0
    risk[pool] = 2
    risk[pocket] = 3
    risk[~np.isfinite(ground.z)] = np.nan
    return ground.like(risk)


def _near_above(ground: Grid, filled: Grid, hollow: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return the cells joined to a hollow that lie no more than `POND_M` above its outlet."""
    level = np.where(hollow, filled.z, -np.inf)
    reached = hollow.copy()
    edge = hollow
    three = np.ones((3, 3), dtype=bool)
    for _ in range(max(round(60.0 / ground.cell_m), 1)):
        spread = _spread(level)
        # Below the outlet the air has run out and away.
        within = (ground.z >= spread) & (ground.z <= spread + POND_M)
        new = binary_dilation(edge, three) & ~reached & within
        if not new.any():
            break
        level = np.where(new, spread, level)
        reached |= new
        edge = new
    return reached


def _spread(level: Floats) -> Floats:
    """Return the highest level among each cell and its eight neighbours."""
    padded = np.pad(level, 1, constant_values=-np.inf)
    best = level.copy()
    rows, cols = level.shape
    for r in range(3):
        for c in range(3):
            np.maximum(best, padded[r : r + rows, c : c + cols], out=best)
    return best


@dataclass(frozen=True, slots=True)
class ColdDam:
    """A hedge, wall or belt that may dam cold air behind it."""

    #: Place in the list given.
    index: int
    #: The ground uphill of it, one to three heights deep.
    shape: BaseGeometry
    above_m2: float
    advice: str = "Leave gaps at the low points, or turn the line so that air can run off along it."


#: Least height, density and land above for a line to matter.
DAM_HEIGHT_M, DAM_DENSITY, DAM_ABOVE_M2 = 1.0, 0.5, 5_000.0


@cites("fao_frost2005")
def cold_dams(
    ground: Grid,
    above_m2: Grid,
    lines: Sequence[shapely.LineString],
    heights_m: Sequence[float],
    densities: Sequence[float],
) -> tuple[ColdDam, ...]:
    """Return the lines that lie across the flow of cold air: taller than 1 m, more than half solid.

    A line counts when more than half a hectare drains to it and it lies within 30° of level.
    """
    found = []
    for n, (line, height, density) in enumerate(zip(lines, heights_m, densities, strict=True)):
        if height <= DAM_HEIGHT_M or density <= DAM_DENSITY or line.length == 0:
            continue
        along = np.arange(0.0, line.length, ground.cell_m)
        xy = shapely.get_coordinates(shapely.line_interpolate_point(line, along))
        above = above_m2.sample(xy[:, 0], xy[:, 1])
        if not np.isfinite(above).any() or np.nanmax(above) < DAM_ABOVE_M2:
            continue
        start, end = xy[0], xy[-1]
        middle = (start + end) / 2
        d = max(3 * ground.cell_m, 5.0)
        gx = np.diff(ground.sample([middle[0] - d, middle[0] + d], [middle[1]] * 2))[0] / (2 * d)
        gy = np.diff(ground.sample([middle[0]] * 2, [middle[1] - d, middle[1] + d]))[0] / (2 * d)
        fall, run = float(np.hypot(gx, gy)), end - start
        length = float(np.hypot(*run))
        if not fall > 0 or length == 0:
            continue
        if abs(float(run @ [gx, gy])) / (length * fall) > 0.5:
            continue
        up = np.array([gx, gy]) / fall
        path = shapely.get_coordinates(line)
        ring = np.concatenate((path + height * up, (path + 3 * height * up)[::-1]))
        found.append(ColdDam(n, shapely.Polygon(ring).buffer(0), float(np.nanmax(above))))
    return tuple(found)
