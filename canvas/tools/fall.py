"""Points found by how far the ground falls: for drains, swales and tracks that keep a grade."""

from __future__ import annotations

import numpy as np

from canvas.base.errors import BadData
from canvas.base.grid import Floats
from canvas.tools.plane import XY, along, bearing, distance
from canvas.tools.typed import Entry
from canvas.tools.world import ToolWorld

#: Furthest a fall is looked for along a bearing, and how closely [m].
FURTHEST_M = 1000.0
STEP_M = 0.25
BEARINGS = 1440


def fallen(world: ToolWorld, start: XY, entry: Entry, toward: XY) -> XY:
    """Return the point that meets a typed fall from `start`, the likeliest towards the pointer.

    With a length: on the circle of that length, the place nearest the pointer's bearing. With a
    bearing, or alone: the first place along it where the ground has dropped so far. A fall in
    percent needs a length; the pointer's distance stands in for it.
    """
    z0 = float(world.height_at([start[0]], [start[1]])[0])
    if not np.isfinite(z0):
        raise BadData("There are no ground heights here, so a fall can't be followed.")
    if entry.fall_m is not None and entry.length_m is None:
        aim = bearing(start, toward) if entry.bearing_deg is None else entry.bearing_deg
        return _along_bearing(world, start, aim, z0 - entry.fall_m)
    if entry.bearing_deg is not None:
        raise BadData(
            "A fall in percent along a bearing is whatever the ground gives.",
            remedy="Give the fall with a length, such as 12 fall 1%.",
        )
    length = distance(start, toward) if entry.length_m is None else entry.length_m
    drop = entry.fall_m if entry.fall_m is not None else (entry.fall_ratio or 0.0) * length
    return _on_circle(world, start, length, z0 - drop, bearing(start, toward))


def _along_bearing(world: ToolWorld, start: XY, aim_deg: float, level_m: float) -> XY:
    apart = np.arange(0.0, FURTHEST_M + STEP_M, STEP_M)
    unit = along((0.0, 0.0), aim_deg, 1.0)
    z = world.height_at(start[0] + apart * unit[0], start[1] + apart * unit[1])
    hits = _crossings(apart, z - level_m)
    hits = hits[hits > STEP_M / 100]
    if not len(hits):
        raise BadData("The ground doesn't reach that level along this bearing.")
    return along(start, aim_deg, float(hits[0]))


def _on_circle(world: ToolWorld, start: XY, length_m: float, level_m: float, aim: float) -> XY:
    turn = np.linspace(-180.0, 180.0, BEARINGS + 1)
    angle = np.radians(aim + turn)
    z = world.height_at(start[0] + np.sin(angle) * length_m, start[1] + np.cos(angle) * length_m)
    hits = _crossings(turn, z - level_m)
    if not len(hits):
        raise BadData(
            f"Nowhere {world.length(length_m)} away does the ground lie at that level.",
            remedy="Try a shorter piece or another fall.",
        )
    return along(start, aim + float(hits[np.argmin(np.abs(hits))]), length_m)


def _crossings(at: Floats, off: Floats) -> Floats:
    """Return where a sampled curve passes nought, between samples; no data never crosses."""
    first, second = off[:-1], off[1:]
    ok = np.isfinite(first) & np.isfinite(second) & (first * second <= 0) & (first != second)
    k = np.flatnonzero(ok)
    share = first[k] / (first[k] - second[k])
    return np.asarray(at[k] + share * (at[k + 1] - at[k]), np.float64)
