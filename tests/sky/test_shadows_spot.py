"""The shadow study, a day's light under trees and houses, and single spots."""

from __future__ import annotations

from datetime import UTC, date, timedelta, timezone

import numpy as np
import pytest
import shapely

from canvas.base.errors import InputError
from canvas.base.grid import Grid
from canvas.sky.crowns import crowns
from canvas.sky.horizon import horizons
from canvas.sky.shadows import light_through, shaded_hours, shadows
from canvas.sky.spot import (
    crown_outline,
    skyline,
    spot,
    spot_day,
    spot_year,
    sun_path,
    sun_paths,
    sun_sectors,
)
from canvas.sky.sunhours import a_day, sun_hours, suns
from canvas.sky.walls import building, wall

FLAT = Grid(np.zeros((120, 120)), -60, 60, 1.0)


def test_a_cell_is_dark_when_its_middle_is() -> None:
    cast = shadows(40.0, 200.0, crowns([0.0, 9.0], [0.0, 4.0], 8.0, 9.0, 2.0, through=0.1))
    light = light_through(FLAT, cast)
    one, two = cast.shapes()
    for r, c in np.argwhere(light < 1):
        point = shapely.Point(FLAT.x_m()[c], FLAT.y_m()[r])
        times = int(one.covers(point)) + int(two.covers(point))
        assert light[r, c] == pytest.approx(0.1**times)
    assert (light < 1).sum() == pytest.approx(shapely.union(one, two).area, rel=0.05)


def test_a_courtyard_lets_light_in() -> None:
    yard = shapely.Polygon(
        [(-20, -20), (20, -20), (20, 20), (-20, 20)],
        [[(-10, -10), (10, -10), (10, 10), (-10, 10)]],
    )
    cast = shadows(60.0, 180.0)
    from dataclasses import replace

    light = light_through(FLAT, replace(cast, solids=(yard,), solids_through=(0.0,)))
    assert light[60, 60] == 1
    assert light[60, 45] == 0
    assert (light == 0).sum() == 1600 - 400


def test_low_and_set_suns_throw_nothing() -> None:
    tree = crowns(0.0, 0.0, 4.0, 5.0)
    for elevation in (1.0, -10.0):
        cast = shadows(elevation, 90.0, tree)
        assert cast.none
        assert light_through(FLAT, cast).min() == 1


def test_a_day_under_a_house_and_a_tree() -> None:
    found = horizons(FLAT)
    day = suns(a_day(355), 38.0, 0.0)
    open_sky = sun_hours(found, day).z
    assert shaded_hours(found, day).z == pytest.approx(open_sky, abs=0.1)
    house = building(shapely.box(-6, -4, 6, 4), 4.0)
    tree = crowns(25.0, 0.0, 6.0, 8.0, 2.0, through=0.5)
    shaded = shaded_hours(found, day, tree, [house]).z
    at = {name: shaded[60 - y, 60 + x] for name, (x, y) in {
        "north": (0, 6), "south": (0, -6), "tree": (25, 7), "far": (-50, -50)}.items()}  # fmt: skip
    assert at["north"] < 2
    assert at["south"] == pytest.approx(open_sky[66, 60], abs=0.3)
    assert at["far"] == pytest.approx(open_sky[110, 10], abs=0.3)
    assert at["north"] < at["tree"] < at["far"]


def test_a_spots_day_and_the_map_of_it_agree() -> None:
    found = horizons(FLAT)
    house = building(shapely.box(-6, -4, 6, 4), 4.0)
    trees = crowns([12.0, -15.0], [2.0, 6.0], 6.0, 8.0, 2.0, through=0.2)
    day = suns(a_day(80), -34.0, 0.0)
    shaded = shaded_hours(found, day, trees, [house]).z
    for x, y in ((0.5, -10.5), (14.5, -8.5), (-14.5, -3.5), (3.5, 12.5)):
        place = spot(x, y, FLAT, those=trees, solids=[house])
        alone = spot_day(place, date(2025, 3, 21), -34.0, 0.0, UTC)
        assert alone.light_h == pytest.approx(shaded[int(60 - y), int(60 + x)], abs=0.5)


@pytest.mark.parametrize(
    ("lat", "away", "hours"),
    [
        # An endless wall 4 m high on the sun's side (handbook): December, March, June 2025.
        (38, 3, (0.0, 0.5, 14.63)), (38, 6, (0.0, 12.0, 14.63)), (38, 12, (6.57, 12.0, 14.63)),
        (-34, 12, (14.27, 11.98, 7.43)), (-34, 6, (14.27, 11.98, 0.0)),
    ],
)  # fmt: skip
def test_beside_an_endless_wall(lat: float, away: float, hours: tuple[float, ...]) -> None:
    y = -away if lat > 0 else away
    place = spot(0.0, 0.0, FLAT, solids=[wall(shapely.LineString([(-9e4, y), (9e4, y)]), 4.0)])
    days = (date(2025, 12, 21), date(2025, 3, 20), date(2025, 6, 21))
    got = [spot_day(place, day, lat, 0.0, UTC, step_min=1.0).sun_h for day in days]
    assert got == pytest.approx(hours, abs=0.1)


