"""The bare ground: hill worn by water, then the channel, road bed, bench and dam people see."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import LinearNDInterpolator
from scipy.ndimage import gaussian_filter, gaussian_filter1d

from . import drain, erosion, macro, paths, plan
from .frame import GROUND, SEED, Floats
from .noise import octaves
from .paths import smoothstep

MARGIN_M = 35.0  # worn with the rest and then cut away, so that no edge shows
NET_M = 5.0


@dataclass(frozen=True)
class Ground:
    """Levels (rows, cols) [m], draining area [m²], water lines by name, and the dam's depth [m]."""

    z: Floats
    area_m2: Floats
    lines: dict[str, Floats]
    bed_m: dict[str, Floats]
    water_m: Floats


def make() -> Ground:
    """Return the ground of the site on `frame.GROUND`."""
    west, south, east, north = GROUND.bounds
    bounds = (west - MARGIN_M, south - MARGIN_M, east + MARGIN_M, north + MARGIN_M)
    web = erosion.net(bounds, NET_M, SEED)
    rough = macro.levels(web.points)
    worn, area = erosion.worn(web, rough, steps=80, power=0.0135, creep=1.9, least_m2=2600.0)
    u, v = GROUND.mesh()
    # Both at once: finding each cell's triangle is what takes the time.
    both = LinearNDInterpolator(web.triangles, np.column_stack([worn, np.log10(area)]))(u, v)
    z, gathering = gaussian_filter(both[..., 0], 2.0), both[..., 1]
    z += 0.35 * octaves(u, v, 45, SEED + 20, 3) * smoothstep(4.0, 3.0, gathering)
    z = benched(z)
    lines, sizes = water_lines(web, worn, area)
    z += rock_steps(z)
    z = roaded(z)
    beds = {}
    for name, line in lines.items():
        z, beds[name] = carved(z, line, sizes[name], plan.CHANNELS[name])
    z = hollowed(z)
    z += 0.012 * octaves(u, v, 5.0, SEED + 21, 2) + 0.03 * octaves(u, v, 14.0, SEED + 22, 2)
    z, dry = dammed(z, lines["north gully"])
    level, order, flood = drain.filled(np.round(z, 2))
    to = drain.steepest(level, flood)
    return Ground(level, drain.area(order, to, level.shape), lines, beds, level - dry)


def benched(z: Floats) -> Floats:
    """Flatten the shoulder of the spur where a house could stand, as old slips leave them."""
    u, v = GROUND.mesh()
    for eu, ev, long, short, turn, level, tilt in plan.BENCHES:
        c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
        a, b = (u - eu) * c + (v - ev) * s, -(u - eu) * s + (v - ev) * c
        ring = np.hypot(a / long, b / short) + 0.12 * octaves(u, v, 25, SEED + 31, 2)
        weight = 0.88 * smoothstep(1.35, 0.62, ring)
        z = z + weight * (level - tilt * b - z)
    return z


def hollowed(z: Floats) -> Floats:
    """Scoop the hollows that old slips left: gentle floor, narrow mouth, a bowl for a head."""
    u, v = GROUND.mesh()
    flat = z.ravel().copy()
    for hollow in plan.HOLLOWS:
        line = paths.eased(np.array(hollow.axis), 5.0)
        at = paths.near(GROUND, line, 48.0)
        share = at.along_m / paths.chainage(line)[-1]
        ragged = octaves(u.ravel()[at.cells], v.ravel()[at.cells], 19, SEED + 37, 3)
        half = hollow.half_m * (0.2 + 0.8 * smoothstep(0.45, 0.8, share)) + 1.6 * ragged
        floor = hollow.mouth_m + hollow.grade * at.along_m
        floor += 0.008 * at.off_m + hollow.side * np.maximum(0.0, at.off_m - half)
        # Edges are rounded as creeping soil leaves them.
        over = (flat[at.cells] - floor) / 0.3
        flat[at.cells] -= 0.3 * np.logaddexp(0.0, over) * smoothstep(48.0, 36.0, at.off_m)
    return flat.reshape(z.shape)


