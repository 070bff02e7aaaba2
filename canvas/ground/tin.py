"""A surface over scattered heights: triangles that keep to the lines given, straight or smooth."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from canvas.base.errors import BadData
from canvas.base.grid import Floats, Grid
from canvas.base.progress import Progress, silent
from canvas.base.sources import cites
from canvas.ground import tin_kernels as kernels

#: Points nearer than this are one point [m].
SAME_PLACE_M = 1e-3
#: Two heights at one place further apart than this are worth a word [m].
DOUBT_M = 0.05

Ints = NDArray[np.int32]
Mask = NDArray[np.bool_]


class Surface(StrEnum):
    """How the ground runs between the heights given."""

    #: Flat triangles: nothing is made up.
    STRAIGHT = "straight"
    #: Rounded over the triangles, creased along breaklines.
    SMOOTH = "smooth"


@dataclass(frozen=True, slots=True, eq=False)
class Heights:
    """What a surface is made from; every array is (n, 3): x, y, z in metres."""

    points: Floats
    #: Lines of one height each.
    contours: tuple[Floats, ...] = ()
    #: Lines the ground breaks along: kerbs, tops and toes of banks, stream beds.
    breaklines: tuple[Floats, ...] = ()


@dataclass(frozen=True, slots=True)
class Doubt:
    """Two heights that can't both be right."""

    x_m: float
    y_m: float
    apart_m: float


@dataclass(frozen=True, slots=True, eq=False)
class Tin:
    """A triangulated surface."""

    #: Points (n, 2), relative to `origin_m`, and their heights (n,).
    xy_m: Floats
    z_m: Floats
    origin_m: tuple[float, float]
    #: Corners (triangles, 3), counter-clockwise, and the triangle across each edge.
    tri: Ints
    across: Ints
    #: Edges that crease; see `tin_kernels`.
    hard: NDArray[np.bool_]
    #: Triangles that count as ground: not over the hollows of a ragged outline.
    used: NDArray[np.bool_]
    #: Triangles with all three corners on one contour: flat by lack of heights, not by survey.
    flat: NDArray[np.bool_]
    #: Edges that could not be kept, as they cross another.
    lost_edges: int
    doubts: tuple[Doubt, ...]

    def areas_m2(self) -> Floats:
        """Return each triangle's plan area."""
        a, b, c = (self.xy_m[self.tri[:, k]] for k in range(3))
        u, v = b - a, c - a
        return np.asarray((u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) / 2, np.float64)

    @property
    def flat_share(self) -> float:
        """Share of the area that is flat for want of a height between its contours."""
        area = self.areas_m2()
        whole = float(area[self.used].sum())
        return float(area[self.used & self.flat].sum()) / whole if whole > 0 else 0.0

    def outline(self) -> Polygon | MultiPolygon:
        """Return the ground covered."""
        corners = self.xy_m[self.tri[self.used]] + self.origin_m
        whole = shapely.union_all(np.asarray(shapely.polygons(corners)))
        assert isinstance(whole, (Polygon, MultiPolygon))
        return whole

    def longest_edges_m(self) -> Floats:
        """Return each triangle's longest edge."""
        p = self.xy_m[self.tri]
        edges = p - np.roll(p, 1, axis=1)
        return np.asarray(np.hypot(edges[..., 0], edges[..., 1]).max(axis=1), np.float64)


