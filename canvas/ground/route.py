"""Where a track can go: the way between two points that holds a grade with least earth.

A search over a lattice of headings finds the course; its corners are then shifted until every
straight holds the grade on the ground itself, as short as that allows.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData, InputError
from canvas.base.grid import Floats, Grid
from canvas.base.progress import Progress, silent
from canvas.ground import route_kernels as kernels

#: Nodes of the lattice, at most: its spacing follows.
MOST_NODES = 12_000
#: The lattice reaches so far beyond the two points, as a share of their distance, at least.
BEYOND = 0.75
#: Straights this much steeper than the grade are tried; the corners' shifting mends them.
SLACK = 0.03
#: A hairpin costs its radius so many times [m].
HAIRPIN = 4.0
#: Longest step in nodes.
LONGEST = 5
#: The corners are shifted again, so often at most, while a way gets shorter by this share.
ROUNDS = 6
#: Places looked at on each straight.
SAMPLES = 7
LEAST_GAIN = 0.001


@dataclass(frozen=True, slots=True)
class Wish:
    """What the way must hold."""

    #: Steepest grade, rise over run.
    grade: float
    width_m: float = 3.5
    #: Least radius of its bends.
    radius_m: float = 9.0
    #: Metres of longer way that a cubic metre of earth less is worth.
    worth_m_per_m3: float = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Route:
    """A way found."""

    line: LineString
    #: Of the straights between corners, on the ground.
    steepest: float
    #: A rough figure by side slopes and dips, for comparing: shape the track for the true one.
    earth_m3: float

    @property
    def length_m(self) -> float:
        """Plan length."""
        return float(self.line.length)


def route(
    ground: Grid,
    start_xy_m: tuple[float, float],
    end_xy_m: tuple[float, float],
    wish: Wish,
    *,
    within: Polygon | MultiPolygon | None = None,
    keep_off: BaseGeometry | None = None,
    progress: Progress = silent,
) -> Route:
    """Return the way between two points that holds a grade, weighing length against earth.

    It stays `within` an area and off another. On an even slope its length is the rise divided by
    the grade, or the straight line's. Raises `BadData` where there is no way.
    """
    if not wish.grade > 0 or not wish.width_m > 0:
        raise InputError(f"a way needs a grade and a width above 0: {wish}")
    lattice = _lattice(ground, start_xy_m, end_xy_m)
    z = _open(lattice, within, keep_off)
    progress(0.1, "Searching")
    first, last = _node(lattice, z, start_xy_m), _node(lattice, z, end_xy_m)
    steps = _steps()
    turns = _turns(steps, lattice.cell_m, wish.radius_m)
    states = z.size * len(steps)
    cost, came = np.full(states, np.inf), np.full(states, -1, np.int32)
    numbers = np.array(
        [lattice.cell_m, wish.grade, SLACK, wish.width_m, wish.worth_m_per_m3], float
    )
    end = kernels.search(z, steps, turns, first, last, numbers, cost, came)
    if end < 0:
        raise BadData(
            f"no way between these points holds {wish.grade:.0%}",
            remedy="Allow a steeper grade or a tighter bend, or choose other ends.",
        )
    progress(0.8, "Smoothing")
    nodes = _nodes(end, came, len(steps))
    xy = np.column_stack((lattice.x_m()[nodes % z.shape[1]], lattice.y_m()[nodes // z.shape[1]]))
    xy[0], xy[-1] = start_xy_m, end_xy_m
    free = None if within is None and keep_off is None else _free(within, keep_off)
    line = LineString(_settled(ground, xy, wish, lattice.cell_m, free))
    return Route(line, _steepest(ground, line), _earth_m3(ground, line, wish))


def _lattice(ground: Grid, start: tuple[float, float], end: tuple[float, float]) -> Grid:
    """Return the ground on a lattice round both points, coarse enough to be searched."""
    reach = max(BEYOND * math.dist(start, end), 60.0)
    west, east = min(start[0], end[0]) - reach, max(start[0], end[0]) + reach
    south, north = min(start[1], end[1]) - reach, max(start[1], end[1]) + reach
    known = ground.bounds
    west, south = max(west, known[0]), max(south, known[1])
    east, north = min(east, known[2]), min(north, known[3])
    spacing = max(math.sqrt((east - west) * (north - south) / MOST_NODES), ground.cell_m, 2.0)
    cols, rows = int((east - west) / spacing) + 1, int((north - south) / spacing) + 1
    if cols < 3 or rows < 3:
        raise BadData("the two points are not on the ground's data", remedy="Choose others.")
    x = west + spacing * np.arange(cols)
    y = north - spacing * np.arange(rows)
    z = ground.sample(*np.meshgrid(x, y))
    return Grid(z, west - spacing / 2, north + spacing / 2, spacing)


def _free(within: BaseGeometry | None, keep_off: BaseGeometry | None) -> BaseGeometry:
    """Return where the way may lead."""
    area = within if within is not None else shapely.box(-1e9, -1e9, 1e9, 1e9)
    return area if keep_off is None else shapely.difference(area, keep_off)


def _open(lattice: Grid, within: BaseGeometry | None, keep_off: BaseGeometry | None) -> Floats:
    """Return the lattice's levels, NaN where no way may lead."""
    z = np.ascontiguousarray(lattice.z, np.float64)
    x, y = np.meshgrid(lattice.x_m(), lattice.y_m())
    if within is not None:
        z = np.where(shapely.contains_xy(within, x, y), z, np.nan)
    if keep_off is not None:
        z = np.where(shapely.contains_xy(keep_off, x, y), np.nan, z)
    return np.ascontiguousarray(z)


