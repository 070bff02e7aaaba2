"""Tracks in the ground: carriageway, crossfall, ditch and batters swept along a grade line."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from canvas.base.errors import BadData, InputError
from canvas.base.grid import Floats, Grid
from canvas.ground.crosssection import FREE_M, Batters, CrossSection, Trapezoid
from canvas.ground.curves import Rounded
from canvas.ground.frames import AnyGround, cells_of, finer_by, frame_of_line, line_points, wider
from canvas.ground.gradeline import GradeLine
from canvas.ground.patch import FAR_REACH_M, Earth, Mask, Patch, Shaper, earth, region
from canvas.ground.trackline import Stations, falls_right, places, stations_of, widening_along
from canvas.ground.waysides import Bay

#: Side slopes from which a track should rest wholly on cut (common practice: 55 to 60 %).
FULL_BENCH_SLOPE = 0.55
#: Cells across a carriageway: its batters are narrower than itself.
ACROSS = 14
#: A carriageway this far over the ground hangs [m].
HANGS_M = 0.05
#: Batters are first followed so far beyond the carriageway [m].
FIRST_REACH_M = 6.0


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


@dataclass(frozen=True, eq=False)
class Track:
    """A track in the ground."""

    build: Build
    centre: Rounded
    grade_line: GradeLine
    patch: Patch
    earth: Earth
    stations: Stations
    carriageway: Polygon | MultiPolygon

    #: How far the carriageway is over the ground where no fill is allowed, -1 beside it.
    hung_m: Floats | None = None

    @cached_property
    def unsupported(self) -> MultiPolygon:
        """Carriageway that would hang over the ground: no fill was allowed under it."""
        if self.hung_m is None:
            return MultiPolygon()
        return region(self.patch.levels, self.hung_m - HANGS_M)

    @property
    def aggregate_m3(self) -> float:
        """Stone on the carriageway, compacted."""
        return self.carriageway.area * self.build.aggregate_m

    def wants_full_bench(self) -> Floats:
        """Return the stations whose side slope calls for resting wholly on cut."""
        steep = np.abs(self.stations.side_slope) > FULL_BENCH_SLOPE
        return self.stations.station_m[steep]


def track(
    ground: AnyGround,
    centre: Rounded,
    grade_line: GradeLine,
    build: Build,
    name: str = "",
    bays: Sequence[Bay] = (),
) -> Track:
    """Return a track built along a rounded centre line at a grade line's levels.

    The grade line gives the finished level in the middle of the carriageway; the formation lies
    below it by the aggregate. On bends the inside is widened. Raises `BadData`
    off the known ground.
    """
    return Roadbed(ground, centre, build, bays).at(grade_line, name)


@dataclass(frozen=True, slots=True, eq=False)
class _Strip:
    """The cells within reach of a track, by their places in the flat arrays."""

    shaper: Shaper
    cells: NDArray[np.int64]
    #: Station before each, and how far on to the next.
    station: NDArray[np.int64]
    share: Floats
    #: Bounds on the ground over the centre line's level.
    low: Floats
    high: Floats
    #: Which lie on the carriageway.
    paved: Mask


class Roadbed:
    """A track's course made ready to be shaped for one grade line after another.

    What a grade line doesn't change is worked out once: cells, how they lie to the centre line,
    crossfall, widening. Safe to ask from several threads.
    """

    def __init__(
        self, ground: AnyGround, centre: Rounded, build: Build, bays: Sequence[Bay] = ()
    ) -> None:
        xy = line_points(centre.line)[0]
        if not build.width_m > 0:
            raise InputError(f"a track needs a width, got {build.width_m}")
        if np.isnan(ground.sample(xy[:, 0], xy[:, 1])).any():
            raise BadData(
                "the track leaves the known ground",
                remedy="Shorten it, or bring in ground that reaches further.",
            )
        self.ground = ground
        self.centre = centre
        self.build = build
        #: The track as the ground lies; levels are the ground's.
        self.stations = stations_of(ground, centre.line, None, build.width_m / 2)
        self.widths = widening_along(centre, self.stations.station_m, bays)
        self.carriageway = _carriageway(centre, build, self.widths, self.stations)
        self._strips: dict[float, _Strip] = {}
        self._lock = threading.Lock()

    def at(self, grade_line: GradeLine, name: str = "") -> Track:
        """Return the track at a grade line's levels."""
        s = self.stations.station_m
        stations = replace(self.stations, level_m=grade_line.level_m(s), grade=grade_line.grade(s))
        with self._lock:
            patch, hung = self._shaped(stations.level_m, name)
        moved = earth(patch, self.build.strip_m)
        return Track(
            self.build, self.centre, grade_line, patch, moved, stations, self.carriageway, hung
        )

    def _shaped(self, level_m: Floats, name: str) -> tuple[Patch, Floats | None]:
        """Return the patch, its reach widened until the batters meet the ground; what hangs."""
        full = shapely.box(*self.ground.bounds)
        reach = self.build.width_m / 2 + FIRST_REACH_M
        while True:
            strip = self._strip(reach)
            at = level_m[strip.station]
            at = at + strip.share * (level_m[strip.station + 1] - at)
            shaper = strip.shaper
            low, high = strip.low + at, strip.high + at
            shaper.low.ravel()[strip.cells] = low
            shaper.high.ravel()[strip.cells] = high
            shaped = shaper.at(anew=True)
            whole = shapely.box(*shaper.ground.bounds).covers(full)
            if shaped.meets or whole or reach >= FAR_REACH_M:
                break
            reach = min(2 * reach, FAR_REACH_M)
        patch = _finished(name, strip, shaped.levels, shaped.meets, low, high)
        patch = replace(patch, cover_m=self._cover(strip, patch))
        if self.build.batters.fill is not None:
            return patch, None
        hung = np.full(patch.core.shape, -1.0)
        over = np.where(shaper.core.ravel()[strip.cells], high, np.nan)
        hung.ravel()[strip.cells] = np.nan_to_num(
            over - shaper.ground.z.ravel()[strip.cells], nan=-1.0
        )
        return patch, hung

    def _strip(self, reach_m: float) -> _Strip:
        if reach_m not in self._strips:
            parts = finer_by(self.ground, self.build.width_m, ACROSS)
            bounds = wider(self.centre.line.bounds, reach_m)
            self._strips[reach_m] = self._laid(cells_of(self.ground, bounds, parts), reach_m)
        return self._strips[reach_m]

    def _laid(self, cells: Grid, reach_m: float) -> _Strip:
        """Return the cells within reach, the track's ends cut off square."""
        build, s = self.build, self.stations.station_m
        frame = frame_of_line(cells, self.centre.line, reach_m)
        here = np.flatnonzero(np.isfinite(frame.aside_m))
        along, raw = frame.along_m.ravel()[here], frame.aside_m.ravel()[here]
        past = frame.past_m.ravel()[here] > 0
        # The widened inside of a bend is drawn in to the plain width, and its batters with it.
        half = build.width_m / 2
        left, right = (np.interp(along, s, extra) for extra in self.widths)
        far, extra = np.abs(raw), np.where(raw > 0, right, left)
        aside = np.sign(raw) * np.where(
            far <= half + extra, far * half / (half + extra), far - extra
        )
        falls = np.interp(along, s, falls_right(self.stations))
        tilt = _tilt(build, falls, aside)
        # The section has the hill on its left: seen the other way where it lies on the right.
        turned = aside * np.where(falls < 0, -1.0, 1.0)
        section = _section(build)
        low = np.interp(turned, *section.low.T) + tilt
        high = np.interp(turned, *section.high.T) + tilt
        # Nothing is shaped beyond the ends, nor is it passed through.
        low[past], high[past] = -FREE_M, FREE_M
        inside = (turned >= section.core_m[0]) & (turned <= section.core_m[1]) & ~past
        core = np.zeros(cells.shape, bool)
        core.ravel()[here] = inside
        nowhere = np.full(cells.shape, np.nan)
        shaper = Shaper(cells, nowhere, nowhere.copy(), core)
        station = np.clip(np.searchsorted(s, along, side="right") - 1, 0, len(s) - 2)
        share = np.clip((along - s[station]) / (s[station + 1] - s[station]), 0.0, 1.0)
        rows, cols = np.divmod(here, cells.shape[1])
        shapely.prepare(self.carriageway)
        paved = inside.copy()
        paved[inside] = shapely.contains_xy(
            self.carriageway, cells.x_m()[cols[inside]], cells.y_m()[rows[inside]]
        )
        return _Strip(shaper, here, station, share, low, high, paved)

    def _cover(self, strip: _Strip, patch: Patch) -> Floats | None:
        """Return what lies on the formation: stone on the carriageway, topsoil on the batters."""
        build = self.build
        if not (build.aggregate_m or build.respread_m):
            return None
        core = patch.core.ravel()[strip.cells]
        laid = np.where(strip.paved, build.aggregate_m, np.where(core, 0.0, build.respread_m))
        cover = np.zeros(patch.core.shape)
        touched = ~np.isnan(patch.levels.z.ravel()[strip.cells])
        cover.ravel()[strip.cells] = np.where(touched, laid, 0.0)
        return cover


