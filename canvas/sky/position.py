"""Where the sun stands, and when it rises, peaks and sets."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from canvas.base.errors import InputError
from canvas.base.grid import Floats
from canvas.base.sources import cites

#: Moments, UTC.
Moments = NDArray[np.datetime64]

#: Terrestrial less universal time [s]. About right for 1990 to 2050: the sun moves 0.0004° in
#: the 10 s it may be off by.
DELTA_T_S = 69.0
#: The sun's centre at sunrise and sunset: half its disc and the usual refraction below level.
HORIZON_DEG = -0.8333

_J2000 = np.datetime64("2000-01-01T12:00:00", "us")


def moments(when: datetime | np.datetime64 | Iterable[datetime] | Moments) -> Moments:
    """Return times as UTC moments; a `datetime` must carry its zone, an array is UTC already."""
    if isinstance(when, np.ndarray | np.datetime64):
        return np.asarray(when, dtype="datetime64[us]")
    each = [when] if isinstance(when, datetime) else list(when)
    if any(t.tzinfo is None for t in each):
        raise InputError("a time without a zone does not say where the sun is")
    found = np.array([t.astimezone(UTC).replace(tzinfo=None) for t in each], "datetime64[us]")
    return found.reshape(()) if isinstance(when, datetime) else found


@dataclass(frozen=True, slots=True, eq=False)
class Apparent:
    """The sun seen from the Earth's centre; arrays as the moments given."""

    right_ascension_deg: Floats
    declination_deg: Floats
    #: Greenwich hour angle of the equinox.
    sidereal_deg: Floats
    #: Distance in astronomical units.
    distance_au: Floats


def _sin(degrees: Floats) -> Floats:
    return np.sin(np.radians(degrees))


def _cos(degrees: Floats) -> Floats:
    return np.cos(np.radians(degrees))


@cites("meeus", "meeus_formulae")
def apparent_sun(when: Moments) -> Apparent:
    """Return the sun's apparent place: Meeus' low-precision theory with planetary terms.

    The mean elements, equation of centre and nutation are those for the epoch J2000; the five
    small terms (Venus twice, Jupiter, the Moon, one of long period) are counted from 1900 as
    published. Within 0.004 degrees of the NREL SPA from 1990 to 2090 (tested).
    """
    days: Floats = np.asarray((when - _J2000) / np.timedelta64(1, "D"), dtype=np.float64)
    t = (days + DELTA_T_S / 86400) / 36525
    mean = 280.46646 + 36000.76983 * t + 0.0003032 * t**2
    anomaly = 357.52911 + 35999.05029 * t - 0.0001537 * t**2
    eccentricity = 0.016708634 - 0.000042037 * t - 1.267e-7 * t**2
    centre = (
        (1.914602 - 0.004817 * t - 0.000014 * t**2) * _sin(anomaly)
        + (0.019993 - 0.000101 * t) * _sin(2 * anomaly)
        + 0.000289 * _sin(3 * anomaly)
    )
    c = t + 1.0  # centuries since noon of 31 December 1899: exactly one more
    pulled = (
        0.00134 * _cos(153.23 + 22518.7541 * c)
        + 0.00154 * _cos(216.57 + 45037.5082 * c)
        + 0.00200 * _cos(312.69 + 32964.3577 * c)
        + 0.00179 * _sin(350.74 + 445267.1142 * c - 0.00144 * c**2)
        + 0.00178 * _sin(231.19 + 20.20 * c)
    )
    node = 125.04452 - 1934.136261 * t
    moon = 218.3165 + 481267.8813 * t
    in_longitude = (
        -17.20 * _sin(node) - 1.32 * _sin(2 * mean) - 0.23 * _sin(2 * moon) + 0.21 * _sin(2 * node)
    ) / 3600
    in_obliquity = (
        9.20 * _cos(node) + 0.57 * _cos(2 * mean) + 0.10 * _cos(2 * moon) - 0.09 * _cos(2 * node)
    ) / 3600
    mean_tilt = 84381.448 - 46.8150 * t - 0.00059 * t**2 + 0.001813 * t**3
    tilt = mean_tilt / 3600 + in_obliquity
    distance = 1.000001018 * (1 - eccentricity**2) / (1 + eccentricity * _cos(anomaly + centre))
    longitude = mean + centre + pulled + in_longitude - 20.4898 / 3600 / distance
    across = _cos(tilt) * _sin(longitude)
    sidereal = (
        280.46061837
        + 360.98564736629 * days
        + 0.000387933 * (days / 36525) ** 2
        + in_longitude * _cos(tilt)
    )
    return Apparent(
        np.degrees(np.arctan2(across, _cos(longitude))),
        np.degrees(np.arcsin(_sin(tilt) * _sin(longitude))),
        sidereal,
        distance,
    )


