"""Turning heads, culverts, fords and water bars shaped on the ground with their tracks."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from shapely import LineString, Point, Polygon
from shapely.ops import substring

from canvas.base.errors import BadData
from canvas.base.grid import Floats
from canvas.ground.bank import Works
from canvas.ground.crosssection import BankSection, Trapezoid
from canvas.ground.curves import rounded
from canvas.ground.designed import Designed
from canvas.ground.faces import Held, HeldLine
from canvas.ground.formation import Build, Crossfall
from canvas.ground.formation import Track as Formed
from canvas.ground.formation import track as formed_track
from canvas.ground.frames import line_points, wider
from canvas.ground.gradeline import GradeLine, Knee
from canvas.ground.materials import material
from canvas.ground.patch import Patch
from canvas.ground.platform import Pad, balanced, platform
from canvas.ground.profile import section
from canvas.ground.swale import swale
from canvas.ground.waysides import hammerhead, turning_circle
from canvas.site.elements.access import Track
from canvas.site.elements.crossings import Culvert, Ford, TurningHead, WaterBar
from canvas.study.earth.pads import batters_for, met
from canvas.study.earth.registry import Made, work_of

if TYPE_CHECKING:
    from canvas.study.scene import Scene

#: A turning head belongs to the track whose end lies so near its point [m].
END_M = 15.0
#: A culvert's crossing is looked for so far to either side along the way over it [m].
DIP_REACH_M = 20.0
#: The way over a culvert counts as its dip while it lies so near its lowest place [m].
DIP_M = 0.15
#: Rises along the way that hold no water back [m].
BUMP_M = 0.02
#: Water bars: width of the trough's bottom and of the bank's top [m].
TROUGH_BOTTOM_M, BAR_TOP_M = 0.3, 0.2
#: Vertical curves of a ford's ramps take this share of a ramp.
RAMP_SHARE = 0.5


@dataclass(frozen=True, slots=True)
class TrackEnd:
    """An end of a track."""

    track: Track
    at_start: bool


def end_near(item: TurningHead, scene: Scene) -> TrackEnd | None:
    """Return the end of a track a turning head belongs to: the nearest within reach."""
    best, found = END_M, None
    for track in scene.of_kind("track"):
        assert isinstance(track, Track)
        ends = (track.geometry.coords[0], track.geometry.coords[-1])
        for at_start, end in zip((True, False), ends, strict=True):
            apart = item.geometry.distance(Point(end))
            if apart < best:
                best, found = apart, TrackEnd(track, at_start)
    return found


def head_outline(item: TurningHead, end: TrackEnd | None) -> Polygon:
    """Return the outline of a turning head: at its track's end, else round its own point."""
    if end is None:
        return item.geometry.buffer(item.radius_m, 32)
    line = end.track.geometry
    if item.shape == "circle":
        return turning_circle(line, end.at_start, item.radius_m)
    return hammerhead(line, item.width_m, end.at_start, item.arm_m)


@work_of("turning_head", rank=22, reads=("track",))
def shape_turning_head(item: TurningHead, ground: Designed, scene: Scene) -> Made:
    """Return the head as a pad that goes on with its track's grade; alone, a balanced one."""
    end = end_near(item, scene)
    outline = head_outline(item, end)
    made = scene.work(end.track.id) if end is not None else None
    track = made.thing if made is not None and isinstance(made.thing, Formed) else None
    fall, towards, level = 0.0, 0.0, None
    if track is not None and end is not None:
        level, fall, towards = _plane(track, end.at_start, outline)
    pad = Pad(
        outline, batters_for(item), fall, towards, (), item.strip_m, item.respread_m,
        item.aggregate_m,
    )  # fmt: skip
    if level is None:
        built = balanced(ground, pad, material(item.soil).compacted_per_bank)
    else:
        built = platform(ground, pad, level)
    return Made(built, (met(built.patch),))


