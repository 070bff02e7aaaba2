"""Parts that must lie in, keep out of, stay clear of, or not cross each other."""

from __future__ import annotations

import shapely
from shapely.geometry.base import BaseGeometry

from canvas.rules.breach import Breach
from canvas.rules.model import Rule
from canvas.rules.relations.distance import objects, pairs_within, sound
from canvas.rules.relations.spec import Only, Reach, relation
from canvas.rules.scene import Scene

#: Overlaps smaller than this come from two drawings of one line, not from the design [m², m].
LEAST = 0.01
#: What reaches out by less than this lies on the edge [m]; a drawing is no truer than that.
EDGE_M = 0.05


def extent(shape: BaseGeometry) -> tuple[float | None, str]:
    """Return an overlap's size and its unit: area, else length; None for points."""
    if shape.area > 0:
        return float(shape.area), "m2"
    return (float(shape.length), "m") if shape.length > 0 else (None, "")


@relation("inside", sides="ab", reach=Reach.FIRST, sense="at most")
def inside(rule: Rule, scene: Scene, only: Only) -> list[Breach]:
    """Breach where part a reaches out of all b together.

    Nothing is asked while there is none of b's first kind.
    """
    assert rule.b is not None
    a, b = scene.members(rule.a), scene.members(rule.b)
    if not any(scene.subjects[key].kind == rule.b.kinds[0] for key in b.shapes):
        return []
    whole = shapely.union_all(objects(b.shapes[key] for key in sorted(b.shapes)))
    # The slack decides; what is measured and drawn is all that lies beyond the true edge.
    roomy = whole.buffer(EDGE_M)
    shapely.prepare(roomy)
    idents = sorted(a.shapes if only is None else only.intersection(a.shapes))
    out = ~shapely.covers(roomy, objects(a.shapes[ident] for ident in idents))
    found = []
    for k in out.nonzero()[0]:
        ident = idents[int(k)]
        beyond = shapely.difference(sound(a.shapes[ident]), whole)
        size, unit = extent(beyond)
        if scene.some_ours(ident) and (size is None or size > LEAST):
            asked = None if size is None else 0.0
            found.append(Breach((ident,), size, asked, unit, beyond))
    return found


def _shared(rule: Rule, scene: Scene, only: Only) -> list[tuple[str, str, BaseGeometry]]:
    assert rule.b is not None
    a, b = scene.members(rule.a), scene.members(rule.b)
    pairs = pairs_within(a, b, 0.0, only, same=rule.a == rule.b)
    met = [
        (x, y, shapely.intersection(sound(a.shapes[x]), sound(b.shapes[y])))
        for x, y in pairs
        if scene.some_ours(x, y)
    ]
    return [(x, y, part) for x, y, part in met if _real(part, a.shapes[x], b.shapes[y])]


def _real(met: BaseGeometry, a: BaseGeometry, b: BaseGeometry) -> bool:
    """Return whether two parts overlap or cross, rather than merely touch at their edges."""
    if met.is_empty:
        return False
    dims = min(shapely.get_dimensions([a, b]))
    both_lines = dims == 1 and max(shapely.get_dimensions([a, b])) == 1
    return bool(both_lines or shapely.get_dimensions(met) >= dims)


@relation("outside", sides="ab", reach=Reach.PAIR)
def outside(rule: Rule, scene: Scene, only: Only) -> list[Breach]:
    """Breach where part a touches part b at all."""
    return [Breach((x, y), None, None, "", met) for x, y, met in _shared(rule, scene, only)]


@relation("clear_of", sides="ab", reach=Reach.PAIR, sense="at most")
def clear_of(rule: Rule, scene: Scene, only: Only) -> list[Breach]:
    """Breach where part a lies over part b: how much of it, in area or length."""
    found = []
    for x, y, met in _shared(rule, scene, only):
        size, unit = extent(met)
        if size is None or size > LEAST:
            asked = None if size is None else 0.0
            found.append(Breach((x, y), size, asked, unit, met))
    return found


def _crossings(met: BaseGeometry) -> list[BaseGeometry]:
    """Return the places two lines meet: points, and stretches they share."""
    merged = shapely.line_merge(met) if met.length > 0 else met
    return [part for part in shapely.get_parts(merged) if not part.is_empty]


@relation("crossing", sides="ab", reach=Reach.PAIR)
def crossing(rule: Rule, scene: Scene, only: Only) -> list[Breach]:
    """Breach where line a crosses line or area b."""
    return [
        Breach((x, y), None, None, "", met, count=len(_crossings(met)))
        for x, y, met in _shared(rule, scene, only)
    ]


@relation(
    "crossing_without",
    sides="abc",
    reach=Reach.ALL,
    options={"within": "length"},
    required=("within",),
)
def crossing_without(rule: Rule, scene: Scene, only: Only) -> list[Breach]:
    """Breach where line a crosses b with no c within a distance: a fence over a track, no gate."""
    assert rule.c is not None
    helps = scene.members(rule.c)
    found = []
    for x, y, met in _shared(rule, scene, None):
        places = _crossings(met)
        helped = {k for k, _ in helps.near(places, rule.number("within"))}
        bare = [place for k, place in enumerate(places) if k not in helped]
        if bare:
            where = bare[0] if len(bare) == 1 else shapely.union_all(objects(bare))
            found.append(Breach((x, y), None, None, "", where, count=len(bare)))
    return found
