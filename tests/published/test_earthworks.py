"""Earthwork figures read in their sources, and grounds made by independent libraries."""

from __future__ import annotations

import numpy as np
import pytest
from published.ref import Ref
from scipy.interpolate import CloughTocher2DInterpolator, LinearNDInterpolator
from shapely import LineString, box

from canvas.base.grid import Grid
from canvas.base.quantity import FT
from canvas.ground.crosssection import Trapezoid, hydraulic_radius_m
from canvas.ground.levelbook import Reading, Reduce, reduce
from canvas.ground.materials import loads, material
from canvas.ground.tin import Heights, Surface, on_cells, triangulate
from canvas.ground.volumes import (
    average_end_area_m3,
    basin_length_m,
    grid_cut_fill,
    grid_level_m,
    prismoidal_m3,
)
from canvas.ground.waysides import DrainKind, drain_spacing_m, hammerhead, turning_circle

YD3 = (3 * FT) ** 3

GRID = "A pocket guide of construction calculations: one-cell example, 2000 ft², level 83 ft"
SWELL = "An estimating textbook, example 9-2: 1000 bank yd³ at 30 % swell, loads of 7"
SHRINK = "An estimating textbook, example 9-3: 500 compacted at 0.95, swell 15 %, loads of 7"
ENDS = "A textbook's answers on average end areas (tables 9.1, 9.2), sciemce.com"
KS = "Keller & Sherar (2003), tables 7.1 and 7.2"
ROADS = "San Benito County Code § 23.27.004"
BASIN = "FHWA HEC-22, 3rd ed., example on equation 8-8"
CHANNEL = "FHWA HEC-22, 3rd ed., example 5-1"
#: Stations in feet.
TABLE_91 = [1000, 1050, 1100, 1150, 1200, 1220]
TABLE_92 = [830, 850, 900, 950, 1000, 1050, 1075]
SAND = "US Army soil conversion: sand"


def test_grid_method_of_one_cell() -> None:
    corners = np.array([[75.4, 77.5], [74.6, 80.5]])
    Ref(77.0, 0.05, GRID).check(grid_level_m(corners))
    # 2000 square feet as one square cell.
    fill = grid_cut_fill(corners, 2000**0.5, 83.0).fill_m3
    Ref(444.4, 0.1, GRID).check(fill / 27)
    Ref(339.8, 0.1, GRID).check(fill * FT**3)


def test_swell_and_shrinkage() -> None:
    assert loads(1000 * 1.30, 7) == Ref(186, 0, SWELL).value
    bank = 500 / 0.95
    Ref(526, 0.5, SHRINK).check(bank)
    Ref(86.5, 0.1, SHRINK).check(bank * 1.15 / 7)
    assert loads(bank * 1.15, 7) == 87
    Ref(1.11, 0, SAND).check(material("sand").loose_per_bank)
    Ref(0.95, 0, SAND).check(material("sand").compacted_per_bank)


@pytest.mark.parametrize(
    ("station_ft", "area_ft2", "yards"),
    [
        (TABLE_91, [0, 257, 175, 20, 0, 0], Ref(838, 1.5, ENDS)),
        (TABLE_91, [0, 0, 50, 285, 233, 0], Ref(922, 1.5, ENDS)),
        (TABLE_92, [0, 125, 168, 210, 144, 75, 0], Ref(1233, 2, ENDS)),
        (TABLE_92, [0, 25, 0, 0, 95, 65, 0], Ref(298, 2, ENDS)),
    ],
)
def test_average_end_areas(station_ft: list[int], area_ft2: list[int], yards: Ref) -> None:
    """The answers round each stretch to whole cubic yards before adding."""
    volume = average_end_area_m3(np.array(station_ft) * FT, np.array(area_ft2) * FT**2)
    yards.check(volume / YD3)


def test_the_prismoidal_formula_is_the_wikibooks() -> None:
    """Fundamentals of Transportation / Earthwork: V = L (A1 + 4 Am + A2) / 6, a pyramid AL/3."""
    Ref(1 / 3, 1e-12, "Wikibooks: pyramid, V = A L / 3").check(prismoidal_m3(1, 0, 0.25, 1))


def test_a_basin_for_a_volume() -> None:
    Ref(25.2, 0.1, BASIN).check(basin_length_m(850, 1.6, 3, 0.5))


def test_a_trapezoidal_channel() -> None:
    channel = Trapezoid(0.8, 0.5, 3)
    Ref(1.15, 0.005, CHANNEL).check(channel.area_m2(0.5))
    Ref(3.96, 0.005, CHANNEL).check(channel.wetted_m(0.5))
    Ref(0.29, 0.005, CHANNEL).check(hydraulic_radius_m(channel, 0.5))


@pytest.mark.parametrize(
    ("kind", "percent", "resistant", "erodible"),
    [
        (DrainKind.DIP, 2, 120, 75),
        (DrainKind.DIP, 5, 90, 50),
        (DrainKind.DIP, 8, 75, 40),
        (DrainKind.DIP, 12, 60, 35),
        (DrainKind.DIP, 15, 50, 30),
        (DrainKind.BAR, 4, 75, 40),
        (DrainKind.BAR, 10, 60, 30),
        (DrainKind.BAR, 15, 45, 20),
        (DrainKind.BAR, 18, 35, 15),
        (DrainKind.BAR, 25, 30, 12),
        (DrainKind.BAR, 35, 15, 10),
    ],
)
def test_cross_drain_spacing(kind: DrainKind, percent: int, resistant: int, erodible: int) -> None:
    Ref(resistant, 0, KS).check(drain_spacing_m(percent / 100, kind, erodible=False))
    Ref(erodible, 0, KS).check(drain_spacing_m(-percent / 100, kind, erodible=True))


