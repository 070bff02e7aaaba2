"""The ground's face: slope, aspect, shading, slope classes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from canvas.base.errors import InputError
from canvas.base.grid import Floats, Grid
from canvas.base.pool import over_rows
from canvas.base.sources import Mark, cites
from canvas.ground import kernels


class Method(StrEnum):
    """How a cell's gradient is taken from its neighbours."""

    #: All eight neighbours: the better choice on rough, noisy ground.
    HORN = "Horn"
    #: The four nearest: keeps detail on smooth ground.
    ZEVENBERGEN_THORNE = "Zevenbergen–Thorne"


@dataclass(frozen=True, slots=True)
class Weights:
    """What a neighbour counts for in a difference across two cells, per cell size."""

    diagonal: float
    straight: float


WEIGHTS: dict[Method, Weights] = {
    Method.HORN: Weights(1 / 8, 2 / 8),
    Method.ZEVENBERGEN_THORNE: Weights(0.0, 1 / 2),
}


def _values(grid: Grid) -> Floats:
    if grid.z.size == 0:
        raise InputError("a grid without cells has no surface")
    return np.ascontiguousarray(grid.z, dtype=np.float64)


@cites("horn1981", "zevenbergen_thorne1987")
def slope_aspect(grid: Grid, method: Method = Method.HORN) -> tuple[Grid, Grid]:
    """Return steepness (rise over run) and aspect of every cell.

    Aspect is the azimuth of the downhill direction, degrees clockwise from grid north in
    [0, 360), NaN where the ground is level. A missing neighbour, and the ring just outside the
    grid, is put on the straight line through the cell and the neighbour opposite, so a plane
    keeps its slope to the very edge. Within 1e-6 degrees of exact arithmetic.
    """
    z = _values(grid)
    weights = WEIGHTS[method]
    slope, aspect = np.empty_like(z), np.empty_like(z)
    diagonal, straight = weights.diagonal / grid.cell_m, weights.straight / grid.cell_m

    def work(first: int, end: int) -> None:
        kernels.slope_aspect_rows(z, diagonal, straight, first, end, slope, aspect)

    over_rows(grid.shape, work)
    return grid.like(slope), grid.like(aspect)


@dataclass(frozen=True, slots=True)
class Lamp:
    """A far light: where it stands and its share of the whole."""

    azimuth_deg: float
    altitude_deg: float
    share: float = 1.0


#: Light from four quarters, the north-west foremost: shows spurs that run along a single light.
FOUR_LAMPS = (
    Lamp(315, 40, 0.55),
    Lamp(270, 40, 0.15),
    Lamp(0, 40, 0.15),
    Lamp(225, 60, 0.15),
)


@cites("horn1981")
def hillshade(
    grid: Grid,
    azimuth_deg: float = 315.0,
    altitude_deg: float = 45.0,
    z_factor: float = 1.0,
    method: Method = Method.HORN,
) -> Grid:
    """Return brightness 0 (turned away) to 255 (facing the light), NaN for no data.

    255 times the cosine between the ground's normal and the light, nought where it is turned
    away; cast shadows are not part of it. Azimuth clockwise from grid north.
    """
    return lit_by(grid, (Lamp(azimuth_deg, altitude_deg),), z_factor, method)


def lit_by(
    grid: Grid,
    lamps: Sequence[Lamp] = FOUR_LAMPS,
    z_factor: float = 1.0,
    method: Method = Method.HORN,
) -> Grid:
    """Return brightness under several lamps at once: their `hillshade`s, mixed by share."""
    z = _values(grid)
    weights = WEIGHTS[method]
    scale = z_factor / grid.cell_m
    azimuth, altitude = (
        np.radians([lamp.azimuth_deg for lamp in lamps]),
        np.radians([lamp.altitude_deg for lamp in lamps]),
    )
    lights = np.column_stack(
        (
            np.sin(azimuth) * np.cos(altitude),
            np.cos(azimuth) * np.cos(altitude),
            np.sin(altitude),
            [lamp.share for lamp in lamps],
        )
    )
    out = np.empty_like(z)

    def work(first: int, end: int) -> None:
        kernels.shade_rows(
            z, weights.diagonal * scale, weights.straight * scale, lights, first, end, out
        )

    over_rows(grid.shape, work)
    return grid.like(out)


@dataclass(frozen=True, slots=True)
class SlopeClass:
    """One class of steepness, up to and without `below`."""

    letter: str
    name: str
    #: Upper limit as a ratio; infinite for the last.
    below: float


#: The one table of classes. Limits in the source: 2, 6, 12, 18, 25, 35 and 100 %; it names none
#: beyond "very steep", so the last two names are ours.
SLOPE_CLASSES: tuple[SlopeClass, ...] = (
    SlopeClass("A", "nearly level", 0.02),
    SlopeClass("B", "gentle", 0.06),
    SlopeClass("C", "moderate", 0.12),
    SlopeClass("D", "strong", 0.18),
    SlopeClass("E", "steep", 0.25),
    SlopeClass("F", "very steep", 0.35),
    SlopeClass("G", "extreme", 1.0),
    SlopeClass("H", "cliff", float("inf")),
)
SLOPE_CLASSES_SOURCE = "agi_slope"
SLOPE_CLASSES_MARK = Mark.READ


def class_limits(classes: Sequence[SlopeClass] = SLOPE_CLASSES) -> Floats:
    """Return the limits between the classes (ratios, rising): one fewer than the classes."""
    return np.array([each.below for each in classes[:-1]])


@cites("agi_slope")
def slope_classes(slope: Grid, limits: Sequence[float] | Floats | None = None) -> Grid:
    """Return each cell's class number (0 for the gentlest), NaN for no data.

    `limits` are rising slope ratios; a slope just on a limit belongs to the class above it.
    """
    edges = class_limits() if limits is None else np.asarray(limits, dtype=np.float64)
    if edges.ndim != 1 or np.any(np.diff(edges) <= 0):
        raise InputError(f"class limits must rise: {edges}")
    number = np.searchsorted(edges, slope.z, side="right").astype(np.float64)
    number[np.isnan(slope.z)] = np.nan
    return slope.like(number)


def class_areas_m2(classes: Grid, within: NDArray[np.bool_] | None = None) -> Floats:
    """Return the plan area of each class number present, shape (highest + 1,)."""
    numbers = classes.z if within is None else classes.z[within]
    known = numbers[~np.isnan(numbers)].astype(np.intp)
    return np.bincount(known).astype(np.float64) * classes.cell_m**2
