"""Areas and lengths, each saying what it was measured on; and how the grid lies on the Earth."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import shapely
from pyproj import CRS, Geod, Proj
from shapely import LineString, MultiLineString, MultiPolygon, Polygon

from canvas.base.grid import Floats
from canvas.base.sources import cites
from canvas.ground.crs import to_lonlat

#: Straight lines on the map bend on the ellipsoid; this often they are carried over.
DENSE_M = 50.0


class Basis(StrEnum):
    """What a length or an area was measured on."""

    GRID = "on the grid"
    ELLIPSOID = "on the ellipsoid"
    GROUND = "along the ground"


@dataclass(frozen=True, slots=True)
class Measured:
    """A length [m] or an area [m²] and what it rests on."""

    value: float
    #: "m" or "m2".
    unit: str
    basis: Basis


Areas = Polygon | MultiPolygon
Lines = LineString | MultiLineString


def _lonlat(geometry: Areas | Lines, crs: CRS) -> Areas | Lines:
    """Return a geometry in longitude and latitude, with points at most `DENSE_M` apart."""
    turn = to_lonlat(crs)

    def carry(xy: Floats) -> Floats:
        return np.column_stack(turn.transform(xy[:, 0], xy[:, 1], errcheck=True))

    dense = shapely.segmentize(shapely.force_2d(geometry), DENSE_M)
    return shapely.transform(dense, carry)


def _geod(crs: CRS) -> Geod:
    found = crs.get_geod()
    return found if found is not None else Geod(ellps="WGS84")


@cites("karney2013")
def area_on_ellipsoid(polygon: Areas, crs: CRS) -> Measured:
    """Return the geodesic area on the ellipsoid of the site's datum, at height 0."""
    geod, total = _geod(crs), 0.0
    for part in shapely.get_parts(_lonlat(polygon, crs)):
        rings = [abs(geod.geometry_area_perimeter(ring)[0]) for ring in shapely.get_rings(part)]
        total += rings[0] - sum(rings[1:])
    return Measured(total, "m2", Basis.ELLIPSOID)


@cites("karney2013")
def length_on_ellipsoid(line: Lines, crs: CRS) -> Measured:
    """Return the geodesic length on the ellipsoid of the site's datum, at height 0."""
    geod = _geod(crs)
    parts = shapely.get_parts(_lonlat(line, crs))
    return Measured(sum(geod.geometry_length(part) for part in parts), "m", Basis.ELLIPSOID)


@dataclass(frozen=True, slots=True)
class GridOnEarth:
    """How the site's grid lies on the Earth at one point."""

    lon_deg: float
    lat_deg: float
    #: Add to an azimuth from grid north to get the one from true north.
    convergence_deg: float
    #: Grid distance per distance on the ellipsoid; the mean of all directions.
    scale: float
    #: Distance on the ellipsoid per horizontal distance at the site's height.
    height_factor: float

    @property
    def combined(self) -> float:
        """Grid distance per horizontal distance on the ground: ground = grid / combined."""
        return self.scale * self.height_factor

    def true_azimuth(self, grid_azimuth_deg: float) -> float:
        """Return the azimuth from true north of a direction on the grid."""
        return (grid_azimuth_deg + self.convergence_deg) % 360.0

    def grid_azimuth(self, true_azimuth_deg: float) -> float:
        """Return the direction on the grid of an azimuth from true north."""
        return (true_azimuth_deg - self.convergence_deg) % 360.0


#: A grid that stretches lengths by more than this is unfit to plan in: half a metre in a hundred.
MOST_STRETCH = 0.005


def stretch_problem(earth: GridOnEarth) -> str:
    """Return why a grid is unfit to measure in at a place; "" when it is fit."""
    if abs(earth.scale - 1) <= MOST_STRETCH:
        return ""
    return (
        f"the grid makes lengths {earth.scale:.3f} times what they are here: "
        "every distance, area and scale would be wrong"
    )


@cites("snyder1987")
def grid_on_earth(crs: CRS, x_m: float, y_m: float, height_m: float = 0.0) -> GridOnEarth:
    """Return convergence and scale of a projected CRS at a point.

    The height factor is R / (R + h) with R the Gaussian mean radius at the latitude. A height
    above the sea in place of one above the ellipsoid is off by at most 110 m: 17 ppm.
    """
    lon, lat = to_lonlat(crs).transform(x_m, y_m, errcheck=True)
    factors = Proj(crs).get_factors(lon, lat, errcheck=True)
    geod = _geod(crs)
    curve = 1.0 - geod.es * math.sin(math.radians(lat)) ** 2
    radius = geod.a * math.sqrt(1.0 - geod.es) / curve
    return GridOnEarth(
        lon,
        lat,
        float(factors.meridian_convergence),
        math.sqrt(float(factors.areal_scale)),
        radius / (radius + height_m),
    )
