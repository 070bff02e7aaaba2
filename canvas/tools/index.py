"""Where things are: elements, their corners and their edges, found near a place quickly."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cached_property
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import STRtree
from shapely.geometry import Point, box
from shapely.geometry.base import BaseGeometry

from canvas.base.grid import Bounds
from canvas.site.plan import Plan
from canvas.site.records import Element
from canvas.tools.plane import XY, Coords
from canvas.tools.pointer import Pointer

#: How far from a thing a click still means it [pixels].
SLACK_PX = 8.0

Ints = NDArray[np.intp]


def everything(_: Element) -> bool:
    """Tell that an element is shown: all are."""
    return True


class MapIndex:
    """The shown elements of one plan, in search trees made when first asked."""

    def __init__(self, plan: Plan, shown: Callable[[Element], bool] = everything) -> None:
        self.plan = plan
        self.elements: list[Element] = [item for item in plan.elements() if shown(item)]
        self.shapes: NDArray[np.object_] = np.array(
            [item.geometry for item in self.elements], dtype=object
        )

    @cached_property
    def tree(self) -> STRtree:
        """Search tree over whole geometries."""
        return STRtree(self.shapes)

    @cached_property
    def dims(self) -> NDArray[np.int32]:
        """0 for points, 1 for lines, 2 for areas, in the elements' order."""
        return np.asarray(shapely.get_dimensions(self.shapes), np.int32)

    @cached_property
    def corners(self) -> tuple[Coords, Ints, STRtree]:
        """Every vertex, the number of its element, and a tree over them."""
        xy, owner = shapely.get_coordinates(self.shapes, return_index=True)
        return xy, owner, _tree(shapely.points(xy))

    @cached_property
    def edges(self) -> tuple[Coords, Ints, STRtree]:
        """Every edge (n, 4: x0, y0, x1, y1), the number of its element, and a tree over them."""
        solid = np.flatnonzero(self.dims > 0)
        rings, part = shapely.get_rings(self.shapes[solid], return_index=True)
        lines = np.flatnonzero(self.dims == 1)
        curves = np.concatenate([rings, self.shapes[lines]])
        owners = np.concatenate([solid[part], lines])
        xy, which = shapely.get_coordinates(curves, return_index=True)
        joined = np.flatnonzero(which[1:] == which[:-1])
        ends = np.hstack([xy[joined], xy[joined + 1]]).reshape(-1, 4)
        return ends, owners[which[joined]], _tree(shapely.linestrings(ends.reshape(-1, 2, 2)))

    def near_corners(self, xy: XY, reach_m: float) -> tuple[Coords, Ints]:
        """Return the vertices within reach and the numbers of their elements."""
        points, owner, tree = self.corners
        found = tree.query(Point(xy), predicate="dwithin", distance=reach_m)
        return points[found], owner[found]

    def near_edges(self, xy: XY, reach_m: float) -> tuple[Coords, Ints]:
        """Return the edges within reach and the numbers of their elements."""
        ends, owner, tree = self.edges
        found = tree.query(Point(xy), predicate="dwithin", distance=reach_m)
        return ends[found], owner[found]

    def stack_at(self, at: Pointer) -> list[Element]:
        """Return what lies under the pointer: points, then lines, then areas, smallest first."""
        reach = SLACK_PX * at.pixel_m
        place = Point(at.xy)
        found = self.tree.query(place, predicate="dwithin", distance=reach)
        apart = shapely.distance(self.shapes[found], place)
        # An area is met by its edge as readily as by its inside, but what is smaller lies above.
        size = np.where(self.dims[found] == 2, shapely.area(self.shapes[found]), apart)
        order = np.lexsort((size, self.dims[found]))
        return [self.elements[int(found[k])] for k in order]

    def within_view(self, bounds: Bounds) -> list[Element]:
        """Return the elements of which anything lies within bounds."""
        found = self.tree.query(box(*bounds), predicate="intersects")
        return [self.elements[int(k)] for k in sorted(found)]

    def touching(self, bounds: Bounds) -> list[Element]:
        """Return the elements a box takes: those it holds, or whose line or outline it meets.

        An area the box lies wholly inside of is not taken: a box over a house would else take
        the zone, the parcel and the boundary about it along.
        """
        frame = box(*bounds)
        found = np.sort(self.tree.query(frame, predicate="intersects"))
        around = shapely.contains_properly(self.shapes[found], frame)
        return [self.elements[int(k)] for k in found[~around]]

    def crossing(self, line: BaseGeometry) -> list[Element]:
        """Return the lines and areas that a line crosses."""
        found = self.tree.query(line, predicate="crosses")
        return [self.elements[int(k)] for k in sorted(found)]


def _tree(shapes: Any) -> STRtree:
    # The stubs know only lists of geometries; an array is what it is quickest with.
    return STRtree(shapes)


def bounds_of(geometries: Sequence[BaseGeometry]) -> Bounds | None:
    """Return west, south, east, north [m] of some geometries; None when there is nothing."""
    if not geometries:
        return None
    west, south, east, north = shapely.total_bounds(np.array(list(geometries), dtype=object))
    return (float(west), float(south), float(east), float(north)) if np.isfinite(west) else None
