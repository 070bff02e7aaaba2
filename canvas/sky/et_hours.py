"""Hour by hour evapotranspiration (FAO-56 eqs 28-33, 45, 46, 53)."""

from __future__ import annotations

import math

from canvas.base.sources import cites
from canvas.sky.et import GRASS_ALBEDO, MM_PER_MJ, psychrometric, vapour_kpa, vapour_slope
from canvas.sky.radiation import GSC_MJ_MIN

SIGMA_HOUR = 2.043e-10


@cites("fao56")
def solar_angle_rad(day_of_year: int, clock_h: float, lon_deg: float, zone_h: float) -> float:
    """Return the sun's hour angle at a clock time, from noon (eqs 31-33)."""
    b = 2 * math.pi * (day_of_year - 81) / 364
    correction = 0.1645 * math.sin(2 * b) - 0.1255 * math.cos(b) - 0.025 * math.sin(b)
    return math.pi / 12 * (clock_h + (lon_deg - 15 * zone_h) / 15 + correction - 12)


@cites("fao56")
def outside_hour_mj(
    lat_deg: float, lon_deg: float, zone_h: float, day_of_year: int, middle_h: float
) -> float:
    """Return the energy outside the air in the hour around `middle_h` [MJ/m²/h] (eq. 28)."""
    year = 2 * math.pi * day_of_year / 365
    distance, decl = 1 + 0.033 * math.cos(year), 0.409 * math.sin(year - 1.39)
    lat = math.radians(lat_deg)
    sunset = math.acos(max(-1.0, min(1.0, -math.tan(lat) * math.tan(decl))))
    middle = solar_angle_rad(day_of_year, middle_h, lon_deg, zone_h)
    first = max(middle - math.pi / 24, -sunset)
    last = min(middle + math.pi / 24, sunset)
    if first >= last:
        return 0.0
    level = (last - first) * math.sin(lat) * math.sin(decl)
    turning = math.cos(lat) * math.cos(decl) * (math.sin(last) - math.sin(first))
    return 12 * 60 / math.pi * GSC_MJ_MIN * distance * (level + turning)


@cites("fao56")
def reference_hour_mm(
    t_c: float,
    rh: float,
    wind_ms: float,
    sun_mj: float,
    outside_mj: float,
    height_m: float,
    night_share: float = 0.8,
) -> float:
    """Return an hour's evapotranspiration [mm] (eq. 53); wind at 2 m, humidity a fraction.

    `night_share` is the relative sunshine taken for cloud at night: that of the hours before
    sunset (0.8 where the air is mostly dry, as in the book's example).
    """
    net = net_hour_mj(t_c, rh, sun_mj, outside_mj, height_m, night_share)
    soil = net * (0.1 if outside_mj > 0 else 0.5)
    saturated = float(vapour_kpa(t_c))
    slope, gamma = float(vapour_slope(t_c)), psychrometric(height_m)
    heat = MM_PER_MJ * slope * (net - soil)
    air = gamma * 37 / (t_c + 273) * wind_ms * saturated * (1 - rh)
    return (heat + air) / (slope + gamma * (1 + 0.34 * wind_ms))


@cites("fao56")
def net_hour_mj(
    t_c: float,
    rh: float,
    sun_mj: float,
    outside_mj: float,
    height_m: float,
    night_share: float = 0.8,
) -> float:
    """Return an hour's net radiation [MJ/m²/h] (eqs 38-40)."""
    clear = (0.75 + 2e-5 * height_m) * outside_mj
    share = min(sun_mj / clear, 1.0) if clear > 0 else night_share
    vapour = float(vapour_kpa(t_c)) * rh
    air = 0.34 - 0.14 * math.sqrt(vapour)
    lost = SIGMA_HOUR * (t_c + 273.16) ** 4 * air * (1.35 * share - 0.35)
    return (1 - GRASS_ALBEDO) * sun_mj - lost
