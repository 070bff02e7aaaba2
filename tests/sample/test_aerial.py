"""The sample site's aerial: where it lies, and that its light is that of one sun."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pvlib
import pytest
import rasterio
import shapely
from pyproj import Proj

from sample_sites.kestrel_rise.make import frame, landscape


@pytest.fixture(scope="module")
def photo():
    with rasterio.open(landscape.AERIAL_TIF) as source:
        grey = source.read().astype(np.float64).mean(axis=0)
        return grey, source.transform


def brightness(photo, xy):
    grey, transform = photo
    col, row = ~transform @ tuple(np.asarray(xy).T)
    return grey[row.astype(int), col.astype(int)]


def test_aerial_lies_on_the_ground_and_round_the_boundary(land):
    with rasterio.open(landscape.AERIAL_TIF) as photo, rasterio.open(landscape.GROUND_TIF) as dem:
        assert photo.crs == dem.crs
        assert photo.res == (0.25, 0.25)
        assert photo.count == 3
        picture, ground = shapely.box(*photo.bounds), shapely.box(*dem.bounds)
        assert photo.overviews(1)[:3] == [2, 4, 8]
        assert photo.profile["compress"] == "jpeg"
    assert ground.contains(picture)
    assert picture.contains(land.boundary.buffer(100))


def test_the_files_stay_small():
    paths = (landscape.AERIAL_TIF, landscape.GROUND_TIF, landscape.EXISTING_JSON)
    assert sum(p.stat().st_size for p in paths) < 12e6


def test_stated_sun_is_the_sun_of_the_stated_time():
    lon, lat = landscape.turned(
        shapely.Point(frame.ORIGIN_E, frame.ORIGIN_N), frame.EPSG, 4326
    ).coords[0]
    # NREL SPA as in pvlib; convergence from PROJ (clockwise from true to grid north).
    at = pvlib.solarposition.get_solarposition(
        pd.DatetimeIndex([frame.PHOTO_TIME]), lat, lon, altitude=250
    )
    turn = Proj(f"EPSG:{frame.EPSG}").get_factors(lon, lat).meridian_convergence
    assert at["apparent_elevation"].iloc[0] == pytest.approx(frame.SUN_ELEVATION_DEG, abs=0.05)
    assert at["azimuth"].iloc[0] == pytest.approx(frame.SUN_AZIMUTH_TRUE_DEG, abs=0.05)
    assert turn == pytest.approx(frame.CONVERGENCE_DEG, abs=0.01)
    star = frame.sun()
    assert np.degrees(np.arctan2(star.east, star.north)) % 360 == pytest.approx(
        at["azimuth"].iloc[0] - turn, abs=0.05
    )


def test_pole_shadows_fall_away_from_that_sun(photo, land):
    poles = [p.geometry for p in land.of("pole")]
    away = np.radians(frame.SUN_AZIMUTH_GRID_DEG + 180)
    turns = np.radians(np.arange(-40, 41, 2))
    reach = np.arange(2.5, 7.5, 0.25)[:, None]
    best = []
    for pole in poles:
        rays = [
            np.array([pole.x, pole.y]) + reach * [[np.sin(away + t), np.cos(away + t)]]
            for t in turns
        ]
        dark = [np.median(brightness(photo, ray)) for ray in rays]
        if min(dark) < 0.85 * np.median(dark):  # a pole among trees has no shadow of its own
            best.append(np.degrees(turns[int(np.argmin(dark))]))
    assert len(best) >= 4
    assert np.abs(best).max() <= 4


def test_roof_sides_facing_the_sun_are_lighter(photo, land):
    # The hay shed's ridge runs nearly east: its north side looks to the sun.
    shed = land.named("neighbour's hay shed").geometry
    middle = np.array(shed.centroid.coords[0])
    along = np.radians(-8.0)
    ridge = np.array([np.cos(along), np.sin(along)])
    north = np.array([-ridge[1], ridge[0]])
    runs = np.arange(-8, 8.1, 0.5)[:, None] * ridge
    lit = np.concatenate([middle + runs + k * north for k in (1.5, 2.5, 3.5)])
    dim = np.concatenate([middle + runs - k * north for k in (1.5, 2.5, 3.5)])
    assert brightness(photo, lit).mean() > 1.05 * brightness(photo, dim).mean()


def test_creek_flats_are_greener_than_the_hill(land):
    with rasterio.open(landscape.AERIAL_TIF) as source:
        rgb = source.read().astype(np.float64)
        transform = source.transform
    green = rgb[1] / rgb.sum(axis=0)

    def mean_over(shape):
        x0, y0, x1, y1 = shape.bounds
        x, y = np.meshgrid(np.arange(x0, x1, 0.5), np.arange(y0, y1, 0.5))
        hit = shapely.contains_xy(shape, x, y)
        col, row = ~transform @ (x[hit], y[hit])
        return green[row.astype(int), col.astype(int)].mean()

    flats = land.named("Kestrel Creek").geometry.buffer(10) & land.boundary
    hill = land.boundary - land.named("Kestrel Creek").geometry.buffer(45)
    assert mean_over(flats) > mean_over(hill) + 0.005
