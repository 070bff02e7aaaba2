"""The ground along a line and under an outline."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import shapely
from numpy.typing import ArrayLike
from shapely import LineString, MultiPolygon, Polygon

from canvas.base.errors import InputError
from canvas.base.grid import Bounds, Floats, Grid
from canvas.ground import kernels
from canvas.ground.surface import slope_aspect

#: Strips a row of cells is cut into when an outline's share of each cell is taken.
STRIPS = 8


@dataclass(frozen=True, slots=True, eq=False)
class Section:
    """Heights along a line; all arrays are (stations,)."""

    #: Plan distance from the line's start, rising.
    distance_m: Floats
    x_m: Floats
    y_m: Floats
    #: NaN where there are no data.
    z_m: Floats

    @property
    def known_share(self) -> float:
        """Share of the plan length both ends of which have a height."""
        run = np.diff(self.distance_m)
        known = ~np.isnan(np.diff(self.z_m))
        return float(run[known].sum() / run.sum()) if run.sum() > 0 else 0.0

    def at(self, distance_m: Floats | float) -> Floats:
        """Return heights at plan distances, straight between stations; NaN beyond the ends."""
        return np.asarray(
            np.interp(distance_m, self.distance_m, self.z_m, left=np.nan, right=np.nan)
        )


def _vertices(line: LineString) -> tuple[Floats, Floats]:
    """Return a line's plan points without repeats, (n, 2), and their distances, (n,)."""
    xy = shapely.get_coordinates(line)
    steps = np.hypot(*np.diff(xy, axis=0).T)
    keep = np.concatenate(([True], steps > 0)) if len(xy) else np.zeros(0, bool)
    xy = xy[keep]
    if len(xy) < 2:
        raise InputError("a section needs a line with some length")
    return xy, np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))))


class Sampled(Protocol):
    """What has a height at every place: a grid, or the designed ground."""

    @property
    def cell_m(self) -> float:
        """Return the size of its cells, for steps along lines."""

    def sample(self, x_m: ArrayLike, y_m: ArrayLike, /) -> Floats:
        """Return heights at points; NaN where there are no data."""


def section(grid: Sampled, line: LineString, step_m: float | None = None) -> Section:
    """Return heights along a line: evenly spaced stations, the end, and every bend.

    `step_m` is half a cell unless given. Heights are bilinear between cell centres.
    """
    xy, run = _vertices(line)
    step = step_m or grid.cell_m / 2
    even = np.arange(int(np.ceil(run[-1] / step))) * step
    distance = np.unique(np.concatenate((even, run)))
    # Two stations closer than a millimetre make a meaningless grade between them.
    near = np.concatenate(([False], np.diff(distance) < 1e-3)) & ~np.isin(distance, run)
    distance = distance[~near]
    x, y = np.interp(distance, run, xy[:, 0]), np.interp(distance, run, xy[:, 1])
    return Section(distance, x, y, grid.sample(x, y))


@dataclass(frozen=True, slots=True)
class AlongGround:
    """A line's length lying on the ground."""

    #: Sloping length; stretches without data count at their plan length.
    length_m: float
    plan_m: float
    #: Share of the plan length with data.
    known_share: float


def along_ground_length(grid: Grid, line: LineString, step_m: float | None = None) -> AlongGround:
    """Return a line's length along the sloping ground, stations one cell apart unless given.

    Finer steps follow the noise of the survey rather than the ground and read too long.
    """
    cut = section(grid, line, step_m or grid.cell_m)
    run, rise = np.diff(cut.distance_m), np.diff(cut.z_m)
    length = float(np.hypot(run, np.where(np.isnan(rise), 0.0, rise)).sum())
    return AlongGround(length, float(cut.distance_m[-1]), cut.known_share)


