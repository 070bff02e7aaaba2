"""Distances between parts: at least so far apart, within reach, linked by a chain."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from canvas.rules.breach import Breach
from canvas.rules.members import Members
from canvas.rules.model import SLACK, Rule
from canvas.rules.relations.spec import Only, Reach, relation
from canvas.rules.scene import Scene

Pair = tuple[str, str]


def pairs_within(a: Members, b: Members, reach_m: float, only: Only, *, same: bool) -> list[Pair]:
    """Return (a, b) identities within a distance, sorted; each once when both sides are `same`."""
    if only is None:
        return (
            _tidy(_from(a, b, reach_m, sorted(a.shapes)), same=same)
            if len(a) <= len(b)
            else (_tidy(((x, y) for y, x in _from(b, a, reach_m, sorted(b.shapes))), same=same))
        )
    found = set(_from(a, b, reach_m, sorted(only.intersection(a.shapes))))
    found.update((x, y) for y, x in _from(b, a, reach_m, sorted(only.intersection(b.shapes))))
    return _tidy(found, same=same)


def _from(asking: Members, others: Members, reach_m: float, idents: Sequence[str]) -> list[Pair]:
    hits = others.near([asking.shapes[ident] for ident in idents], reach_m)
    return [(idents[k], ident) for k, ident in hits]


def _tidy(pairs: Iterable[Pair], *, same: bool) -> list[Pair]:
    kept = {(min(p), max(p)) if same else p for p in pairs if p[0] != p[1]}
    return sorted(kept)


def required_of(rule: Rule, scene: Scene, pair: Pair) -> float | None:
    """Return what is asked of a pair: by side a, side b, or the larger of both."""
    assert rule.limit is not None
    if rule.limit.of == "b":
        return scene.ask(rule, pair[1])
    first = scene.ask(rule, pair[0])
    if rule.limit.of == "a":
        return first
    second = scene.ask(rule, pair[1])
    return max((each for each in (first, second) if each is not None), default=None)


def most_asked(rule: Rule, scene: Scene) -> float:
    """Return how far apart the farthest pair may have to be."""
    assert rule.limit is not None
    assert rule.b is not None
    sides = {"a": (rule.a,), "b": (rule.b,), "larger": (rule.a, rule.b)}[rule.limit.of]
    return max(scene.most_asked(rule, side) for side in sides)


def objects(shapes: Iterable[BaseGeometry]) -> NDArray[np.object_]:
    """Return geometries as an array."""
    return np.array(list(shapes), dtype=object)


def meeting(a: BaseGeometry, b: BaseGeometry) -> BaseGeometry:
    """Return the shortest line between two parts, or where they overlap."""
    if shapely.intersects(a, b):
        return shapely.intersection(sound(a), sound(b))
    return shapely.shortest_line(a, b)


def sound(shape: BaseGeometry) -> BaseGeometry:
    """Return a geometry fit for overlays: crowns side by side may overlap within one part."""
    return shape if shape.is_valid else shapely.union_all(shapely.get_parts(shape))


@relation("min_distance", sides="ab", reach=Reach.PAIR, unit="m", sense="at least")
def min_distance(rule: Rule, scene: Scene, only: Only) -> list[Breach]:
    """Breach where part a stands nearer to part b than asked; what overlaps is at 0."""
    assert rule.b is not None
    assert rule.limit is not None
    a, b = scene.members(rule.a), scene.members(rule.b)
    reach_m = most_asked(rule, scene)
    pairs = pairs_within(a, b, reach_m, only, same=rule.a == rule.b)
    pairs = [pair for pair in pairs if scene.some_ours(*pair)]
    if not pairs:
        return []
    apart = shapely.distance(
        objects(a.shapes[x] for x, _ in pairs), objects(b.shapes[y] for _, y in pairs)
    )
    found = []
    for pair, gap in zip(pairs, apart.tolist(), strict=True):
        asked = required_of(rule, scene, pair)
        if asked is not None and gap < asked - SLACK:
            where = meeting(a.shapes[pair[0]], b.shapes[pair[1]])
            note = scene.slope_note(rule, *pair)
            found.append(Breach(pair, gap, asked, rule.limit.unit, where, note=note))
    return found


@relation("within_reach", sides="ab", reach=Reach.FIRST, unit="m", sense="at most")
def within_reach(rule: Rule, scene: Scene, only: Only) -> list[Breach]:
    """Breach where no b lies within the limit of a, or there is no b at all."""
    assert rule.b is not None
    assert rule.limit is not None
    a, b = scene.members(rule.a), scene.members(rule.b)
    found = []
    for ident in sorted(a.shapes if only is None else only.intersection(a.shapes)):
        asked = scene.ask(rule, ident)
        if asked is None or not scene.some_ours(ident):
            continue
        shape = a.shapes[ident]
        others = [key for key in sorted(b.shapes) if key != ident]
        if not others:
            found.append(Breach((ident,), None, asked, rule.limit.unit, shape))
            continue
        apart = shapely.distance(shape, objects(b.shapes[key] for key in others))
        nearest = int(np.argmin(apart))
        if apart[nearest] > asked + SLACK:
            where = shapely.shortest_line(shape, b.shapes[others[nearest]])
            found.append(Breach((ident,), float(apart[nearest]), asked, rule.limit.unit, where))
    return found


@relation(
    "links",
    sides="abc",
    reach=Reach.ALL,
    unit="m",
    sense="at least",
    options={"joined": "length"},
    required=("joined",),
)
def links(rule: Rule, scene: Scene, only: Only) -> list[Breach]:
    """Breach where a chain of a, each `joined` to the next, comes within the limit of b and c."""
    assert rule.b is not None
    assert rule.c is not None
    assert rule.limit is not None
    a, b, c = scene.members(rule.a), scene.members(rule.b), scene.members(rule.c)
    joined = pairs_within(a, a, rule.number("joined"), None, same=True)
    limit = rule.limit
    found = []
    for chain in chains(sorted(a.shapes), joined):
        whole = Members((ident, a.shapes[ident]) for ident in chain)
        reach_m = max((scene.ask(rule, ident) or 0.0) for ident in chain)
        at_b = pairs_within(whole, b, reach_m, None, same=False)
        at_c = pairs_within(whole, c, reach_m, None, same=False)
        for far in sorted({y for _, y in at_b}):
            if not at_c or not scene.some_ours(*chain, far):
                continue
            near = [x for x, y in at_b if y == far]
            elements = (near[0], far, *(each for each in chain if each != near[0]))
            where = shapely.union_all(objects(a.shapes[each] for each in chain))
            gap = max(_gap(whole, b.shapes[far]), min(_gap(whole, c.shapes[y]) for _, y in at_c))
            found.append(Breach(elements, gap, reach_m, limit.unit, where, count=len(chain)))
    return found


def _gap(members: Members, other: BaseGeometry) -> float:
    return float(np.min(shapely.distance(objects(members.shapes.values()), other)))


def chains(idents: Sequence[str], joined: Iterable[Pair]) -> list[list[str]]:
    """Return the groups that hang together through `joined` pairs, each sorted."""
    head = {ident: ident for ident in idents}

    def root(ident: str) -> str:
        while head[ident] != ident:
            head[ident] = head[head[ident]]
            ident = head[ident]
        return ident

    for x, y in joined:
        head[max(root(x), root(y))] = min(root(x), root(y))
    groups: dict[str, list[str]] = {}
    for ident in idents:
        groups.setdefault(root(ident), []).append(ident)
    return list(groups.values())