@dataclass(frozen=True, slots=True, eq=False)
class SunPosition:
    """The sun as seen from a place; arrays as the moments given."""

    #: Above the level horizon.
    elevation_deg: Floats
    #: Clockwise from TRUE north, [0, 360).
    azimuth_deg: Floats


def refraction_deg(
    elevation_deg: Floats, pressure_kpa: float = 101.0, temperature_c: float = 10.0
) -> Floats:
    """Return how much the air lifts the sun [degrees]; nought once its whole disc has set.

    The form used by the NREL SPA (after Bennett and Saemundsson).
    """
    e = np.asarray(elevation_deg, dtype=np.float64)
    up = e >= -(0.26667 + 0.5667)
    safe = np.where(up, e, 90.0)
    air = (pressure_kpa / 101.0) * 283.0 / (273.0 + temperature_c)
    lift = air * 1.02 / (60 * np.tan(np.radians(safe + 10.3 / (safe + 5.11))))
    return np.where(up, lift, 0.0)


@cites("spa2004")
def sun_position(
    when: datetime | Iterable[datetime] | Moments,
    lat_deg: float,
    lon_deg: float,
    *,
    refracted: bool = False,
    pressure_kpa: float = 101.0,
    temperature_c: float = 10.0,
) -> SunPosition:
    """Return the sun's elevation and azimuth from true north at each moment.

    Within 0.004 degrees of the NREL SPA from 1990 to 2090. Without `refracted` the elevation is
    the geometric one; shading needs no more except close to sunrise and sunset. Raises
    `InputError` for a time without a zone.
    """
    sun = apparent_sun(moments(when))
    hour = sun.sidereal_deg + lon_deg - sun.right_ascension_deg
    s, c = _sin(sun.declination_deg), _cos(sun.declination_deg)
    lat = np.radians(lat_deg)
    raw = np.arcsin(np.clip(np.sin(lat) * s + np.cos(lat) * c * _cos(hour), -1, 1))
    azimuth = np.arctan2(-c * _sin(hour), s * np.cos(lat) - c * np.sin(lat) * _cos(hour))
    # Seen from the surface, not the centre, the sun stands a little lower.
    elevation = np.degrees(raw) - 8.794 / 3600 * np.cos(raw) / sun.distance_au
    if refracted:
        elevation = elevation + refraction_deg(elevation, pressure_kpa, temperature_c)
    return SunPosition(elevation, np.degrees(azimuth) % 360.0)


class DayKind(StrEnum):
    """What the sun does on a day."""

    RISES_AND_SETS = "rises and sets"
    UP_ALL_DAY = "up all day"
    DOWN_ALL_DAY = "down all day"


@dataclass(frozen=True, slots=True)
class SunDay:
    """One day's sun; times carry the zone asked for."""

    kind: DayKind
    noon: datetime
    noon_elevation_deg: float
    #: None when the sun does not rise or set that day.
    rise: datetime | None
    sets: datetime | None

    @property
    def length_h(self) -> float:
        """Hours from sunrise to sunset; 24 or 0 where there is neither."""
        if self.rise is not None and self.sets is not None:
            return (self.sets - self.rise).total_seconds() / 3600
        return 24.0 if self.kind is DayKind.UP_ALL_DAY else 0.0


