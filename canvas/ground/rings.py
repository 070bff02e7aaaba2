"""Areas put together from the rings round them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import LinearRing, MultiPolygon, Polygon, STRtree
from shapely.geometry.base import BaseGeometry


def nested(shells: Sequence[LinearRing], holes: Sequence[LinearRing]) -> MultiPolygon:
    """Return the areas within outer rings, every hole put in the outer ring around it.

    Rings may touch, none crosses another; areas may stand within holes.
    """
    outer = [Polygon(ring) for ring in shells]
    if not holes or not outer:
        return MultiPolygon(outer)
    tree, mine = STRtree(outer), [list[LinearRing]() for _ in outer]
    for hole in holes:
        # A point within the hole, whose outline may touch the shell's. Areas may stand within the
        # hole, too: its shell is the smallest that is larger than the hole.
        whole = Polygon(hole)
        around = tree.query(whole.representative_point(), predicate="within").tolist()
        larger = [i for i in around if outer[i].area > whole.area]
        if larger:
            mine[min(larger, key=lambda i: outer[i].area)].append(hole)
    return MultiPolygon(
        [Polygon(shell.exterior, within) for shell, within in zip(outer, mine, strict=True)]
    )


def areas_of(geometry: BaseGeometry) -> list[Polygon]:
    """Return the areas in a geometry, made valid."""
    parts = shapely.get_parts(geometry if geometry.is_valid else shapely.make_valid(geometry))
    return [each for part in parts for each in shapely.get_parts(part) if each.area > 0]


def straightened(area: BaseGeometry, by_m: float) -> BaseGeometry:
    """Return an area with points left out that lie nearer than `by_m` to the line without them.

    No part and no hole is lost, and no outline crosses itself.
    """
    rings, of = shapely.get_rings(shapely.get_parts(area), return_index=True)
    whole = np.asarray(shapely.polygons(rings))
    quick = shapely.simplify(whole, by_m, preserve_topology=False)
    lost = shapely.is_empty(quick) | (shapely.get_type_id(quick) != shapely.GeometryType.POLYGON)
    quick[lost] = shapely.simplify(whole[lost], by_m)
    drawn = np.asarray(shapely.get_exterior_ring(quick))
    # Each part's outer ring comes first.
    first = np.flatnonzero(np.diff(of, prepend=-1))
    made = [Polygon(ring[0], ring[1:]) for ring in np.split(drawn, first[1:])] if len(of) else []
    found = made[0] if len(made) == 1 else MultiPolygon(made)
    # Rarely do straightened outlines cross; watching for it takes ten times as long.
    return found if found.is_valid else shapely.simplify(area, by_m)