def _node(lattice: Grid, z: Floats, at: tuple[float, float]) -> int:
    """Return the open node nearest to a point."""
    x, y = np.meshgrid(lattice.x_m(), lattice.y_m())
    away = np.where(np.isnan(z), np.inf, np.hypot(x - at[0], y - at[1]))
    node = int(np.argmin(away))
    if away.flat[node] > 3 * lattice.cell_m:
        raise BadData(
            "an end of the way lies where it may not lead",
            remedy="Choose ends inside the boundary, on the ground's data, clear of what is kept.",
        )
    return node


def _steps() -> np.ndarray:
    """Return every heading as rows down and columns to the right, none twice."""
    found = [
        (r, c)
        for r in range(-LONGEST, LONGEST + 1)
        for c in range(-LONGEST, LONGEST + 1)
        if math.gcd(r, c) == 1 and math.hypot(r, c) <= LONGEST + 0.5
    ]
    found.sort(key=lambda step: math.atan2(*step))
    return np.array(found, np.int64)


def _turns(steps: np.ndarray, spacing_m: float, radius_m: float) -> Floats:
    """Return what turning from each heading to each costs [m]; infinite where it is too sharp.

    Headings between two legs that climb at the limit are too steep to be driven through: a hairpin
    is taken in one turn, at the price of its bulb.
    """
    angle = np.arctan2(steps[:, 0], steps[:, 1])
    turn = np.abs((angle[:, None] - angle[None, :] + np.pi) % (2 * np.pi) - np.pi)
    length = spacing_m * np.hypot(steps[:, 0], steps[:, 1])
    room = np.minimum(length[:, None], length[None, :]) / 2
    # An arc of a radius that turns by an angle takes radius × tan(angle / 2) of both straights.
    sharp = radius_m * np.tan(np.minimum(turn, np.pi - 1e-6) / 2) > room
    few, hairpin = turn <= np.pi / 4, turn > np.pi / 2
    cost = np.where(hairpin, HAIRPIN * radius_m, radius_m * turn**2 / 2)
    return np.ascontiguousarray(np.where(sharp & ~few & ~hairpin | (turn > 3.1), np.inf, cost))


def _nodes(end: int, came: np.ndarray, headings: int) -> np.ndarray:
    """Return the nodes of a way from its last state back to the first, in walking order."""
    found = [end]
    while came[found[-1]] >= 0:
        found.append(int(came[found[-1]]))
    return np.array(found[::-1]) // headings


def _steepest(ground: Grid, line: LineString) -> float:
    xy = shapely.get_coordinates(line)
    z = ground.sample(xy[:, 0], xy[:, 1])
    return float(np.max(np.abs(np.diff(z)) / np.hypot(*np.diff(xy, axis=0).T)))


def _settled(
    ground: Grid, xy: Floats, wish: Wish, spacing_m: float, free: BaseGeometry | None
) -> Floats:
    """Return a way's corners shifted so that every straight holds the grade, the way shortest."""
    line = shapely.simplify(LineString(xy), spacing_m / 3)
    corners = shapely.get_coordinates(shapely.segmentize(line, 8 * spacing_m))
    best, price = xy, math.inf
    for _ in range(ROUNDS):
        corners, holds = _shifted(ground, corners, wish, 3 * spacing_m)
        now = _price(ground, corners, wish)
        if holds and now < price and (free is None or shapely.covers(free, LineString(corners))):
            gained = price - now
            best, price = corners, now
            if gained < LEAST_GAIN * price:
                break
    return best


