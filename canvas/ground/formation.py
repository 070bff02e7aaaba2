"""Tracks in the ground: carriageway, crossfall, ditch and batters swept along a grade line."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon

from canvas.base.errors import BadData, InputError
from canvas.base.grid import Floats, Grid
from canvas.ground.crosssection import Batters, CrossSection, Trapezoid
from canvas.ground.curves import Rounded
from canvas.ground.frames import AnyGround, finer_by, frame_of_line, line_points
from canvas.ground.gradeline import GradeLine
from canvas.ground.patch import (
    Earth,
    Mask,
    Patch,
    Shaped,
    Shaper,
    earth,
    finished,
    on_enough_ground,
    region,
)
from canvas.ground.profile import Section
from canvas.ground.waysides import extra_width_m

#: The side the hill lies on is read over this length of track [m].
SIDE_OVER_M = 12.0
#: Side slopes from which a track should rest wholly on cut (common practice: 55 to 60 %).
FULL_BENCH_SLOPE = 0.55
#: Cells across a carriageway: its batters are narrower than itself.
ACROSS = 16
#: A carriageway this far over the ground hangs [m].
HANGS_M = 0.05
#: Stations of the tables, apart [m].
STATION_M = 1.0


class Crossfall(StrEnum):
    """Which way the carriageway sheds its water."""

    OUT = "to the valley side"
    IN = "to the hill side"
    CROWN = "to both sides"
    LEVEL = "level"


@dataclass(frozen=True, slots=True)
class Build:
    """What a track is built of."""

    width_m: float
    batters: Batters
    crossfall: Crossfall = Crossfall.OUT
    crossfall_ratio: float = 0.04
    #: Compacted stone on the formation [m].
    aggregate_m: float = 0.0
    #: A ditch along the hill side, its lip at the carriageway's edge.
    ditch: Trapezoid | None = None
    #: Topsoil taken off where earth moves, and put back on the batters [m].
    strip_m: float = 0.0
    respread_m: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Stations:
    """The track by the metre; arrays are (stations,)."""

    station_m: Floats
    x_m: Floats
    y_m: Floats
    #: Ground before, and finished level, on the centre line.
    ground_m: Floats
    level_m: Floats
    grade: Floats
    #: Steepness of the ground across the track; above 0 when it falls to the right.
    side_slope: Floats

    def profile(self) -> Section:
        """Return the ground along the centre line."""
        return Section(self.station_m, self.x_m, self.y_m, self.ground_m)


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """A track in the ground."""

    build: Build
    centre: Rounded
    grade_line: GradeLine
    patch: Patch
    earth: Earth
    stations: Stations
    carriageway: Polygon | MultiPolygon
    #: Carriageway that would hang over the ground: no fill was allowed under it.
    unsupported: MultiPolygon

    @property
    def aggregate_m3(self) -> float:
        """Stone on the carriageway, compacted."""
        return self.carriageway.area * self.build.aggregate_m

    def wants_full_bench(self) -> Floats:
        """Return the stations whose side slope calls for resting wholly on cut."""
        steep = np.abs(self.stations.side_slope) > FULL_BENCH_SLOPE
        return self.stations.station_m[steep]


def stations_of(
    ground: AnyGround, centre: LineString, grade_line: GradeLine | None, half_m: float
) -> Stations:
    """Return ground, level and side slope along a centre line, a metre apart."""
    xy, run = line_points(centre)
    s = np.unique(np.concatenate((np.arange(0.0, run[-1], STATION_M), [run[-1]])))
    at, normal = _on(xy, run, s)
    reach = max(half_m, ground.cell_m)
    left, right = at - normal * reach, at + normal * reach
    z = ground.sample(at[:, 0], at[:, 1])
    across = ground.sample(left[:, 0], left[:, 1]) - ground.sample(right[:, 0], right[:, 1])
    level = z if grade_line is None else grade_line.level_m(s)
    grade = np.gradient(level, s) if grade_line is None else grade_line.grade(s)
    return Stations(s, at[:, 0], at[:, 1], z, level, grade, across / (2 * reach))


def _on(xy: Floats, run: Floats, s: Floats) -> tuple[Floats, Floats]:
    """Return points of a line at distances along it, and unit normals to its right."""
    k = np.clip(np.searchsorted(run, s, side="right") - 1, 0, len(run) - 2)
    leg = np.diff(xy, axis=0)[k] / np.diff(run)[k][:, None]
    return xy[k] + leg * (s - run[k])[:, None], np.column_stack((leg[:, 1], -leg[:, 0]))


def lower_edge(ground: AnyGround, centre: LineString, half_m: float) -> Section:
    """Return the lowest ground under a track's width along its centre line.

    A grade line below it puts the whole width in cut: a full bench.
    """
    xy, run = line_points(centre)
    s = np.unique(np.concatenate((np.arange(0.0, run[-1], STATION_M), [run[-1]])))
    at, normal = _on(xy, run, s)
    under = []
    for share in (-1.0, -0.5, 0.0, 0.5, 1.0):
        beside = at + normal * half_m * share
        under.append(ground.sample(beside[:, 0], beside[:, 1]))
    return Section(s, at[:, 0], at[:, 1], np.min(under, axis=0))


def _falls_right(stations: Stations) -> Floats:
    """Return +1 where the ground falls to the right, −1 to the left, running over between."""
    slope = np.nan_to_num(stations.side_slope)
    s = stations.station_m
    width = max(round(SIDE_OVER_M / STATION_M), 1)
    padded = np.pad(slope, width // 2, mode="edge")
    mean = np.convolve(padded, np.ones(width) / width, mode="same")[width // 2 :][: len(s)]
    return np.asarray(np.clip(mean / 0.02, -1.0, 1.0), np.float64)


def _section(build: Build) -> CrossSection:
    """Return the bounds on the ground, the hill on the left; crossfall is in the level."""
    half = build.width_m / 2
    hill, start = [], -half
    if build.ditch is not None:
        lip = build.ditch.top_m / 2
        hill = [(u - half - lip, v) for u, v in build.ditch.shape()]
        start = -half - 2 * lip
    flat = [*hill, (-half, 0.0), (half, 0.0)]
    low, high = build.batters.lower(flat), build.batters.upper(flat)
    return CrossSection(low, high, (start, half))


def _tilt(build: Build, right: Floats, aside: Floats) -> Floats:
    """Return the carriageway's height over its middle at distances aside (+ right)."""
    half = build.width_m / 2
    within = np.clip(np.where(np.isfinite(aside), aside, 0.0), -half, half)
    ratio = build.crossfall_ratio
    if build.crossfall is Crossfall.OUT:
        return np.asarray(-ratio * right * within, np.float64)
    if build.crossfall is Crossfall.IN:
        return np.asarray(ratio * right * within, np.float64)
    if build.crossfall is Crossfall.CROWN:
        return np.asarray(-ratio * np.abs(within), np.float64)
    return np.zeros_like(within)


