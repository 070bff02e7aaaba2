"""Ways as a network: dead ends a vehicle can't turn at."""

from __future__ import annotations

import shapely
from shapely import LineString, Point
from shapely.ops import substring

from canvas.rules.breach import Breach
from canvas.rules.members import Members
from canvas.rules.model import SLACK, Rule
from canvas.rules.relations.distance import chains, objects, pairs_within
from canvas.rules.relations.spec import Only, Reach, relation
from canvas.rules.scene import Scene

#: A way that comes back to itself farther than this from its end makes a loop to turn in [m].
LOOP_M = 20.0


@relation(
    "dead_end",
    sides="ab",
    reach=Reach.ALL,
    unit="m",
    sense="at most",
    options={"joined": "length", "arm": "length", "within": "length"},
    required=("joined", "arm", "within"),
)
def dead_end(rule: Rule, scene: Scene, only: Only) -> list[Breach]:
    """Breach where a way a, with those it joins longer than the limit, ends without a turning.

    An end is dead when it is not `joined` to any b. It has a turning when the way comes back to
    itself there, or a branch at least `arm` long leaves it `within` a distance of the end.
    """
    assert rule.b is not None
    a, b = scene.members(rule.a), scene.members(rule.b)
    joined_m = rule.number("joined")
    joints = pairs_within(a, a, joined_m, None, same=True)
    found = []
    for chain in chains(sorted(a.shapes), joints):
        length = sum(a.shapes[ident].length for ident in chain)
        for ident in chain:
            asked = scene.ask(rule, ident)
            if asked is None or length <= asked + SLACK or not scene.some_ours(ident):
                continue
            ends = [end for end in _dead(ident, a, b, joined_m) if not _turns(rule, ident, end, a)]
            if ends:
                where = ends[0] if len(ends) == 1 else shapely.union_all(objects(ends))
                found.append(Breach((ident,), length, asked, "m", where, count=len(ends)))
    return found


def _dead(ident: str, a: Members, b: Members, joined_m: float) -> list[Point]:
    line = a.shapes[ident]
    if not isinstance(line, LineString) or line.is_closed:
        return []
    ends = [Point(line.coords[0]), Point(line.coords[-1])]
    met = {k for k, other in b.near(ends, joined_m) if other != ident}
    return [end for k, end in enumerate(ends) if k not in met]


def _turns(rule: Rule, ident: str, end: Point, a: Members) -> bool:
    line = a.shapes[ident]
    assert isinstance(line, LineString)
    joined_m, within_m = rule.number("joined"), rule.number("within")
    if line.length > LOOP_M:
        at_start = line.project(end) < line.length / 2
        span = (LOOP_M, line.length) if at_start else (0.0, line.length - LOOP_M)
        if substring(line, *span).distance(end) <= joined_m:
            return True
    for _, other in a.near([end], within_m + joined_m):
        branch = a.shapes[other]
        if other == ident or branch.length < rule.number("arm") - SLACK:
            continue
        if branch.distance(line) <= joined_m and shapely.distance(branch, end) <= within_m:
            return True
    return False