def coverage(grid: Grid, polygon: Polygon | MultiPolygon) -> tuple[Grid, Floats]:
    """Return the window of the grid a polygon touches and its share of each cell there (0..1)."""
    west, south, east, north = grid.bounds
    box: Bounds = polygon.bounds if not polygon.is_empty else (west, north, west, north)
    window = grid.window(box)
    share = np.zeros(window.shape)
    if polygon.is_empty or box[0] > east or box[2] < west or box[1] > north or box[3] < south:
        return window, share
    parts = []
    for ring in shapely.get_rings(shapely.get_parts(polygon)):
        xy = shapely.get_coordinates(ring)
        col = (xy[:, 0] - window.west_m) / grid.cell_m
        row = (window.north_m - xy[:, 1]) / grid.cell_m
        parts.append(np.column_stack((col[:-1], row[:-1], col[1:], row[1:])))
    kernels.cover(np.ascontiguousarray(np.vstack(parts)), STRIPS, share)
    if not share.any() and polygon.area > 0:
        # Slipped between two strips: give it whole to the cell it lies in.
        spot = polygon.representative_point()
        cell = window.cell_at(spot.x, spot.y)
        if cell is not None:
            share[cell] = polygon.area / grid.cell_m**2
    return window, np.clip(share, 0.0, 1.0)


@dataclass(frozen=True, slots=True)
class GroundUnder:
    """The ground under an outline. NaN throughout where there are no data."""

    plan_m2: float
    #: Area of the sloping surface; parts without data count at their plan area.
    surface_m2: float
    #: Share of the plan area with data.
    known_share: float
    z_min_m: float
    z_mean_m: float
    z_max_m: float
    #: Steepness, rise over run.
    slope_min: float
    slope_mean: float
    slope_max: float
    #: Azimuth the whole tilts down to, degrees from grid north; NaN where it is level.
    aspect_deg: float
    #: Where the steepest cell's centre lies.
    steepest_xy_m: tuple[float, float]


def under(grid: Grid, polygon: Polygon | MultiPolygon) -> GroundUnder:
    """Return heights, steepness and surface under an outline, each cell by its share inside.

    Extremes take the cells at least half inside, or all that are touched when none is. The
    surface is the sum of share x cell area x sqrt(1 + slope²), brought to the exact outline.
    """
    window, share = coverage(grid, polygon)
    cell = grid.cell_m
    west, south, east, north = window.bounds
    wide = grid.window((west - cell, south - cell, east + cell, north + cell))
    slope_wide, aspect_wide = slope_aspect(wide)
    top = round((wide.north_m - window.north_m) / cell)
    left = round((window.west_m - wide.west_m) / cell)
    cut = (slice(top, top + window.shape[0]), slice(left, left + window.shape[1]))
    slope, aspect = slope_wide.z[cut], aspect_wide.z[cut]
    known = (share > 0) & ~np.isnan(slope)
    plan = polygon.area
    nan = float("nan")
    if not known.any() or not plan > 0:
        return GroundUnder(plan, plan, 0.0, nan, nan, nan, nan, nan, nan, nan, (nan, nan))
    w, s, z = share[known], slope[known], window.z[known]
    core = w >= 0.5 if (w >= 0.5).any() else w > 0
    rows, cols = np.nonzero(known)
    worst = int(np.argmax(np.where(core, s, -1.0)))
    covered = float(w.sum() / share.sum())
    if not shapely.box(*grid.bounds).covers(polygon):
        covered *= shapely.intersection(polygon, shapely.box(*grid.bounds)).area / plan
    stretch = float(np.average(np.sqrt(1 + s**2), weights=w))
    towards = np.radians(np.nan_to_num(aspect[known]))
    east_g, north_g = float((w * s * np.sin(towards)).sum()), float((w * s * np.cos(towards)).sum())
    level = np.hypot(east_g, north_g) <= 1e-9 * float(w.sum())
    return GroundUnder(
        plan_m2=plan,
        surface_m2=plan * (covered * stretch + 1 - covered),
        known_share=covered,
        z_min_m=float(z[core].min()),
        z_mean_m=float(np.average(z, weights=w)),
        z_max_m=float(z[core].max()),
        slope_min=float(s[core].min()),
        slope_mean=float(np.average(s, weights=w)),
        slope_max=float(s[worst]),
        aspect_deg=nan if level else float(np.degrees(np.arctan2(east_g, north_g))) % 360,
        steepest_xy_m=(float(window.x_m()[cols[worst]]), float(window.y_m()[rows[worst]])),
    )