def _finished(
    name: str, strip: _Strip, levels: Floats, meets: bool, low: Floats, high: Floats
) -> Patch:
    """Return the patch of a strip's last run; `low` and `high` are its bounds, cell by cell."""
    shaper, ground = strip.shaper, strip.shaper.ground
    z = ground.z.ravel()[strip.cells]
    beyond = np.maximum(z - high, low - z)
    seen = shaper.seen_at(strip.cells) & np.isfinite(beyond)
    cell = float(ground.cell_m)

    def bite() -> Floats:
        found = np.full(ground.shape, -cell)
        found.ravel()[strip.cells] = np.where(seen, beyond, -cell)
        return found

    return Patch(name, ground.like(levels), ground, shaper.core, bite, meets=meets)


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


def _carriageway(
    centre: Rounded, build: Build, widths: tuple[Floats, Floats], stations: Stations
) -> Polygon | MultiPolygon:
    """Return the carriageway: half the width to either side, widened on bends."""
    half = build.width_m / 2
    plain = centre.line.buffer(half, cap_style="flat", quad_segs=8)
    if not (widths[0].any() or widths[1].any()):
        return plain
    xy, run = line_points(centre.line)
    at, normal = places(xy, run, stations.station_m)
    pieces: list[Polygon | MultiPolygon] = [plain]
    for side, extra in ((-1.0, widths[0]), (1.0, widths[1])):
        edge = at + side * normal * (half + extra)[:, None]
        quads = np.stack((at[:-1], at[1:], edge[1:], edge[:-1]), axis=1)
        wide = np.maximum(extra[:-1], extra[1:]) > 0
        pieces.extend(np.asarray(shapely.buffer(shapely.polygons(quads[wide]), 0)))
    whole = shapely.union_all(pieces)
    assert isinstance(whole, (Polygon, MultiPolygon))
    return whole
