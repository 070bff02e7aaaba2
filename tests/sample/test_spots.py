"""The spots offered to a design, measured against ground, boundary and neighbours."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
import shapely

from sample_sites.kestrel_rise.make import spots

PLACES = (
    *("HOUSE", "SHED", "SHED_TRACK", "PATH", "ORCHARD", "GARDEN", "TANK", "WELL"),
    *("SEPTIC", "BURIED", "NORTH_HEDGE", "SOUTH_WEST_BELT", "FIREBREAK"),
)


@pytest.mark.parametrize("name", PLACES)
def test_each_place_is_inside_the_boundary(name, land):
    assert land.boundary.covers(getattr(spots, name))


def grades(dem, line, run_m):
    at = np.arange(0, line.length, 1.0)
    xy = np.array([line.interpolate(s).coords[0] for s in at])
    # Mean of four neighbouring cells: the ground a wheel feels, not one cell's centimetres.
    z = np.mean([dem.level(*(xy + off).T) for off in ((-1, 0), (1, 0), (0, -1), (0, 1))], axis=0)
    return (z[run_m:] - z[:-run_m]) / run_m


def test_track_is_mostly_gentle_with_one_steep_stretch(dem, land):
    road = land.named("Windmill Road").geometry
    start, end = shapely.Point(spots.TRACK.coords[0]), shapely.Point(spots.TRACK.coords[-1])
    assert road.distance(start) < 4
    assert spots.HOUSE.distance(end) < 20
    assert spots.TRACK.distance(spots.ENTRY_GATE) < 1.5
    assert land.boundary.exterior.distance(spots.ENTRY_GATE) < 1.0
    grade = np.abs(grades(dem, spots.TRACK, 10))
    assert np.mean(grade <= 0.12) > 0.75
    steep = np.flatnonzero(grade > 0.16)
    assert 4 <= len(steep) <= 20
    assert np.ptp(steep) == len(steep) - 1  # one stretch, not several
    assert grade.max() < 0.185


def test_house_stands_level_and_orchard_looks_north(dem):
    down, right = np.gradient(dem.z)

    def slope_and_aspect(shape):
        x0, y0, x1, y1 = shape.bounds
        x, y = np.meshgrid(np.arange(x0, x1, 1.0), np.arange(y0, y1, 1.0))
        hit = shapely.contains_xy(shape, x, y)
        col, row = ~dem.transform @ (x[hit], y[hit])
        cell = (row.astype(int), col.astype(int))
        east, north = right[cell].mean(), -down[cell].mean()
        return np.hypot(east, north), np.degrees(np.arctan2(-east, -north)) % 360

    assert slope_and_aspect(spots.HOUSE)[0] < 0.06
    assert slope_and_aspect(spots.GARDEN)[0] < 0.08
    slope, aspect = slope_and_aspect(spots.ORCHARD)
    assert 0.08 < slope < 0.2
    assert min(aspect, 360 - aspect) < 20


def test_water_falls_from_tank_to_house(dem):
    tank = dem.level(spots.TANK.x, spots.TANK.y)
    house = dem.level(*spots.HOUSE.centroid.coords[0])
    assert tank - house > 7


def test_septic_field_keeps_its_distances(land):
    assert spots.SEPTIC.distance(spots.WELL) > 30
    assert spots.SEPTIC.distance(spots.HOUSE) > 6
    for water in land.of("watercourse"):
        assert water.geometry.distance(spots.SEPTIC) > 60, water.name


def test_zones_fill_the_boundary_without_overlap(land):
    assert sorted(spots.ZONES) == [0, 1, 2, 3, 4, 5]
    total = sum(zone.area for zone in spots.ZONES.values())
    assert total == pytest.approx(land.boundary.area, rel=0.01)
    for a, b in combinations(spots.ZONES.values(), 2):
        assert a.intersection(b).area < 2.0
    assert all(zone.is_valid for zone in spots.ZONES.values())
    assert spots.ZONES[0].contains(spots.HOUSE)
    assert spots.ZONES[2].covers(spots.ORCHARD)
