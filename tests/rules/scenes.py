"""The smallest scene for any rule: just within its limit, or just beyond it.

Built from the rule's own selectors, so a rule added to a file is walked without a new test.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import shapely
from rules.conftest import Plane, make_subject
from shapely import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from canvas.rules.model import Limit, Rule, Selector
from canvas.rules.subject import STEM_PARTS, Subject
from canvas.site.records import kind

HAIR = 0.01
FACTOR = 2.0


@dataclass
class Scene:
    """What a checker is handed, and what it should find."""

    subjects: dict[str, Subject]
    sampler: Plane
    required: float | None = None


def shape_at(key: str, x: float, *, east: bool) -> BaseGeometry:
    """Return a shape of the kind's geometry whose nearest face lies at x."""
    wanted = kind(key).geometry
    if wanted == "Point":
        return Point(x, 0)
    if wanted == "LineString":
        return LineString([(x, -1), (x, 1)])
    return box(x, -1, x + 2, 1) if east else box(x - 2, -1, x, 1)


def values_for(selector: Selector, key: str, limit: Limit | None, side: str) -> tuple[dict, dict]:
    """Return fields and facts that meet a selector's conditions and give the limit its factor."""
    wanted: dict[str, object] = {}
    for condition in selector.where:
        if condition.field == "taxon":
            name = str(condition.values[0])
            wanted["species"] = name if " " in name else f"{name} alba"
        elif condition.field == "flammability":
            wanted["species"] = {"high": "Eucalyptus globulus"}[str(condition.values[0])]
        elif condition.values:
            wanted[condition.field] = condition.values[0]
        elif math.isfinite(condition.at_least) or math.isfinite(condition.at_most):
            at = condition.at_least if math.isfinite(condition.at_least) else condition.at_most
            wanted[condition.field] = at
        else:
            above = math.isfinite(condition.above)
            wanted[condition.field] = condition.above + 0.1 if above else condition.below - 0.1
    amounts = [] if limit is None else [limit.amount, *(step.amount for step in limit.steps)]
    for amount in amounts:
        if amount and amount.times not in ("", "slope_deg") and limit.of in (side, "larger"):
            wanted.setdefault(amount.times, FACTOR)
    columns = {spec.name for spec in kind(key).specs}
    fields = {name: value for name, value in wanted.items() if name in columns}
    return fields, {name: value for name, value in wanted.items() if name not in columns}


def made(
    rule: Rule, side: str, ident: str, geometry: BaseGeometry, key: str = "", **more: object
) -> Subject:
    """Return a subject one side of a rule takes."""
    selector: Selector = getattr(rule, side)
    key = key or selector.kinds[0]
    fields, facts = values_for(selector, key, rule.limit, side)
    columns = {spec.name for spec in kind(key).specs}
    fields |= {name: value for name, value in more.items() if name in columns}
    facts |= {name: value for name, value in more.items() if name not in columns}
    fields.setdefault("owner", selector.owner[0] if selector.owner else "ours")
    fields.setdefault("status", selector.status[0])
    parts = dict.fromkeys(selector.parts, geometry)
    return make_subject(key, ident, _own(key, geometry), parts, facts, **fields)


def _own(key: str, geometry: BaseGeometry) -> BaseGeometry:
    """Return a geometry the kind accepts, in the same place."""
    wanted = kind(key).geometry
    if geometry.geom_type == wanted:
        return geometry
    if wanted == "Point":
        return geometry.centroid
    if wanted == "Polygon":
        return geometry.buffer(0.001)
    if geometry.geom_type == "Point":
        return LineString([(geometry.x, geometry.y - 0.001), (geometry.x, geometry.y + 0.001)])
    return LineString([(x, y) for x, y in geometry.exterior.coords[:2]])


