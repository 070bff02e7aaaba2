"""Times carry zones; the sun passes where it should in every part of the world."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from canvas.base.errors import InputError
from canvas.sky.position import DayKind, day_times, moments, sun_day, sun_position


def test_a_time_without_zone_is_refused() -> None:
    with pytest.raises(InputError, match="zone"):
        sun_position(datetime(2025, 6, 21, 12), 0, 0)


def test_the_same_moment_in_two_zones() -> None:
    here = datetime(2025, 6, 21, 12, tzinfo=ZoneInfo("Australia/Melbourne"))
    one = sun_position(here, -37.6, 143.5)
    other = sun_position([here.astimezone(UTC)], -37.6, 143.5)
    assert one.elevation_deg == pytest.approx(other.elevation_deg[0])
    assert moments(here) == np.datetime64("2025-06-21T02:00", "us")


def test_arrays_keep_their_shape() -> None:
    times = np.datetime64("2025-06-21", "us") + np.arange(24).reshape(4, 6) * np.timedelta64(1, "h")
    assert sun_position(times, 38, -121).azimuth_deg.shape == (4, 6)


@pytest.mark.parametrize(
    ("lat", "day", "north"),
    [
        (38.0, date(2025, 6, 21), False),
        (-34.0, date(2025, 12, 21), True),
        # In the tropics it passes on either side of overhead in turn.
        (0.0, date(2025, 6, 21), True),
        (0.0, date(2025, 12, 21), False),
        (-15.0, date(2025, 12, 21), False),
        (-15.0, date(2025, 6, 21), True),
    ],
)
def test_which_side_the_noon_sun_is(lat: float, day: date, north: bool) -> None:
    noon = sun_day(day, lat, 0.0, UTC)
    sun = sun_position(noon.noon, lat, 0.0)
    assert (np.cos(np.radians(sun.azimuth_deg)) > 0) == north
    assert noon.noon_elevation_deg == pytest.approx(float(sun.elevation_deg))
    # 90° less the angle between the latitude and the sun's own (23.44° at the solstices).
    declination = 23.44 if day.month == 6 else -23.44
    assert noon.noon_elevation_deg == pytest.approx(90 - abs(lat - declination), abs=0.02)


def test_the_equator_has_twelve_hours_and_a_little() -> None:
    # 2 x 0.833° at 15° an hour, and at the solstices that over the cosine of 23.44°.
    for month in range(1, 13):
        assert sun_day(date(2025, month, 21), 0.0, 0.0, UTC).length_h == pytest.approx(
            12.116, abs=0.012
        )


def test_rise_and_set_belong_to_the_day_asked_for() -> None:
    for hours, lon in ((13, 178.0), (-11, -170.0), (5.5, 77.0)):
        zone = timezone(timedelta(hours=hours))
        found = sun_day(date(2025, 3, 1), -10.0, lon, zone)
        assert found.rise is not None
        assert found.sets is not None
        assert found.rise < found.noon < found.sets
        assert {t.date() for t in (found.rise, found.noon, found.sets)} == {date(2025, 3, 1)}
        assert found.rise.utcoffset() == timedelta(hours=hours)


@pytest.mark.parametrize("lat", [90.0, -90.0])
def test_the_poles(lat: float) -> None:
    kinds = {sun_day(date(2025, m, 21), lat, 0.0, UTC).kind for m in (6, 12)}
    assert kinds == {DayKind.UP_ALL_DAY, DayKind.DOWN_ALL_DAY}


def test_the_edge_of_polar_day_is_passed_without_a_jump() -> None:
    lengths = [
        sun_day(date(2025, 5, 1) + timedelta(k), 69.65, 18.96, UTC).length_h for k in range(40)
    ]
    assert lengths[-1] == 24.0
    assert all(later >= earlier - 0.01 for earlier, later in pairwise(lengths))
    assert max(np.diff(lengths)) < 2.6


def test_a_day_that_changes_its_clocks() -> None:
    zone = ZoneInfo("Europe/Lisbon")
    assert len(day_times(date(2025, 3, 30), zone, 60)) == 24
    assert len(day_times(date(2025, 10, 26), zone, 60)) == 26
    assert len(day_times(date(2025, 7, 1), zone, 10)) == 145
