"""Where the invented site lies, how big its rasters are, and where the sun stood."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, radians, sin, tan

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

NAME = "Kestrel Rise"
EPSG = 7854  # GDA2020 / MGA zone 54
GEOGRAPHIC_EPSG = 7844  # GDA2020
HEIGHTS = "Australian Height Datum (AHD), invented levels"
SEED = 20_240_312

# Local metres (u east, v north) count from here; every hand-placed number in this package is local.
ORIGIN_E, ORIGIN_N = 599_000.0, 5_853_500.0

GROUND_CELL_M = 1.0
GROUND_LOCAL = (-470.0, -420.0, 470.0, 440.0)  # west, south, east, north
AERIAL_CELL_M = 0.25
AERIAL_LOCAL = (-300.0, -270.0, 300.0, 310.0)

# Sun at 15:40 on 12 March 2024, daylight time UTC+11, at 142.1194 E 37.4619 S and 250 m: the
# NREL solar position algorithm as in pvlib 0.11 gives elevation 46.19 and true azimuth 314.38
# degrees. Meridian convergence there is -0.68 (PROJ), so the azimuth on the grid is 315.06.
PHOTO_TIME = "2024-03-12T15:40:00+11:00"
SUN_ELEVATION_DEG = 46.19
SUN_AZIMUTH_TRUE_DEG = 314.38
CONVERGENCE_DEG = -0.68
SUN_AZIMUTH_GRID_DEG = SUN_AZIMUTH_TRUE_DEG - CONVERGENCE_DEG


@dataclass(frozen=True, slots=True)
class Sun:
    """Direction towards the sun on the grid: unit vector (east, north, up)."""

    east: float
    north: float
    up: float

    @property
    def slope(self) -> float:
        """Return the metres a ray falls for each level metre."""
        return tan(radians(SUN_ELEVATION_DEG))


def sun() -> Sun:
    """Return the sun of the aerial."""
    e, a = radians(SUN_ELEVATION_DEG), radians(SUN_AZIMUTH_GRID_DEG)
    return Sun(cos(e) * sin(a), cos(e) * cos(a), sin(e))


@dataclass(frozen=True, slots=True)
class Window:
    """North-up cells in local metres: west and north edge, cell size, rows and columns."""

    west: float
    north: float
    cell: float
    rows: int
    cols: int

    @classmethod
    def over(cls, bounds: tuple[float, float, float, float], cell: float) -> Window:
        """Cover west, south, east, north with whole cells."""
        west, south, east, north = bounds
        return cls(west, north, cell, round((north - south) / cell), round((east - west) / cell))

    def grown(self, cells: int) -> Window:
        """Return the window with so many more cells on each side."""
        by = cells * self.cell
        rows, cols = self.rows + 2 * cells, self.cols + 2 * cells
        return Window(self.west - by, self.north + by, self.cell, rows, cols)

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Return west, south, east, north [local m]."""
        south = self.north - self.rows * self.cell
        return self.west, south, self.west + self.cols * self.cell, self.north

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.rows, self.cols

    def u(self) -> Floats:
        """Return eastings of the cell centres, shape (cols,)."""
        return self.west + (np.arange(self.cols) + 0.5) * self.cell

    def v(self) -> Floats:
        """Return northings of the cell centres, shape (rows,), falling."""
        return self.north - (np.arange(self.rows) + 0.5) * self.cell

    def mesh(self) -> tuple[Floats, Floats]:
        """Return u and v for every cell, shape (rows, cols)."""
        u, v = np.meshgrid(self.u(), self.v())
        return u, v


GROUND = Window.over(GROUND_LOCAL, GROUND_CELL_M)
AERIAL = Window.over(AERIAL_LOCAL, AERIAL_CELL_M)
