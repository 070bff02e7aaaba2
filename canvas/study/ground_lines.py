"""Lines the ground has of its own: drainage, valleys, ridges, keypoints, the way of a drop."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from shapely import Point
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData
from canvas.base.fact import Fact
from canvas.base.quantity import area_unit
from canvas.ground.catchment import drop_path
from canvas.ground.flow import Flow
from canvas.ground.valleys import drainage_lines, keypoints, ridge_lines, valley_lines
from canvas.study import waters

if TYPE_CHECKING:
    from canvas.study.study import Study

#: Plan area whose water makes a line worth drawing [m²]; common practice, no source.
LEAST_AREA_M2 = 5000.0


@dataclass(frozen=True, slots=True, eq=False)
class GroundLine:
    """One line or point of the ground, with what is known of it."""

    kind: str
    geometry: BaseGeometry
    facts: tuple[Fact, ...]


@dataclass(frozen=True, slots=True)
class LineKind:
    """What the desk and the command line offer."""

    key: str
    label: str
    help: str
    work: Callable[[Flow, float], list[GroundLine]]


def _area(area_m2: float, at_least: bool) -> Fact:
    remark = waters.AT_LEAST if at_least else ""
    unit = area_unit(area_m2)
    return Fact("catchment_m2", "Drains", area_m2, unit, basis="on the grid", remark=remark)


def _drainage(found: Flow, least_m2: float) -> list[GroundLine]:
    return [
        GroundLine(
            "drainage",
            each.line,
            (
                Fact("order", "Order", float(each.order), "count"),
                _area(each.area_m2, each.at_least),
            ),
        )
        for each in drainage_lines(found, least_m2)
    ]


def _valleys(found: Flow, least_m2: float) -> list[GroundLine]:
    return [
        GroundLine("valleys", each.line, (Fact("sides", "Sides rise", each.sides, "%"),))
        for each in valley_lines(found, least_m2)
    ]


def _ridges(found: Flow, least_m2: float) -> list[GroundLine]:
    return [
        GroundLine("ridges", each.line, (Fact("sides", "Sides fall", each.sides, "%"),))
        for each in ridge_lines(found.ground, least_m2)
    ]


def _keypoints(found: Flow, least_m2: float) -> list[GroundLine]:
    return [
        GroundLine(
            "keypoints",
            Point(each.x_m, each.y_m),
            (
                Fact("z_m", "Height", each.z_m, "m"),
                _area(each.area_m2, each.at_least),
                Fact("slope_above", "Slope above", each.profile.slope_above, "%"),
                Fact("slope_below", "Slope below", each.profile.slope_below, "%"),
            ),
        )
        for each in keypoints(found, least_m2)
    ]


LINE_KINDS: dict[str, LineKind] = {
    kind.key: kind
    for kind in (
        LineKind("drainage", "Drainage lines", "Where water gathers and runs", _drainage),
        LineKind("valleys", "Valley lines", "Drainage lines between rising sides", _valleys),
        LineKind("ridges", "Ridge lines", "Where the ground falls away on both sides", _ridges),
        LineKind("keypoints", "Keypoints", "Where a valley turns from steep to gentle", _keypoints),
    )
}


def ground_lines(
    study: Study, key: str, *, designed: bool = False, least_m2: float = LEAST_AREA_M2
) -> list[GroundLine]:
    """Return the lines of one kind on the ground as surveyed or designed.

    `least_m2` is the plan area that must drain to a line for it to count. Raises `BadData` for
    a kind there is not, and while there is no ground.
    """
    kind = LINE_KINDS.get(key)
    if kind is None:
        raise BadData(
            f"the ground has no lines called “{key}”",
            remedy=f"Lines: {', '.join(LINE_KINDS)}, catchment, drop.",
        )
    found = waters.flow_of(study, designed=designed)
    return study.same(
        ("lines", key, designed, least_m2), (found,), lambda: kind.work(found, least_m2)
    )


def catchment_outline(study: Study, place: BaseGeometry, *, designed: bool = False) -> GroundLine:
    """Return the outline of what drains to a place; `BadData` off the ground."""
    found = study.catchment(place, designed=designed)
    return GroundLine("catchment", found.outline(), (_area(found.area_m2, found.at_least),))


def drop(study: Study, x_m: float, y_m: float, *, designed: bool = False) -> GroundLine:
    """Return the way of a drop that falls on a point; `BadData` off the ground."""
    found = waters.flow_of(study, designed=designed)
    way = drop_path(found, x_m, y_m)
    if way is None:
        raise BadData("there is no ground here", remedy="Choose a place on the ground data.")
    facts = (
        Fact("length_m", "Runs", float(way.line.length), "m", basis="on the grid"),
        Fact("fall_m", "Falls", way.fall_m, "m"),
        Fact("hollows", "Hollows to fill on the way", float(len(way.hollows)), "count"),
    )
    return GroundLine("drop", way.line, facts)
