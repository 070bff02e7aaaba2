"""What stands beside a growing line: lengths, total, bearing, area and grade."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from shapely.geometry import Polygon

from canvas.base.quantity import show
from canvas.tools.plane import XY, bearing, distance
from canvas.tools.pointer import GhostLabel
from canvas.tools.world import ToolWorld

#: Earlier segments labelled along themselves, at most.
MOST_LABELS = 24


def stroke_labels(
    world: ToolWorld, points: Sequence[XY], *, closed: bool = False
) -> tuple[GhostLabel, ...]:
    """Return the labels of a stroke whose last point is the pointer; `closed` for an outline."""
    if len(points) < 2:
        return ()
    pieces = list(pairwise(points))
    earlier = [
        GhostLabel((a[0] + b[0]) / 2, (a[1] + b[1]) / 2, world.length(distance(a, b)))
        for a, b in pieces[:-1][-MOST_LABELS:]
    ]
    a, b = pieces[-1]
    lines = [f"{world.length(distance(a, b))} · {show(bearing(a, b), 'deg', world.units)}"]
    if grade := grade_words(world, a, b):
        lines.append(grade)
    if len(pieces) > 1:
        lines.append("in all " + world.length(sum(distance(a, b) for a, b in pieces)))
    if closed and len(points) > 2:
        lines.append("area " + world.area(Polygon(points).area))
    return (*earlier, GhostLabel(*b, "\n".join(lines)))


def grade_words(world: ToolWorld, a: XY, b: XY) -> str:
    """Return the grade of the ground from a to b, "" where heights are unknown."""
    length = distance(a, b)
    z = world.height_at([a[0], b[0]], [a[1], b[1]])
    if length == 0 or not np.isfinite(z).all():
        return ""
    rise = float(z[1] - z[0])
    way = "up" if rise > 0 else "down"
    return (
        f"{show(abs(rise) / length, '%', world.units)} {way} ({show(rise, 'm', world.units)})"
        if abs(rise) >= 0.005
        else "level"
    )
