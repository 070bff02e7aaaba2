"""A flight of terraces: benches one below the other down a slope, each balanced for itself."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData, InputError
from canvas.base.grid import Floats, Grid
from canvas.ground.crosssection import Batters
from canvas.ground.frames import AnyGround, line_points
from canvas.ground.patch import Mask, Patch, earth
from canvas.ground.platform import Pad, Platform, balanced
from canvas.ground.volumes import bench_terrace


@dataclass(frozen=True, slots=True)
class Flight:
    """What a flight of terraces is to be."""

    #: The upper edge of the highest bench, along the slope.
    top: LineString
    benches: int
    bench_m: float
    #: Slope of the risers, cut and filled alike, run per rise.
    riser: float
    #: Fall of the benches (ratio): out of the hill above 0, back into it below.
    outward_fall: float = 0.0
    strip_m: float = 0.0
    #: Topsoil put back on the risers and on the benches [m].
    respread_m: float = 0.0
    bench_topsoil_m: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Terraces:
    """A flight of terraces in the ground, the highest first."""

    flight: Flight
    benches: tuple[Platform, ...]
    #: Mean slope the spacing was taken for, below each bench's upper edge.
    slopes: tuple[float, ...]
    #: The benches' upper edges.
    edges: tuple[LineString, ...]

    @property
    def patches(self) -> tuple[Patch, ...]:
        """The benches' patches, the highest first."""
        return tuple(bench.patch for bench in self.benches)

    @property
    def bench_area_m2(self) -> float:
        """Level land won."""
        return sum(bench.pad.outline.area for bench in self.benches)

    @property
    def drops_m(self) -> tuple[float, ...]:
        """Height from each bench to the next below."""
        levels = [bench.level_m for bench in self.benches]
        return tuple(a - b for a, b in itertools.pairwise(levels))


def terraces(
    ground: AnyGround, flight: Flight, compacted_per_bank: float, name: str = ""
) -> Terraces:
    """Return a flight of terraces: each bench's level balances its own cut and fill.

    Where one bench ends and its riser begins, the next begins where the riser ends, by the slope
    measured below it: benches keep their width on ground that steepens. Raises `BadData` where
    the slope is as steep as the risers, or there is none.
    """
    if flight.benches < 1 or flight.bench_m <= 0 or flight.riser <= 0:
        raise InputError(f"not a flight: {flight}")
    falls = _falls_to(ground, flight.top)
    edge, edges, made, slopes = flight.top, [], [], []
    for _ in range(flight.benches):
        slope = _slope_below(ground, edge, falls, flight.bench_m)
        shape = bench_terrace(slope, flight.bench_m, flight.riser)
        outline = _ribbon(edge, falls, flight.bench_m)
        pad = Pad(
            outline,
            Batters(flight.riser, flight.riser),
            fall=flight.outward_fall,
            towards_deg=_downhill_deg(edge, falls),
            strip_m=flight.strip_m,
            respread_m=flight.respread_m,
            surfacing_m=flight.bench_topsoil_m,
        )
        made.append(balanced(ground, pad, compacted_per_bank, name))
        slopes.append(slope)
        edges.append(edge)
        edge = _moved(edge, falls, shape.spacing_m)
    # The riser between two benches belongs to both: the lower is cut into the upper's fill.
    return Terraces(flight, tuple(_meeting(made)), tuple(slopes), tuple(edges))


def _falls_to(ground: AnyGround, line: LineString) -> float:
    """Return +1 where the ground falls to the line's right, −1 to its left."""
    step = 2 * ground.cell_m
    left, right = (_mean(ground, line.offset_curve(side)) for side in (step, -step))
    if math.isnan(left) or math.isnan(right):
        raise BadData("the terraces leave the known ground", remedy="Move them.")
    return 1.0 if right < left else -1.0


