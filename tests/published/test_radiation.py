"""Sunshine's energy against FAO-56's printed examples and against pvlib."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from published.ref import Ref
from pvlib import atmosphere, clearsky, irradiance, solarposition

from canvas.sky.radiation import (
    air_mass,
    clear_sky,
    daily_clear_sky,
    daylight_hours,
    extraterrestrial_mj,
    on_slope,
    pressure_kpa,
)

FAO = "FAO Irrigation and Drainage Paper 56, example"


@pytest.mark.parametrize(
    ("lat", "day", "printed", "within", "example"),
    [
        (-20.0, 246, 32.2, 0.05, 8),
        (-22.90, 135, 25.1, 0.05, 10),
        (45.72, 196, 40.6, 0.05, 15),
        (13.73, 105, 38.06, 0.01, 17),
        (50.80, 187, 41.09, 0.01, 18),
    ],
)
def test_energy_outside_the_air(
    lat: float, day: int, printed: float, within: float, example: int
) -> None:
    Ref(printed, within, f"{FAO} {example}").check(extraterrestrial_mj(lat, day))


@pytest.mark.parametrize(
    ("lat", "day", "printed", "within", "example"),
    [
        (-20.0, 246, 11.7, 0.05, 9),
        (-22.90, 135, 10.9, 0.05, 10),
        (13.73, 105, 12.31, 0.01, 17),
        (50.80, 187, 16.1, 0.05, 18),
    ],
)
def test_daylight_hours(lat: float, day: int, printed: float, within: float, example: int) -> None:
    Ref(printed, within, f"{FAO} {example}").check(daylight_hours(lat, day))


def test_pressure() -> None:
    Ref(81.8, 0.05, f"{FAO} 2").check(pressure_kpa(1800.0))


@pytest.mark.parametrize("zenith", [0.0, 30.0, 60.0, 80.0, 85.0, 89.0])
def test_air_mass(zenith: float) -> None:
    theirs = float(atmosphere.get_relative_airmass(zenith, model="kastenyoung1989"))
    Ref(theirs, 1e-9, "pvlib, Kasten & Young 1989").check(float(air_mass(np.array(zenith))))


@pytest.mark.parametrize("height", [0.0, 300.0, 1800.0])
@pytest.mark.parametrize("linke", [2.0, 3.0, 5.0])
@pytest.mark.parametrize("zenith", [0.0, 40.0, 60.0, 80.0])
def test_clear_sky_power(zenith: float, linke: float, height: float) -> None:
    air = atmosphere.get_relative_airmass(zenith) * pressure_kpa(height) / 101.325
    theirs = clearsky.ineichen(zenith, air, linke, altitude=height, dni_extra=1367.0)
    ours = clear_sky(np.array(zenith), height, linke, 1367.0)
    # The same published model, so only rounding may part us.
    for key, got in (("ghi", ours.level), ("dni", ours.beam), ("dhi", ours.diffuse)):
        Ref(float(theirs[key]), 1e-6, "pvlib, Ineichen & Perez 2002").check(float(got))


@pytest.mark.parametrize("aspect", [0.0, 90.0, 180.0, 250.0])
@pytest.mark.parametrize("slope", [0.0, 15.0, 45.0, 90.0])
def test_power_on_a_slope(slope: float, aspect: float) -> None:
    sky = clear_sky(np.array(50.0), 300.0)
    theirs = irradiance.get_total_irradiance(
        slope, aspect, 50.0, 120.0, sky.beam, sky.level, sky.diffuse, albedo=0.2, model="isotropic"
    )
    got = on_slope(sky, np.array(50.0), np.array(120.0), slope, aspect, 0.2)
    Ref(float(theirs["poa_global"]), 1e-9, "pvlib, isotropic sky").check(float(got))


@pytest.mark.parametrize("lat", [52.0, 38.0, 10.0, -0.2, -12.5, -34.0, -45.9])
@pytest.mark.parametrize("when", ["2025-01-15", "2025-03-15", "2025-06-15", "2025-09-15"])
def test_a_days_energy_on_slopes(lat: float, when: str) -> None:
    """The whole day against pvlib's sun, sky and slope, in both hemispheres and the tropics."""
    times = pd.date_range(when, periods=288, freq="5min", tz="UTC")
    sun = solarposition.spa_python(times, lat, 0.0)
    sun = sun[sun.zenith < 90]
    zenith = sun.zenith.to_numpy()
    air = atmosphere.get_relative_airmass(zenith) * pressure_kpa(300) / 101.325
    extra = irradiance.get_extra_radiation(sun.index, solar_constant=82000 / 60, method="nrel")
    sky = clearsky.ineichen(zenith, air, 3.0, altitude=300.0, dni_extra=extra.to_numpy())
    for slope, aspect in ((0, 0), (10, 0), (10, 180), (20, 90), (20, 270), (30, 0), (30, 180)):
        power = irradiance.get_total_irradiance(
            slope,
            aspect,
            zenith,
            sun.azimuth.to_numpy(),
            sky["dni"],
            sky["ghi"],
            sky["dhi"],
            albedo=0.2,
            model="isotropic",
        )["poa_global"]
        theirs = float(np.nansum(power)) * 300e-6
        ours = daily_clear_sky(lat, int(times[0].strftime("%j")), 300.0, slope, aspect)
        # The sun's height changes within the day and is taken at noon: 0.3 % or 0.03 MJ.
        Ref(theirs, 0.003 * theirs + 0.03, "pvlib, SPA + Ineichen + isotropic").check(float(ours))
