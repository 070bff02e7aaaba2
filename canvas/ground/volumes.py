"""Volumes the surveyor's way: end areas, prismoids, cones, the grid of levels; and closed forms.

Patches measure volumes by their own cells. These are the checks beside them, and what the
closed forms say of even ground.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from canvas.base.errors import BadData, InputError
from canvas.base.grid import Floats, Grid
from canvas.base.sources import cites


def _pairs(at: ArrayLike, area: ArrayLike) -> tuple[Floats, Floats]:
    s, a = np.asarray(at, np.float64), np.asarray(area, np.float64)
    if s.shape != a.shape or s.ndim != 1 or len(s) < 2 or np.any(np.diff(s) < 0):
        raise InputError("need stations that rise, and an area for each")
    return s, a


@cites("hec22", "wikibooks_earthwork")
def average_end_area_m3(station_m: ArrayLike, area_m2: ArrayLike) -> float:
    """Return the volume between cross-sections, each pair's mean area times their distance."""
    s, a = _pairs(station_m, area_m2)
    return float(np.sum((a[:-1] + a[1:]) / 2 * np.diff(s)))


@cites("hec22", "wikibooks_earthwork")
def prismoidal_m3(length_m: float, first_m2: float, middle_m2: float, last_m2: float) -> float:
    """Return the volume of a prismoid: Simpson's rule over its two ends and middle."""
    return length_m / 6 * (first_m2 + 4 * middle_m2 + last_m2)


@cites("hec22")
def conic_m3(station_m: ArrayLike, area_m2: ArrayLike) -> float:
    """Return the volume between areas when each pair are cuts of one cone."""
    s, a = _pairs(station_m, area_m2)
    root = np.sqrt(a[:-1] * a[1:])
    return float(np.sum(np.diff(s) / 3 * (a[:-1] + root + a[1:])))


@cites("hec22")
def rectangular_basin_m3(length_m: float, width_m: float, depth_m: float, side: float) -> float:
    """Return what a basin holds: bottom `length` x `width`, all sides `side` (run per rise)."""
    d, z = depth_m, side
    return length_m * width_m * d + (length_m + width_m) * z * d**2 + 4 / 3 * z**2 * d**3


@cites("hec22")
def basin_length_m(volume_m3: float, depth_m: float, side: float, width_per_length: float) -> float:
    """Return the bottom length of a basin that holds a volume, its width a share of its length."""
    a, b = width_per_length * depth_m, (1 + width_per_length) * side * depth_m**2
    c = 4 / 3 * side**2 * depth_m**3 - volume_m3
    if a <= 0 or c > 0:
        raise BadData(
            "a basin this deep and flat-sided holds more than asked with no bottom at all",
            remedy="Make it shallower or its sides steeper.",
        )
    return (-b + math.sqrt(b * b - 4 * a * c)) / (2 * a)


@dataclass(frozen=True, slots=True)
class CutFill:
    """Earth between two surfaces [m³]."""

    cut_m3: float
    fill_m3: float

    @property
    def net_m3(self) -> float:
        """Cut less fill."""
        return self.cut_m3 - self.fill_m3


@cites("pocket_grid")
def grid_level_m(levels_m: ArrayLike) -> float:
    """Return the level at which a grid of nodes balances: corners count 1, edges 2, inside 4."""
    z = _nodes(levels_m)
    cells = (z[:-1, :-1] + z[:-1, 1:] + z[1:, :-1] + z[1:, 1:]) / 4
    return float(cells.mean())


def _nodes(levels_m: ArrayLike) -> Floats:
    z = np.asarray(levels_m, np.float64)
    if z.ndim != 2 or min(z.shape) < 2:
        raise InputError(f"need levels of at least 2 x 2 nodes, got {z.shape}")
    return z


@cites("neh15_grid", "pocket_grid")
def grid_cut_fill(levels_m: ArrayLike, spacing_m: float, level_m: float) -> CutFill:
    """Return cut and fill to a level surface from the levels of a grid's nodes.

    A cell with cuts and fills at its corners is split by the squares of their sums.
    """
    depth = _nodes(levels_m) - level_m
    corners = np.stack((depth[:-1, :-1], depth[:-1, 1:], depth[1:, :-1], depth[1:, 1:]))
    cut = np.where(corners > 0, corners, 0).sum(axis=0)
    fill = -np.where(corners < 0, corners, 0).sum(axis=0)
    both = np.where(cut + fill > 0, cut + fill, 1.0)
    quarter = spacing_m**2 / 4
    return CutFill(quarter * float((cut**2 / both).sum()), quarter * float((fill**2 / both).sum()))


def grid_balance_m(levels_m: ArrayLike, spacing_m: float, compacted_per_bank: float) -> float:
    """Return the level at which a grid's cut, compacted, makes its fill."""
    z = _nodes(levels_m)

    def left_over(level: float) -> float:
        found = grid_cut_fill(z, spacing_m, level)
        return found.cut_m3 * compacted_per_bank - found.fill_m3

    return _root(left_over, float(z.min()), float(z.max()))