def triangulate(
    heights: Heights,
    longest_edge_m: float = math.inf,
    progress: Progress = silent,
) -> Tin:
    """Return the triangles over points and lines: Delaunay's, with every line kept as edges.

    Lines that cross are joined where they cross. Triangles with an edge longer than
    `longest_edge_m` that hang at the outline are left out, so that the ground isn't stretched
    across a gap. Raises `BadData` for fewer than three places or all in one line.
    """
    progress(0.0, "reading heights")
    xyz, lines, origin, doubts = _gather(heights)
    progress(0.2, "laying triangles")
    tri, across = _delaunay(xyz)
    hard = np.zeros(tri.shape, bool)
    at = np.zeros(len(xyz), np.int32)
    at[tri.reshape(-1)] = np.repeat(np.arange(len(tri), dtype=np.int32), 3)
    xy = np.ascontiguousarray(xyz[:, :2])
    lost = 0
    count = sum(len(line) - 1 for line, _ in lines) or 1
    done = 0
    for line, _ in lines:
        for a, b in itertools.pairwise(line):
            lost += not _force(xy, tri, across, hard, at, int(a), int(b))
            done += 1
            if done % 1000 == 0:
                progress(0.4 + 0.5 * done / count, "keeping lines")
    # All lines are kept while others are forced in; only breaklines crease the surface.
    hard = _creases(tri, across, [line for line, crease in lines if crease])
    flat = _flat(tri, len(xyz), [line for line, crease in lines if not crease])
    tin = Tin(
        xy,
        np.ascontiguousarray(xyz[:, 2]),
        origin,
        tri,
        across,
        hard,
        np.ones(len(tri), bool),
        flat,
        lost,
        doubts,
    )
    used = _trimmed(tin, longest_edge_m)
    progress(1.0)
    return Tin(xy, tin.z_m, origin, tri, across, hard, used, flat, lost, doubts)


def _gather(
    heights: Heights,
) -> tuple[Floats, list[tuple[Ints, bool]], tuple[float, float], tuple[Doubt, ...]]:
    """Return all places once (n, 3), lines as their numbers, the origin and doubts."""
    lines = [(np.asarray(line, np.float64), False) for line in heights.contours]
    lines += [(np.asarray(line, np.float64), True) for line in heights.breaklines]
    lines = [(line, crease) for line, crease in lines if len(line) > 1]
    points = np.asarray(heights.points, np.float64).reshape(-1, 3)
    everything = np.vstack([points, *(line for line, _ in lines)])
    if not len(everything):
        raise BadData("there are no heights to make ground from", remedy="Bring in points.")
    if not np.isfinite(everything).all():
        raise BadData("some heights are not numbers", remedy="Take them out and try again.")
    origin = (float(everything[:, 0].mean()), float(everything[:, 1].mean()))
    noded, crossed = _noded(lines)
    stacked = np.vstack([points, *(line for line, _ in noded)])
    stacked[:, 0] -= origin[0]
    stacked[:, 1] -= origin[1]
    number, xyz, apart = _once(stacked)
    doubts = [
        Doubt(float(xyz[i, 0] + origin[0]), float(xyz[i, 1] + origin[1]), float(apart[i]))
        for i in np.flatnonzero(apart > DOUBT_M)
    ]
    out, start = [], len(points)
    for line, crease in noded:
        own = number[start : start + len(line)]
        start += len(line)
        keep = np.concatenate(([True], np.diff(own) != 0))
        out.append((own[keep].astype(np.int32), crease))
    return xyz, out, origin, (*doubts, *crossed)


def _once(stacked: Floats) -> tuple[NDArray[np.intp], Floats, Floats]:
    """Return each row's place, the places (mean height), and how far its heights lie apart."""
    from scipy.spatial import cKDTree

    tree = cKDTree(stacked[:, :2])
    pairs = tree.query_pairs(SAME_PLACE_M, output_type="ndarray")
    number = np.arange(len(stacked))
    for a, b in pairs[np.lexsort((pairs[:, 1], pairs[:, 0]))]:
        number[b] = min(number[b], number[a])
    _, first, number = np.unique(number, return_index=True, return_inverse=True)
    count = np.bincount(number)
    z = stacked[:, 2]
    mean = np.bincount(number, z) / count
    low, high = np.full(len(first), np.inf), np.full(len(first), -np.inf)
    np.minimum.at(low, number, z)
    np.maximum.at(high, number, z)
    return number, np.column_stack((stacked[first, :2], mean)), high - low