def rock_steps(z: Floats) -> Floats:
    """Return small risers where rock comes to the surface."""
    u, v = GROUND.mesh()
    total = np.zeros_like(z)
    for eu, ev, size in plan.OUTCROPS:
        d = np.hypot(u - eu, v - ev)
        rows, cols = np.nonzero(d < size * 1.2 + 12.0)
        box = np.s_[rows.min() : rows.max() + 1, cols.min() : cols.max() + 1]
        pu, pv = u[box], v[box]
        here = smoothstep(size * 1.2, size * 0.4, d[box] + 3 * octaves(pu, pv, 9, SEED + 32, 2))
        total[box] += here * (0.55 + 0.35 * octaves(pu, pv, 4.5, SEED + 33, 3, 0.7))
    return total


def level_along(z: Floats, line: Floats, smooth_m: float, step: float = 0.5) -> Floats:
    """Return the ground's level along an evenly stepped line, smoothed over some metres."""
    col = np.clip((line[:, 0] - GROUND.west - 0.5).round().astype(int), 0, GROUND.cols - 1)
    row = np.clip((GROUND.north - line[:, 1] - 0.5).round().astype(int), 0, GROUND.rows - 1)
    return np.asarray(gaussian_filter1d(z[row, col], smooth_m / step, mode="nearest"))


def roaded(z: Floats) -> Floats:
    """Lay the public road's crowned bed and its table drains; it fords the creek."""
    line = paths.eased(plan.ROAD, 18.0)
    crown = level_along(z, line, 9.0)
    at = paths.near(GROUND, line, 16.0)
    bed = np.interp(at.along_m, paths.chainage(line), crown) + 0.12 - 0.035 * at.off_m
    bed -= 0.28 * smoothstep(1.3, 0.0, np.abs(at.off_m - 4.3))
    flat = z.ravel().copy()
    weight = smoothstep(9.5, 5.0, at.off_m)
    flat[at.cells] += weight * (bed - flat[at.cells])
    return flat.reshape(z.shape)


def water_lines(
    web: erosion.Net, worn: Floats, area: Floats
) -> tuple[dict[str, Floats], dict[str, Floats]]:
    """Trace the water lines named in the plan; return them and the area along each [m²]."""
    _, _, to = erosion.drained(web, worn)
    lines: dict[str, Floats] = {}
    sizes: dict[str, Floats] = {}
    taken: dict[int, Floats] = {}
    for name, channel in plan.CHANNELS.items():
        near = np.hypot(*(web.points - np.array(channel.head)).T) < 14
        k = int(np.flatnonzero(near)[np.argmax(area[near])])
        run = [k]
        while to[k] != k and k not in taken:
            k = to[k]
            run.append(k)
        raw = web.points[run]
        # A side stream meets the line already drawn, not the net's own corner.
        if k in taken:
            trunk = lines[plan.TRUNK]
            raw[-1] = trunk[np.argmin(np.hypot(*(trunk - raw[-1]).T))]
        for m in run:
            taken.setdefault(m, web.points[m])
        line = paths.eased(wandering(raw), 4.0)
        lines[name] = line
        share = paths.chainage(raw) / paths.chainage(raw)[-1] * paths.chainage(line)[-1]
        sizes[name] = np.interp(paths.chainage(line), share, area[run])
    return lines, sizes


def wandering(raw: Floats) -> Floats:
    """Return a traced line with gentle bends of its own and its ends kept."""
    line = paths.even(raw, 2.0)
    swing = octaves(line[:, 0], line[:, 1], 26, SEED + 34, 2)
    ends = np.minimum(1.0, np.minimum(np.arange(len(line)), np.arange(len(line))[::-1]) / 12)
    ahead = np.gradient(line, axis=0)
    ahead /= np.hypot(ahead[:, 0], ahead[:, 1])[:, None]
    return line + (4.5 * swing * ends)[:, None] * np.column_stack([-ahead[:, 1], ahead[:, 0]])


