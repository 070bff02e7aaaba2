"""Everything known about one spot: the strip under the map, and the spot query."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from canvas.ground.crs import to_lonlat

if TYPE_CHECKING:
    from canvas.study.study import Study


@dataclass(frozen=True, slots=True)
class Readout:
    """One spot. None where there are no data."""

    east_m: float
    north_m: float
    lon_deg: float
    lat_deg: float
    height_m: float | None
    #: Standard error of the height, as stated with the survey.
    plus_minus_m: float | None
    datum: str
    slope_ratio: float | None
    #: Azimuth the ground falls to, from grid north.
    aspect_deg: float | None


COMPASS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")


def compass(azimuth_deg: float) -> str:
    """Return the nearest of eight compass points."""
    return COMPASS[round(azimuth_deg / 45) % 8]


def readout(study: Study, x_m: float, y_m: float) -> Readout:
    """Return what is known about a spot of the map."""
    lon, lat = to_lonlat(study.crs).transform(x_m, y_m)
    terrain = study.terrain
    return Readout(
        x_m,
        y_m,
        lon,
        lat,
        terrain.height(x_m, y_m),
        terrain.accuracy_m,
        terrain.datum,
        terrain.slope(x_m, y_m),
        terrain.aspect(x_m, y_m),
    )
