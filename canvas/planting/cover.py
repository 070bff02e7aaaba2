"""Crown cover: the share of the ground that crowns shade from above."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import ArrayLike
from shapely import MultiPolygon, Polygon

from canvas.base.errors import InputError

#: Straight pieces per quarter circle; the area of such a crown is 0.04 % short.
QUARTER = 32


def crown_cover(area: Polygon | MultiPolygon, xy: ArrayLike, crown_m: ArrayLike) -> float:
    """Return the share of an area under the crowns at `xy` (n, 2) of diameters `crown_m` (n,)."""
    if area.area <= 0:
        raise InputError("an area without extent has no cover")
    places = np.asarray(xy, np.float64).reshape(-1, 2)
    radii = np.broadcast_to(np.asarray(crown_m, np.float64) / 2, len(places))
    crowns = shapely.buffer(shapely.points(places), radii, quad_segs=QUARTER)
    covered = shapely.intersection(shapely.union_all(crowns), area)
    return float(covered.area / area.area)
