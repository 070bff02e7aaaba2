"""Sections, lengths along the ground, and the ground under outlines."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import LineString, MultiPolygon, Point, Polygon

from canvas.base.errors import InputError
from canvas.base.grid import Grid
from canvas.ground.profile import along_ground_length, coverage, section, under


def plane(east: float = 0.3, north: float = 0.4, n: int = 100, cell: float = 1.0) -> Grid:
    base = Grid(np.zeros((n, n)), 500_000.0, 5_800_000.0, cell)
    x, y = np.meshgrid(base.x_m(), base.y_m())
    return base.like(100 + east * (x - 500_000) + north * (y - 5_800_000))


LINE = LineString([(500_010, 5_799_990), (500_050, 5_799_960), (500_050, 5_799_930)])


def test_a_section_has_even_stations_and_all_bends() -> None:
    cut = section(plane(), LINE, 7.0)
    assert cut.distance_m.tolist() == [0, 7, 14, 21, 28, 35, 42, 49, 50, 56, 63, 70, 77, 80]
    assert cut.z_m == pytest.approx(
        100 + 0.3 * (cut.x_m - 500_000) + 0.4 * (cut.y_m - 5_800_000), abs=1e-6
    )
    assert cut.known_share == 1.0
    assert cut.at(50.0) == pytest.approx(100 + 15 - 16)
    assert np.isnan(cut.at(81.0))


def test_a_section_knows_where_data_lack() -> None:
    grid = plane()
    grid.z[:, 50:60] = np.nan
    line = LineString([(500_001, 5_799_950), (500_099, 5_799_950)])
    cut = section(grid, line, 0.5)
    assert np.isnan(cut.z_m).any()
    # Ten cells of 98 m lack, and half a cell each side has no neighbour to lean on.
    assert cut.known_share == pytest.approx(1 - 11 / 98, abs=0.015)
    found = along_ground_length(grid, line)
    assert found.length_m > found.plan_m == pytest.approx(98)
    assert found.known_share < 1


def test_a_section_outside_the_ground() -> None:
    cut = section(plane(), LineString([(0, 0), (10, 0)]))
    assert np.isnan(cut.z_m).all()
    assert cut.known_share == 0


def test_a_line_without_length_is_refused() -> None:
    with pytest.raises(InputError):
        section(plane(), LineString([(1, 1), (1, 1)]))


def test_length_along_a_plane() -> None:
    # Along a plane each leg is longer by sqrt(1 + grade²) exactly.
    grades = (0.3 * 0.8 - 0.4 * 0.6, -0.4)
    expected = 50 * np.hypot(1, grades[0]) + 30 * np.hypot(1, grades[1])
    assert along_ground_length(plane(), LINE).length_m == pytest.approx(expected, abs=1e-6)


OUTLINES = {
    "box on cells": shapely.box(500_010, 5_799_910, 500_030, 5_799_940),
    "box off cells": shapely.box(500_010.37, 5_799_910.21, 500_030.9, 5_799_940.66),
    "circle": Point(500_040, 5_799_950).buffer(22.3),
    "holed": Point(500_040, 5_799_950).buffer(30).difference(Point(500_045, 5_799_940).buffer(9)),
    "two": MultiPolygon(
        [shapely.box(500_010, 5_799_910, 500_020, 5_799_920), Point(500_060, 5_799_960).buffer(8)]
    ),
    "smaller than a cell": shapely.box(500_010.6, 5_799_910.6, 500_010.9, 5_799_910.8),
    "thinner than a strip": shapely.box(500_010.6, 5_799_910.63, 500_013.6, 5_799_910.64),
}


@pytest.mark.parametrize("name", OUTLINES)
def test_share_of_cells_adds_up_to_the_outline(name: str) -> None:
    outline = OUTLINES[name]
    window, share = coverage(plane(), outline)
    assert share.shape == window.shape
    assert share.min() >= 0
    assert share.max() <= 1
    # Eight strips a cell: half a strip (1/16 m) along both sides at worst, on 1 m cells.
    width = outline.bounds[2] - outline.bounds[0]
    assert share.sum() == pytest.approx(outline.area, abs=width / 8)


@pytest.mark.parametrize("name", OUTLINES)
def test_the_ground_under_an_outline_on_a_plane(name: str) -> None:
    outline = OUTLINES[name]
    found = under(plane(), outline)
    assert found.plan_m2 == pytest.approx(outline.area)
    assert found.surface_m2 == pytest.approx(outline.area * np.sqrt(1.25), rel=1e-9)
    assert found.known_share == pytest.approx(1.0)
    for slope in (found.slope_min, found.slope_mean, found.slope_max):
        assert slope == pytest.approx(0.5, abs=1e-9)
    assert found.aspect_deg == pytest.approx(np.degrees(np.arctan2(-0.3, -0.4)) % 360, abs=1e-5)
    middle = outline.centroid
    mean = 100 + 0.3 * (middle.x - 500_000) + 0.4 * (middle.y - 5_800_000)
    # A lone cell answers with its own centre, up to half a cell off.
    assert found.z_mean_m == pytest.approx(mean, abs=0.36 if outline.area < 1 else 0.02)
    assert found.z_min_m <= found.z_mean_m <= found.z_max_m


def test_where_it_is_steepest() -> None:
    grid = plane(0.0, 0.1)
    grid.z[40:, :] -= 5.0
    found = under(grid, shapely.box(500_010, 5_799_940, 500_030, 5_799_980))
    assert found.slope_max > 2
    assert found.steepest_xy_m[1] == pytest.approx(5_799_960, abs=1.0)


def test_half_off_the_ground() -> None:
    found = under(plane(), shapely.box(499_990, 5_799_950, 500_010, 5_799_970))
    assert found.known_share == pytest.approx(0.5)
    assert found.surface_m2 == pytest.approx(400 * (0.5 * np.sqrt(1.25) + 0.5))


def test_wholly_off_the_ground() -> None:
    for outline in (shapely.box(0, 0, 10, 10), Polygon()):
        found = under(plane(), outline)
        assert found.known_share == 0
        assert found.surface_m2 == outline.area
        assert np.isnan(found.slope_mean)


def test_level_ground_tilts_nowhere() -> None:
    found = under(plane(0, 0), OUTLINES["circle"])
    assert np.isnan(found.aspect_deg)
    assert found.slope_max == 0