def _plane(track: Formed, at_start: bool, outline: Polygon) -> tuple[float, float, float]:
    """Return level at an outline's middle, fall and its azimuth: the track's last grade goes on."""
    s = track.stations
    i, j = (0, 1) if at_start else (-1, -2)
    # Out of the track: from the station before its end to the end.
    east, north = s.x_m[i] - s.x_m[j], s.y_m[i] - s.y_m[j]
    run = math.hypot(east, north)
    rise = float(s.grade[i]) * (-1.0 if at_start else 1.0)
    middle = outline.centroid
    on = ((middle.x - s.x_m[i]) * east + (middle.y - s.y_m[i]) * north) / run
    azimuth = math.degrees(math.atan2(east, north)) % 360
    towards = azimuth if rise < 0 else (azimuth + 180) % 360
    return float(s.level_m[i]) + rise * on, abs(rise), towards


# -- culverts --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class Pipes:
    """A culvert in the ground."""

    inlet_m: float
    outlet_m: float
    length_m: float
    #: The lowest place of the way over it: its level, and how long it stays that low.
    road_m: float
    dip_m: float
    low: Point
    #: Level of the way over the pipe's middle.
    over_m: float

    @property
    def slope(self) -> float:
        """Fall of the pipe."""
        return (self.inlet_m - self.outlet_m) / self.length_m

    def cover_m(self, bore_m: float) -> float:
        """Return the earth over the pipe's crown, midway."""
        return self.over_m - (self.inlet_m + self.outlet_m) / 2 - bore_m


@work_of("culvert", rank=55, reads=("track",))
def shape_culvert(item: Culvert, ground: Designed, scene: Scene) -> Made:
    """Return the culvert: water may pass along its invert; the ground over it stays."""
    line = item.geometry
    ends = [line.coords[0], line.coords[-1]]
    z = ground.base.sample([p[0] for p in ends], [p[1] for p in ends])
    at = [typed if typed is not None else float(own)
          for typed, own in zip((item.inlet_m, item.outlet_m), z, strict=True)]  # fmt: skip
    if not all(math.isfinite(level) for level in at):
        raise BadData("it leaves the known ground", remedy="Draw it on the ground data.")
    if at[0] <= at[1]:
        raise BadData(
            f"its outlet, {at[1]:.2f} m, is no lower than its inlet, {at[0]:.2f} m",
            remedy="Draw it from the inlet down to the outlet, or give the inverts.",
        )
    low, road, dip, over = _over(item, ground, scene)
    found = Pipes(at[0], at[1], line.length, road, dip, low, over)
    if found.cover_m(item.bore_m) < 0:
        raise BadData(
            f"its crown would stand {-found.cover_m(item.bore_m):.2f} m out of the way over it",
            remedy="Take a smaller pipe, lower the inverts, or raise the track's profile.",
        )
    return Made(found, (_invert(item, ground, at),))


def _invert(item: Culvert, ground: Designed, levels: list[float]) -> Patch:
    """Return a patch that changes no level, with the pipe's invert held on it."""
    xy, run = line_points(item.geometry)
    z = np.interp(run, [0.0, run[-1]], levels)
    cells = ground.cells(wider(item.geometry.bounds, ground.cell_m), 1)
    nothing = np.full(cells.shape, np.nan)
    held = HeldLine(Held.INVERT, np.column_stack((xy, z)))
    far = np.full(cells.shape, -float(cells.cell_m))
    core = np.zeros(cells.shape, bool)
    return Patch("", cells.like(nothing), cells, core, far, lines=(held,))


def _over(item: Culvert, ground: Designed, scene: Scene) -> tuple[Point, float, float, float]:
    """Return where the way over a culvert dips, its level, the dip's length, the level midway.

    Along the track it crosses; without one, straight across it at its middle. The dip is the
    pipe's own: water that stands at its inlet doesn't climb over a rise to a lower place beyond.
    """
    way = _way_over(item, scene)
    cut = section(ground, way, min(0.5, way.length / 4))
    z = np.where(np.isnan(cut.z_m), np.inf, cut.z_m)
    middle = item.geometry.interpolate(0.5, normalized=True)
    over = int(np.argmin(np.hypot(cut.x_m - middle.x, cut.y_m - middle.y)))
    k = _downhill(z, over)
    if not math.isfinite(z[k]):
        raise BadData("it leaves the known ground", remedy="Draw it on the ground data.")
    within = z <= z[k] + DIP_M
    # Only the dip itself: as far to either side as it stays within.
    first = k - int(np.argmin(within[: k + 1][::-1])) + 1 if not within[: k + 1].all() else 0
    last = k + int(np.argmin(within[k:])) - 1 if not within[k:].all() else len(z) - 1
    dip = float(cut.distance_m[last] - cut.distance_m[first])
    return Point(cut.x_m[k], cut.y_m[k]), float(z[k]), max(dip, 1.0), float(z[over])


