"""Real skies: what of the clear-sky light is left, and how it splits into beam and sky light."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canvas.base.grid import Floats
from canvas.base.sources import cites
from canvas.sky import et
from canvas.sky.climate_record import Normals
from canvas.sky.radiation import MID_MONTH_DAYS, daily_clear_sky, daylight_hours


@cites("haurwitz1945")
def haurwitz_w(zenith_deg: Floats | float) -> Floats:
    """Return clear-sky power on the level [W/m²] after Haurwitz: a check on the other model."""
    z = np.asarray(zenith_deg, dtype=np.float64)
    cosine = np.cos(np.radians(np.minimum(z, 89.99)))
    return np.asarray(np.where(z < 90, 1098 * cosine * np.exp(-0.059 / cosine), 0.0))


@cites("erbs1982")
def diffuse_share(clearness: Floats | float) -> Floats:
    """Return the share of light on the level that comes from the sky (Erbs, hourly).

    `clearness` is the light on the level over that outside the air.
    """
    k = np.asarray(clearness, dtype=np.float64)
    middle = 0.9511 - 0.1604 * k + 4.388 * k**2 - 16.638 * k**3 + 12.336 * k**4
    return np.asarray(np.where(k <= 0.22, 1 - 0.09 * k, np.where(k <= 0.80, middle, 0.165)))


@dataclass(frozen=True, slots=True, eq=False)
class RealSun:
    """What the months' sun comes to, beside that of a clear sky."""

    #: Energy on the level: the record's, and a clear sky's [MJ/m²/day] (12,).
    real_mj: Floats
    clear_mj: Floats
    #: "measured", or how it was estimated.
    how: str

    @property
    def share(self) -> Floats:
        """Real over clear, at most 1; multiply clear-sky maps by it to rank months."""
        with np.errstate(divide="ignore", invalid="ignore"):
            got = np.where(self.clear_mj > 0, self.real_mj / self.clear_mj, np.nan)
        return np.asarray(np.minimum(got, 1.0))


@cites("fao56")
def real_sun(normals: Normals) -> RealSun:
    """Return the months' sun on the level: measured, or by FAO-56's ladder from what there is."""
    station = normals.station
    days = np.array(MID_MONTH_DAYS)
    clear = np.array(
        [float(daily_clear_sky(station.lat_deg, d, station.height_m, 0.0, 0.0)) for d in days]
    )
    measured = normals.get("radiation_mj")
    if measured is not None:
        return RealSun(measured, clear, "measured")
    outside = et.outside_of(station, days)
    hours = normals.get("sun_h")
    if hours is not None:
        light = np.array([daylight_hours(station.lat_deg, int(d)) for d in days])
        return RealSun(
            et.sun_by_hours(hours, np.maximum(light, 0.1), outside), clear, "from hours of sunshine"
        )
    k = et.K_COAST if station.coastal else et.K_INLAND
    most = et.clear_mj(outside, station.height_m)
    got = et.sun_by_range(normals.need("tmax_c"), normals.need("tmin_c"), outside, most, k)
    return RealSun(got, clear, "estimated from the range of temperature")
