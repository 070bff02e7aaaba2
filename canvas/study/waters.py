"""Where water runs over the ground: maps of it, and what drains to an element."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData
from canvas.base.fact import Fact
from canvas.base.quantity import area_unit
from canvas.ground.catchment import Catchment, catchment
from canvas.ground.designed import Designed
from canvas.ground.flow import Flow, flow
from canvas.ground.spread import wetness

if TYPE_CHECKING:
    from canvas.study.scene import Scene
    from canvas.study.study import Study

#: Hollows shallower than this are the survey's noise; common practice, no source.
LEAST_HOLLOW_M = 0.02
AT_LEAST = "at least: it reaches the edge of the ground data"


def flow_of(study: Study, *, designed: bool = False) -> Flow:
    """Return the flow over the ground; `BadData` while there is none."""
    found = study.flow(designed=designed)
    if found is None:
        raise BadData(
            study.land.trouble or "the site has no ground yet",
            remedy="Bring in a terrain model first.",
        )
    return found


def work_out(study: Study) -> Flow | None:
    """Return the flow over the ground, or None while there is none."""
    return flow(study.land.grid) if study.land.grid is not None else None


def over(ground: Designed) -> Flow:
    """Return the flow over designed ground: crests, sills and beds hold at any cell size."""
    return flow(ground.flow_levels, ground.faces)


def catchment_of(study: Study, place: BaseGeometry, *, designed: bool = False) -> Catchment:
    """Return what drains to a point, line or area; `BadData` where the ground has no data."""
    found = catchment(flow_of(study, designed=designed), place)
    if found is None:
        raise BadData(
            "there is no ground under this place", remedy="Choose a place on the ground data."
        )
    return found


def hollow_depths(found: Flow) -> np.ndarray:
    """Return how deep water can stand [m], NaN where it runs off."""
    depth = found.depth_m().z
    return np.where(depth >= LEAST_HOLLOW_M, depth, np.nan)


def ways_deg(found: Flow) -> np.ndarray:
    """Return the azimuth each cell drains to, of eight; NaN where water leaves the data."""
    way = found.way
    return np.where(way < 8, way * 45.0, np.nan)


def wetness_of(found: Flow) -> np.ndarray:
    """Return the topographic wetness index."""
    return wetness(found).z


def catchment_facts(place: BaseGeometry, scene: Scene, label: str) -> list[Fact]:
    """Return the area that drains to a place, said to be "at least" where data end."""
    found = scene.flow(designed=True)
    drained = catchment(found, place) if found is not None else None
    if drained is None:
        return []
    area = drained.area_m2
    remark = AT_LEAST if drained.at_least else ""
    return [Fact("catchment_m2", label, area, area_unit(area), basis="on the grid", remark=remark)]