def _noded(
    lines: Sequence[tuple[Floats, bool]],
) -> tuple[list[tuple[Floats, bool]], list[Doubt]]:
    """Return lines with a point put in where two cross, and where their heights disagree."""
    ends: list[Floats] = []
    owner: list[tuple[int, int]] = []
    for i, (line, _) in enumerate(lines):
        for k in range(len(line) - 1):
            ends.append(line[k : k + 2, :2])
            owner.append((i, k))
    if not ends:
        return list(lines), []
    pieces = np.asarray(shapely.linestrings(np.array(ends)))
    one, two = shapely.STRtree(list(pieces)).query(pieces, predicate="crosses")
    extra: dict[tuple[int, int], list[Floats]] = {}
    doubts = []
    for a, b in zip(one, two, strict=True):
        if a >= b:
            continue
        meet = shapely.get_coordinates(shapely.intersection(pieces[a], pieces[b]))
        if len(meet) != 1:
            continue
        z = []
        for k in (a, b):
            i, j = owner[k]
            p, q = lines[i][0][j], lines[i][0][j + 1]
            t = math.dist(p[:2], meet[0]) / math.dist(p[:2], q[:2])
            z.append(float(p[2] + t * (q[2] - p[2])))
        place = np.array([meet[0, 0], meet[0, 1], (z[0] + z[1]) / 2])
        if abs(z[0] - z[1]) > DOUBT_M:
            doubts.append(Doubt(float(meet[0, 0]), float(meet[0, 1]), abs(z[0] - z[1])))
        extra.setdefault(owner[a], []).append(place)
        extra.setdefault(owner[b], []).append(place)
    return [(_with_extra(line, i, extra), crease) for i, (line, crease) in enumerate(lines)], doubts


def _with_extra(line: Floats, i: int, extra: dict[tuple[int, int], list[Floats]]) -> Floats:
    rows: list[Floats] = []
    for k in range(len(line) - 1):
        rows.append(line[k])
        start = line[k]
        rows.extend(sorted(extra.get((i, k), []), key=lambda p: math.dist(p[:2], start[:2])))
    rows.append(line[-1])
    return np.array(rows)


def _delaunay(xyz: Floats) -> tuple[Ints, Ints]:
    from scipy.spatial import Delaunay, QhullError

    if len(xyz) < 3:
        raise BadData(
            "at least three places with heights are needed", remedy="Bring in more points."
        )
    try:
        found = Delaunay(xyz[:, :2])
    except QhullError:
        raise BadData(
            "all heights lie in one line", remedy="Bring in points to its sides."
        ) from None
    tri = np.ascontiguousarray(found.simplices, np.int32)
    across = np.ascontiguousarray(found.neighbors, np.int32)
    a, b, c = (xyz[tri[:, k], :2] for k in range(3))
    turns = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    wrong = turns < 0
    tri[wrong, 1], tri[wrong, 2] = tri[wrong, 2].copy(), tri[wrong, 1].copy()
    across[wrong, 1], across[wrong, 2] = across[wrong, 2].copy(), across[wrong, 1].copy()
    return tri, across


@cites("sloan1993")
def _force(xy: Floats, tri: Ints, across: Ints, hard: Mask, at: Ints, a: int, b: int) -> bool:
    """Make a piece of a line an edge, by way of the points that lie on it."""
    while a != b:
        reached = kernels.force_edge(xy, tri, across, hard, at, a, b, SAME_PLACE_M / 2, True)
        if reached < 0:
            return False
        a = int(reached)
    return True


def _pairs(lines: Sequence[Ints]) -> set[tuple[int, int]]:
    return {
        (min(int(a), int(b)), max(int(a), int(b)))
        for line in lines
        for a, b in itertools.pairwise(line)
    }


