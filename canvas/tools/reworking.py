"""Splitting, joining, drawing beside, lining up: elements reworked into others, as edits."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import split, unary_union

from canvas.base.errors import BadData
from canvas.site.edits import Change, Edit
from canvas.site.records import Element, kind_of
from canvas.tools.plane import XY, distance
from canvas.tools.snap import name_of
from canvas.tools.transform import copy, edit_each, named, reshaped, shift

#: Ends of lines further apart than this aren't joined [m].
GAP_M = 2.0


def split_edit(items: Sequence[Element], cut: LineString) -> Edit:
    """Return the edit that parts lines and areas where a drawn line crosses them.

    The largest piece keeps the identity, so waivers and references stay with it.
    """
    changes: list[Change] = []
    parted: list[Element] = []
    for item in items:
        pieces = _pieces(item.geometry, cut)
        if len(pieces) > 1:
            pieces.sort(key=lambda piece: piece.area or piece.length, reverse=True)
            first, *others = (reshaped(item, piece) for piece in pieces)
            changes += [Change(item, first), *(Change(None, copy(other)) for other in others)]
            parted.append(item)
    if not changes:
        raise BadData(
            "The line doesn't cut through anything selected.",
            remedy="Draw it from outside to outside, right across what it should part.",
        )
    return Edit(named("Split", parted), tuple(changes))


def _pieces(geometry: BaseGeometry, cut: LineString) -> list[BaseGeometry]:
    if isinstance(geometry, Point):
        return [geometry]
    if isinstance(geometry, LineString):
        if geometry.relate_pattern(cut, "1********"):  # they share a stretch: no place to cut
            return [geometry]
        if geometry.is_closed:
            return _ring_pieces(geometry, cut)
    return list(split(geometry, cut).geoms)


def _ring_pieces(ring: LineString, cut: LineString) -> list[BaseGeometry]:
    """Part a closed line: the piece over its seam stays whole."""
    pieces = list(split(ring, cut).geoms)
    if len(pieces) < 2:
        return list(pieces)
    seam = LineString([*pieces[-1].coords, *list(pieces[0].coords)[1:]])
    return [seam, *pieces[1:-1]]


def join_edit(items: Sequence[Element]) -> Edit:
    """Return the edit that makes one element of several: lines end to end, areas united."""
    if len(items) < 2:
        raise BadData("Joining needs two or more elements.", remedy="Select them with Shift.")
    kinds = {kind_of(item).key for item in items}
    if len(kinds) > 1:
        names = " and ".join(sorted(kind_of(item).label.lower() for item in items)[:2])
        raise BadData(f"A {names} can't become one.", remedy="Select elements of one kind.")
    shape = kind_of(items[0]).geometry
    if shape == "Point":
        raise BadData("Points can't be joined.")
    lines = [item.geometry for item in items if isinstance(item.geometry, LineString)]
    geometry = _chain(lines) if shape == "LineString" else _union(items)
    largest = max(items, key=lambda item: item.geometry.area or item.geometry.length)
    gone = [Change(item, None) for item in items if item is not largest]
    label = named("Join", items)
    return Edit(label, (*gone, Change(largest, reshaped(largest, geometry))))


def _union(items: Sequence[Element]) -> Polygon:
    united = unary_union([item.geometry for item in items])
    if not isinstance(united, Polygon):
        raise BadData(
            f"{name_of(items[0])} and the others don't all touch along an edge.",
            remedy="Move or reshape them until they meet.",
        )
    return united


def _chain(lines: list[LineString]) -> LineString:
    chain, *rest = [[(x, y) for x, y, *_ in line.coords] for line in lines]
    while rest:
        best = min(
            (
                (distance(chain[tail], other[end]), k, tail, end)
                for k, other in enumerate(rest)
                for tail in (0, -1)
                for end in (0, -1)
            ),
        )
        gap, k, tail, end = best
        if gap > GAP_M:
            raise BadData(
                f"The nearest ends are {gap:.2f} m apart.",
                remedy=f"Bring them within {GAP_M:g} m of each other first.",
            )
        other = rest.pop(k)
        if tail == 0:
            chain.reverse()
        if end == -1:
            other.reverse()
        chain += other[1:] if gap == 0 else other
    return LineString(chain)


def beside(geometry: BaseGeometry, offset_m: float) -> BaseGeometry:
    """Return a line or outline drawn beside another at a distance.

    For lines, left of the drawing direction is positive; for outlines, outward is. Corners stay
    corners: rounded ones would come nearer than the distance between their chords' ends.
    """
    made: BaseGeometry
    if isinstance(geometry, LineString):
        made = shapely.offset_curve(geometry, offset_m, join_style="mitre", mitre_limit=5.0)
    else:
        made = geometry.buffer(offset_m, join_style="mitre", mitre_limit=5.0)
    if made.is_empty or made.geom_type not in ("Polygon", "LineString"):
        raise BadData("Nothing whole is left at that distance.", remedy="Try a smaller one.")
    return made


def side_of(geometry: BaseGeometry, xy: XY) -> tuple[float, float]:
    """Return (distance [m], sign) of a place from a line or outline, in `beside`'s sense."""
    place = Point(xy)
    if isinstance(geometry, Polygon):
        return geometry.exterior.distance(place), -1.0 if geometry.contains(place) else 1.0
    if isinstance(geometry, Point):
        return geometry.distance(place), 1.0
    coords = [(float(x), float(y)) for x, y in shapely.get_coordinates(geometry)]
    nearest = min(pairwise(coords), key=lambda pair: LineString(pair).distance(place))
    (ax, ay), (bx, by) = nearest
    cross = (bx - ax) * (xy[1] - ay) - (by - ay) * (xy[0] - ax)
    return geometry.distance(place), 1.0 if cross >= 0 else -1.0


def line_up_edit(items: Sequence[Element], a: XY, b: XY, *, evenly: bool = False) -> Edit | None:
    """Return the edit that moves elements square onto the line through a and b.

    `evenly` also spaces them evenly from the first to the last along it.
    """
    long = distance(a, b)
    ux, uy = (b[0] - a[0]) / long, (b[1] - a[1]) / long
    middles = {item.id: _middle(item) for item in items}
    at = {k: (x - a[0]) * ux + (y - a[1]) * uy for k, (x, y) in middles.items()}
    if evenly and len(items) > 2:
        order = sorted(at, key=lambda k: at[k])
        places = np.linspace(at[order[0]], at[order[-1]], len(order))
        at = dict(zip(order, (float(place) for place in places), strict=True))

    def onto(item: Element) -> Element:
        x, y = middles[item.id]
        return shift(item, a[0] + at[item.id] * ux - x, a[1] + at[item.id] * uy - y)

    return edit_each("Line up", items, onto)


def _middle(item: Element) -> XY:
    middle = item.geometry.centroid
    return middle.x, middle.y
