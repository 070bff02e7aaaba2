"""Climate figures against libraries that are not ours, and rules read in their sources."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import refet
from published.ref import Ref
from pvlib import irradiance
from pvlib.clearsky import haurwitz

from canvas.sky.chill import utah_units
from canvas.sky.climate_record import Daily, Station
from canvas.sky.cloud import diffuse_share, haurwitz_w
from canvas.sky.et import hargreaves_of_days, outside_of, reference_of_days
from canvas.sky.frost import hardiness
from canvas.sky.rain import aridity, effective_scs
from open_data import port_days

REFET = "refet 0.5.0, FAO-56 daily Penman-Monteith on grass"


def made_days(lat: float, height: float) -> Daily:
    """A year of made days with everything measured."""
    rng = np.random.default_rng(11)
    days = np.arange(np.datetime64("2021-01-01"), np.datetime64("2022-01-01"))
    season = np.cos(2 * np.pi * (np.arange(365) - (200 if lat > 0 else 17)) / 365)
    low = 8 + 9 * season + rng.normal(0, 2, 365)
    columns = {
        "tmin_c": low,
        "tmax_c": low + rng.uniform(4, 16, 365),
        "dew_c": low - rng.uniform(0, 4, 365),
        "wind_ms": rng.uniform(0.6, 7, 365),
    }
    station = Station(lat, height)
    outside = outside_of(station, np.arange(1, 366))
    columns["radiation_mj"] = rng.uniform(0.25, 0.75, 365) * outside
    return Daily(station, days, columns)


@pytest.mark.parametrize(("lat", "height"), [(50.8, 100.0), (38.0, 650.0), (-33.9, 15.0)])
def test_reference_evapotranspiration_of_days(lat: float, height: float) -> None:
    record = made_days(lat, height)
    column = record.columns
    theirs = refet.Daily(
        tmin=column["tmin_c"],
        tmax=column["tmax_c"],
        ea=0.6108 * np.exp(17.27 * column["dew_c"] / (column["dew_c"] + 237.3)),
        rs=column["radiation_mj"],
        uz=column["wind_ms"],
        zw=10.0,
        elev=height,
        lat=lat,
        doy=record.day_of_year,
        method="refet",
        rso_type="simple",
    ).eto()
    got = reference_of_days(record)
    assert got.estimated == ()
    for n in range(0, 365, 7):
        # Its declination and pressure come from the ASCE report: up to 1 % apart.
        Ref(float(theirs[n]), 0.012 * float(theirs[n]) + 0.03, REFET).check(float(got.mm[n]))
    Ref(float(np.sum(theirs)), 0.005 * float(np.sum(theirs)), REFET).check(float(got.mm.sum()))


def test_hargreaves_of_days() -> None:
    record = port_days()
    got = hargreaves_of_days(record).mm
    column = record.columns
    theirs = refet.calcs.ra_daily(np.radians(47.45), record.day_of_year, method="asce")
    # Hargreaves' formula from the library's own extraterrestrial radiation.
    mean = (column["tmax_c"] + column["tmin_c"]) / 2
    span = np.sqrt(column["tmax_c"] - column["tmin_c"])
    made = np.maximum(0.0023 * (mean + 17.8) * span * theirs * 0.408, 0)
    for n in range(0, 1461, 60):
        Ref(float(made[n]), 0.003 * float(made[n]) + 1e-6, REFET).check(float(got[n]))


@pytest.mark.parametrize("zenith", [0.0, 20.0, 40.0, 60.0, 80.0, 85.0])
def test_haurwitz(zenith: float) -> None:
    theirs = float(haurwitz(pd.Series([zenith])).iloc[0, 0])
    Ref(theirs, 0.01, "pvlib, Haurwitz 1945").check(float(haurwitz_w(zenith)))


@pytest.mark.parametrize("clearness", [0.1, 0.22, 0.4, 0.6, 0.75, 0.85])
def test_diffuse_share(clearness: float) -> None:
    # On 3 April the Earth is near its mean distance; the sun stands 50 degrees from overhead.
    outside = float(irradiance.get_extra_radiation(93))
    level = clearness * outside * np.cos(np.radians(50.0))
    found = irradiance.erbs(level, 50.0, 93)
    Ref(float(found["dhi"]) / level, 1e-6, "pvlib, Erbs et al. 1982").check(
        float(diffuse_share(float(found["kt"])))
    )


@pytest.mark.parametrize(
    ("rain", "effective"),
    [
        (10, 9.84), (20, 19.36), (50, 46.0), (80, 69.76), (100, 84.0), (150, 114.0), (250, 150.0),
        (300, 155.0),
    ],
)  # fmt: skip
def test_effective_rain(rain: float, effective: float) -> None:
    Ref(effective, 0.005, "USDA-SCS monthly form in Smith 1992, FAO-46").check(
        float(effective_scs(rain))
    )


@pytest.mark.parametrize(
    ("index", "name"),
    [
        (0.04, "hyper-arid"), (0.05, "arid"), (0.1, "arid"), (0.2, "semi-arid"),
        (0.3, "semi-arid"), (0.5, "dry sub-humid"), (0.6, "dry sub-humid"), (0.65, "humid"),
    ],
)  # fmt: skip
def test_aridity_classes(index: float, name: str) -> None:
    """UNEP 1992, World Atlas of Desertification, as given in an FAO catalogue page."""
    found = aridity(index * 1000, 1000)
    Ref(index, 1e-12, "UNEP 1992").check(found.index)
    assert found.name == name


@pytest.mark.parametrize(
    ("coldest", "zone"),
    [(-17.8, "6b"), (-17.7, "7a"), (-12.2, "8a"), (-6.6, "9a"), (-5.05, "9a"), (0.0, "10a")],
)
def test_usda_bands(coldest: float, zone: str) -> None:
    """Bands of 10 °F from -60 °F, halves of 5; a nursery's table of the USDA ranges."""
    edge = {"6b": -23.3, "7a": -17.8, "8a": -12.2, "9a": -6.7, "10a": -1.1}[zone]
    assert hardiness(coldest).usda == zone
    Ref(edge, 5.6, "USDA zone ranges").check(coldest)


@pytest.mark.parametrize(
    ("coldest", "rating"),
    [
        (16, "H1a"), (12, "H1b"), (7, "H1c"), (3, "H2"), (0, "H3"), (-5.05, "H4"), (-12, "H5"),
        (-17, "H6"), (-25, "H7"),
    ],
)  # fmt: skip
def test_rhs_ratings(coldest: float, rating: str) -> None:
    """RHS leaflet on hardiness ratings."""
    assert hardiness(coldest).rhs == rating


@pytest.mark.parametrize(
    ("t", "units"),
    [
        (1.4, 0.0), (1.5, 0.5), (2.4, 0.5), (2.5, 1.0), (9.1, 1.0), (9.2, 0.5), (12.4, 0.5),
        (12.5, 0.0), (15.9, 0.0), (16.0, -0.5), (18.0, -0.5), (18.1, -1.0),
    ],
)  # fmt: skip
def test_utah_bands(t: float, units: float) -> None:
    Ref(units, 0.0, "Richardson et al. 1974, as in chillR 0.77").check(
        float(utah_units(np.array(t)))
    )
