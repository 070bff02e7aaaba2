"""Limits on one element's own figures: widths, heights, volumes, radii."""

from __future__ import annotations

import shapely
from shapely import LineString

from canvas.ground.alignment import bends
from canvas.rules.breach import Breach
from canvas.rules.model import SLACK, Rule
from canvas.rules.relations.distance import meeting, objects, pairs_within, required_of
from canvas.rules.relations.spec import Only, Reach, relation
from canvas.rules.scene import Scene


def _figures(rule: Rule, scene: Scene, only: Only, *, least: bool) -> list[Breach]:
    a = scene.members(rule.a)
    quantity = rule.word("quantity", "width_m")
    assert rule.limit is not None
    found = []
    for ident in sorted(a.shapes if only is None else only.intersection(a.shapes)):
        value, asked = scene.subjects[ident].number(quantity), scene.ask(rule, ident)
        if value is None or asked is None or not scene.some_ours(ident):
            continue
        if (value < asked - SLACK) if least else (value > asked + SLACK):
            note = scene.slope_note(rule, ident)
            found.append(
                Breach((ident,), value, asked, rule.limit.unit, a.shapes[ident], note=note)
            )
    return found


QUANTITY = {"quantity": "word"}


@relation(
    "min_value", sides="a", reach=Reach.PAIR, unit="", sense="at least",
    options=QUANTITY, required=("quantity",),
)  # fmt: skip
def min_value(rule: Rule, scene: Scene, only: Only) -> list[Breach]:
    """Breach where a field or fact of a is below the limit; an unknown one is passed over."""
    return _figures(rule, scene, only, least=True)


@relation(
    "max_value", sides="a", reach=Reach.PAIR, unit="", sense="at most",
    options=QUANTITY, required=("quantity",),
)  # fmt: skip
def max_value(rule: Rule, scene: Scene, only: Only) -> list[Breach]:
    """Breach where a field or fact of a is above the limit; an unknown one is passed over."""
    return _figures(rule, scene, only, least=False)


@relation("min_width", sides="a", reach=Reach.PAIR, unit="m", sense="at least", options=QUANTITY)
def min_width(rule: Rule, scene: Scene, only: Only) -> list[Breach]:
    """Breach where a is narrower than asked, by its `width_m` or another width it has."""
    return _figures(rule, scene, only, least=True)


@relation("min_radius", sides="a", reach=Reach.PAIR, unit="m", sense="at least")
def min_radius(rule: Rule, scene: Scene, only: Only) -> list[Breach]:
    """Breach where a bend's inside edge is tighter than asked; located at each such bend.

    A part `bends` has the designed ones, each with its radius as its height; without it they are
    read from the line as drawn.
    """
    a = scene.members(rule.a)
    found = []
    for ident in sorted(a.shapes if only is None else only.intersection(a.shapes)):
        line, asked = a.shapes[ident], scene.ask(rule, ident)
        if asked is None or not isinstance(line, LineString) or not scene.some_ours(ident):
            continue
        subject = scene.subjects[ident]
        if "profile" in subject.parts:
            designed = subject.parts.get("bends", shapely.MultiPoint())
            every = [(p, float(p.z)) for p in shapely.get_parts(designed)]
        else:
            drawn = bends(line, subject.number("width_m") or 0.0)
            every = [(bend.at, bend.inside_radius_m) for bend in drawn]
        tight = [(at, radius) for at, radius in every if radius < asked - SLACK]
        if tight:
            worst = min(radius for _, radius in tight)
            where = shapely.force_2d(shapely.union_all(objects(at for at, _ in tight)))
            found.append(Breach((ident,), worst, asked, "m", where, count=len(tight)))
    return found


@relation(
    "as_wide_as",
    sides="ab",
    reach=Reach.PAIR,
    unit="m",
    sense="at least",
    options={"within": "length", "quantity": "word"},
    required=("within",),
)
def as_wide_as(rule: Rule, scene: Scene, only: Only) -> list[Breach]:
    """Breach where a stands on b, within a distance, and is narrower than b asks.

    The limit is commonly a multiple of b's field: a gate as wide as its track, a firebreak twice
    as wide as the fuel beside it is high.
    """
    assert rule.b is not None
    a, b = scene.members(rule.a), scene.members(rule.b)
    quantity = rule.word("quantity", "width_m")
    found = []
    for pair in pairs_within(a, b, rule.number("within"), only, same=False):
        have, asked = scene.subjects[pair[0]].number(quantity), required_of(rule, scene, pair)
        if have is None or asked is None or not scene.some_ours(*pair):
            continue
        if have < asked - SLACK:
            found.append(Breach(pair, have, asked, "m", a.shapes[pair[0]]))
    return found


@relation(
    "vertical_gap",
    sides="ab",
    reach=Reach.PAIR,
    unit="m",
    sense="at least",
    options={"within": "length"},
    required=("within",),
)
def vertical_gap(rule: Rule, scene: Scene, only: Only) -> list[Breach]:
    """Breach where b's lowest branch hangs too near above a's top, where they come together.

    Measured is b's `clear_stem_m` less a's `height_m`; not checked where either is unknown.
    """
    assert rule.b is not None
    a, b = scene.members(rule.a), scene.members(rule.b)
    found = []
    for pair in pairs_within(a, b, rule.number("within"), only, same=False):
        top = scene.subjects[pair[0]].number("height_m")
        branch = scene.subjects[pair[1]].number("clear_stem_m")
        asked = required_of(rule, scene, pair)
        if top is None or branch is None or asked is None or not scene.some_ours(*pair):
            continue
        gap = branch - top
        if gap < asked - SLACK:
            where = meeting(a.shapes[pair[0]], b.shapes[pair[1]])
            found.append(Breach(pair, max(gap, 0.0), asked, "m", where))
    return found


@relation(
    "not_so",
    sides="a",
    reach=Reach.PAIR,
    options={"quantity": "word", "value": "word"},
    required=("quantity", "value"),
)
def not_so(rule: Rule, scene: Scene, only: Only) -> list[Breach]:
    """Breach where a field or fact of a says what it must not; an unknown one is passed over."""
    a = scene.members(rule.a)
    quantity, value = rule.word("quantity"), rule.word("value")
    return [
        Breach((ident,), None, None, "", a.shapes[ident])
        for ident in sorted(a.shapes if only is None else only.intersection(a.shapes))
        if scene.subjects[ident].value(quantity) == value and scene.some_ours(ident)
    ]


@relation(
    "is_set", sides="a", reach=Reach.PAIR,
    options={**QUANTITY, "before": "word"}, required=("quantity",),
)  # fmt: skip
def is_set(rule: Rule, scene: Scene, only: Only) -> list[Breach]:
    """Breach where a fact of a is there that ought not to be.

    It tells why in its own words, after those of `before`. Such facts say what the
    ground won't allow: without a ground nothing is told.
    """
    if scene.sampler is None:
        return []
    a = scene.members(rule.a)
    found = []
    for ident in sorted(a.shapes if only is None else only.intersection(a.shapes)):
        told = scene.subjects[ident].value(rule.word("quantity"))
        if told and scene.some_ours(ident):
            why = f"{rule.word('before')} {told}".strip().rstrip(".")
            found.append(Breach((ident,), None, None, "", a.shapes[ident], note=f"{why}."))
    return found
