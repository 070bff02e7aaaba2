"""Crown cover: the share of the ground that crowns shade from above."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import ArrayLike
from shapely import MultiPolygon, Polygon

from canvas.base.errors import InputError
from canvas.planting.layouts import Pattern, plants_per_ha

#: Straight pieces per quarter circle; the area of such a crown is 0.04 % short.
QUARTER = 32


def pattern_cover(
    pattern: Pattern, crown_m: float, spacing_m: float, row_m: float | None = None
) -> float:
    """Return the cover (0 to 1) of crowns that don't overlap, far from edges.

    Raises
    ------
    InputError
        The crowns overlap: their areas may not be added up.
    """
    near_m = spacing_m / math.sqrt(2) if pattern is Pattern.QUINCUNX else spacing_m
    if crown_m > min(near_m, row_m or near_m) * (1 + 1e-9):
        raise InputError("crowns overlap: use crown_cover on the drawn crowns")
    each_m2 = math.pi / 4 * crown_m**2
    return each_m2 * plants_per_ha(pattern, spacing_m, row_m) / 10_000


def crown_cover(area: Polygon | MultiPolygon, xy: ArrayLike, crown_m: ArrayLike) -> float:
    """Return the share of an area under the crowns at `xy` (n, 2) of diameters `crown_m` (n,)."""
    if area.area <= 0:
        raise InputError("an area without extent has no cover")
    places = np.asarray(xy, np.float64).reshape(-1, 2)
    radii = np.broadcast_to(np.asarray(crown_m, np.float64) / 2, len(places))
    crowns = shapely.buffer(shapely.points(places), radii, quad_segs=QUARTER)
    covered = shapely.intersection(shapely.union_all(crowns), area)
    return float(covered.area / area.area)