def _shifted(ground: Grid, corners: Floats, wish: Wish, most_m: float) -> tuple[Floats, bool]:
    """Return corners shifted by up to `most_m` for the shortest way, and whether it holds."""
    from scipy.optimize import minimize

    inner = corners[1:-1]
    if not len(inner):
        return corners, True

    def whole(shift: Floats) -> Floats:
        return np.vstack((corners[:1], inner + shift.reshape(-1, 2), corners[-1:]))

    def spare(shift: Floats) -> Floats:
        points = whole(shift)
        return _spare_m(ground, points[:-1], points[1:], wish)

    found = minimize(
        lambda shift: _price(ground, whole(shift), wish),
        np.zeros(inner.size),
        jac=lambda shift: _slopes(ground, whole(shift), wish)[0],
        method="SLSQP",
        bounds=[(-most_m, most_m)] * inner.size,
        constraints={
            "type": "ineq",
            "fun": spare,
            "jac": lambda shift: _slopes(ground, whole(shift), wish)[1],
        },
        options={"maxiter": 40, "ftol": 1e-3},
    )
    return whole(found.x), bool(spare(found.x).min() > -0.05)


def _spare_m(ground: Grid, start: Floats, end: Floats, wish: Wish) -> Floats:
    """Return how much less straights rise than the grade allows [m]."""
    length = np.hypot(*(end - start).T)
    rise = ground.sample(end[:, 0], end[:, 1]) - ground.sample(start[:, 0], start[:, 1])
    return np.asarray(np.nan_to_num(wish.grade * length - np.abs(rise), nan=-9.0), np.float64)


def _slopes(ground: Grid, corners: Floats, wish: Wish) -> tuple[Floats, Floats]:
    """Return how price and spare rise of a way change with each coordinate of its inner corners.

    A corner's shift changes the two straights that meet in it, so only those are asked anew.
    """
    n = len(corners) - 2
    nudge = 0.05
    before, at, after = (corners[k : k + n] for k in range(3))
    price, spare = np.empty((n, 2)), np.zeros((n + 1, n, 2))
    for axis in range(2):
        moved = at + nudge * np.eye(2)[axis]
        for k, (start, end, old_start, old_end) in enumerate(
            ((before, moved, before, at), (moved, after, at, after))
        ):
            dearer = _prices(ground, start, end, wish) - _prices(ground, old_start, old_end, wish)
            price[:, axis] = dearer / nudge + (price[:, axis] if k else 0.0)
            more = _spare_m(ground, start, end, wish) - _spare_m(ground, old_start, old_end, wish)
            spare[np.arange(n) + k, np.arange(n), axis] = more / nudge
    return price.ravel(), spare.reshape(n + 1, 2 * n)


def _price(ground: Grid, corners: Floats, wish: Wish) -> float:
    """Return a way's length and what its earth is worth in metres of way."""
    return float(_prices(ground, corners[:-1], corners[1:], wish).sum())


def _prices(ground: Grid, start: Floats, end: Floats, wish: Wish) -> Floats:
    """Return what each straight costs [m of way]."""
    length = np.maximum(np.hypot(*(end - start).T), 1e-6)
    worth = wish.worth_m_per_m3 * _section_m2(ground, start, end, wish)
    return np.asarray(length * (1 + worth), np.float64)


def _section_m2(ground: Grid, start: Floats, end: Floats, wish: Wish) -> Floats:
    """Return a rough cross-section of the earth moved on each straight of a way.

    The bench cut into the side slope, and what lies above and below the straight grade line.
    """
    at = np.linspace(0.0, 1.0, SAMPLES)[:, None, None]
    xy = start + at * (end - start)
    ahead = (end - start) / np.maximum(np.hypot(*(end - start).T), 1e-6)[:, None]
    reach = max(wish.width_m, ground.cell_m)
    side = np.column_stack((ahead[:, 1], -ahead[:, 0])) * reach
    z = ground.sample(xy[..., 0], xy[..., 1])
    right, left = xy + side, xy - side
    across = ground.sample(right[..., 0], right[..., 1]) - ground.sample(left[..., 0], left[..., 1])
    slope = np.nan_to_num(np.abs(across) / (2 * reach), nan=1.0).mean(axis=0)
    level = z[0] + at[..., 0] * (z[-1] - z[0])
    off = np.nan_to_num(np.abs(z - level), nan=9.0).mean(axis=0)
    bench = wish.width_m**2 * slope / 8 / (1 - np.minimum(slope, 0.8))
    return np.asarray(off * wish.width_m + bench, np.float64)


def _earth_m3(ground: Grid, line: LineString, wish: Wish) -> float:
    """Return a rough figure of the earth a bench along a way moves."""
    corners = shapely.get_coordinates(line)
    length = np.hypot(*np.diff(corners, axis=0).T)
    return float((length * _section_m2(ground, corners[:-1], corners[1:], wish)).sum())