def anchors(rule: Rule, x: float) -> list[Subject]:
    """Return what a rule's sides must be near, a little to the north of x."""
    found = []
    for side in rule.selectors:
        if side.near is not None:
            near = side.near.what
            fields, _ = values_for(near, near.kinds[0], None, "a")
            owner = near.owner[0] if near.owner else "ours"
            place = box(x - 0.5, 4, x + 0.5, 5)
            parts = dict.fromkeys(near.parts, place)
            found.append(make_subject(near.kinds[0], "anchor", place, parts, owner=owner, **fields))
    return found[:1]


def gathered(*subjects: Subject) -> dict[str, Subject]:
    return {subject.id: subject for subject in subjects}


def asked(rule: Rule, slope: float) -> float:
    """Return what the rule asks of the scene's subjects on a slope."""
    amount = rule.limit.amount_on(slope)
    if amount.times == "slope_deg":
        return amount.value * math.degrees(math.atan(slope))
    if not amount.times:
        return amount.value
    for condition in (c for side in rule.selectors for c in side.where):
        if condition.field == amount.times:
            side = next(s for s in "abc" if condition in getattr(rule, s).where)
            key = getattr(rule, side).kinds[0]
            fields, facts = values_for(getattr(rule, side), key, None, side)
            return amount.value * float({**fields, **facts}[amount.times])
    return amount.value * FACTOR


def slopes(rule: Rule) -> list[float]:
    """Return a slope within each step of the rule's table: on its upper edge, and beyond all."""
    if rule.limit is None or not rule.limit.steps:
        return [0.05]
    tops = [step.up_to for step in rule.limit.steps]
    return [top for top in tops if math.isfinite(top)] + [tops[-2] + 0.01]


def build(rule: Rule, *, good: bool, slope: float = 0.05) -> Scene:
    """Return a scene that is just within the rule, or just beyond it."""
    return BUILDERS[rule.relation](rule, good, slope)


def _min_distance(rule: Rule, good: bool, slope: float) -> Scene:
    limit = asked(rule, slope)
    d = limit + HAIR if good else limit - HAIR
    same = rule.a == rule.b
    a = made(rule, "a", "a1", shape_at(rule.a.kinds[0], 0.0, east=False))
    b = made(rule, "a" if same else "b", "b1", shape_at(rule.b.kinds[0], d, east=True))
    return Scene(gathered(a, b, *anchors(rule, d / 2)), Plane(slope), limit)


def _within_reach(rule: Rule, good: bool, slope: float) -> Scene:
    limit = asked(rule, slope)
    d = limit - HAIR if good else limit + HAIR
    a = made(rule, "a", "a1", shape_at(rule.a.kinds[0], 0.0, east=False))
    b = made(rule, "b", "b1", shape_at(rule.b.kinds[0], d, east=True))
    return Scene(gathered(a, b), Plane(slope), limit)


def _links(rule: Rule, good: bool, slope: float) -> Scene:
    limit = asked(rule, slope)
    d = limit + HAIR if good else limit - HAIR
    a = made(rule, "a", "a1", LineString([(0, 0), (20, 0)]))
    b = made(rule, "b", "b1", box(-d - 10, -5, -d, 5))
    c = made(rule, "c", "c1", box(20.5, -5, 30, 5))
    return Scene(gathered(a, b, c), Plane(slope), limit)


def _spacing(rule: Rule, good: bool, slope: float) -> Scene:
    limit = asked(rule, slope)
    d = limit + (HAIR if good else -HAIR)
    radius = 0.0 if rule.a.parts[0] in STEM_PARTS else 1.5
    trees = []
    for ident, x in (("a1", 0.0), ("a2", d + 2 * radius)):
        tree = made(rule, "a", ident, Point(x, 0), key="tree")
        crown = Point(x, 0).buffer(radius) if radius else Point(x, 0)
        trees.append(Subject(tree.element, {**tree.parts, rule.a.parts[0]: crown}, tree.facts))
    return Scene(gathered(*trees, *anchors(rule, d / 2)), Plane(slope), limit)


