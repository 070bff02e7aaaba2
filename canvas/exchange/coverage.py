"""How far the ground's data reaches beyond the boundary, and whether that is enough."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from canvas.base.grid import Bounds, Grid

SIDES = ("west", "south", "east", "north")
#: Slope and contours need neighbours, and roads and gullies run on: common practice, no source.
LEAST_M = 50.0
#: On hill land of a few hectares most watersheds end within this: common practice, no source.
WATERSHED_M = 300.0
#: Hills that cast a morning or evening shadow stand this far off: common practice, no source.
SKYLINE_M = 2000.0
#: Share of the data's width looked at along its edges.
STRIP = 0.05


@dataclass(frozen=True, slots=True)
class Reach:
    """How far data reaches beyond the boundary on each side."""

    #: Beyond the boundary to the west, south, east, north [m]; below nought where it falls short.
    beyond_m: tuple[float, float, float, float]
    #: Share of the land inside the boundary without a height, 0 to 1; None when not looked at.
    missing_inside: float | None
    #: Sides where the ground still rises at the data's edge: water comes from beyond it.
    rising: tuple[str, ...]
    #: What is wrong and must be mended.
    warnings: tuple[str, ...]
    #: What more ground would be good for.
    advice: tuple[str, ...]

    @property
    def least_m(self) -> float:
        """The shortest of the four [m]."""
        return min(self.beyond_m)

    @property
    def covers(self) -> bool:
        """Whether there is a height everywhere inside the boundary, as far as was looked."""
        return self.least_m >= 0 and not self.missing_inside


def reach(ground: Bounds | Grid, boundary: BaseGeometry) -> Reach:
    """Return how far a ground reaches beyond the boundary, with guidance.

    Parameters
    ----------
    ground : Bounds or Grid
        West, south, east, north of the data [m], or the heights themselves: then gaps inside the
        boundary and ground that still rises at the edge are found as well.
    boundary : Polygon or MultiPolygon
        In the same CRS [m].
    """
    grid = ground if isinstance(ground, Grid) else None
    west, south, east, north = ground.bounds if isinstance(ground, Grid) else ground
    w, s, e, n = boundary.bounds
    beyond = (w - west, s - south, east - e, north - n)
    missing = _missing_inside(grid, boundary) if grid is not None else None
    rising = _rising(grid, boundary) if grid is not None else ()
    return Reach(beyond, missing, rising, _warnings(beyond, missing), _advice(beyond, rising))


def _warnings(beyond: tuple[float, float, float, float], missing: float | None) -> tuple[str, ...]:
    told = []
    short = [f"{side} by {-d:.0f} m" for side, d in zip(SIDES, beyond, strict=True) if d < 0]
    if short:
        told.append(f"The ground ends inside the boundary: {', '.join(short)}.")
    tight = [side for side, d in zip(SIDES, beyond, strict=True) if 0 <= d < LEAST_M]
    if tight:
        told.append(
            f"The ground reaches less than {LEAST_M:.0f} m beyond the boundary to the "
            f"{_list(tight)}: slopes, contours and tracks there end at the fence."
        )
    if missing:
        told.append(f"{missing:.1%} of the land inside the boundary has no height.")
    return tuple(told)


def _advice(beyond: tuple[float, float, float, float], rising: tuple[str, ...]) -> tuple[str, ...]:
    told = []
    if rising:
        told.append(
            f"The ground still rises at the data’s edge to the {_list(rising)}: rain from beyond "
            "it may run onto the site. Flows and catchments there are “at least”. Bring in ground "
            "up to the ridge above the site."
        )
    elif min(beyond) < WATERSHED_M:
        told.append(
            "For runoff, ponds and crossings the ground must reach up to the ridge above the site: "
            f"about {WATERSHED_M:.0f} m beyond the boundary on hill land of this size, more where "
            "a valley comes in."
        )
    if min(beyond) < SKYLINE_M:
        told.append(
            "For sunrise, sunset and wind the skyline counts: coarse ground (10 to 30 m cells) "
            f"out to {SKYLINE_M / 1000:.0f} km or the far ridges is enough. Without it, hills "
            "beyond the data cast no shade."
        )
    return tuple(told)


def _list(words: list[str] | tuple[str, ...]) -> str:
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))


def _missing_inside(grid: Grid, boundary: BaseGeometry) -> float:
    """Return the share of the boundary's area without a height."""
    part = grid.window(boundary.bounds)
    x, y = np.meshgrid(part.x_m(), part.y_m())
    inside = shapely.contains_xy(boundary, x, y)
    known = float((inside & np.isfinite(part.z)).sum()) * grid.cell_m**2
    cells = float(inside.sum()) * grid.cell_m**2
    # Land beyond the grid has no cells to count; up to a row of cells is rounding.
    outside = boundary.difference(shapely.box(*grid.bounds)).area
    if cells + outside <= 0:
        return 0.0 if np.isfinite(grid.sample(*boundary.representative_point().coords[0])) else 1.0
    return (cells + outside - known) / (cells + outside)


def _rising(grid: Grid, boundary: BaseGeometry) -> tuple[str, ...]:
    """Return the sides where the edge stands above the site and above what lies before it."""
    rows, cols = grid.shape
    deep, wide = max(int(rows * STRIP), 2), max(int(cols * STRIP), 2)
    if rows < 4 * deep or cols < 4 * wide:
        return ()
    z = grid.z
    strips = {
        "west": (z[:, :wide], z[:, wide : 2 * wide]),
        "south": (z[-deep:], z[-2 * deep : -deep]),
        "east": (z[:, -wide:], z[:, -2 * wide : -wide]),
        "north": (z[:deep], z[deep : 2 * deep]),
    }
    part = grid.window(boundary.bounds).z
    if not np.isfinite(part).any():
        return ()
    site = float(np.nanmean(part))
    found = []
    for side in SIDES:
        outer, inner = (strip[np.isfinite(strip)] for strip in strips[side])
        if len(outer) and len(inner) and outer.mean() > max(inner.mean(), site):
            found.append(side)
    return tuple(found)