def test_what_stands_in_the_way_is_named() -> None:
    trees = crowns(0.0, -6.0, 6.0, 9.0, 2.0, through=0.5)
    house = building(shapely.box(-20, -4, -12, 4), 5.0)
    place = spot(0.0, 0.0, FLAT, those=trees, solids=[house])
    zone = timezone(timedelta(hours=1))
    day = spot_day(place, date(2025, 3, 20), 38.0, 15.0, zone)
    assert [s.what for s in day.stretches] == ["sun", "crown", "sun", "building"]
    assert all(s.start.tzinfo is zone for s in day.stretches)
    assert day.stretches[1].share == pytest.approx(0.5)
    assert day.sun_h < day.light_h < day.up_h
    assert sum((s.end - s.start).total_seconds() for s in day.stretches) / 3600 == pytest.approx(
        day.up_h
    )
    assert len(spot_year(place, 38.0, 15.0, zone)) == 12


def test_a_hill_stands_in_the_way() -> None:
    row, col = np.mgrid[0:100, 0:100]
    ground = Grid(np.where(col < 30, 20.0, 0.0) + 0 * row, 0, 100, 1.0)
    place = spot(60.0, 50.0, ground)
    assert place.around.land_at(np.array([270.0]))[0] == pytest.approx(33.7, abs=1.0)
    stretches = spot_day(place, date(2025, 3, 20), 40.0, 0.0, UTC).stretches
    assert [s.what for s in stretches] == ["sun", "land"]
    with pytest.raises(InputError):
        skyline(-10.0, 0.0, ground)


def test_an_eye_above_the_ground_sees_over_a_bank() -> None:
    z = np.zeros((60, 60))
    z[:, 40] = 1.0
    ground = Grid(z, 0, 60, 1.0)
    low = skyline(20.5, 30.0, ground).land_at(np.array([90.0]))[0]
    high = skyline(20.5, 30.0, ground, eye_m=1.0).land_at(np.array([90.0]))[0]
    assert low == pytest.approx(np.degrees(np.arctan(1 / 20)), abs=0.1)
    assert high == pytest.approx(0.0, abs=0.01)


def test_paths_of_the_sun_in_the_tropics() -> None:
    june, equinox, december = sun_paths(-12.0)
    assert june.azimuth_deg[june.elevation_deg.argmax()] == pytest.approx(0, abs=0.01)
    assert december.azimuth_deg[december.elevation_deg.argmax()] == pytest.approx(180, abs=0.01)
    # 90 - |φ - δ|
    assert june.elevation_deg.max() == pytest.approx(90 - 12 - 23.44, abs=0.02)
    assert december.elevation_deg.max() == pytest.approx(90 - 23.44 + 12, abs=0.02)
    assert equinox.solar_h[equinox.elevation_deg.argmax()] == 12


def test_sectors_of_the_sun() -> None:
    summer, winter = sun_sectors(38.0)
    # acos(sin δ / cos φ): 59.7 and 120.3 degrees; noon at 90 - |φ - δ|.
    assert (summer.rise_deg, summer.set_deg) == pytest.approx((59.7, 300.3), abs=0.1)
    assert winter.rise_deg == pytest.approx(120.3, abs=0.1)
    assert (summer.noon_deg, winter.noon_deg) == pytest.approx((75.44, 28.56), abs=0.01)
    south, _ = sun_sectors(-34.0, turn_deg=2.0)
    assert south.label == "longest day"
    assert south.noon_deg == pytest.approx(79.44, abs=0.01)
    assert south.noon_north
    assert south.rise_deg == pytest.approx(118.7 - 2.0, abs=0.1)
    assert not sun_sectors(-12.0)[0].noon_north  # overhead and on, to the south
    polar = sun_sectors(75.0)[0]
    assert (polar.rise_deg, polar.set_deg) == (None, None)


def test_paths_turn_with_the_grid() -> None:
    straight, turned = sun_path(45.0, date(2025, 6, 21)), sun_path(45.0, date(2025, 6, 21), "", 2)
    assert (straight.azimuth_deg - turned.azimuth_deg) % 360 == pytest.approx(2.0)


def test_the_outline_of_a_crown_in_the_sky() -> None:
    tree = crowns(0.0, 20.0, 6.0, 9.0, 3.0)
    seen = crown_outline(tree, 0, 0.0, (0.0, 0.0, 0.0), 64)
    assert seen is not None
    # A ball of 3 m whose middle is 6 m up, 20 m away: half-angle asin(3 / |c|) about it.
    far = np.hypot(20, 6)
    middle, half = np.degrees(np.arctan2(6, 20)), np.degrees(np.arcsin(3 / far))
    assert seen[:, 1].max() == pytest.approx(middle + half, abs=0.05)
    assert seen[:, 1].min() == pytest.approx(middle - half, abs=0.05)
    assert np.abs(seen[:, 0]).max() == pytest.approx(np.degrees(np.arcsin(3 / 20)), abs=0.05)
    assert crown_outline(tree, 0, 0.0, (0.0, 20.0, 0.0)) is None
