"""The ground as the study reads it: heights, slopes and grades, and how far to trust them."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import ArrayLike
from shapely import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from canvas.base.grid import Floats, Grid
from canvas.ground import profile
from canvas.ground.alignment import Alignment, alignment
from canvas.ground.profile import AlongGround, GroundUnder, Section
from canvas.ground.surface import slope_aspect
from canvas.site.facts import Ground

#: Levels from a ground this good or better may be built by.
BUILD_BY_M = 0.05
INDICATIVE = "indicative: level on site"


class Terrain:
    """One surface, asked in many ways. Answers are None where there are no data."""

    def __init__(self, grid: Grid | None, ground: Ground | None) -> None:
        self.grid = grid
        self.ground = ground
        self._faces: tuple[Grid, Grid] | None = None

    @property
    def known(self) -> bool:
        """Whether there is a ground at all."""
        return self.grid is not None

    @property
    def accuracy_m(self) -> float | None:
        """Standard error of a height [m], as stated with the survey."""
        return self.ground.accuracy_m if self.ground is not None else None

    @property
    def datum(self) -> str:
        """What heights are measured from."""
        return self.ground.datum if self.ground is not None else ""

    @property
    def trust(self) -> str:
        """What to say beside a level that might be built by; "" when it may be."""
        accuracy = self.accuracy_m
        return "" if accuracy is not None and accuracy <= BUILD_BY_M else INDICATIVE

    def faces(self) -> tuple[Grid, Grid] | None:
        """Return the slope [ratio] and aspect [deg] grids, or None without a ground."""
        if self._faces is None and self.grid is not None:
            self._faces = slope_aspect(self.grid)
        return self._faces

    def height_at(self, x_m: ArrayLike, y_m: ArrayLike) -> Floats:
        """Return heights at points [m]; NaN where unknown. Shapes as given."""
        if self.grid is None:
            return np.full(np.broadcast(np.asarray(x_m), np.asarray(y_m)).shape, np.nan)
        return self.grid.sample(x_m, y_m)

    def slope_ratio_at(self, x_m: ArrayLike, y_m: ArrayLike) -> Floats:
        """Return slopes at points [rise over run]; NaN where unknown. Shapes as given."""
        faces = self.faces()
        if faces is None:
            return np.full(np.broadcast(np.asarray(x_m), np.asarray(y_m)).shape, np.nan)
        return faces[0].sample(x_m, y_m)

    def height(self, x_m: float, y_m: float) -> float | None:
        """Return the height of one point [m]."""
        return _known(float(self.height_at(x_m, y_m)))

    def slope(self, x_m: float, y_m: float) -> float | None:
        """Return the slope at one point [rise over run]."""
        return _known(float(self.slope_ratio_at(x_m, y_m)))

    def aspect(self, x_m: float, y_m: float) -> float | None:
        """Return the downhill azimuth of the cell a point lies in [deg from grid north]."""
        faces = self.faces()
        cell = faces[1].cell_at(x_m, y_m) if faces is not None else None
        return _known(float(faces[1].z[cell])) if faces is not None and cell else None

    def under(self, polygon: Polygon | MultiPolygon) -> GroundUnder | None:
        """Return the ground under an outline."""
        if self.grid is None:
            return None
        found = profile.under(self.grid, polygon)
        return found if found.known_share > 0 else None

    def along(self, line: LineString) -> AlongGround | None:
        """Return a line's length lying on the ground."""
        if self.grid is None:
            return None
        found = profile.along_ground_length(self.grid, line)
        return found if found.known_share > 0 else None

    def alignment(self, line: LineString, width_m: float, over_m: float) -> Alignment | None:
        """Return grades and bends of a centre line on the ground as it is."""
        return alignment(self.grid, line, width_m, over_m) if self.grid is not None else None

    def section(self, line: LineString, step_m: float | None = None) -> Section | None:
        """Return heights along a line."""
        return profile.section(self.grid, line, step_m) if self.grid is not None else None

    def mean_slope(self, geometry: BaseGeometry) -> float | None:
        """Return the mean slope under a geometry [rise over run]."""
        return self._slopes(geometry, worst=False)

    def max_slope(self, geometry: BaseGeometry) -> float | None:
        """Return the steepest slope under a geometry [rise over run]."""
        return self._slopes(geometry, worst=True)

    def _slopes(self, geometry: BaseGeometry, *, worst: bool) -> float | None:
        if self.grid is None or geometry.is_empty:
            return None
        if isinstance(geometry, Polygon | MultiPolygon):
            found = self.under(geometry)
            if found is None:
                return None
            return _known(found.slope_max if worst else found.slope_mean)
        dense = shapely.segmentize(geometry, self.grid.cell_m) if geometry.length else geometry
        xy = shapely.get_coordinates(dense)
        slopes = self.slope_ratio_at(xy[:, 0], xy[:, 1])
        slopes = slopes[~np.isnan(slopes)]
        if not slopes.size:
            return None
        return float(slopes.max() if worst else slopes.mean())


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None
