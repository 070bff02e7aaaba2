"""Where water that leaves a store goes: down the designed ground to the next one, or off it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from canvas.ground.catchment import cells_under, drop_path, hollow_outline
from canvas.ground.flood import Ints
from canvas.ground.flow import Flow
from canvas.study.storm.nodes import Node, Way
from canvas.water.cascade import AWAY
from canvas.water.storage import StageStorage
from canvas.water.weirs import BROAD, weir_flow

#: Hollows of the ground worth a place in the chain; smaller ones are the survey's noise.
LEAST_DEPTH_M, LEAST_M3, MOST_HOLLOWS = 0.15, 10.0, 12
#: Water that leaves this much below a store's lowest sill has found another way [m].
LOWER_M = 0.03
#: A low place so near a way out, in cells, is that way.
NEAR_CELLS = 5.0
#: A way's start is looked for outside its own store so many cells on.
OUTWARD = 12


@dataclass(frozen=True, slots=True, eq=False)
class SpillPath:
    """The way of water out of one store."""

    node: str
    way: Way
    #: Identity of the store it comes to; `AWAY` where it leaves the ground's data.
    to: str
    #: Its line on the map, a built channel with it; None where the ground is not known.
    line: LineString | None


def marks_of(nodes: Sequence[Node], flow: Flow) -> Ints:
    """Return the cells in which each store catches water: its place in the list, from 1."""
    marks = np.zeros(flow.ground.shape, np.int32)
    for k, node in enumerate(nodes, start=1):
        marks.ravel()[cells_under(flow.ground, node.place)] = k
    marks[flow.count == 0] = 0
    return marks


def with_hollows(nodes: Sequence[Node], flow: Flow, within: BaseGeometry | None) -> list[Node]:
    """Return the stores with the ground's own hollows, and low places their banks really have."""
    marks = marks_of(nodes, flow)
    found = [_really(node, k, marks, flow) for k, node in enumerate(nodes, start=1)]
    cell = flow.ground.cell_m**2
    taken = set(np.unique(flow.hollows.number[marks > 0]).tolist())
    for i in flow.hollows.worth(LEAST_DEPTH_M, LEAST_M3 / 0.5):
        hollow = flow.hollows[int(i)]
        if len(found) - len(nodes) >= MOST_HOLLOWS:
            break
        if int(i) + 1 in taken or hollow.volume_m3 < LEAST_M3 or hollow.at_edge:
            continue
        outline = hollow_outline(flow, int(i))
        if within is not None and not outline.intersects(within):
            continue
        z = flow.ground.z[flow.hollows.number == int(i) + 1]
        storage = StageStorage.of_ground(z, cell, hollow.level_m)
        start = _middle(flow, hollow.spill)
        name = f"hollow {len(found) - len(nodes) + 1}"
        found.append(
            Node(
                name,
                "hollow",
                name.capitalize(),
                outline,
                storage,
                (_low_place(flow, hollow.level_m, start, natural=True),),
            )
        )
    return found


def _low_place(flow: Flow, level_m: float, start: tuple[float, float], *, natural: bool) -> Way:
    """Return the way over the lowest place of a rim, two cells wide.

    In the bank of a work nothing was made for water there; in the ground it has always run.
    """
    width = 2.0 * flow.ground.cell_m
    return Way(
        "low",
        "low place",
        level_m,
        lambda head: weir_flow(head, width, BROAD),
        start,
        None,
        natural,
    )


def _middle(flow: Flow, cell: tuple[int, int]) -> tuple[float, float]:
    return float(flow.ground.x_m()[cell[1]]), float(flow.ground.y_m()[cell[0]])


def _really(node: Node, k: int, marks: Ints, flow: Flow) -> Node:
    """Return a store with one way more where the ground lets its water out below its sills."""
    full = node.full_m
    if node.storage is None or full is None:
        return node
    numbers = flow.hollows.number[marks == k]
    numbers = numbers[numbers > 0]
    if not len(numbers):
        return node
    i = int(np.bincount(numbers).argmax()) - 1
    hollow = flow.hollows[i]
    # A hollow that stands far below is another one, in the store's bed.
    deep = float(node.storage.level_m[0])
    if not deep + 0.25 * (full - deep) < hollow.level_m < full - LOWER_M:
        return node
    spill = _middle(flow, hollow.spill)
    far = [float(np.hypot(way.start[0] - spill[0], way.start[1] - spill[1])) for way in node.ways]
    nearest = int(np.argmin(far))
    if far[nearest] <= NEAR_CELLS * flow.ground.cell_m:
        # The same place as drawn, only lower than it was meant to be.
        ways = list(node.ways)
        ways[nearest] = replace(ways[nearest], level_m=hollow.level_m)
        return replace(node, ways=tuple(sorted(ways, key=lambda way: way.level_m)))
    way = _low_place(flow, hollow.level_m, spill, natural=False)
    return replace(node, ways=(way, *node.ways))


def paths_of(nodes: Sequence[Node], marks: Ints, flow: Flow) -> dict[tuple[str, str], SpillPath]:
    """Return where each way of each store leads, by store and way."""
    found = {}
    for k, node in enumerate(nodes, start=1):
        for way in node.ways:
            found[node.ident, way.key] = _path(node, k, way, nodes, marks, flow)
    return found


def _path(
    node: Node, k: int, way: Way, nodes: Sequence[Node], marks: Ints, flow: Flow
) -> SpillPath:
    start = _outside(node, k, way, marks, flow)
    drop = drop_path(flow, *start)
    if drop is None:
        return SpillPath(node.ident, way, AWAY, way.channel)
    met = marks[drop.cells[:, 0], drop.cells[:, 1]]
    # Water that grazes the store it came from has not entered another.
    others = np.flatnonzero((met > 0) & (met != k))
    xy = np.asarray(drop.line.coords)
    to = AWAY
    if len(others):
        to, xy = nodes[int(met[others[0]]) - 1].ident, xy[: int(others[0]) + 1]
    before = np.asarray(way.channel.coords)[:, :2] if way.channel is not None else _first(node, way)
    whole = np.vstack((before, xy[:, :2]))
    whole = whole[np.concatenate(([True], np.abs(np.diff(whole, axis=0)).sum(axis=1) > 1e-9))]
    line = LineString(whole).simplify(flow.ground.cell_m * 0.4) if len(whole) > 1 else None
    return SpillPath(node.ident, way, to, line if isinstance(line, LineString) else None)


def _first(node: Node, way: Way) -> NDArray[np.float64]:
    """Return where the water leaves the store: its edge nearest to where the ground takes over."""
    near = nearest_points(node.place, Point(way.start))[0]
    return np.array([[near.x, near.y]])


def _outside(node: Node, k: int, way: Way, marks: Ints, flow: Flow) -> tuple[float, float]:
    """Return a way's start, moved on outward until it lies outside the store's own cells."""
    x, y = way.start
    near = _first(node, way)[0] if way.channel is None else np.asarray(way.channel.coords)[0][:2]
    away = np.array([x - near[0], y - near[1]])
    size = float(np.hypot(*away))
    if size < 1e-6:
        return x, y
    step = away / size * flow.ground.cell_m * 0.5
    for n in range(OUTWARD):
        px, py = x + step[0] * n, y + step[1] * n
        cell = flow.ground.cell_at(px, py)
        if cell is not None and marks[cell] != k:
            return float(px), float(py)
    return x, y
