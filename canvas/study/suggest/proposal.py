"""What a suggestion is, and what all searches share: where to look, what to keep off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData
from canvas.base.fact import Fact
from canvas.base.grid import Grid
from canvas.site.records import Element
from canvas.study.scene import Parts

if TYPE_CHECKING:
    from canvas.study.study import Study

#: Room kept round what stands, by kind [m]; common practice, no source.
ROOM_M = {
    "building": 3.0, "tank": 2.0, "well": 10.0, "septic_tank": 3.0, "septic_field": 3.0,
    "track": 2.0, "public_road": 3.0, "buried_service": 2.0, "dam": 5.0, "dug_pond": 3.0,
    "platform": 3.0, "terraces": 3.0, "water_body": 2.0, "swale": 2.0, "drain": 2.0,
    "level_sill": 2.0, "watercourse": 2.0, "overhead_line": 5.0, "easement": 0.0,
}  # fmt: skip
#: What an element takes up, by part: all of them together.
TAKEN = ("edge", "toe", "water", "spillway", "wall", "bank", "strip")


@dataclass(frozen=True, slots=True, eq=False)
class Proposal:
    """One place found: an element ready to be put into the plan, and why."""

    #: As the plan would hold it.
    element: Element
    #: 0 to 1, one the best that could be; only to rank by.
    score: float
    #: What the score is made of, worst to best 0 to 1, by its name.
    parts: tuple[tuple[str, float], ...]
    #: Figures to judge it by.
    facts: tuple[Fact, ...]
    #: Why it stands where it stands in the list, in a sentence.
    why: str


@dataclass(frozen=True, slots=True)
class Where:
    """Where to look."""

    #: The land to stay on; None for all with data.
    within: Polygon | MultiPolygon | None
    #: What is to be kept clear; None for nothing.
    keep_off: BaseGeometry | None
    ground: Grid = field(repr=False)


def where(study: Study, *, but: Sequence[str] = (), trees: bool = True) -> Where:
    """Return the site's land and what stands on it, kinds in `but` left away.

    Raises `BadData` while there is no ground.
    """
    grid = study.terrain_as(designed=True).grid
    if grid is None:
        raise BadData(
            study.land.trouble or "the site has no ground yet",
            remedy="Bring in a terrain model first.",
        )
    outlines = [item.geometry for item in study.of_kind("site_boundary")]
    within = shapely.union_all(outlines) if outlines else None
    kept: list[BaseGeometry] = [
        _taken(study.parts(item.id)).buffer(room)
        for key, room in ROOM_M.items()
        if key not in but
        for item in study.of_kind(key)
    ]
    if trees:
        kept += [
            zone
            for item in study.of_kind("tree")
            if item.status == "existing"
            and (zone := study.parts(item.id).get("root_zone")) is not None
        ]
    off = shapely.union_all(kept) if kept else None
    if off is not None:
        shapely.prepare(off)
    area = within if isinstance(within, Polygon | MultiPolygon) else None
    return Where(area, off, grid)


def _taken(parts: Parts) -> BaseGeometry:
    """Return all the ground an element takes up."""
    found = [parts[name] for name in TAKEN if name in parts and not parts[name].is_empty]
    return shapely.union_all([shapely.make_valid(each) for each in [*found, parts["shape"]]])


def share(value: float, low: float, high: float) -> float:
    """Return where a value lies from 0 at `low` to 1 at `high`, held within."""
    if high == low:
        return 1.0 if value >= high else 0.0
    return min(max((value - low) / (high - low), 0.0), 1.0)


def weighed(
    parts: Sequence[tuple[str, float, float]],
) -> tuple[float, tuple[tuple[str, float], ...]]:
    """Return the mean of (name, 0 to 1, weight), and the parts by name."""
    total = sum(weight for _, _, weight in parts)
    score = sum(value * weight for _, value, weight in parts) / total
    return score, tuple((name, value) for name, value, _ in parts)


def ranked(found: list[Proposal], most: int) -> list[Proposal]:
    """Return the best, best first."""
    return sorted(found, key=lambda each: -each.score)[:most]