def _downhill(z: Floats, start: int) -> int:
    """Return the lowest place reached both ways from a place without climbing over a rise."""
    best = start
    for step in (-1, 1):
        k = low = start
        while 0 <= k + step < len(z) and z[k + step] <= z[low] + BUMP_M:
            k += step
            low = k if z[k] < z[low] else low
        best = low if z[low] < z[best] else best
    return best


def _way_over(item: Culvert, scene: Scene) -> LineString:
    middle = item.geometry.interpolate(0.5, normalized=True)
    for track in scene.of_kind("track"):
        assert isinstance(track, Track)
        line = (
            rounded(track.geometry, track.radius_m).line
            if track.forming != "none"
            else (track.geometry)
        )
        if line.distance(item.geometry) <= 0.01:
            at = line.project(middle)
            cut = substring(line, max(at - DIP_REACH_M, 0.0), min(at + DIP_REACH_M, line.length))
            if isinstance(cut, LineString) and cut.length > 0:
                return cut
    (ax, ay), (bx, by) = item.geometry.coords[0][:2], item.geometry.coords[-1][:2]
    run = math.hypot(bx - ax, by - ay)
    dx, dy = (by - ay) / run * DIP_REACH_M / 2, -(bx - ax) / run * DIP_REACH_M / 2
    return LineString([(middle.x - dx, middle.y - dy), (middle.x + dx, middle.y + dy)])


# -- fords -----------------------------------------------------------------------------------------


@work_of("ford", rank=62)
def shape_ford(item: Ford, ground: Designed, scene: Scene) -> Made:
    """Return the ford as a short track: down a ramp, over a level floor, up again."""
    centre = rounded(item.geometry, 0.0)
    cut = section(ground, centre.line)
    if np.isnan(cut.z_m).any():
        raise BadData("it leaves the known ground", remedy="Draw it on the ground data.")
    made = formed_track(
        ground,
        centre,
        ford_line(item, cut.distance_m, cut.z_m),
        Build(item.width_m, batters_for(item), Crossfall.LEVEL, 0.0, item.floor_thick_m),
    )
    return Made(made, (met(made.patch),))


def ford_line(item: Ford, run: Floats, z: Floats) -> GradeLine:
    """Return a ford's levels along its line: the ground at both ends, its floor where it is low."""
    length, half = float(run[-1]), item.floor_m / 2
    if length < item.floor_m + 2.0:
        raise BadData(
            f"its ramps have no room: it is {length:.1f} m long, its floor {item.floor_m:.1f} m",
            remedy="Draw it from bank to bank, or take a shorter floor.",
        )
    bed = float(z.min()) if item.bed_m is None else item.bed_m
    middle = float(np.clip(run[int(np.argmin(z))], half + 1.0, length - half - 1.0))
    start, end = middle - half, middle + half
    ease = [min(RAMP_SHARE * ramp, item.floor_m / 2) for ramp in (start, length - end)]
    return GradeLine(
        (
            Knee(0.0, float(z[0])),
            Knee(start, bed, ease[0]),
            Knee(end, bed, ease[1]),
            Knee(length, float(z[-1])),
        )
    )


# -- water bars ------------------------------------------------------------------------------------


@work_of("water_bar", rank=64)
def shape_water_bar(item: WaterBar, ground: Designed, scene: Scene) -> Made:
    """Return the bar: a trough that falls to the line's end, a bank on its lower side."""
    xy, run = line_points(item.geometry)
    z = ground.sample(xy[:, 0], xy[:, 1])
    if np.isnan(z).any():
        raise BadData("it leaves the known ground", remedy="Draw it on the ground data.")
    # Its lip lies on the track, and falls to the outlet everywhere.
    lip = np.minimum.accumulate(z + item.fall * run) - item.fall * run
    works = Works(
        Trapezoid(TROUGH_BOTTOM_M, item.trough_m, item.side),
        BankSection(BAR_TOP_M, item.bar_m, item.side, item.side),
        cut_batter=item.side,
        end_blocks=(False, False),
    )
    made = swale(ground, item.geometry, lip, works)
    return Made(made, (met(made.patch),))