def track(
    ground: AnyGround, centre: Rounded, grade_line: GradeLine, build: Build, name: str = ""
) -> Track:
    """Return a track built along a rounded centre line at a grade line's levels.

    The grade line gives the finished level in the middle of the carriageway; the formation lies
    below it by the aggregate. On bends the inside is widened. Raises `BadData`
    off the known ground.
    """
    xy = line_points(centre.line)[0]
    if not build.width_m > 0:
        raise InputError(f"a track needs a width, got {build.width_m}")
    if np.isnan(ground.sample(xy[:, 0], xy[:, 1])).any():
        raise BadData(
            "the track leaves the known ground",
            remedy="Shorten it, or bring in ground that reaches further.",
        )
    half = build.width_m / 2
    stations = stations_of(ground, centre.line, grade_line, half)
    parts = finer_by(ground, build.width_m, ACROSS)
    widths = widening_along(centre, stations.station_m)

    def make(cells: Grid, reach_m: float) -> tuple[Shaper, Shaped]:
        shaper = _swept(cells, centre.line, stations, build, widths, reach_m)
        return shaper, shaper.at()

    first = half + 6.0
    shaper, shaped = on_enough_ground(ground, centre.line.bounds, parts, first, make)
    patch = finished(name, shaper, shaped)
    paved = _carriageway(centre, build, widths, stations)
    patch = replace(patch, cover_m=_cover(build, patch, paved))
    hung = np.where(patch.core, shaper.high - patch.ground.z, -1.0)
    open_air = (
        region(patch.levels, hung - HANGS_M) if build.batters.fill is None else MultiPolygon()
    )
    return Track(
        build,
        centre,
        grade_line,
        patch,
        earth(patch, build.strip_m),
        stations,
        paved,
        open_air,
    )


