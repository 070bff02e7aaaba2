"""Catchments of points, lines and areas; the way of a drop."""

from __future__ import annotations

import time

import numpy as np
import pytest
from shapely import GeometryCollection, LineString, MultiPoint, Point, Polygon, box

from canvas.base.errors import InputError
from canvas.base.grid import Grid
from canvas.ground.catchment import (
    catchment,
    catchment_at,
    cells_outline,
    cells_under,
    drop_path,
    hollow_catchment,
    hollow_outline,
)
from canvas.ground.faces import Held, HeldLine, hold
from canvas.ground.flow import flow


def plane(azimuth: float, rows: int = 60, cols: int = 80, cell: float = 1.0) -> Grid:
    """A 10 % slope that falls towards an azimuth, its south-west corner at (0, 0)."""
    base = Grid(np.zeros((rows, cols)), 0.0, rows * cell, cell)
    x, y = np.meshgrid(base.x_m(), base.y_m())
    angle = np.radians(azimuth)
    return base.like(50 - 0.1 * (x * np.sin(angle) + y * np.cos(angle)))


def valley(cell: float = 1.0) -> Grid:
    """A valley 200 m long whose floor falls south along x = 50."""
    base = Grid(np.zeros((round(200 / cell), round(100 / cell))), 0.0, 200.0, cell)
    x, y = np.meshgrid(base.x_m(), base.y_m())
    return base.like(0.2 * np.abs(x - 50.1) + 0.05 * y)


def test_a_point_on_a_plane_gathers_the_row_above_it() -> None:
    found = catchment_at(flow(plane(90)), 40.5, 30.5)
    assert found is not None
    assert found.area_m2 == 41
    assert found.at_least
    outline = found.outline()
    assert outline.equals(box(0, 30, 41, 31))
    assert found.grid().z[29, 40] == 1
    assert np.isnan(found.grid().z[29, 41])


def test_a_line_gathers_all_that_crosses_it() -> None:
    found = catchment(flow(plane(90)), LineString([(40.5, 10.5), (60.5, 30.5)]))
    assert found is not None
    # Rows 10 to 30, each from the west rim to the line.
    assert found.area_m2 == pytest.approx(sum(41 + i for i in range(21)), abs=21)
    assert found.outline().is_valid


def test_an_area_gathers_what_comes_to_any_part_of_it() -> None:
    found = flow(plane(180))
    pond = Polygon([(20.2, 20.3), (39.8, 20.3), (39.8, 27.7), (20.2, 27.7)])
    mine = catchment(found, pond)
    assert mine is not None
    # Columns 20 to 39, from the north rim down to y = 20.
    assert mine.outline().equals(box(20, 20, 40, 60))
    # Narrower than a cell, at a slant: still nothing slips through.
    wall = LineString([(10.5, 20.5), (30.5, 34.5)]).buffer(0.2)
    narrow = catchment(found, wall)
    assert narrow is not None
    drops = [drop_path(found, x + 0.5, 58.5) for x in range(11, 30)]
    assert all(drop is not None and drop.line.intersects(wall) for drop in drops)
    assert narrow.mask()[1, 11:30].all()


def test_places_outside_and_of_other_kinds() -> None:
    ground = plane(90)
    ground.z[10:20, 10:20] = np.nan
    found = flow(ground)
    assert catchment_at(found, -5, 10) is None
    assert catchment_at(found, 15.5, 45.5) is None
    assert catchment(found, Point(15.5, 45.5)) is None
    assert catchment(found, LineString([(-50, -5), (-40, -8)])) is None
    assert catchment(found, MultiPoint([(40.5, 30.5), (40.5, 31.5)])).area_m2 == 82  # type: ignore[union-attr]
    with pytest.raises(InputError):
        catchment(found, GeometryCollection([Point(1, 1)]))
    with pytest.raises(InputError):
        hollow_outline(found, len(found.hollows))


def test_a_click_beside_the_floor_snaps_to_it() -> None:
    found = flow(valley())
    beside = catchment_at(found, 47.5, 60.5)
    snapped = catchment_at(found, 47.5, 60.5, snap_m=5)
    assert beside is not None
    assert snapped is not None
    assert beside.area_m2 < 60
    assert snapped.area_m2 > 100 * 135


def test_what_touches_the_edge_is_at_least() -> None:
    base = Grid(np.zeros((101, 101)), 0.0, 101.0, 1.0)
    x, y = np.meshgrid(base.x_m(), base.y_m())
    # A basin within a rim that falls away to the outside.
    far = np.hypot(x - 50.5, y - 50.5)
    found = flow(base.like(np.where(far < 30, far / 3, 20 - far / 3)))
    assert found.hollows.worth(depth_m=1).tolist() == [0]
    inner = hollow_catchment(found, 0)
    assert not inner.at_least
    # Cells on the crest fall to either side: half a cell or so along the rim is in doubt.
    assert inner.area_m2 == pytest.approx(np.pi * 30**2, abs=0.75 * 2 * np.pi * 30)
    water = hollow_outline(found, 0)
    assert water.is_valid
    assert water.area == found.hollows[0].area_m2
    assert inner.outline().covers(water)
    outer = catchment_at(found, 50.5, 0.5)
    assert outer is not None
    assert outer.at_least


