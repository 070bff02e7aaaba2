"""Root zones of kept trees near a place: what earthworks and ways are to keep off."""

from __future__ import annotations

from typing import TYPE_CHECKING

import shapely
from shapely.geometry.base import BaseGeometry

from canvas.base.grid import Bounds

if TYPE_CHECKING:
    from canvas.study.study import Study


def roots_near(study: Study, bounds: Bounds) -> list[BaseGeometry]:
    """Return the root zones of kept trees that touch a box; each part of the tree's own."""

    def make() -> tuple[shapely.STRtree, list[BaseGeometry]]:
        kept = [tree for tree in study.of_kind("tree") if tree.status == "existing"]
        zones = [zone for tree in kept if (zone := study.parts(tree.id).get("root_zone"))]
        return shapely.STRtree(zones), zones

    tree, zones = study.same("root zones", (study.plan.group("tree"),), make)
    return [zones[k] for k in tree.query(shapely.box(*bounds))]
