"""The sun at the site: azimuths turned from true north to the grid, once, here."""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from canvas.base.errors import BadData
from canvas.ground.measure import GridOnEarth
from canvas.sky import position, radiation
from canvas.sky.position import SunDay
from canvas.sky.radiation import MonthlyEnergy

if TYPE_CHECKING:
    from canvas.study.study import Study

__all__ = ["MonthlyEnergy", "SunAt", "SunDay", "clock_zone", "slope_sun", "sun_at", "sun_day"]


@dataclass(frozen=True, slots=True)
class SunAt:
    """Where the sun stands."""

    elevation_deg: float
    #: Clockwise from grid north.
    azimuth_deg: float
    #: Clockwise from true north.
    true_azimuth_deg: float


def place(study: Study) -> GridOnEarth:
    """Return the site's place on the Earth; `BadData` while it has none."""
    if study.land.earth is None:
        raise BadData(
            "the site has no place yet", remedy="Draw or bring in its boundary or its ground."
        )
    return study.land.earth


def clock_zone(study: Study) -> datetime.tzinfo:
    """Return the site's standard time: as stated, else by its longitude to the nearest hour."""
    stated = study.plan.site.clock_h
    hours = round(place(study).lon_deg / 15) if stated is None else stated
    return datetime.timezone(datetime.timedelta(hours=hours))


def sun_at(study: Study, when: datetime.datetime) -> SunAt:
    """Return the sun's place in the sky; `when` carries a zone."""
    earth = place(study)
    found = position.sun_position(when, earth.lat_deg, earth.lon_deg, refracted=True)
    azimuth = float(found.azimuth_deg)
    return SunAt(float(found.elevation_deg), earth.grid_azimuth(azimuth), azimuth)


def sun_day(study: Study, day: datetime.date) -> SunDay:
    """Return sunrise, noon and sunset of a day, in the site's standard time."""
    earth = place(study)
    return position.sun_day(day, earth.lat_deg, earth.lon_deg, clock_zone(study))


def slope_sun(study: Study, slope_ratio: float, aspect_deg: float) -> MonthlyEnergy:
    """Return a slope's clear-sky energy by month; `aspect_deg` from grid north."""
    earth = place(study)
    height = 0.0
    if study.land.grid is not None:
        height = float(np.nanmean(study.land.grid.z))
    slope_deg = math.degrees(math.atan(slope_ratio))
    return radiation.monthly_clear_sky(
        earth.lat_deg, height, slope_deg, earth.true_azimuth(aspect_deg)
    )
