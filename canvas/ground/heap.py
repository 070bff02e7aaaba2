"""Heaps on the ground and pits in it: sides at a batter from the outline, to a height or depth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from canvas.base.errors import BadData, InputError
from canvas.ground.frames import AnyGround, cells_of, finer_by, frame_of_outline
from canvas.ground.patch import Earth, Patch, earth

#: Cells across: the sides are a part of the outline only.
ACROSS = 32


@dataclass(frozen=True, slots=True)
class Mound:
    """What a heap or pit is to be."""

    #: The foot of a heap, the upper edge of a pit.
    outline: Polygon
    #: Above the ground, or below it where less than 0.
    height_m: float
    #: Run per rise of the sides.
    batter: float
    strip_m: float = 0.0
    #: Topsoil laid back on it when done [m].
    respread_m: float = 0.0

    def __post_init__(self) -> None:
        """Refuse heaps without height."""
        if self.height_m == 0 or self.batter < 0 or not self.outline.area > 0:
            raise InputError(f"not a heap or pit: {self}")


@dataclass(frozen=True, slots=True, eq=False)
class Heap:
    """A heap or pit in the ground."""

    mound: Mound
    patch: Patch
    earth: Earth
    #: Between the ground as found and the finished surface.
    volume_m3: float
    #: Greatest height or depth the outline leaves room for [m], above 0.
    reaches_m: float


def heap(ground: AnyGround, mound: Mound, name: str = "") -> Heap:
    """Return a heap, or with a height below 0 a pit; its top or floor follows the ground.

    Raises `BadData` where it leaves the known ground.
    """
    if not shapely.box(*ground.bounds).covers(mound.outline):
        raise _beyond()
    _, radius = _widest(mound.outline)
    cells = cells_of(ground, mound.outline.bounds, finer_by(ground, 2 * radius, ACROSS))
    outside = frame_of_outline(cells, mound.outline).outside_m
    inside = outside <= 0
    if not inside.any() or np.isnan(cells.z[inside]).any():
        raise _beyond()
    rise = np.minimum(-outside / max(mound.batter, 0.02), abs(mound.height_m))
    change = np.where(inside, np.copysign(rise, mound.height_m), np.nan)
    levels = cells.like(cells.z + change)
    patch = Patch(
        name,
        levels,
        cells,
        np.zeros_like(inside),
        np.clip(-outside, -cells.cell_m, cells.cell_m),
        cover_m=np.where(inside, mound.respread_m, 0.0) if mound.respread_m else None,
    )
    size = float(np.nansum(np.abs(change))) * cells.cell_m**2
    return Heap(mound, patch, earth(patch, mound.strip_m), size, float(np.nanmax(np.abs(change))))


def _widest(outline: Polygon) -> tuple[shapely.Point, float]:
    """Return the middle and radius of the largest circle within an outline."""
    line = shapely.maximum_inscribed_circle(outline, tolerance=0.05)
    return shapely.Point(line.coords[0]), max(float(line.length), 0.05)


def _beyond() -> BadData:
    return BadData(
        "it reaches beyond the known ground",
        remedy="Move it, or bring in ground that reaches further.",
    )