def _overlay(rule: Rule, good: bool, slope: float) -> Scene:
    b = made(rule, "b", "b1", box(0, 0, 10, 10))
    x = 11.0 if good else 9.5
    if rule.relation == "inside":
        x = 5.0 if good else 9.5
    wide = kind(rule.a.kinds[0]).geometry != "Point" or rule.a.parts[0] not in ("plants", "shape")
    part: BaseGeometry = box(x - 0.5, 4, x + 0.9, 5) if wide else Point(x, 5)
    if rule.relation == "inside" and not good and not wide:
        part = Point(12, 5)
    a = made(rule, "a", "a1", part)
    return Scene(gathered(a, b, *anchors(rule, x)), Plane(slope))


def _crossing(rule: Rule, good: bool, slope: float) -> Scene:
    alone = rule.relation == "crossing"
    a = made(rule, "a", "a1", LineString([(-10, 0), (-1 if good and alone else 10, 0)]))
    b = made(rule, "b", "b1", LineString([(0, -10), (0, 10)]))
    if kind(rule.b.kinds[0]).geometry == "Polygon":
        b = made(rule, "b", "b1", box(-0.5, -5, 5, 5))
    subjects = [a, b]
    if not alone:
        reach = rule.number("within") + (-HAIR if good else HAIR)
        subjects.append(made(rule, "c", "c1", Point(reach, 0)))
    return Scene(gathered(*subjects), Plane(slope))


def _max_slope(rule: Rule, good: bool, slope: float) -> Scene:
    limit = asked(rule, slope)
    a = made(rule, "a", "a1", shape_at(rule.a.kinds[0], 0.0, east=True))
    return Scene(gathered(a), Plane(limit + (-0.001 if good else 0.001)), limit)


def _figure(rule: Rule, good: bool, slope: float) -> Scene:
    default = "max_grade" if rule.relation == "max_grade" else "width_m"
    limit = asked(rule, slope)
    most = rule.relation in ("max_grade", "max_value")
    hair = 0.001 if most else HAIR
    value = limit + hair * (1 if good != most else -1)
    shape = (
        LineString([(0, 0), (50, 0)])
        if kind(rule.a.kinds[0]).geometry == "LineString"
        else (Point(0, 0))
    )
    a = made(rule, "a", "a1", shape, **{rule.word("quantity", default): value})
    return Scene(gathered(a, *anchors(rule, 0.0)), Plane(value if most else slope), limit)


def _min_radius(rule: Rule, good: bool, slope: float) -> Scene:
    limit, width = asked(rule, slope), 3.6
    radius = limit + width / 2 + (0.1 if good else -0.1)
    turns = [math.radians(k) for k in range(0, 91, 3)]
    line = LineString([(radius * math.sin(t), radius * math.cos(t)) for t in turns])
    return Scene(gathered(made(rule, "a", "a1", line, width_m=width)), Plane(slope), limit)


def _as_wide_as(rule: Rule, good: bool, slope: float) -> Scene:
    limit = asked(rule, slope)
    b = made(rule, "b", "b1", shape_at(rule.b.kinds[0], 0.0, east=True))
    have = {rule.word("quantity", "width_m"): limit + (HAIR if good else -HAIR)}
    a = made(rule, "a", "a1", shape_at(rule.a.kinds[0], 0.0, east=False), **have)
    return Scene(gathered(a, b), Plane(slope), limit)


def _vertical_gap(rule: Rule, good: bool, slope: float) -> Scene:
    limit = asked(rule, slope)
    a = made(rule, "a", "a1", LineString([(0, -1), (0, 1)]))
    branch = FACTOR + limit + (HAIR if good else -HAIR)
    b = made(rule, "b", "b1", Point(0, 0), clear_stem_m=branch)
    return Scene(gathered(a, b), Plane(slope), limit)