def _swept(
    cells: Grid,
    line: LineString,
    stations: Stations,
    build: Build,
    widths: tuple[Floats, Floats],
    reach_m: float,
) -> Shaper:
    """Return a shaper of the track, its ends cut off square."""
    frame = frame_of_line(cells, line, reach_m)
    half = build.width_m / 2
    s = stations.station_m
    # The widened inside of a bend is drawn in to the plain width, and its batters with it.
    left, right = (np.interp(frame.along_m, s, extra) for extra in widths)
    far, extra = np.abs(frame.aside_m), np.where(frame.aside_m > 0, right, left)
    inner = far * half / (half + extra)
    aside = np.sign(frame.aside_m) * np.where(far <= half + extra, inner, far - extra)
    falls = _falls_right(stations)
    right_side = np.interp(frame.along_m, s, falls)
    level = np.interp(frame.along_m, s, stations.level_m) + _tilt(build, right_side, aside)
    # The section has the hill on its left: seen the other way where it lies on the right.
    turned = aside * np.where(right_side < 0, -1.0, 1.0)
    shaper = Shaper.by_section(cells, turned, level, _section(build))
    shaper.free(frame.past_m > 0)
    return shaper


def _cover(build: Build, patch: Patch, paved: Polygon | MultiPolygon) -> Floats | None:
    """Return what lies on the formation: stone on the carriageway, topsoil on the batters."""
    if not (build.aggregate_m or build.respread_m):
        return None
    on_stone = _inside(patch, paved)
    cover = np.where(on_stone, build.aggregate_m, np.where(patch.core, 0.0, build.respread_m))
    return np.where(patch.mask, cover, 0.0)


def _inside(patch: Patch, area: Polygon | MultiPolygon) -> Mask:
    """Return a patch's cells whose centre lies in an area."""
    shapely.prepare(area)
    rows, cols = np.nonzero(patch.core & patch.mask)
    inside = np.zeros(patch.mask.shape, bool)
    x, y = patch.levels.x_m()[cols], patch.levels.y_m()[rows]
    inside[rows, cols] = shapely.contains_xy(area, x, y)
    return inside


def widening_along(centre: Rounded, station_m: Floats) -> tuple[Floats, Floats]:
    """Return the extra width on the left and on the right at stations, by each bend's radius."""
    left, right = np.zeros(len(station_m)), np.zeros(len(station_m))
    for curve in centre.curves:
        extra = extra_width_m(curve.radius_m)
        if extra <= 0:
            continue
        # It grows over ten metres before the bend and shrinks over ten beyond it.
        ease = np.array([curve.from_m - 10.0, curve.from_m, curve.to_m, curve.to_m + 10.0])
        grown = np.interp(station_m, ease, [0.0, extra, extra, 0.0])
        side = left if curve.turn_deg > 0 else right
        np.maximum(side, grown, out=side)
    return left, right


def _carriageway(
    centre: Rounded, build: Build, widths: tuple[Floats, Floats], stations: Stations
) -> Polygon | MultiPolygon:
    """Return the carriageway: half the width to either side, widened on bends."""
    half = build.width_m / 2
    plain = centre.line.buffer(half, cap_style="flat", quad_segs=8)
    if not (widths[0].any() or widths[1].any()):
        return plain
    xy, run = line_points(centre.line)
    at, normal = _on(xy, run, stations.station_m)
    pieces: list[Polygon | MultiPolygon] = [plain]
    for side, extra in ((-1.0, widths[0]), (1.0, widths[1])):
        edge = at + side * normal * (half + extra)[:, None]
        quads = np.stack((at[:-1], at[1:], edge[1:], edge[:-1]), axis=1)
        wide = np.maximum(extra[:-1], extra[1:]) > 0
        pieces.extend(shapely.polygons(quad).buffer(0) for quad in quads[wide])
    whole = shapely.union_all(pieces)
    assert isinstance(whole, (Polygon, MultiPolygon))
    return whole