def _mean(ground: AnyGround, line: BaseGeometry) -> float:
    xy = shapely.get_coordinates(shapely.segmentize(line, ground.cell_m))
    z = ground.sample(xy[:, 0], xy[:, 1]) if len(xy) else np.array([np.nan])
    return float(z[~np.isnan(z)].mean()) if np.isfinite(z).any() else math.nan


def _slope_below(ground: AnyGround, edge: LineString, falls: float, width_m: float) -> float:
    """Return the mean slope of a strip below an edge."""
    over = 1.5 * width_m
    drop = _mean(ground, edge) - _mean(ground, edge.offset_curve(-falls * over))
    if math.isnan(drop):
        raise BadData("the terraces leave the known ground", remedy="Make fewer, or move them.")
    if drop <= 0:
        raise BadData(
            "the ground doesn't fall below this line", remedy="Draw the line along the slope."
        )
    return drop / over


def _moved(edge: LineString, falls: float, by_m: float) -> LineString:
    curve = edge.offset_curve(-falls * by_m)
    parts = [part for part in shapely.get_parts(curve) if isinstance(part, LineString)]
    if not parts or max(part.length for part in parts) <= 0:
        raise BadData("the slope bends too sharply for that many terraces", remedy="Make fewer.")
    return max(parts, key=lambda part: part.length)


def _ribbon(edge: LineString, falls: float, width_m: float) -> Polygon:
    """Return the bench below an edge."""
    ribbon = edge.buffer(-falls * width_m, single_sided=True, join_style="mitre")
    parts = [part for part in shapely.get_parts(ribbon) if isinstance(part, Polygon)]
    return max(parts, key=lambda part: part.area)


def _downhill_deg(edge: LineString, falls: float) -> float:
    """Return the azimuth straight down from an edge's two ends taken together."""
    xy, _ = line_points(edge)
    dx, dy = xy[-1] - xy[0]
    return math.degrees(math.atan2(falls * dy, -falls * dx)) % 360


def _meeting(benches: list[Platform]) -> list[Platform]:
    """Return the benches with each riser split where they meet: no place belongs to two.

    On an upper bench's fill a lower bench's cut starts from that fill: the lower of the two
    surfaces is dug. An upper bench's own pad is never dug away. Where the line runs off the
    level, batters reach beyond the next bench.
    """
    patches = [bench.patch for bench in benches]
    for k in range(len(patches)):
        lower = patches[k]
        for upper in patches[:k]:
            theirs, on_pad = _sampled(upper, lower.levels)
            both = lower.mask & ~np.isnan(theirs)
            levels = np.where(both, np.minimum(lower.levels.z, theirs), lower.levels.z)
            levels = np.where(lower.mask & on_pad, np.nan, levels)
            lower = replace(lower, levels=lower.levels.like(levels))
        patches[k] = lower
        for j, upper in enumerate(patches[:k]):
            taken = ~np.isnan(_sampled(lower, upper.levels)[0])
            kept = np.where(taken & ~upper.core, np.nan, upper.levels.z)
            patches[j] = replace(upper, levels=upper.levels.like(kept))
    return [
        replace(bench, patch=patch, earth=earth(patch, bench.pad.strip_m))
        for bench, patch in zip(benches, patches, strict=True)
    ]


def _sampled(patch: Patch, cells: Grid) -> tuple[Floats, Mask]:
    """Return a patch's levels in the cells nearest to others' centres, and where its pad lies."""
    own = patch.levels
    x, y = np.meshgrid(cells.x_m(), cells.y_m())
    west, south, east, north = own.bounds
    here = (x >= west) & (x <= east) & (y >= south) & (y <= north)
    col = np.clip(((x[here] - west) / own.cell_m).astype(int), 0, own.shape[1] - 1)
    row = np.clip(((north - y[here]) / own.cell_m).astype(int), 0, own.shape[0] - 1)
    levels, on_pad = np.full(cells.shape, np.nan), np.zeros(cells.shape, bool)
    levels[here] = own.z[row, col]
    on_pad[here] = (patch.core & patch.mask)[row, col]
    return levels, on_pad
