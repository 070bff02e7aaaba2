"""Snaps: what the pointer is drawn to, and the words for it.

Points are caught before lines, lines before directions; among equals the nearest wins.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from shapely import STRtree
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from canvas.site.records import Element, kind_of
from canvas.tools.index import Ints, MapIndex
from canvas.tools.plane import XY, Coords, apart_from, distance, feet_on, meet
from canvas.tools.pointer import Pointer, Snap

#: Every kind of snap and its name for people.
SNAPS = {
    "point": "Corners and points",
    "middle": "Middles of edges",
    "crossing": "Crossings",
    "square": "Right angles",
    "boundary": "The site boundary",
    "edge": "Edges",
    "contour": "Contours",
    "parallel": "Parallels",
    "extension": "Extensions of edges",
}
#: How near a thing must be to catch the pointer [pixels].
REACH_PX = 10.0
#: How near an edge must be for its direction to be offered [pixels].
LOOK_PX = 90.0
#: No more edges than this are tried for directions: the nearest.
MOST_EDGES = 24


@dataclass(frozen=True, slots=True)
class Stroke:
    """What of the stroke under way bears on snapping."""

    #: The last point put down: right angles and parallels are from here.
    anchor: XY | None = None
    #: Points of the stroke so far, the first one closes it.
    points: tuple[XY, ...] = ()
    #: Elements not to catch: those being moved.
    skip: frozenset[str] = frozenset()


FREE = Stroke()


def name_of(item: Element) -> str:
    """Return what to call an element: its name, or its kind."""
    return item.name or kind_of(item).label.lower()


class Snapper:
    """Finds snaps in one plan."""

    def __init__(self, index: MapIndex, contours: tuple[BaseGeometry, ...] = ()) -> None:
        self.index = index
        self.contours = contours
        self._contour_tree: STRtree | None = None

    def snap(self, at: Pointer, on: frozenset[str], stroke: Stroke = FREE) -> Snap | None:
        """Return what catches the pointer, or None; Alt lets nothing catch it."""
        if at.alt or not on:
            return None
        reach = REACH_PX * at.pixel_m
        edges, owners = self._edges(at, stroke, LOOK_PX * at.pixel_m)
        near = apart_from(edges, at.xy) <= reach
        look = _Look(self, at.xy, reach, on, stroke, edges, owners)
        look_near = _Look(self, at.xy, reach, on, stroke, edges[near], owners[near])
        for tier in (_points, _square_foot, _on_line):
            if found := tier(look_near):
                return found
        return _directions(look)

    def item(self, number: int) -> Element:
        """Return the element an edge or corner belongs to."""
        return self.index.elements[int(number)]

    def _edges(self, at: Pointer, stroke: Stroke, look_m: float) -> tuple[Coords, Ints]:
        edges, owners = self.index.near_edges(at.xy, look_m)
        if stroke.skip:
            kept = [self.item(k).id not in stroke.skip for k in owners]
            edges, owners = edges[kept], owners[kept]
        if len(edges) > MOST_EDGES:
            nearest = np.argsort(apart_from(edges, at.xy))[:MOST_EDGES]
            edges, owners = edges[nearest], owners[nearest]
        return edges, owners

    def nearest_contour(self, xy: XY, reach_m: float) -> XY | None:
        """Return the nearest place on a contour within reach."""
        if not self.contours:
            return None
        if self._contour_tree is None:
            self._contour_tree = STRtree(self.contours)
        found = self._contour_tree.query_nearest(Point(xy), max_distance=reach_m, all_matches=False)
        return _foot_on(self.contours[int(found[0])], xy) if len(found) else None


@dataclass(frozen=True, slots=True, eq=False)
class _Look:
    """One search: the place, the reach, and the edges about it."""

    snapper: Snapper
    xy: XY
    reach_m: float
    on: frozenset[str]
    stroke: Stroke
    edges: Coords
    owners: Ints


def _points(look: _Look) -> Snap | None:
    best: list[tuple[float, Snap]] = []

    def offer(kind: str, spots: Coords, name: Callable[[int], tuple[str, str]]) -> None:
        if kind not in look.on or not len(spots):
            return
        apart = np.hypot(spots[:, 0] - look.xy[0], spots[:, 1] - look.xy[1])
        k = int(np.argmin(apart))
        if apart[k] <= look.reach_m:
            words, ident = name(k)
            spot = float(spots[k, 0]), float(spots[k, 1])
            best.append((float(apart[k]), Snap(kind, *spot, words, None, ident)))

    corners, owners = look.snapper.index.near_corners(look.xy, look.reach_m)
    free = [look.snapper.item(k).id not in look.stroke.skip for k in owners]
    corners, owners = corners[free], owners[free]
    offer("point", corners, lambda k: _corner_words(look.snapper.item(owners[k])))
    own = np.array(look.stroke.points[:-1], np.float64).reshape(-1, 2)
    offer("point", own, lambda k: ("start of this line" if k == 0 else "a point of this line", ""))
    middles = (look.edges[:, :2] + look.edges[:, 2:]) / 2
    offer("middle", middles, lambda k: _edge_words(look, k, "middle of"))
    crossings, pairs = _crossings(look.edges)
    offer("crossing", crossings, lambda k: _crossing_words(look, pairs[k]))
    return min(best, key=lambda pair: pair[0])[1] if best else None


def _corner_words(item: Element) -> tuple[str, str]:
    shape = kind_of(item).geometry
    what = {"Point": "", "LineString": "point of ", "Polygon": "corner of "}[shape]
    return what + name_of(item), item.id


def _edge_words(look: _Look, k: int, what: str) -> tuple[str, str]:
    item = look.snapper.item(look.owners[k])
    return f"{what} {name_of(item)}", item.id


def _crossing_words(look: _Look, pair: tuple[int, int]) -> tuple[str, str]:
    first, second = (look.snapper.item(look.owners[k]) for k in pair)
    return f"crossing of {name_of(first)} and {name_of(second)}", first.id


def _crossings(edges: Coords) -> tuple[Coords, list[tuple[int, int]]]:
    """Return where edges cross inside both, and which two."""
    spots: list[XY] = []
    pairs: list[tuple[int, int]] = []
    for a in range(len(edges)):
        for b in range(a):
            hit = meet(edges[a], edges[b])
            if hit is not None and 0 < hit[1] < 1 and 0 < hit[2] < 1:
                spots.append(hit[0])
                pairs.append((a, b))
    return np.array(spots, np.float64).reshape(-1, 2), pairs


def _square_foot(look: _Look) -> Snap | None:
    """Catch the foot, on an edge, of the perpendicular from the last point."""
    anchor = look.stroke.anchor
    if anchor is None or "square" not in look.on:
        return None
    feet, t = feet_on(look.edges, anchor)
    for k in np.argsort(np.hypot(feet[:, 0] - look.xy[0], feet[:, 1] - look.xy[1])):
        foot = float(feet[k, 0]), float(feet[k, 1])
        if distance(foot, look.xy) > look.reach_m:
            break
        if 0 <= t[k] <= 1 and distance(foot, anchor) > look.reach_m:
            words, ident = _edge_words(look, int(k), "square to")
            return Snap("square", *foot, words, LineString([anchor, foot]), ident)
    return None


def _on_line(look: _Look) -> Snap | None:
    """Catch the nearest place on an edge, the boundary or a contour."""
    apart = apart_from(look.edges, look.xy)
    for k in np.argsort(apart):
        item = look.snapper.item(look.owners[k])
        kind = "boundary" if kind_of(item).key == "site_boundary" else "edge"
        if kind not in look.on:
            continue
        feet, _ = feet_on(look.edges[k : k + 1], look.xy, inside=True)
        what = "on the site boundary" if kind == "boundary" else f"edge of {name_of(item)}"
        return Snap(kind, float(feet[0, 0]), float(feet[0, 1]), what, None, item.id)
    if "contour" in look.on:
        spot = look.snapper.nearest_contour(look.xy, look.reach_m)
        if spot is not None:
            return Snap("contour", *spot, "on a contour")
    return None


def _directions(look: _Look) -> Snap | None:
    """Right angles, parallels and extensions: places on a line through a point, by direction."""
    lines: list[tuple[str, Coords, str, str]] = []
    if "extension" in look.on:
        for k in range(len(look.edges)):
            lines.append(("extension", look.edges[k], *_edge_words(look, k, "in line with")))
    anchor, points = look.stroke.anchor, look.stroke.points
    if anchor is not None:
        for kind, a, b, words, ident in _references(look, points):
            ux, uy = b[0] - a[0], b[1] - a[1]
            if kind == "square":
                ux, uy = -uy, ux
            lines.append((kind, np.array([*anchor, anchor[0] + ux, anchor[1] + uy]), words, ident))
    best: tuple[float, Snap] | None = None
    for kind, line, words, ident in lines:
        feet, _ = feet_on(line[None, :], look.xy)
        foot = float(feet[0, 0]), float(feet[0, 1])
        apart = distance(foot, look.xy)
        if apart > look.reach_m or (best is not None and apart >= best[0]):
            continue
        start = anchor if kind != "extension" and anchor is not None else _nearer(line, foot)
        if distance(start, foot) > look.reach_m:
            best = apart, Snap(kind, *foot, words, LineString([start, foot]), ident)
    return best[1] if best else None


def _references(look: _Look, points: Sequence[XY]) -> list[tuple[str, XY, XY, str, str]]:
    """Return directions worth keeping: the strokes drawn so far, then edges at hand."""
    found: list[tuple[str, XY, XY, str, str]] = []
    drawn = list(pairwise(points))[-4:]
    for a, b in reversed(drawn):
        found += [("square", a, b, "right angle", ""), ("parallel", a, b, "parallel", "")]
    for k, edge in enumerate(look.edges):
        a, b = (float(edge[0]), float(edge[1])), (float(edge[2]), float(edge[3]))
        for kind, what in (("square", "square to"), ("parallel", "parallel to")):
            words, ident = _edge_words(look, k, what)
            found.append((kind, a, b, words, ident))
    return [item for item in found if item[0] in look.on and distance(item[1], item[2]) > 1e-6]


def _nearer(line: Coords, spot: XY) -> XY:
    a, b = (float(line[0]), float(line[1])), (float(line[2]), float(line[3]))
    return a if distance(a, spot) <= distance(b, spot) else b


def _foot_on(line: BaseGeometry, xy: XY) -> XY:
    foot = shapely.get_coordinates(shapely.shortest_line(line, Point(xy)))[0]
    return float(foot[0]), float(foot[1])
