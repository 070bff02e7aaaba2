"""What each earthwork moves, whatever its kind: earth by material, and from where to where."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from canvas.ground.materials import materials
from canvas.ground.patch import Earth, Patch, earth, together
from canvas.ground.swale import Swale
from canvas.ground.terraces import Terraces
from canvas.site.records import Element
from canvas.study.earth.registry import Work

#: What earth is taken to be where an element says nothing of it.
COMMON = "earth"
XY = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Moved:
    """What one earthwork moves."""

    ident: str
    #: Kind of earth, a key of the table of materials.
    soil: str
    earth: Earth
    #: Middles of what is dug and of what is filled; where there is none, of the whole.
    cut_at: XY
    fill_at: XY
    #: Ground opened that nothing is laid over: bare until something grows on it.
    bare_m2: float


def moved(item: Element, work: Work) -> Moved:
    """Return what an element that could be shaped moves."""
    cut_at, fill_at = _middles(work.patches)
    whole = earth_of(item, work)
    laid_m2 = 0.0 if isinstance(work.thing, Terraces) else _laid_m2(work.patches)
    return Moved(item.id, soil_of(item), whole, cut_at, fill_at, max(whole.area_m2 - laid_m2, 0.0))


def soil_of(item: Any) -> str:
    """Return the kind of earth an element is built in, a key of the table of materials."""
    soil = getattr(item, "soil", COMMON)
    return soil if soil in materials() else COMMON


def earth_of(item: Any, work: Work) -> Earth:
    """Return the earth a work moves in all.

    As its kind reckons it where that says more than the patches: banks are placed higher than
    they settle to and a dam's trench is filled again; what lies on terraces is topsoil.
    """
    thing = work.thing
    if isinstance(thing, Terraces):
        whole = together([bench.earth for bench in thing.benches])
        return replace(whole, topsoil_back_m3=whole.topsoil_back_m3 + whole.laid_m3, laid_m3=0.0)
    dam, spillway = getattr(thing, "dam", None), getattr(thing, "spillway", None)
    if dam is not None:
        bank = replace(dam.earth, cut_m3=dam.earth.cut_m3 + dam.trench_m3, fill_m3=dam.placed_m3)
        return together([bank, spillway.earth] if spillway is not None else [bank])
    strip = float(getattr(item, "strip_m", 0.0))
    if isinstance(thing, Swale):
        dug = together([earth(patch, strip) for patch in work.patches])
        return replace(dug, fill_m3=dug.fill_m3 * (1 + thing.works.settlement))
    own = getattr(thing, "earth", None)
    if isinstance(own, Earth):
        return own
    return together([earth(patch, strip) for patch in work.patches])


def _middles(patches: Sequence[Patch]) -> tuple[XY, XY]:
    """Return the middles of cut and of fill, weighed by depth."""
    sums = np.zeros((2, 3))
    plain = np.zeros(3)
    for patch in patches:
        change = patch.change_m()
        x, y = patch.levels.x_m(), patch.levels.y_m()
        for row, part in enumerate((np.maximum(-change, 0.0), np.maximum(change, 0.0))):
            sums[row] += part.sum(), (part.sum(axis=0) * x).sum(), (part.sum(axis=1) * y).sum()
        mask = patch.mask
        plain += mask.sum(), (mask.sum(axis=0) * x).sum(), (mask.sum(axis=1) * y).sum()
    found = [row if row[0] > 0 else plain for row in sums]
    cut, fill = ((float(r[1] / r[0]), float(r[2] / r[0])) if r[0] else (0.0, 0.0) for r in found)
    return cut, fill


def _laid_m2(patches: Sequence[Patch]) -> float:
    """Return the area that gets gravel, a slab or a lining."""
    return sum(
        float(np.count_nonzero(patch.core & patch.mask & (patch.cover_m > 0)))
        * patch.levels.cell_m**2
        for patch in patches
        if patch.cover_m is not None
    )