def _creases(tri: Ints, across: Ints, lines: Sequence[Ints]) -> Mask:
    """Return which edges lie on breaklines, by the points they join."""
    hard = np.zeros(tri.shape, bool)
    if not lines:
        return hard
    on = np.zeros(int(tri.max()) + 1, bool)
    wanted = _pairs(lines)
    for line in lines:
        on[line] = True
    for k in range(3):
        p, q = tri[:, (k + 1) % 3], tri[:, (k + 2) % 3]
        for t in np.flatnonzero(on[p] & on[q]):
            pair = (min(int(p[t]), int(q[t])), max(int(p[t]), int(q[t])))
            hard[t, k] = pair in wanted
    return hard


def _flat(tri: Ints, points: int, lines: Sequence[Ints]) -> Mask:
    """Return the triangles with all corners on one contour."""
    owner = np.full(points, -1, np.int64)
    for i, line in enumerate(lines):
        owner[line] = i
    own = owner[tri]
    return np.asarray((own[:, 0] >= 0) & (own[:, 0] == own[:, 1]) & (own[:, 0] == own[:, 2]), bool)


def _trimmed(tin: Tin, longest_m: float) -> Mask:
    """Return the triangles left when those with too long edges are peeled off the outline."""
    used = np.ones(len(tin.tri), bool)
    area = tin.areas_m2()
    edges = tin.longest_edges_m()
    # Slivers along the outline come from points nearly in line: they say nothing.
    sliver = area < 1e-6 * edges**2
    bad = (edges > longest_m) | sliver
    while True:
        outer = np.zeros(len(tin.tri), bool)
        for k in range(3):
            beyond = tin.across[:, k]
            outer |= (beyond < 0) | ~used[beyond]
        peel = used & outer & bad
        if not peel.any():
            return used
        used[peel] = False


@cites("alfeld1984")
def on_cells(
    tin: Tin,
    cells: Grid,
    surface: Surface = Surface.STRAIGHT,
    within: Polygon | MultiPolygon | None = None,
) -> Grid:
    """Return the surface's heights at cell centres; NaN beyond the triangles: none is guessed.

    The smooth surface passes through every height given; between them it may rise a little
    above or fall a little below them.
    """
    out = np.full(cells.shape, np.nan)
    smooth = surface is Surface.SMOOTH
    slopes = np.zeros((len(tin.tri), 3, 2)) if smooth else np.zeros((1, 3, 2))
    if smooth:
        kernels.corner_slopes(
            tin.xy_m, tin.z_m, tin.tri, tin.across, tin.hard, tin.used, tin.flat, slopes
        )
    kernels.fill_cells(
        tin.xy_m,
        tin.z_m,
        tin.tri,
        tin.used,
        slopes,
        smooth,
        cells.west_m - tin.origin_m[0],
        cells.north_m - tin.origin_m[1],
        cells.cell_m,
        out,
    )
    if within is not None:
        shapely.prepare(within)
        x, y = np.meshgrid(cells.x_m(), cells.y_m())
        out[~shapely.contains_xy(within, x, y)] = np.nan
    return cells.like(out)


def cells_over(tin: Tin, cell_m: float) -> Grid:
    """Return empty cells over all of a surface, their edges on whole multiples of the size."""
    corners = tin.xy_m[tin.tri[tin.used].reshape(-1)] + tin.origin_m
    if not len(corners):
        raise BadData("no ground is left between these heights", remedy="Allow longer edges.")
    west, south = np.floor(corners.min(axis=0) / cell_m) * cell_m
    east, north = np.ceil(corners.max(axis=0) / cell_m) * cell_m
    rows, cols = round((north - south) / cell_m), round((east - west) / cell_m)
    if rows * cols > 400_000_000:
        raise BadData(
            f"{rows * cols / 1e6:.0f} million cells are too many", remedy="Take larger cells."
        )
    return Grid(np.full((max(rows, 1), max(cols, 1)), np.nan), float(west), float(north), cell_m)
