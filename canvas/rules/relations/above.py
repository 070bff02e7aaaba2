"""What lies uphill: water works too near above what water in the ground would harm."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from canvas.rules.breach import Breach
from canvas.rules.model import Rule
from canvas.rules.relations.distance import meeting, most_asked, pairs_within, required_of
from canvas.rules.relations.spec import Only, Reach, relation
from canvas.rules.scene import Scene
from canvas.rules.subject import GroundSampler

#: What is less than this higher counts as level with it [m].
LEVEL_M = 0.1
#: Places along what is compared.
PLACES = 12


@relation("not_above", sides="ab", reach=Reach.PAIR, unit="m", sense="at least")
def not_above(rule: Rule, scene: Scene, only: Only) -> list[Breach]:
    """Breach where part a lies higher than part b and nearer to it than asked, on the level.

    Heights are the ground's at the two nearest places; where the parts meet, their means. Without
    a ground nothing is told.
    """
    sampler = scene.sampler
    if sampler is None:
        return []
    assert rule.b is not None
    assert rule.limit is not None
    a, b = scene.members(rule.a), scene.members(rule.b)
    found = []
    for pair in pairs_within(a, b, most_asked(rule, scene), only, same=rule.a == rule.b):
        one, other = a.shapes[pair[0]], b.shapes[pair[1]]
        asked, gap = required_of(rule, scene, pair), float(shapely.distance(one, other))
        if asked is None or not scene.some_ours(*pair) or gap >= asked:
            continue
        if rise_m(one, other, sampler) > LEVEL_M:
            found.append(Breach(pair, gap, asked, rule.limit.unit, meeting(one, other)))
    return found


def rise_m(one: BaseGeometry, other: BaseGeometry, sampler: GroundSampler) -> float:
    """Return how much higher the first lies than the second; NaN where the ground is unknown."""
    if shapely.intersects(one, other):
        return _mean_m(one, sampler) - _mean_m(other, sampler)
    ends = shapely.get_coordinates(shapely.shortest_line(one, other))
    z = np.asarray(sampler.height_at(ends[:, 0], ends[:, 1]), np.float64)
    return float(z[0] - z[1])


def _mean_m(shape: BaseGeometry, sampler: GroundSampler) -> float:
    """Return the mean height along a shape's outline, or of its points."""
    line = shape.boundary if shape.area > 0 else shape
    if line.length > 0:
        shares = np.linspace(0.0, 1.0, PLACES)
        spots = [shapely.line_interpolate_point(part, shares, normalized=True)
                 for part in shapely.get_parts(line)]  # fmt: skip
        xy = shapely.get_coordinates(np.concatenate(spots))
    else:
        xy = shapely.get_coordinates(shape)
    z = np.asarray(sampler.height_at(xy[:, 0], xy[:, 1]), np.float64)
    return float(z[np.isfinite(z)].mean()) if np.isfinite(z).any() else float("nan")
