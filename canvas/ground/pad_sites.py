"""Where a platform moves least earth: rectangles along the contour, tried all over an area."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import InputError
from canvas.base.grid import Floats, Grid
from canvas.base.progress import Progress, silent
from canvas.ground.surface import slope_aspect

#: Heights taken across and down each rectangle.
SAMPLES = 9
#: Places tried, at most: they lie further apart on a larger area.
MOST_PLACES = 20_000


@dataclass(frozen=True, slots=True, eq=False)
class PadSite:
    """One place for a platform."""

    outline: Polygon
    #: Earth cut, which fills as much, before it bulks [m³]: of the rectangle itself.
    earth_m3: float
    #: From the highest ground under it down to the lowest.
    drop_m: float
    slope: float


def pad_sites(
    ground: Grid,
    length_m: float,
    depth_m: float,
    *,
    within: BaseGeometry | None = None,
    keep_off: BaseGeometry | None = None,
    most_slope: float = 0.3,
    progress: Progress = silent,
) -> list[PadSite]:
    """Return every place tried for a rectangle, its long side along the contour, least earth first.

    On an even slope s the earth is length × depth² × s / 8, half of the wedge on each side of the
    balance. Places lie half the depth apart or further.
    """
    if not (length_m > 0 and depth_m > 0):
        raise InputError(f"not a rectangle: {length_m} by {depth_m}")
    area = within if within is not None else shapely.box(*ground.bounds)
    west, south, east, north = area.bounds
    step = max(depth_m / 2, math.sqrt((east - west) * (north - south) / MOST_PLACES))
    x, y = (
        axis.ravel()
        for axis in np.meshgrid(np.arange(west, east, step), np.arange(south, north, step))
    )
    inside = shapely.contains_xy(area, x, y)
    slope_grid, aspect_grid = slope_aspect(ground)
    slope, down = slope_grid.sample(x, y), _direction(aspect_grid, x, y)
    keep = inside & (slope <= most_slope) & np.isfinite(down)
    x, y, slope, down = x[keep], y[keep], slope[keep], down[keep]
    progress(0.3, "Measuring places")
    u = np.linspace(-0.5, 0.5, SAMPLES)
    across, along = np.meshgrid(u * length_m, u * depth_m)
    fall_x, fall_y = np.sin(np.radians(down)), np.cos(np.radians(down))
    px = x[:, None] + fall_y[:, None] * across.ravel() + fall_x[:, None] * along.ravel()
    py = y[:, None] - fall_x[:, None] * across.ravel() + fall_y[:, None] * along.ravel()
    z = ground.sample(px, py)
    weight = _weights()
    mean = (z * weight).sum(axis=1)
    earth = (np.abs(z - mean[:, None]) * weight).sum(axis=1) * length_m * depth_m / 2
    drop = z.max(axis=1) - z.min(axis=1)
    progress(0.8, "Sorting places")
    corners = ((-1, -1), (1, -1), (1, 1), (-1, 1))
    sites = []
    for k in np.argsort(earth, kind="stable"):
        if math.isnan(earth[k]):
            break
        outline = Polygon(
            (
                x[k] + a * length_m / 2 * fall_y[k] + b * depth_m / 2 * fall_x[k],
                y[k] - a * length_m / 2 * fall_x[k] + b * depth_m / 2 * fall_y[k],
            )
            for a, b in corners
        )
        clear = keep_off is None or not outline.intersects(keep_off)
        if clear and (within is None or shapely.covers(area, outline)):
            sites.append(PadSite(outline, float(earth[k]), float(drop[k]), float(slope[k])))
    return sites


def _direction(aspect: Grid, x: Floats, y: Floats) -> Floats:
    """Return the azimuth of the fall at points, from the nearest cells."""
    rows, cols = aspect.shape
    col = np.clip(((x - aspect.west_m) / aspect.cell_m).astype(int), 0, cols - 1)
    row = np.clip(((aspect.north_m - y) / aspect.cell_m).astype(int), 0, rows - 1)
    found = aspect.z[row, col]
    return np.asarray(np.where(np.isnan(found), 180.0, found), np.float64)


def _weights() -> Floats:
    """Return how much of the rectangle each sample stands for; 1 in all."""
    one = np.ones(SAMPLES)
    one[[0, -1]] = 0.5
    both = np.outer(one, one).ravel()
    return np.asarray(both / both.sum(), np.float64)


def apart(sites: list[PadSite], most: int) -> list[PadSite]:
    """Return the first sites that don't overlap, up to so many."""
    kept: list[PadSite] = []
    for site in sites:
        if all(not site.outline.intersects(other.outline) for other in kept):
            kept.append(site)
        if len(kept) == most:
            break
    return kept
