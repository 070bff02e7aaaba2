"""A continuous belt around something: where it is missing, too narrow, or leaks."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiLineString, Polygon
from shapely.geometry.base import BaseGeometry

from canvas.rules.breach import Breach
from canvas.rules.model import SLACK, Rule
from canvas.rules.relations.distance import objects
from canvas.rules.relations.spec import Only, Reach, relation
from canvas.rules.scene import Scene

#: Directions are looked at this close together on the far ring [m].
STEP_M = 0.25
MOST_RAYS = 6000
QUARTER = 32
NO_BELT = "There is no belt at all within the distance."
LEAK = "The belt overlaps itself without closing: there is a way round its ends."


@relation(
    "belt_around",
    sides="ab",
    reach=Reach.ALL,
    unit="m",
    sense="at most",
    options={"distance": "length", "width": "length"},
    required=("distance", "width"),
)
def belt_around(rule: Rule, scene: Scene, only: Only) -> list[Breach]:
    """Breach where the belt b round a, within a distance, has a gap wider than the limit.

    Seen from every point of the ring at `distance`, the shortest way to a must cross belt that is
    at least `width` wide. Belts of several elements add up; a gap is measured where the belt
    would lie: from the belt on its one side to that on the other.
    """
    assert rule.b is not None
    a, b = scene.members(rule.a), scene.members(rule.b)
    distance_m, width_m = rule.number("distance"), rule.number("width")
    found = []
    for ident in sorted(a.shapes):
        asked = scene.ask(rule, ident)
        if asked is None or not scene.some_ours(ident):
            continue
        shape = a.shapes[ident]
        names = sorted({key for _, key in b.near([shape], distance_m)} - {ident})
        belts = wide_enough([b.shapes[key] for key in names], width_m)
        breach = _gaps(ident, shape, belts, distance_m, asked)
        if breach is not None:
            found.append(breach)
    return found


def wide_enough(belts: list[BaseGeometry], width_m: float) -> BaseGeometry:
    """Return the belts together, without what is narrower than asked."""
    whole = shapely.union_all(objects(belts))
    # Half a millimetre spared keeps a belt of exactly the width.
    half = max(width_m / 2 - 5e-4, 0.0)
    return shapely.buffer(shapely.buffer(whole, -half), half)


def _gaps(
    ident: str, shape: BaseGeometry, belts: BaseGeometry, distance_m: float, asked: float
) -> Breach | None:
    rays = _rays(shape, distance_m)
    if belts.is_empty:
        ring = _ring(shape, distance_m / 2)
        return Breach((ident,), float(ring.length), asked, "m", ring, note=NO_BELT)
    shapely.prepare(belts)
    covered = shapely.intersects(rays, belts)
    if not covered.any():
        ring = _ring(shape, distance_m / 2)
        return Breach((ident,), float(ring.length), asked, "m", ring, note=NO_BELT)
    gaps = [_arc(rays, span, belts) for span in _spans(~covered)]
    wide = [gap for gap in gaps if gap.length > asked + SLACK]
    if wide:
        wide.sort(key=lambda gap: -gap.length)
        where = wide[0] if len(wide) == 1 else MultiLineString(wide)
        return Breach((ident,), float(wide[0].length), asked, "m", where, count=len(wide))
    return None if gaps else _leak(ident, shape, belts, distance_m, asked)


def _ring(shape: BaseGeometry, away_m: float) -> LineString:
    outline = shape.buffer(away_m, quad_segs=QUARTER)
    assert isinstance(outline, Polygon)
    return LineString(outline.exterior.coords)


def _rays(shape: BaseGeometry, distance_m: float) -> NDArray[np.object_]:
    """Return the shortest lines from the ring to the shape, in order round it."""
    ring = _ring(shape, distance_m)
    count = int(min(max(np.ceil(ring.length / STEP_M), 72), MOST_RAYS))
    stations = ring.length * np.arange(count) / count
    starts = shapely.line_interpolate_point(ring, stations)
    return np.asarray(shapely.shortest_line(starts, shape), dtype=object)


def _spans(bare: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return the runs of bare rays as (first, last + 1); a run over the start goes on past it."""
    count = len(bare)
    first = int(np.argmin(bare))
    turned = np.roll(bare, -first)
    edges = np.diff(np.concatenate([[False], turned, [False]]).astype(int))
    starts, ends = np.nonzero(edges == 1)[0], np.nonzero(edges == -1)[0]
    assert len(starts) == len(ends) <= count
    return [(int(s) + first, int(e) + first) for s, e in zip(starts, ends, strict=True)]


def _arc(rays: NDArray[np.object_], span: tuple[int, int], belts: BaseGeometry) -> LineString:
    """Return the gap's line from belt to belt, half a step over at either end."""
    count = len(rays)
    chosen = [rays[k % count] for k in range(span[0] - 1, span[1] + 1)]
    ends = [_belt_distance(ray, belts) for ray in (chosen[0], chosen[-1])]
    away = np.linspace(ends[0], ends[1], len(chosen))
    # Rays run from the ring to the shape.
    places = [
        ray.interpolate(max(ray.length - at_m, 0.0)) for ray, at_m in zip(chosen, away, strict=True)
    ]
    xy = shapely.get_coordinates(places)
    xy[0], xy[-1] = (xy[0] + xy[1]) / 2, (xy[-1] + xy[-2]) / 2
    return LineString(xy)


def _belt_distance(ray: LineString, belts: BaseGeometry) -> float:
    """Return how far from the shape a covered ray meets the belt's middle [m]."""
    nearest = shapely.get_parts(shapely.intersection(ray, belts))[-1]
    return float(ray.length - ray.project(shapely.centroid(nearest)))


def _leak(
    ident: str, shape: BaseGeometry, belts: BaseGeometry, distance_m: float, asked: float
) -> Breach | None:
    """Return a breach where belts overlap seen from a but leave a way in between them."""
    around = shape.buffer(distance_m, quad_segs=QUARTER)
    free = shapely.difference(shapely.union_all([around, shape]), belts)
    home = [part for part in shapely.get_parts(free) if part.intersects(shape)]
    open_way = [part for part in home if part.distance(around.exterior) <= 1e-3]
    if not open_way:
        return None
    pieces = sorted(shapely.get_parts(belts), key=lambda part: -part.area)
    if len(pieces) < 2:
        return Breach((ident,), None, asked, "m", open_way[0], note=LEAK)
    way = shapely.shortest_line(pieces[0], shapely.union_all(objects(pieces[1:])))
    if way.length <= asked + SLACK:
        return None
    return Breach((ident,), float(way.length), asked, "m", way, note=LEAK)
