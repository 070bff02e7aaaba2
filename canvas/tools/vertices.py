"""The corners of a shape as numbered handles: moved, put in, taken out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData
from canvas.tools.plane import XY, Coords


@dataclass(frozen=True, slots=True, eq=False)
class Corners:
    """A shape as rings of corners without a closing repeat; `closed` says which close."""

    shape: str
    rings: tuple[Coords, ...]
    closed: bool

    @classmethod
    def of(cls, geometry: BaseGeometry) -> Corners:
        """Take a point, line or polygon apart."""
        if isinstance(geometry, Polygon):
            rings = (geometry.exterior, *geometry.interiors)
            return cls("Polygon", tuple(shapely.get_coordinates(r)[:-1] for r in rings), True)
        xy = shapely.get_coordinates(geometry)
        ring = isinstance(geometry, LineString) and geometry.is_closed
        return cls(geometry.geom_type, (xy[:-1] if ring else xy,), ring)

    def geometry(self) -> BaseGeometry:
        """Put the shape together again."""
        if self.shape == "Point":
            return Point(self.rings[0][0])
        rings = [np.vstack([ring, ring[:1]]) if self.closed else ring for ring in self.rings]
        return Polygon(rings[0], rings[1:]) if self.shape == "Polygon" else LineString(rings[0])

    @property
    def xy(self) -> Coords:
        """Every corner (n, 2), ring after ring: their numbers are the handles' numbers."""
        return np.vstack(self.rings)

    def middles(self) -> tuple[Coords, list[tuple[int, int]]]:
        """Return the middle of every edge, and (ring, place) a corner put there would take."""
        spots: list[Coords] = []
        places: list[tuple[int, int]] = []
        for number, ring in enumerate(self.rings):
            ahead = np.roll(ring, -1, axis=0) if self.closed else ring[1:]
            behind = ring if self.closed else ring[:-1]
            spots.append((behind + ahead) / 2)
            places += [(number, k + 1) for k in range(len(ahead))]
        return np.vstack(spots), places

    def _find(self, number: int) -> tuple[int, int]:
        for which, ring in enumerate(self.rings):
            if number < len(ring):
                return which, number
            number -= len(ring)
        raise IndexError(number)

    def number_of(self, ring: int, place: int) -> int:
        """Return the number of a corner by its ring and place in it."""
        return sum(len(r) for r in self.rings[:ring]) + place

    def moved(self, number: int, xy: XY) -> Corners:
        """Return the shape with one corner elsewhere."""
        which, place = self._find(number)
        ring = self.rings[which].copy()
        ring[place] = xy
        return self._with(which, ring)

    def inserted(self, ring: int, place: int, xy: XY) -> Corners:
        """Return the shape with one corner more."""
        return self._with(ring, np.insert(self.rings[ring], place, np.asarray(xy), axis=0))

    def without(self, number: int) -> Corners:
        """Return the shape with one corner fewer; `BadData` when too few would be left."""
        which, place = self._find(number)
        least = 3 if self.closed else 2
        if len(self.rings[which]) <= least or self.shape == "Point":
            raise BadData("The shape needs every corner it has left.")
        return self._with(which, np.delete(self.rings[which], place, axis=0))

    def _with(self, which: int, ring: Coords) -> Corners:
        rings = (*self.rings[:which], ring, *self.rings[which + 1 :])
        return Corners(self.shape, rings, self.closed)