def carved(z: Floats, line: Floats, area: Floats, channel: plan.Channel) -> tuple[Floats, Floats]:
    """Lay a valley flat along a water line and cut its channel; return ground and bed levels."""
    depth = channel.depth_m * np.clip(0.35 + 0.65 * np.sqrt(area / channel.full_m2), 0.35, 1.0)
    floor = np.minimum.accumulate(level_along(z, line, 3.0))
    floor = np.minimum.accumulate(gaussian_filter1d(floor, 12.0, mode="nearest"))
    bed = np.minimum.accumulate(floor - depth + channel.flat_rise_m)
    at = paths.near(GROUND, line, 30.0)
    s = paths.chainage(line)
    bed_at, deep = np.interp(at.along_m, s, bed), np.interp(at.along_m, s, depth)
    u, v = GROUND.mesh()
    ragged = octaves(u.ravel()[at.cells], v.ravel()[at.cells], 9, SEED + 35, 3)
    flat = z.ravel().copy()
    here = flat[at.cells]
    bench = bed_at + deep + 0.012 * at.off_m + 0.06 * ragged
    weight = smoothstep(channel.flat_m * 1.9, channel.flat_m * 0.7, at.off_m + 2.5 * ragged)
    here = here + weight * (np.maximum(bench, here * 0.25 + bench * 0.75) - here)
    half = channel.half_m * (0.85 + 0.3 * ragged)
    # Where the road fords the water its banks are graded down for wheels.
    road = np.full(z.size, np.inf)
    by_road = paths.near(GROUND, paths.eased(plan.ROAD, 18.0), 12.0)
    road[by_road.cells] = by_road.off_m
    batter = channel.batter + (0.13 - channel.batter) * smoothstep(9.0, 4.0, road[at.cells])
    bank = bed_at + np.maximum(0.0, at.off_m - half) * batter
    bank += 0.4 * np.maximum(0.0, at.off_m - 13.0)
    flat[at.cells] = np.minimum(here, bank)
    return flat.reshape(z.shape), bed


def dammed(z: Floats, line: Floats) -> tuple[Floats, Floats]:
    """Throw the neighbour's old farm dam across a gully; return ground with and without water."""
    dam = plan.DAM
    k = int(np.argmin(np.abs(line[:, 1] - dam.wall_v)))
    ahead = line[k + 20] - line[k - 20]
    ahead /= np.hypot(*ahead)
    u, v = GROUND.mesh()
    down = (u - line[k, 0]) * ahead[0] + (v - line[k, 1]) * ahead[1]
    side = -(u - line[k, 0]) * ahead[1] + (v - line[k, 1]) * ahead[0]
    foot = level_along(z, line, 3.0)[k]
    # The wall bends uphill at its ends and stands on a scooped floor.
    crest = np.abs(down + dam.bow * side**2) - 1.6
    scoop = np.hypot((down + dam.long_m * 0.95) / dam.long_m, side / dam.half_m)
    scoop += 0.16 * octaves(u, v, 13, SEED + 36, 3)
    floor = foot - 0.7 + 1.9 * np.maximum(scoop, 0) ** 2
    dug = np.maximum(np.minimum(z, floor), z - 1.1 * smoothstep(1.5, 0.9, scoop))
    end = smoothstep(dam.half_m * 1.55, dam.half_m * 1.25, np.abs(side))
    sill = dam.height_m - 0.75 * smoothstep(dam.half_m * 0.85, dam.half_m * 1.1, side)
    wall = foot + sill - np.maximum(0.0, crest) / 2.6
    raised = np.where(end > 0, np.maximum(dug, dug + end * (wall - dug)), dug)
    return raised, raised.copy()
