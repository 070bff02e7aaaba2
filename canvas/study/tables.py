"""Figures the pages show in tables: slope classes, stretches of a section, sums over several."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from canvas.base.fact import Fact
from canvas.base.quantity import area_unit
from canvas.ground.profile import Section
from canvas.ground.surface import SLOPE_CLASSES, class_areas_m2
from canvas.site.elements.land import SiteBoundary

if TYPE_CHECKING:
    from canvas.study.study import Study

#: Facts of several elements that may be added up: those that measure, not those that locate.
SUMMED = (
    "length_m", "length_geodesic_m", "length_ground_m",
    "area_m2", "area_geodesic_m2", "area_ground_m2", "outline_m",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class SlopeShare:
    """How much of the site lies in one slope class."""

    letter: str
    name: str
    #: Slope ratios, `low` up to and without `high`.
    low: float
    high: float
    area_m2: float
    #: Of the site's area with data.
    share: float


def slope_shares(study: Study) -> list[SlopeShare]:
    """Return the site's plan area by slope class, inside its boundary or on the whole ground.

    Cells count by their centre. Empty without a ground.
    """
    if study.land.grid is None:
        return []
    classes = study.map("slope_classes").grid
    outlines = [item.geometry for item in study.plan.of(SiteBoundary)]
    within = None
    if outlines:
        x, y = np.meshgrid(classes.x_m(), classes.y_m())
        within = shapely.contains_xy(shapely.union_all(outlines), x, y)
    areas = np.zeros(len(SLOPE_CLASSES))
    found = class_areas_m2(classes, within)
    areas[: len(found)] = found
    total = float(areas.sum())
    shares, low = [], 0.0
    for each, area in zip(SLOPE_CLASSES, areas, strict=True):
        share = float(area) / total if total > 0 else 0.0
        shares.append(SlopeShare(each.letter, each.name, low, each.below, float(area), share))
        low = each.below
    return shares


@dataclass(frozen=True, slots=True)
class Stretch:
    """The mean grade of one stretch of a section, positive where it climbs."""

    from_m: float
    to_m: float
    #: NaN where an end has no height.
    grade: float


def stretches(cut: Section, step_m: float) -> list[Stretch]:
    """Return a section's mean grades over stretches of `step_m`; the last may be shorter."""
    run = float(cut.distance_m[-1])
    edges = np.append(np.arange(0.0, run, step_m), run)
    # A last stretch of a few centimetres says nothing.
    if len(edges) > 2 and edges[-1] - edges[-2] < step_m / 20:
        edges = np.delete(edges, -2)
    heights = cut.at(edges)
    return [
        Stretch(float(a), float(b), float((zb - za) / (b - a)))
        for a, b, za, zb in zip(edges[:-1], edges[1:], heights[:-1], heights[1:], strict=True)
    ]


def together(facts: Sequence[Sequence[Fact]]) -> list[Fact]:
    """Return the sums of the figures that all of several elements have."""
    found: dict[str, list[Fact]] = {}
    for each in facts:
        for fact in each:
            if fact.key in SUMMED and isinstance(fact.value, float):
                found.setdefault(fact.key, []).append(fact)
    return [_sum(some) for some in found.values() if len(some) == len(facts)]


def _sum(some: list[Fact]) -> Fact:
    total = sum(fact.value for fact in some if isinstance(fact.value, float))
    first = some[0]
    unit = area_unit(total) if first.unit in ("m2", "ha") else first.unit
    label = f"{first.label}, together"
    return replace(first, label=label, value=total, unit=unit, plus_minus=None, remark="")
