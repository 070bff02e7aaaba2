"""The shadow study: what crowns, buildings and the land shade at a moment, and over a day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from canvas.base.grid import Floats, Grid
from canvas.base.pool import over_rows
from canvas.base.progress import Progress, silent
from canvas.sky import kernels
from canvas.sky.crowns import Crowns, crown_shadows
from canvas.sky.horizon import Codes, Horizons, code_of
from canvas.sky.sunhours import Suns
from canvas.sky.walls import Solid, solid_shadow

Light = NDArray[np.float32]

#: Shadows of a sun lower than this reach across the county and count for little warmth.
LOWEST_DEG = 2.0
#: Outline corners that serve for maps; drawings use more.
_MAP_CORNERS = 16


@dataclass(frozen=True, slots=True, eq=False)
class Shadows:
    """Shadows of one sun on the ground."""

    elevation_deg: float
    #: From grid north.
    azimuth_deg: float
    #: Outlines of crowns' shadows (crowns, corners, 2) in the crowns' order, and what each lets
    #: through.
    crowns: Floats
    through: Floats
    #: One shape for each solid, its own outline included.
    solids: tuple[BaseGeometry, ...]
    solids_through: tuple[float, ...]

    @property
    def none(self) -> bool:
        """Whether nothing is thrown: the sun is down, or there is nothing to throw."""
        return not len(self.crowns) and not self.solids

    def shapes(self) -> list[BaseGeometry]:
        """Return the crowns' shadows as polygons, in the crowns' order."""
        return [shapely.Polygon(ring) for ring in self.crowns]


def shadows(
    elevation_deg: float,
    azimuth_deg: float,
    those: Crowns | None = None,
    solids: Sequence[Solid] = (),
    ground: Grid | None = None,
    corners: int = 32,
) -> Shadows:
    """Return the shadows of crowns and solids for one sun (azimuth from grid north).

    None while the sun is below 2°. Crowns' shadows lie on `ground` as it falls and rises; a
    solid carries the lie of its own ground.
    """
    if elevation_deg < LOWEST_DEG:
        return Shadows(elevation_deg, azimuth_deg, np.zeros((0, corners, 2)), np.zeros(0), (), ())
    rings, through = np.zeros((0, corners, 2)), np.zeros(0)
    if those is not None and those.count:
        rings = crown_shadows(those, elevation_deg, azimuth_deg, ground, corners=corners)
        through = those.through
    return Shadows(
        elevation_deg,
        azimuth_deg,
        rings,
        through,
        tuple(solid_shadow(s, elevation_deg, azimuth_deg) for s in solids),
        tuple(s.through for s in solids),
    )


def light_through(frame: Grid, cast: Shadows) -> Light:
    """Return the share of direct sun left in each cell under crowns and solids (1: all of it).

    A cell is in a shadow when its middle is; overlapping crowns dim one another's light.
    """
    rings = [ring[:-1] if (ring[0] == ring[-1]).all() else ring for ring in cast.crowns]
    through = list(cast.through)
    for shape, share in zip(cast.solids, cast.solids_through, strict=True):
        for part in shapely.get_parts(shape):
            if isinstance(part, shapely.Polygon):
                rings.append(_with_holes(part))
                through.append(share)
    light = np.ones(frame.shape, np.float32)
    if not rings:
        return light
    starts = np.concatenate(([0], np.cumsum([len(r) for r in rings]))).astype(np.int64)
    xy = np.concatenate(rings)
    cells = np.empty(xy.shape)
    cells[:, 0] = (xy[:, 0] - frame.west_m) / frame.cell_m - 0.5
    cells[:, 1] = (frame.north_m - xy[:, 1]) / frame.cell_m - 0.5
    shares = np.array(through, dtype=np.float64)

    def work(first: int, end: int) -> None:
        kernels.dim_rows(cells, starts, shares, first, end, light)

    over_rows(frame.shape, work)
    return light


def _with_holes(shape: shapely.Polygon) -> Floats:
    """Return a polygon's rings as one path out and back, which even-odd filling reads rightly."""
    rings = [np.asarray(shapely.get_coordinates(r)) for r in [shape.exterior, *shape.interiors]]
    path = rings[0]
    for ring in rings[1:]:
        path = np.concatenate((path, ring, path[-1:]))
    return path


def shaded_hours(
    found: Horizons,
    of: Suns,
    those: Crowns | None = None,
    solids: Sequence[Solid] = (),
    ground: Grid | None = None,
    progress: Progress = silent,
) -> Grid:
    """Return the mean hours a day of direct sun, with crowns and solids in its way.

    An hour under a crown counts as its share let through. Best asked for single days: every sun
    of the period is drawn. The horizon between two directions is taken straight.
    """
    hours = np.zeros(found.shape)
    frame = found.like(hours)
    count = found.codes.shape[0]
    weights = of.hours / of.period.length_days
    for n in range(len(weights)):
        elevation, azimuth = float(of.elevation_deg[n]), float(of.azimuth_deg[n])
        cast = shadows(elevation, azimuth, those, solids, ground, _MAP_CORNERS)
        light = light_through(frame, cast)
        place = azimuth * count / 360.0
        left = int(place)
        sides = found.codes[left % count], found.codes[(left + 1) % count]
        code, weight = float(code_of(elevation)), float(weights[n])

        def work(
            first: int,
            end: int,
            sides: tuple[Codes, Codes] = sides,
            share: float = place - left,
            code: float = code,
            weight: float = weight,
            light: Light = light,
        ) -> None:
            kernels.add_lit_rows(*sides, share, code, weight, light, first, end, hours)

        over_rows(found.shape, work)
        progress((n + 1) / len(weights), "Following the shadows through the day")
    return found.like(hours)