def test_outlines_have_holes_and_parts_that_touch_in_corners() -> None:
    grid = Grid(np.zeros((8, 9)), 100.0, 200.0, 2.0)
    inside = np.array(
        [
            [0, 1, 1, 1, 1, 1, 0, 0, 0],
            [0, 1, 0, 0, 0, 1, 0, 1, 1],
            [0, 1, 0, 1, 0, 1, 0, 1, 1],
            [0, 1, 0, 0, 1, 1, 1, 0, 0],
            [0, 1, 1, 1, 1, 0, 0, 0, 0],
            [0, 1, 1, 0, 1, 1, 0, 0, 1],
            [1, 0, 1, 1, 1, 1, 0, 0, 0],
            [0, 1, 0, 1, 1, 1, 1, 1, 1],
        ],
        bool,
    )
    outline = cells_outline(grid, np.flatnonzero(inside).astype(np.int32))
    assert outline.is_valid
    assert outline.area == inside.sum() * 4
    assert sum(len(part.interiors) for part in outline.geoms) >= 2
    x, y = np.meshgrid(grid.x_m(), grid.y_m())
    for r, c in np.ndindex(inside.shape):
        assert outline.contains(Point(x[r, c], y[r, c])) == inside[r, c]
    assert cells_outline(grid, np.zeros(0, np.int32)).is_empty


def test_cells_under_a_line_leave_no_diagonal_gap() -> None:
    grid = Grid(np.zeros((6, 6)), 0.0, 6.0, 1.0)
    hit = np.zeros((6, 6), bool)
    # Straight through the corners.
    hit.ravel()[cells_under(grid, LineString([(0, 6), (6, 0)]))] = True
    for r in range(5):
        assert hit[r, r + 1] or hit[r + 1, r]
    assert len(cells_under(grid, LineString([(-3, 2.5), (9, 2.5)]))) == 6
    assert cells_under(grid, Point(2.5, 2.5)).tolist() == [3 * 6 + 2]
    assert len(cells_under(grid, Point())) == 0


@pytest.mark.parametrize("azimuth", [90, 112, 131.7, 150, 202.5, 333])
def test_a_drop_runs_down_the_true_fall_of_a_plane(azimuth: float) -> None:
    ground = plane(azimuth, 120, 120)
    drop = drop_path(flow(ground), 60.5, 60.5)
    assert drop is not None
    angle = np.radians(azimuth)
    xy = np.array(drop.line.coords)[:-1] - (60.5, 60.5)
    aside = xy[:, 0] * np.cos(angle) - xy[:, 1] * np.sin(angle)
    ahead = xy[:, 0] * np.sin(angle) + xy[:, 1] * np.cos(angle)
    # Half a diagonal step aside at most, until it runs along the rim, where it may turn.
    free = (np.abs(np.array(drop.line.coords)[:-1] - 60) < 59).all(axis=1)
    assert np.abs(aside[free]).max() <= 0.75
    assert ahead.max() > 55
    assert drop.fall_m == pytest.approx(0.1 * ahead[-1], abs=1e-6)
    assert drop.hollows == ()


def test_a_drop_fills_the_hollows_on_its_way() -> None:
    ground = valley()
    banks = [
        HeldLine(Held.CREST, np.array([[10.0, at + 0.3, lv], [90.0, at + 0.3, lv]]))
        for at, lv in ((120, 8.0), (60, 5.0))
    ]
    found = flow(ground, hold(ground, banks))
    drop = drop_path(found, 40.2, 180.1)
    assert drop is not None
    levels = [found.hollows[i].level_m for i in drop.hollows]
    assert levels == pytest.approx([8.0, 5.0], abs=1e-6)
    assert drop.line.coords[0] == (40.2, 180.1)
    # It leaves over the south rim.
    assert drop.line.coords[-1][1] == 0.0
    # Never uphill on the filled surface.
    filled = found.filled.z[drop.cells[:, 0], drop.cells[:, 1]]
    assert np.all(np.diff(filled) <= 0)


def test_a_drop_on_the_rim_or_outside() -> None:
    found = flow(plane(90))
    drop = drop_path(found, 79.5, 30.5)
    assert drop is not None
    assert drop.line.coords[-1] == (80.0, 30.5)
    assert drop_path(found, 90, 30) is None


def test_a_click_is_answered_in_five_milliseconds() -> None:
    rng = np.random.default_rng(5)
    base = Grid(np.zeros((700, 700)), 0.0, 700.0, 1.0)
    x, y = np.meshgrid(base.x_m(), base.y_m())
    rough = 0.02 * rng.standard_normal(base.shape)
    found = flow(base.like(0.2 * np.abs(x - 350) + 0.05 * y + 3 * np.sin(x / 40) + rough))
    times = []
    for _ in range(5):
        start = time.thread_time()
        mine = catchment_at(found, 350.5, 20.5, snap_m=3)
        assert mine is not None
        shape = mine.outline()
        times.append(time.thread_time() - start)
    assert mine.area_m2 > 100_000
    assert shape.area == mine.area_m2
    assert min(times) < 0.005
