"""Spillways: a channel cut into firm ground beside a dam, to let the flood past it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from shapely import LineString

from canvas.base.grid import Floats, Grid
from canvas.ground.crosssection import Batters, bench
from canvas.ground.dam import Dam
from canvas.ground.faces import Held, HeldLine
from canvas.ground.frames import AnyGround, finer_by, frame_of_line, line_points
from canvas.ground.patch import Earth, Patch, Shaped, Shaper, earth, finished, on_enough_ground
from canvas.ground.profile import Section, section

#: A spillway's ends are looked for no further off [m].
FAR_M = 200.0


@dataclass(frozen=True, slots=True)
class Channel:
    """A spillway cut into the ground beside a dam: a level sill, then an exit at a grade."""

    #: From the water to where the flow is let go.
    line: LineString
    width_m: float
    sill_m: float
    #: Level stretch from the line's start.
    level_length_m: float = 5.0
    exit_grade: float = 0.03
    #: Run per rise of its sides.
    side: float = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Spillway:
    """A spillway in the ground."""

    channel: Channel
    patch: Patch
    earth: Earth
    #: Levels of its bed along the line.
    bed: Section
    #: Least ground above the bed beside it: below 0 the channel would stand on fill.
    least_cut_m: float


def spillway(ground: AnyGround, channel: Channel, name: str = "") -> Spillway:
    """Return the spillway cut into the ground. Nothing is filled: it must lie in firm ground."""
    xy, run = line_points(channel.line)
    cut = section(ground, channel.line)
    bed = channel.sill_m - channel.exit_grade * np.maximum(
        cut.distance_m - channel.level_length_m, 0.0
    )
    batters = Batters(channel.side, None)
    shape = bench(channel.width_m / 2, batters)
    parts = finer_by(ground, channel.width_m)

    def make(cells: Grid, reach_m: float) -> tuple[Shaper, Shaped]:
        frame = frame_of_line(cells, channel.line, reach_m)
        level = np.interp(frame.along_m, cut.distance_m, bed)
        shaper = Shaper.by_section(cells, frame.aside_m, level, shape)
        shaper.free(frame.past_m > 0)
        return shaper, shaper.at()

    deepest = float(np.nanmax(cut.z_m - bed)) if np.isfinite(cut.z_m).any() else 0.0
    # The hill rises on beyond the line: its side runs further than the cut's depth there says.
    first = channel.width_m / 2 + max(1.6 * channel.side * deepest + 2.0, 4.0)
    shaper, shaped = on_enough_ground(ground, channel.line.bounds, parts, first, make)
    patch = finished(name, shaper, shaped)
    at = np.interp(run, cut.distance_m, bed)
    level_end = min(channel.level_length_m, float(run[-1]))
    lines = (
        HeldLine(Held.INVERT, np.column_stack((xy, at))),
        HeldLine(Held.SILL, _across(channel, level_end / 2)),
    )
    least = float(np.nanmin(cut.z_m - bed)) if np.isfinite(cut.z_m).any() else math.nan
    return Spillway(
        channel,
        replace(patch, lines=lines),
        earth(patch),
        Section(cut.distance_m, cut.x_m, cut.y_m, bed),
        least,
    )


def _across(channel: Channel, at_m: float) -> Floats:
    """Return the sill's line across the channel's bed."""
    here = channel.line.interpolate(at_m)
    ahead = channel.line.interpolate(min(at_m + 0.5, channel.line.length))
    back = channel.line.interpolate(max(at_m - 0.5, 0.0))
    dx, dy = ahead.x - back.x, ahead.y - back.y
    size = math.hypot(dx, dy)
    nx, ny, half = -dy / size, dx / size, channel.width_m / 2
    return np.array(
        [
            (here.x + nx * half, here.y + ny * half, channel.sill_m),
            (here.x - nx * half, here.y - ny * half, channel.sill_m),
        ]
    )


def beside_dam(
    ground: AnyGround,
    dam_: Dam,
    sill_m: float,
    width_m: float,
    at_start: bool,
    exit_grade: float = 0.03,
    clear_m: float = 2.0,
) -> LineString:
    """Return a line for a spillway round one end of a dam: to be bent to the ground by hand.

    From the water's edge, past the bank's end with `clear_m` between, to where its falling bed
    comes out of the hillside below the dam.
    """
    bank = dam_.bank
    xy, run = line_points(bank.axis)
    at = dam_.ends_m()[0 if at_start else 1]
    k = int(np.clip(np.searchsorted(run, at, side="right") - 1, 0, len(run) - 2))
    ahead = (xy[k + 1] - xy[k]) / (run[k + 1] - run[k])
    out = -ahead if at_start else ahead
    end = xy[k] + ahead * (at - run[k])
    right = np.array([ahead[1], -ahead[0]])
    to_water = right if dam_.water_right else -right
    past = end + out * (clear_m + width_m / 2)
    up = bank.width_m / 2 + bank.upstream * (bank.crest_m - sill_m) + clear_m + width_m / 2
    down = bank.width_m / 2 + bank.downstream * dam_.toe_height_m / 2 + width_m
    inlet = _Down(ground, past + to_water * up, -out).first(sill_m - 0.1)
    below = _Down(ground, past - to_water * down, -out)
    bed = sill_m
    outlet = below.start
    for _ in range(3):
        outlet = below.first(bed)
        bed = sill_m - exit_grade * math.dist(past, outlet)
    return LineString([inlet, past, outlet])


class _Down:
    """The ground along a direction, to find where it is down to a level."""

    def __init__(self, ground: AnyGround, start: Floats, towards: Floats) -> None:
        self.start = np.asarray(start, np.float64)
        self._way = self.start + np.arange(0.0, FAR_M, ground.cell_m / 2)[:, None] * towards
        self._z = ground.sample(self._way[:, 0], self._way[:, 1])

    def first(self, level_m: float) -> Floats:
        """Return the first place as low as a level; the start where there is none."""
        low = np.flatnonzero(self._z <= level_m)
        return np.asarray(self._way[low[0]] if len(low) else self.start, np.float64)
