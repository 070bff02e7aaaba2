"""The earthworks of a plan, shaped one after the other, and the ground they make.

Order: elements that exist already, then phase by phase; within a phase by kind (`registry`), then
as drawn. Each is shaped on the survey with the earlier works that reach it laid over. A work is
kept while its element and those earlier works are the very same, so a moved pond reshapes itself
and what is built on it, and nothing else.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from canvas.base.errors import UserError
from canvas.base.grid import Bounds, Grid
from canvas.ground.designed import Designed
from canvas.site.facts import Phase
from canvas.site.records import Element, kind_of
from canvas.study.earth.registry import Work, shapings

if TYPE_CHECKING:
    from canvas.study.study import Study

#: Batters are taken to run at most so far from what is drawn when looking for earlier works [m].
REACH_M = 50.0

NO_GROUND = "there is no ground yet: bring in a terrain model or a survey"


def in_order(study: Study) -> tuple[tuple[Element, int], ...]:
    """Return the standing earthworks in the order they are built, each with its phase's place.

    Place 0 is for what exists and for what has no phase.
    """
    places = {phase.id: phase.place for phase in study.plan.of(Phase)}
    rows = []
    for rank, key in enumerate(shapings()):
        for nth, item in enumerate(study.of_kind(key)):
            place = 0 if item.status == "existing" else places.get(item.phase, 0)
            rows.append((place, rank, nth, item))
    rows.sort(key=lambda row: row[:3])
    return tuple((row[3], row[0]) for row in rows)


def shaped(study: Study, ident: str) -> Work | None:
    """Return an element as an earthwork; None when its kind moves no earth or it doesn't stand."""
    return next((work for work in _through(study, ident) if work.ident == ident), None)


def all_works(study: Study) -> tuple[Work, ...]:
    """Return every standing earthwork, in the order they are built."""
    return tuple(_through(study, ""))


def _through(study: Study, last: str) -> list[Work]:
    """Return the earthworks in order up to one; all of them when there is no such one."""
    base = study.land.grid
    made: list[Work] = []
    boxes: list[list[Bounds]] = []
    for item, place in study.build_order():
        if base is None:
            made.append(Work(item.id, kind_of(item).key, None, (), None, NO_GROUND))
        else:
            near = _widened(item.geometry.bounds)
            earlier = [
                work
                for work, those in zip(made, boxes, strict=True)
                if any(_meet(near, each) for each in those)
            ]
            made.append(_one(study, item, place, base, earlier))
            boxes.append([patch.levels.bounds for patch in made[-1].patches])
        if item.id == last:
            break
    return made


def _one(study: Study, item: Element, place: int, base: Grid, earlier: Sequence[Work]) -> Work:
    """Return one earthwork on the ground with the earlier ones that reach it."""
    key = kind_of(item).key
    shaping = shapings()[key]
    beside = [study.of_kind_group(other) for other in shaping.reads]

    def make() -> Work:
        ground = Designed.of(base, [patch for work in earlier for patch in work.patches])
        try:
            made = shaping.shape(item, ground, study)
        except UserError as err:
            return Work(item.id, key, None, (), ground, err.text())
        laid = tuple(replace(patch, name=item.id, phase=place) for patch in made.patches)
        return Work(item.id, key, made.thing, laid, ground)

    return study.same(("work", item.id), (item, place, base, *beside, *earlier), make)


def _widened(bounds: Bounds) -> Bounds:
    west, south, east, north = bounds
    return west - REACH_M, south - REACH_M, east + REACH_M, north + REACH_M


def _meet(one: Bounds, other: Bounds) -> bool:
    """Return whether two boxes overlap."""
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def designed(study: Study) -> Designed | None:
    """Return the ground with every standing earthwork, or None without a ground."""
    base = study.land.grid
    if base is None:
        return None
    works = all_works(study)

    def make() -> Designed:
        return Designed.of(base, [patch for work in works for patch in work.patches])

    return study.same("designed", (base, *works), make)


def levels_for(study: Study, item: Element) -> Grid | None:
    """Return the levels an element of a kind would be built on, itself left out; None without.

    On the survey's cells, with the works that come before it: for one that isn't drawn yet, those
    of the earlier phases, and of its own phase the ranks before its own and all drawn of its kind.
    """
    base = study.land.grid
    if base is None:
        return None
    ranks = {key: rank for rank, key in enumerate(shapings())}
    order = study.build_order()
    own = next((k for k, (other, _) in enumerate(order) if other.id == item.id), None)
    if own is None:
        places = {phase.id: phase.place for phase in study.plan.of(Phase)}
        place = 0 if item.status == "existing" else places.get(item.phase, 0)
        mine = (place, ranks[kind_of(item).key])
        first = (k for k, (o, at) in enumerate(order) if (at, ranks[kind_of(o).key]) > mine)
        own = next(first, len(order))
    before = all_works(study)[:own]
    if not any(work.patches for work in before):
        return base

    def make() -> Grid:
        return Designed.of(base, [patch for work in before for patch in work.patches]).levels

    return study.same(("levels for", kind_of(item).key, own), (base, *before), make)
