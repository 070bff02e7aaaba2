"""Laying out again after an edit: the same picture as from nothing, asking only what changed."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from shapely.geometry import LineString, Point

from canvas.drawing.build import plan_layers
from canvas.drawing.herd import Herd
from canvas.drawing.look import Look
from canvas.site.records import changed, kind
from canvas.study.study import Study
from made import EAST, NORTH, plane, study_of

LOOK = Look(year=10, scale=400.0)
SPECIES = ("", "Quercus ilex", "Pinus radiata", "Quercus ilicifolia")


def same(a: Any, b: Any) -> bool:
    """Return whether two layouts say the same to the last digit."""
    if isinstance(a, np.ndarray):
        return np.array_equal(a, b)
    if dataclasses.is_dataclass(a):
        fields = dataclasses.fields(a)
        return type(a) is type(b) and all(
            same(getattr(a, f.name), getattr(b, f.name)) for f in fields
        )
    if isinstance(a, tuple | list):
        return len(a) == len(b) and all(map(same, a, b))
    return bool(a == b)


def tree(x: float, y: float, **values: Any):
    return kind("tree").cls(geometry=Point(EAST + x, NORTH + y), **values)


@pytest.fixture
def study() -> Study:
    rng = np.random.default_rng(5)
    trees = [
        tree(
            *rng.uniform(20, 180, 2),
            species=SPECIES[i % 4],
            name="Old one" if i % 17 == 0 else "",
            status=("existing", "proposed", "remove", "gone", "built")[i % 5],
            mature_crown_m=float(rng.uniform(3, 9)),
        )
        for i in range(120)
    ]
    fence = kind("fence").cls(geometry=LineString([(EAST, NORTH), (EAST + 80, NORTH + 60)]))
    return study_of(*trees, fence, grid=plane())


def fresh(study: Study, year: int = 10) -> Study:
    return Study(study.plan, study.land, year=year)


def edits(study: Study):
    """Yield studies that follow one another: moved, changed, taken away, added, put back."""
    plan = study.plan
    first, second = plan.of_kind("tree")[:2]
    there = Point(first.geometry.x + 3.0, first.geometry.y)
    yield (now := study.moved(plan.with_(changed(first, geometry=there))))
    yield (now := now.moved(now.plan.with_(changed(second, species="Olea europaea"))))
    yield (now := now.moved(now.plan.without(first.id)))
    yield (now := now.moved(now.plan.with_(tree(50, 50, name="New"), first)))
    yield now.moved(plan)


@pytest.mark.parametrize("bounds", [None, (EAST, NORTH, EAST + 90, NORTH + 110)])
def test_the_picture_after_an_edit_is_the_one_drawn_from_nothing(study, bounds):
    before = plan_layers(study, LOOK, bounds)
    assert {layer.key for layer in before} == {"fence", "tree", "labels"}
    for number, now in enumerate(edits(study)):
        again, anew = plan_layers(now, LOOK, bounds), plan_layers(fresh(now), LOOK, bounds)
        assert same(again, anew), number
    assert same(again, before)


def test_another_year_draws_other_crowns(study):
    plan_layers(study, LOOK)
    # The very memory of the study, looked at from another year.
    later = Study(study.plan, study.land, year=2, memory=study._memory)
    look = dataclasses.replace(LOOK, year=2)
    assert same(plan_layers(later, look), plan_layers(fresh(study, 2), look))
    assert not same(plan_layers(later, look), plan_layers(study, LOOK))


def test_only_what_changed_is_asked_about(study):
    asked: list[str] = []

    def work(items):
        asked.extend(drawn.item.id for drawn in items)
        return [drawn.item.id for drawn in items]

    def ask(of: Study) -> list[str]:
        asked.clear()
        return list(Herd(of, "tree", of.plan.of_kind("tree")).rows(work))

    trees = study.plan.of_kind("tree")
    assert ask(study) == asked == [each.id for each in trees]
    moved = study.moved(study.plan.with_(changed(trees[7], species="Olea europaea")))
    assert ask(moved) == [each.id for each in trees]
    assert asked == [trees[7].id]
    # What might be is asked about, and forgotten: the plan's own answers stand.
    would_be = moved.preview(moved.plan.with_(changed(trees[9], name="Would be")))
    ask(would_be)
    assert asked == [trees[9].id]
    assert same(plan_layers(moved, LOOK), plan_layers(fresh(moved), LOOK))


def test_what_has_gone_is_not_kept_for_ever(study, monkeypatch):
    monkeypatch.setattr("canvas.drawing.herd.SPARE", 10)
    monkeypatch.setattr("canvas.study.memory.SPARE", 10)
    now = study
    for number in range(40):
        now = now.moved(now.plan.without(now.plan.of_kind("tree")[0].id))
        now = now.moved(now.plan.with_(tree(number, 5.0)))
        assert same(plan_layers(now, LOOK), plan_layers(fresh(now), LOOK))
    rows = now._memory._rows["parts of", "tree"]
    assert len(rows.items) <= len(now.plan.of_kind("tree")) + 11
