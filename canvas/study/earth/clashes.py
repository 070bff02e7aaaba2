"""Where a later work undoes the level an earlier one was built for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from canvas.base.fact import Fact
from canvas.ground.designed import patch_levels_at
from canvas.ground.patch import Patch, region
from canvas.rules.relations.levels import UNDOES
from canvas.site.records import kind_of
from canvas.study.earth.registry import EARTH, Work

if TYPE_CHECKING:
    from canvas.study.study import Study

#: What a clash is looked for among.
CLASH_READS = (*EARTH, "phase")
#: Kinds that are made to alter another work: a bar in a track, a sill in a bank.
MENDING = (
    "culvert", "ford", "water_bar", "turning_head", "passing_bay", "level_sill", "check_dam",
)  # fmt: skip
#: Less than this is within what a digger holds, or joins two works that meet [m, m²].
WITHIN_M = 0.10
LEAST_M2 = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Clash:
    """A place where a later work alters what an earlier one is for: its pad, its carriageway."""

    first: str
    later: str
    area_m2: float
    #: Greatest difference of the two levels.
    largest_m: float
    where: BaseGeometry


def clashes_of(study: Study, ident: str) -> list[Clash]:
    """Return where one work undoes earlier ones or is undone by later ones."""
    works = study.works()
    at = next((k for k, work in enumerate(works) if work.ident == ident), None)
    if at is None or not works[at].patches:
        return []
    own = works[at]
    pairs = [(first, own) for first in works[:at]] + [(own, later) for later in works[at + 1 :]]
    found = (_clash(study, first, later) for first, later in pairs)
    return [clash for clash in found if clash is not None]


def _clash(study: Study, first: Work, later: Work) -> Clash | None:
    if later.key in MENDING or not first.patches or not later.patches:
        return None
    key = ("clash", first.ident, later.ident)
    return study.same(key, (first, later), lambda: _looked_for(first, later))


def _looked_for(first: Work, later: Work) -> Clash | None:
    area, largest = 0.0, 0.0
    parts = []
    for one in first.patches:
        cells, cell = one.levels, one.levels.cell_m
        # Only what the earlier work is for is looked at.
        row, col = np.nonzero(one.core & one.mask)
        x, y, own = cells.x_m()[col], cells.y_m()[row], cells.z[row, col]
        apart = np.zeros(len(row))
        for other in later.patches:
            if _meet(one, other):
                apart = np.fmax(apart, np.abs(patch_levels_at(other, x, y) - own))
        hit = apart > WITHIN_M
        if hit.any():
            area += float(hit.sum()) * cell**2
            largest = max(largest, float(apart[hit].max()))
            where = np.full(cells.shape, -cell / 2)
            where[row[hit], col[hit]] = cell / 2
            parts.append(region(cells, where))
    if area < LEAST_M2:
        return None
    return Clash(first.ident, later.ident, area, largest, shapely.union_all(parts))


def _meet(one: Patch, other: Patch) -> bool:
    a, b = one.levels.bounds, other.levels.bounds
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def clash_facts(study: Study, ident: str) -> list[Fact]:
    """Return a figure for each work this one undoes or is undone by."""
    facts: list[Fact] = []
    for clash in clashes_of(study, ident):
        undoes = clash.later == ident
        other = study.plan.element(clash.first if undoes else clash.later)
        named = other.name or kind_of(other).label.lower()
        told = f"over {clash.area_m2:.0f} m²"
        nth = sum(fact.key.startswith("undoes" if undoes else "undone") for fact in facts) + 1
        key = f"undoes_{nth}_m" if undoes else f"undone_{nth}_m"
        label = f"Undoes the level of {named}" if undoes else f"Undone by {named}"
        facts.append(Fact(key, label, clash.largest_m, "m", basis=told))
    return facts


def clash_parts(study: Study, ident: str) -> dict[str, BaseGeometry]:
    """Return where a work undoes each earlier one, by that one's identity."""
    return {
        f"{UNDOES}{clash.first}": clash.where
        for clash in clashes_of(study, ident)
        if clash.later == ident
    }
