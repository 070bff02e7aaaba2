"""Spacing among plants: gaps between crowns or stems, with the slope of the ground under them."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from shapely import LineString, MultiLineString
from shapely.geometry.base import BaseGeometry

from canvas.rules.breach import Breach
from canvas.rules.kernels import close_pairs
from canvas.rules.model import Limit, Rule
from canvas.rules.plants import PlantTable
from canvas.rules.relations.spec import Only, Reach, relation
from canvas.rules.scene import SLOPE_UNKNOWN, Scene
from canvas.rules.subject import Floats

Ints = NDArray[np.int64]
#: Pairs this near to each other belong to one stand [m].
STAND_M = 30.0
#: More places than this are not drawn one by one for one finding: the worst are.
MOST_DRAWN = 200


@relation("spacing", sides="a", reach=Reach.ALL, unit="m", sense="at least")
def spacing(rule: Rule, scene: Scene, only: Only) -> list[Breach]:
    """Breach where plants of a stand nearer to each other than asked, by the part named.

    All such pairs of a stand are one breach with the worst pair first; so is a row too close in
    itself. Worked out anew each time: it takes milliseconds for thousands.
    """
    assert rule.limit is not None
    table = scene.plants(rule.a, rule.a.parts[0])
    if not table.ids:
        return []
    asked = asks(rule.limit, rule, scene, table)
    chosen = ~np.isnan(asked)
    if rule.a.near is not None:
        anchors = scene.members(rule.a.near.what)
        chosen &= table.within(list(anchors.shapes.values()), rule.a.near.within_m)
    kept = np.nonzero(chosen)[0]
    xy = table.xy[kept]
    i, j, gap = close_pairs(
        np.ascontiguousarray(xy[:, 0]),
        np.ascontiguousarray(xy[:, 1]),
        table.radius_m[kept],
        asked[kept],
    )
    i, j = kept[i], kept[j]
    ours = table.ours[table.element[i]] | table.ours[table.element[j]]
    return list(_stands(rule, scene, table, asked, i[ours], j[ours], gap[ours]))


def asks(limit: Limit, rule: Rule, scene: Scene, table: PlantTable) -> Floats:
    """Return what is asked round each plant [m], (n,); NaN where nothing can be."""
    if limit.plain is not None:
        return np.full(len(table.xy), limit.plain)
    slope = table.slope_ratio(scene.sampler)
    tops = np.array([step.up_to for step in limit.steps] or [np.inf])
    amounts = [step.amount for step in limit.steps] or [limit.amount_on(None)]
    known = np.where(np.isnan(slope), 0.0, slope)
    step = np.minimum(np.searchsorted(tops + 1e-6, known), len(tops) - 1)
    asked = np.array([amount.value for amount in amounts])[step]
    times = {amount.times for amount in amounts if amount.times}
    for name in times:
        here = np.array([amount.times == name for amount in amounts])[step]
        asked = np.where(here, asked * table.factor(name, scene.subjects), asked)
    return asked


def _stands(
    rule: Rule, scene: Scene, table: PlantTable, asked: Floats, i: Ints, j: Ints, gap: Floats
) -> Iterator[Breach]:
    if not len(i):
        return
    required = np.maximum(asked[i], asked[j])
    ei, ej = table.element[i], table.element[j]
    low, high = np.minimum(ei, ej), np.maximum(ei, ej)
    # Worst first; ties by place, so that any order of edits names the same pair.
    order = np.lexsort((high, low, -(required - gap)))
    alone = _waived(rule, scene, table, low, high)
    label = np.full(len(i), -1)
    rest = np.nonzero(~alone)[0]
    if len(rest):
        middle = (table.xy[i[rest]] + table.xy[j[rest]]) / 2
        label[rest] = _stand_labels(low[rest], high[rest], middle)
    label[alone] = 4 * len(i) + low[alone] * len(table.ids) + high[alone]
    # A stable sort keeps the worst pair of each group in front.
    order = order[np.argsort(label[order], kind="stable")]
    edges = np.nonzero(np.diff(label[order]))[0] + 1
    sloped = rule.limit is not None and rule.limit.needs_slope
    slope = table.slope_ratio(scene.sampler) if sloped else np.empty(0)
    for pairs in np.split(order, edges):
        worst = pairs[0]
        first = [table.ids[int(low[worst])], table.ids[int(high[worst])]]
        others = sorted({table.ids[int(k)] for k in np.unique((low[pairs], high[pairs]))})
        elements = tuple(dict.fromkeys([*first, *others]))
        unknown = sloped and bool(
            np.isnan(slope[i[pairs]]).any() or np.isnan(slope[j[pairs]]).any()
        )
        yield Breach(
            elements,
            max(float(gap[worst]), 0.0),
            float(required[worst]),
            rule.limit.unit if rule.limit else "m",
            _places(table, i[pairs[:MOST_DRAWN]], j[pairs[:MOST_DRAWN]]),
            count=len(pairs),
            note=SLOPE_UNKNOWN if unknown else "",
        )


def _stand_labels(low: Ints, high: Ints, middle: Floats) -> Ints:
    """Return which stand each pair belongs to: pairs that share an element, or lie close by."""
    cells, cell = np.unique(
        np.floor(middle / STAND_M).astype(np.int64), axis=0, return_inverse=True
    )
    cell = cell.reshape(-1)
    place = {(int(x), int(y)): k for k, (x, y) in enumerate(cells)}
    beside = [
        (k, place[x + dx, y + dy])
        for (x, y), k in place.items()
        for dx, dy in ((1, 0), (0, 1), (1, 1), (1, -1))
        if (x + dx, y + dy) in place
    ]
    names, element = np.unique(np.concatenate([low, high]), return_inverse=True)
    count = len(cells) + len(names)
    start = np.concatenate([cell, cell, np.array([k for k, _ in beside], np.int64)])
    end = np.concatenate(
        [len(cells) + element.reshape(-1), np.array([k for _, k in beside], np.int64)]
    )
    links = coo_array((np.ones(len(start)), (start, end)), shape=(count, count))
    _, group = connected_components(links, directed=False)
    return np.asarray(group[cell], np.int64)


def _waived(
    rule: Rule, scene: Scene, table: PlantTable, low: Ints, high: Ints
) -> NDArray[np.bool_]:
    alone = np.zeros(len(low), bool)
    for pair in scene.waived.get(rule.key, ()):
        places = [k for k, ident in enumerate(table.ids) if ident in pair]
        if len(pair) == 2 and len(places) == 2:
            alone |= (low == places[0]) & (high == places[1])
    return alone


def _places(table: PlantTable, i: Ints, j: Ints) -> BaseGeometry:
    """Return a line for each pair: between the crowns, or between the stems where they overlap."""
    start, end = table.xy[i], table.xy[j]
    apart = np.hypot(*(end - start).T)
    ri, rj = table.radius_m[i], table.radius_m[j]
    clear = (apart - ri - rj > 0) & (apart > 0)
    step = (end - start) / np.where(apart > 0, apart, 1.0)[:, None]
    a = np.where(clear[:, None], start + step * ri[:, None], start)
    b = np.where(clear[:, None], end - step * rj[:, None], end)
    if len(a) == 1:
        return LineString([a[0], b[0]])
    found = shapely.multilinestrings(np.asarray(shapely.linestrings(np.stack([a, b], axis=1))))
    assert isinstance(found, MultiLineString)
    return found