def _root(falling: Callable[[float], float], low: float, high: float) -> float:
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if falling(middle) > 0 else (low, middle)
    return (low + high) / 2


@dataclass(frozen=True, slots=True)
class EvenSlopeBench:
    """A bench that balances on an even slope, per metre of its length."""

    #: Width on cut and on fill.
    cut_width_m: float
    fill_width_m: float
    #: Top of the cut above the bench and toe of the fill below it.
    cut_height_m: float
    fill_depth_m: float
    cut_m2: float
    fill_m2: float
    #: From the top of the cut to the toe of the fill, in plan.
    footprint_m: float


def even_slope_bench(
    width_m: float, slope: float, cut_batter: float, fill_batter: float, compacted_per_bank: float
) -> EvenSlopeBench:
    """Return the balanced bench on an even slope (ratio); batters are run per rise.

    Raises `BadData` where a batter, gentler than the hill, never meets it.
    """
    left_cut, left_fill = 1 - slope * cut_batter, 1 - slope * fill_batter
    if left_cut <= 0 or left_fill <= 0:
        raise BadData(
            "the hill is as steep as the batter: it never meets the ground",
            remedy="Use a steeper batter that still stands, a wall, or gentler ground.",
        )
    ratio = math.sqrt(compacted_per_bank * left_fill / left_cut)
    wc = width_m / (1 + ratio)
    wf = width_m - wc
    hc, hf = slope * wc / left_cut, slope * wf / left_fill
    return EvenSlopeBench(
        wc, wf, hc, hf, hc * wc / 2, hf * wf / 2, width_m + cut_batter * hc + fill_batter * hf
    )


def batter_reach_m(height_m: float, batter: float, slope: float) -> float:
    """Return how far a batter runs from an edge `height_m` off ground moving away at `slope`."""
    left = 1 - slope * batter
    if left <= 0:
        raise BadData(
            "the hill is as steep as the batter: it never meets the ground",
            remedy="Use a steeper batter that still stands, a wall, or gentler ground.",
        )
    return height_m * batter / left


@dataclass(frozen=True, slots=True)
class BenchTerrace:
    """Terraces on an even slope, bench after bench, balanced each for itself."""

    #: Height from bench to bench and plan distance from one to the next.
    drop_m: float
    spacing_m: float
    #: Plan width of the riser.
    riser_run_m: float
    length_per_ha_m: float
    bench_per_ha_m2: float
    cut_per_m_m3: float
    cut_per_ha_m3: float


def bench_terrace(slope: float, bench_m: float, riser: float) -> BenchTerrace:
    """Return level terraces on an even slope: `bench_m` wide, `riser` in run per rise."""
    left = 1 - slope * riser
    if left <= 0:
        raise BadData("the hill is as steep as the risers", remedy="Use steeper risers or walls.")
    drop = slope * bench_m / left
    run = riser * drop
    spacing = bench_m + run
    cut = drop * bench_m / 8
    per_ha = 1e4 / spacing
    return BenchTerrace(drop, spacing, run, per_ha, per_ha * bench_m, cut, cut * per_ha)


@dataclass(frozen=True, slots=True, eq=False)
class EndAreas:
    """Areas of cut and fill in cross-sections along a line."""

    station_m: Floats
    cut_m2: Floats
    fill_m2: Floats

    def volumes(self) -> CutFill:
        """Return the volumes by the mean of end areas."""
        return CutFill(
            average_end_area_m3(self.station_m, self.cut_m2),
            average_end_area_m3(self.station_m, self.fill_m2),
        )


def end_areas(
    existing: Grid, designed: Grid, xy_m: Floats, spacing_m: float, half_width_m: float
) -> EndAreas:
    """Return cut and fill areas in cross-sections of a line `xy_m` (n, 2), `spacing_m` apart.

    A second way to the volumes of a long, even earthwork: both grids (`Patch.ground` and
    `Patch.surface()`) are read across the line, `half_width_m` to either side. Sections overlap
    on the inside of bends, where the mean of end areas is off by their eccentricity.
    """
    run = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(xy_m, axis=0).T))))
    station = np.linspace(0.0, run[-1], max(round(run[-1] / spacing_m), 1) + 1)
    k = np.clip(np.searchsorted(run, station, side="right") - 1, 0, len(run) - 2)
    leg = np.diff(xy_m, axis=0)[k] / np.diff(run)[k][:, None]
    at = xy_m[k] + leg * (station - run[k])[:, None]
    step = min(existing.cell_m, designed.cell_m) / 2
    count = max(int(2 * half_width_m / step), 2)
    u = (np.arange(count) + 0.5) / count * 2 * half_width_m - half_width_m
    x = at[:, :1] + leg[:, 1:] * u
    y = at[:, 1:] - leg[:, :1] * u
    made = designed.sample(x, y)
    change = np.nan_to_num(made - existing.sample(x, y))
    wide = 2 * half_width_m / count
    return EndAreas(
        station,
        -np.where(change < 0, change, 0).sum(axis=1) * wide,
        np.where(change > 0, change, 0).sum(axis=1) * wide,
    )
