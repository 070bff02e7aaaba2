"""Small plans on made-up ground, so that every answer can be worked out by hand. Invented data."""

from __future__ import annotations

import numpy as np
from pyproj import CRS

from canvas.base.grid import Grid
from canvas.ground.measure import grid_on_earth
from canvas.site.facts import Ground, Site
from canvas.site.plan import Plan
from canvas.study.land import Land
from canvas.study.study import Study

#: A corner in MGA zone 54 to build on.
EAST, NORTH = 614_000.0, 5_860_000.0


def plane(slope_east: float = 0.0, slope_north: float = 0.10, cells: int = 200) -> Grid:
    """Return ground that rises evenly, 1 m cells, 100 m high at the south-west corner."""
    row, col = np.mgrid[0:cells, 0:cells]
    x, y = col + 0.5, cells - row - 0.5
    return Grid(100 + slope_east * x + slope_north * y, EAST, NORTH + cells, 1.0)


def land_of(grid: Grid | None, accuracy_m: float | None = 0.15) -> Land:
    crs = CRS("EPSG:7854")
    ground = Ground(file="ground.tif", accuracy_m=accuracy_m, datum="AHD", source="made up")
    earth = grid_on_earth(crs, EAST + 100, NORTH + 100, 100.0)
    return Land(crs, grid, ground if grid is not None else None, earth)


def study_of(*records: object, grid: Grid | None = None, **options: object) -> Study:
    site = Site(name="Made up", crs="EPSG:7854", heights_datum="AHD")
    return Study(Plan([site, *records]), land_of(grid), **options)  # type: ignore[arg-type]
