"""The sun on the NREL report's slope; the pictures of horizons against pvlib's sun."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone

import numpy as np
import pandas as pd
import pytest
from published.ref import Ref
from pvlib import irradiance, shading, solarposition

from canvas.sky.horizon import Horizons, code_of
from canvas.sky.position import sun_position
from canvas.sky.sunhours import a_day, sun_hours, suns
from canvas.sky.walls import skyline_of, wall

NREL = "NREL/TP-560-34302, worked example (table A5.1)"


def test_the_nrel_slope() -> None:
    when = datetime(2003, 10, 17, 12, 30, 30, tzinfo=timezone(timedelta(hours=-7)))
    sun = sun_position(
        when, 39.742476, -105.1786, refracted=True, pressure_kpa=82.0, temperature_c=11.0
    )
    # Slope 30°, turned 10° to the west of south in the report's sense: it faces azimuth 170°.
    z, b = np.radians(90 - float(sun.elevation_deg)), np.radians(30.0)
    off = np.radians(float(sun.azimuth_deg) - 170.0)
    facing = np.cos(b) * np.cos(z) + np.sin(b) * np.sin(z) * np.cos(off)
    Ref(25.187, 0.005, NREL).check(float(np.degrees(np.arccos(facing))))


@pytest.mark.parametrize("lat", [52.0, 38.0, -12.0, -34.0])
@pytest.mark.parametrize("day", ["2025-03-21", "2025-06-21", "2025-12-21"])
def test_hours_over_an_uneven_horizon(lat: float, day: str) -> None:
    """Hours the SPA's sun stands above a horizon given every 7.5°, straight between."""
    rng = np.random.default_rng(9)
    azimuths = np.arange(0, 360, 7.5)
    heights = 8 + 6 * np.sin(np.radians(azimuths * 2 + 30)) + rng.uniform(0, 2, 48)
    times = pd.date_range(day, periods=1440, freq="1min", tz="UTC")
    sun = solarposition.spa_python(times, lat, 0.0)
    top = np.interp(sun.azimuth.to_numpy(), azimuths, heights, period=360)
    theirs = float((sun.elevation.to_numpy() > top).sum()) / 60
    codes = np.round(code_of(heights)).astype(np.uint16)[:, None, None]
    number = int(times[0].strftime("%j"))
    got = sun_hours(Horizons(codes, 0, 1, 1.0, 0), suns(a_day(number), lat, 0.0)).z[0, 0]
    # Steps of 5 minutes, and suns shared between directions.
    Ref(theirs, 0.15, "NREL SPA as in pvlib, minute by minute").check(float(got))


@pytest.mark.parametrize(("tilt", "azimuth"), [(10.0, 180.0), (25.0, 90.0), (40.0, 300.0)])
def test_sky_left_by_a_slope(tilt: float, azimuth: float) -> None:
    from canvas.base.grid import Grid
    from canvas.ground.surface import slope_aspect
    from canvas.sky.horizon import horizons, sky_view

    row, col = np.mgrid[0:40, 0:40]
    a, fall = np.radians(azimuth), np.tan(np.radians(tilt))
    ground = Grid(-fall * (np.sin(a) * col - np.cos(a) * row), 0, 0, 1.0)
    slope, facing = slope_aspect(ground)
    got = sky_view(horizons(ground), slope, facing).z[20, 20]
    theirs = irradiance.isotropic(tilt, 1.0)
    Ref(float(theirs), 1e-4, "pvlib, isotropic sky").check(float(got))


@pytest.mark.parametrize("distance", [3.0, 6.0, 12.0])
def test_a_wall_masks_as_a_row_of_panels_does(distance: float) -> None:
    import shapely

    solid = wall(shapely.LineString([(-1e5, -distance), (1e5, -distance)]), 4.0)
    got = skyline_of([solid], (0.0, 0.0, 0.0), np.array([180.0]))[0]
    # Upright panels 4 m long, rows `distance` apart, seen from the foot of the next row.
    theirs = shading.masking_angle(90.0, 4.0 / distance, 0.0)
    Ref(float(theirs), 1e-9, "pvlib, masking angle").check(float(got))