def _hour_angle_deg(when: np.datetime64, lon_deg: float) -> tuple[float, float]:
    """Return the sun's local hour angle in [-180, 180) and its declination."""
    sun = apparent_sun(np.asarray(when))
    hour = float(sun.sidereal_deg) + lon_deg - float(sun.right_ascension_deg)
    return (hour + 180.0) % 360.0 - 180.0, float(sun.declination_deg)


def _hours(hours: float) -> np.timedelta64:
    return np.timedelta64(round(hours * 3.6e9), "us")


def _crossing(
    noon: np.datetime64, lat_deg: float, lon_deg: float, sign: int
) -> np.datetime64 | None:
    """Return when the sun crosses the horizon before (-1) or after (+1) noon, or None."""
    at = noon + _hours(sign * 6.0)
    lat = np.radians(lat_deg)
    for _ in range(8):
        hour, declination = _hour_angle_deg(at, lon_deg)
        d = np.radians(declination)
        cosine = (np.sin(np.radians(HORIZON_DEG)) - np.sin(lat) * np.sin(d)) / (
            np.cos(lat) * np.cos(d)
        )
        if abs(cosine) > 1:
            return None
        want = sign * float(np.degrees(np.arccos(cosine)))
        # The hour angle wraps at midnight: step the short way.
        step = ((want - hour + 180.0) % 360.0 - 180.0) / 15.041
        at = at + _hours(step)
        if abs(step) < 1e-5:
            break
    return at


@cites("spa2004")
def sun_day(day: date, lat_deg: float, lon_deg: float, zone: tzinfo) -> SunDay:
    """Return sunrise, noon and sunset of a civil day at a place.

    Noon is the sun's passage nearest to 12:00 in `zone`; rise and set are those before and after
    it, for the upper limb on a level horizon with usual refraction. Polar day and night are
    named outcomes, not errors.
    """
    middle = datetime.combine(day, time(12), tzinfo=zone)
    at: np.datetime64 = np.datetime64(moments(middle).item(), "us")
    for _ in range(4):
        hour, _declination = _hour_angle_deg(at, lon_deg)
        at = at - _hours(hour / 15.0)
    noon_up = float(sun_position(moments(at), lat_deg, lon_deg).elevation_deg)
    # At the very poles the formula divides by nought; a metre away it does not.
    lat = float(np.clip(lat_deg, -89.99999, 89.99999))
    rise, sets = _crossing(at, lat, lon_deg, -1), _crossing(at, lat, lon_deg, +1)

    def local(moment: np.datetime64) -> datetime:
        stamp: datetime = moment.astype("datetime64[us]").item()
        return stamp.replace(tzinfo=UTC).astimezone(zone)

    noon = local(at)
    if rise is None or sets is None:
        kind = DayKind.UP_ALL_DAY if noon_up > HORIZON_DEG else DayKind.DOWN_ALL_DAY
        return SunDay(kind, noon, noon_up, None, None)
    return SunDay(DayKind.RISES_AND_SETS, noon, noon_up, local(rise), local(sets))


def day_times(day: date, zone: tzinfo, step_minutes: float = 10.0) -> Moments:
    """Return evenly spaced moments from the start of a civil day to its end."""
    start = datetime.combine(day, time(0), tzinfo=zone)
    end = datetime.combine(day + timedelta(days=1), time(0), tzinfo=zone)
    # Between aware times, so that a day of 23 or 25 hours has its true length.
    minutes = (end.astimezone(UTC) - start.astimezone(UTC)).total_seconds() / 60
    steps = np.arange(int(minutes / step_minutes + 1e-9) + 1) * round(step_minutes * 6e7)
    found: Moments = moments(start) + steps.astype("timedelta64[us]")
    return found


def equation_of_time_min(when: datetime | Moments) -> Floats:
    """Return apparent less mean solar time [minutes]."""
    at = moments(when)
    sun = apparent_sun(at)
    day = (at - at.astype("datetime64[D]")) / np.timedelta64(1, "D")
    hour = sun.sidereal_deg - sun.right_ascension_deg
    # The hour angle of the mean sun at Greenwich is 360° x the share of the day, less 180°.
    return np.asarray((hour - 360.0 * day + 180.0 + 180.0) % 360.0 - 180.0) * 4.0