def ring_with_gap(house: Polygon, away: float, width: float, gap: float) -> BaseGeometry:
    """Return a belt round a house with an opening of a width in its middle line, due east."""
    line = house.buffer(away, quad_segs=64).exterior
    east = line.project(Point(house.bounds[2] + away, house.centroid.y))
    belt = line.buffer(width / 2, cap_style="flat")
    if gap <= 0:
        return belt
    x, y = line.interpolate(east).coords[0]
    return shapely.difference(belt, box(x - width, y - gap / 2, x + width, y + gap / 2))


def _belt_around(rule: Rule, good: bool, slope: float) -> Scene:
    limit = asked(rule, slope)
    house = box(-6, -5, 6, 5)
    away = rule.number("distance") / 2
    gap = limit - 0.5 if good else limit + 0.5
    belt = ring_with_gap(house, away, rule.number("width") + 0.2, gap)
    a, b = made(rule, "a", "a1", house), made(rule, "b", "b1", belt)
    return Scene(gathered(a, b), Plane(slope), limit)


def _dead_end(rule: Rule, good: bool, slope: float) -> Scene:
    limit = asked(rule, slope)
    length = limit + (-HAIR if good else HAIR)
    a = made(rule, "a", "a1", LineString([(0, 0), (length, 0)]))
    road = make_subject("public_road", "road", LineString([(0, -50), (0, 50)]))
    return Scene(gathered(a, road), Plane(slope), limit)


def _not_above(rule: Rule, good: bool, slope: float) -> Scene:
    limit = asked(rule, slope)
    d = limit + HAIR if good else limit - HAIR
    b = made(rule, "b", "b1", shape_at(rule.b.kinds[0], 0.0, east=False))
    a = made(rule, "a", "a1", shape_at(rule.a.kinds[0], d, east=True))
    return Scene(gathered(a, b), Plane(slope), limit)


def _not_so(rule: Rule, good: bool, slope: float) -> Scene:
    said = "otherwise" if good else rule.word("value")
    a = made(rule, "a", "a1", shape_at(rule.a.kinds[0], 0.0, east=True))
    a = Subject(a.element, a.parts, {**a.facts, rule.word("quantity"): said})
    return Scene(gathered(a), Plane(slope))


def _is_set(rule: Rule, good: bool, slope: float) -> Scene:
    a = made(rule, "a", "a1", shape_at(rule.a.kinds[0], 0.0, east=True))
    told = {} if good else {rule.word("quantity"): "It lies in the air."}
    return Scene(gathered(Subject(a.element, a.parts, {**a.facts, **told})), Plane(slope))


def _keeps_levels(rule: Rule, good: bool, slope: float) -> Scene:
    limit = asked(rule, slope)
    by = limit + (-HAIR if good else HAIR)
    first = made(rule, "b", "a1", box(0, 0, 10, 10))
    later = made(rule, "a", "a2", box(5, 0, 15, 10), undoes_1_m=by)
    parts = {**later.parts, "undoes:a1": box(5, 0, 10, 10)}
    return Scene(gathered(first, Subject(later.element, parts, later.facts)), Plane(slope), limit)


BUILDERS = {
    "is_set": _is_set,
    "keeps_levels": _keeps_levels,
    "not_above": _not_above,
    "not_so": _not_so,
    "min_distance": _min_distance,
    "within_reach": _within_reach,
    "links": _links,
    "spacing": _spacing,
    "inside": _overlay,
    "outside": _overlay,
    "clear_of": _overlay,
    "crossing": _crossing,
    "crossing_without": _crossing,
    "max_slope": _max_slope,
    "max_grade": _figure,
    "min_value": _figure,
    "max_value": _figure,
    "min_width": _figure,
    "min_radius": _min_radius,
    "as_wide_as": _as_wide_as,
    "vertical_gap": _vertical_gap,
    "belt_around": _belt_around,
    "dead_end": _dead_end,
}