def test_turning_places() -> None:
    line = LineString([(0, 0), (50, 0)])
    circle = turning_circle(line).bounds
    Ref(12.2, 0.01, ROADS).check((circle[2] - circle[0]) / 2)
    bar = hammerhead(line, 4).bounds
    Ref(18.3, 0.01, ROADS).check(bar[3] - bar[1])


FALLING = "dreamcivil.com, Rise and fall method, question 1"
#: The instrument was shifted after the fifth and the eleventh reading.
ONE = [0.485, 1.210, 1.635, 3.395, 3.775, 0.650, 1.400, 1.795, 2.575, 3.375, 3.895]
ONE += [1.735, 0.635, 1.605]
ONE_RL = [100, 99.275, 98.850, 97.09, 96.71, 95.96, 95.565, 94.785, 93.985, 93.465, 94.565, 93.595]

UPSIDE = "ques10.com, p/29304: the staff upside down, the tenth reading on a mark at 185.635"
UPSIDE_RL = {1: 185.205, 5: 185.195, 7: 188.595, 9: 185.105, 12: 184.775, 15: 187.875, 18: 184.755}


def first_book() -> list[Reading]:
    """The book as the page lays it out: lines 5 and 10 are change points."""
    lines = [Reading("1", back_m=ONE[0], known_m=100.0)]
    lines += [Reading(str(i), between_m=ONE[i - 1]) for i in (2, 3, 4)]
    lines.append(Reading("5", fore_m=ONE[4], back_m=ONE[5]))
    lines += [Reading(str(i), between_m=ONE[i]) for i in (6, 7, 8, 9)]
    lines.append(Reading("10", fore_m=ONE[10], back_m=ONE[11]))
    lines += [Reading("11", between_m=ONE[12]), Reading("12", fore_m=ONE[13])]
    return lines


def second_book() -> list[Reading]:
    rows: list[tuple[float | None, float | None, float | None]] = [
        (1.355, None, None), (None, 1.605, None), (None, 2.125, None), (None, 0.685, None),
        (2.015, None, 1.365), (None, 1.355, None), (None, -1.385, None), (None, 0.685, None),
        (1.685, None, 2.105), (None, 1.155, None), (None, 1.105, None), (1.085, None, 2.015),
        (None, 1.345, None), (None, 1.355, None), (None, -2.015, None), (1.655, None, 1.305),
        (None, 1.685, None), (None, None, 1.455),
    ]  # fmt: skip
    return [
        Reading(str(i), back, between, fore, None, 185.635 if i == 10 else None)
        for i, (back, between, fore) in enumerate(rows, start=1)
    ]


@pytest.mark.parametrize("how", Reduce)
def test_a_published_level_book(how: Reduce) -> None:
    book = reduce(first_book(), how)
    for level, height in zip(book.levels, ONE_RL, strict=True):
        Ref(height, 5e-4, FALLING).check(level.height_m)
    Ref(2.87, 5e-4, FALLING).check(book.sum_back_m)
    Ref(9.275, 5e-4, FALLING).check(book.sum_fore_m)
    Ref(1.10, 5e-4, FALLING).check(book.sum_rise_m)
    Ref(7.505, 5e-4, FALLING).check(book.sum_fall_m)


@pytest.mark.parametrize("how", Reduce)
def test_a_published_level_book_with_the_staff_upside_down(how: Reduce) -> None:
    book = reduce(second_book(), how)
    for line, height in UPSIDE_RL.items():
        Ref(height, 5e-4, UPSIDE).check(book.levels[line - 1].height_m)
    # The page prints ΣBS 7.795, ΣFS 8.245, Σrise 9.02, Σfall 9.47.
    Ref(7.795, 5e-4, UPSIDE).check(book.sum_back_m)
    Ref(8.245, 5e-4, UPSIDE).check(book.sum_fore_m)
    Ref(9.02, 5e-4, UPSIDE).check(book.sum_rise_m)
    Ref(9.47, 5e-4, UPSIDE).check(book.sum_fall_m)


def test_straight_surfaces_are_those_of_an_independent_library() -> None:
    """Linear interpolation over SciPy's own Delaunay triangles."""
    rng = np.random.default_rng(7)
    xy = rng.uniform(0, 100, (1500, 2))
    z = 10 + 3 * np.sin(xy[:, 0] / 12) * np.cos(xy[:, 1] / 15)
    cells = Grid(np.zeros((180, 180)), 5.0, 95.0, 0.5)
    x, y = np.meshgrid(cells.x_m(), cells.y_m())
    made = triangulate(Heights(np.column_stack((xy, z))))
    theirs = LinearNDInterpolator(xy, z)(x, y)
    worst = float(np.abs(on_cells(made, cells).z - theirs).max())
    Ref(0.0, 1e-9, "SciPy, LinearNDInterpolator").check(worst)
    # The smooth surfaces take slopes differently; both must be near the hill they came from.
    smooth = on_cells(made, cells, Surface.SMOOTH).z
    curved = CloughTocher2DInterpolator(xy, z)(x, y)
    Ref(0.0, 0.006, "SciPy, CloughTocher2DInterpolator").check(float(np.std(smooth - curved)))
    assert made.outline().covers(box(5, 5, 95, 95))
