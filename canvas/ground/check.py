"""Low checks across a gully: a porous wall with a notch, the wedge of soil it catches, its toe."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from shapely import LineString, Point

from canvas.base.errors import BadData
from canvas.base.grid import Floats
from canvas.ground.dam import Bank, Dam, dam
from canvas.ground.faces import Held, HeldLine
from canvas.ground.frames import AnyGround, frame_of_line, line_points
from canvas.ground.patch import Earth, Patch, earth
from canvas.ground.profile import section

#: The bed's fall is read over this many times the check's height, up and down the gully.
FALL_OVER = 10.0
#: At least over this, in cells.
FALL_CELLS = 3.0
#: Below this fall a gully has no spacing worth naming (ratio).
LEVEL_BED = 0.002


@dataclass(frozen=True, slots=True)
class CheckSpec:
    """What a check is to be."""

    #: From bank to bank.
    line: LineString
    #: The notch above the bed, and how much higher the ends stand.
    height_m: float
    notch_m: float
    notch_deep_m: float
    crest_m: float
    upstream: float
    downstream: float
    #: Dug into bed and banks along the line.
    key_m: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Check:
    """A check in a gully."""

    spec: CheckSpec
    patch: Patch
    #: What stands above the ground, as placed; the key comes on top.
    earth: Earth
    key_m3: float
    bed_m: float
    notch_level_m: float
    #: Distance along the line to the notch's middle.
    notch_at_m: float
    #: How the bed falls there (ratio), and the level of the toe below the wall.
    bed_slope: float
    toe_m: float
    toe_xy_m: tuple[float, float] | None
    water_right: bool
    #: The ends stand as high as the ground there.
    ends_meet: bool

    @property
    def notch(self) -> LineString:
        """The notch, on the line."""
        half = self.spec.notch_m / 2
        return _between(self.spec.line, self.notch_at_m - half, self.notch_at_m + half)

    @property
    def spacing_m(self) -> float:
        """Distance up the gully to the next check whose toe lies level with this notch."""
        slope = self.bed_slope
        return self.spec.height_m / slope if slope >= LEVEL_BED else math.inf


def check(ground: AnyGround, spec: CheckSpec, name: str = "") -> Check:
    """Return a check on the ground; `BadData` where its line crosses no hollow or no ground."""
    along = section(ground, spec.line, ground.cell_m / 2)
    if np.isnan(along.z_m).any():
        raise BadData("the check leaves the known ground", remedy="Shorten or move it.")
    low = int(np.argmin(along.z_m))
    bed, at = float(along.z_m[low]), float(along.distance_m[low])
    banks = min(float(along.z_m[:low].max(initial=bed)), float(along.z_m[low:].max(initial=bed)))
    if banks - bed < spec.height_m / 2:
        raise BadData(
            "there is no gully here: the ground along the line is nearly level",
            remedy="Draw it across the gully, from bank to bank.",
        )
    notch = bed + spec.height_m
    wall = Bank(
        spec.line, notch + spec.notch_deep_m, spec.crest_m, spec.upstream, spec.downstream,
        settlement=0.0, trench=None,
    )  # fmt: skip
    made = dam(ground, wall, name)
    patch = _notched(made, spec, at, notch)
    slope = _bed_slope(ground, spec, at, made.water_right)
    toe = made.dry_toe_xy_m
    level = _toe_m(spec, bed, slope)
    ends = made.bank.crest_m <= np.array((along.z_m[0], along.z_m[-1])) + 0.02
    first, last = made.ends_m()
    return Check(
        spec, patch, earth(patch), spec.key_m * spec.crest_m * (last - first), bed, notch, at,
        slope, level, toe, made.water_right, bool(ends.all()),
    )  # fmt: skip


def _toe_m(spec: CheckSpec, bed_m: float, slope: float) -> float:
    """Return the bed's level where the downstream face meets it, the bed falling evenly."""
    steeper = 1 / spec.downstream - slope
    if not steeper > 0:
        return math.nan
    away = (spec.height_m + spec.crest_m / 2 / spec.downstream) / steeper
    return bed_m - slope * away


def _notched(made: Dam, spec: CheckSpec, at_m: float, notch: float) -> Patch:
    """Return the wall's patch with the notch let in, and what it holds."""
    patch, half = made.patch, spec.notch_m / 2
    frame = frame_of_line(patch.levels, spec.line, 40.0)
    here = (np.abs(frame.along_m - at_m) <= half) & patch.mask
    low = np.maximum(np.minimum(patch.levels.z, notch), patch.ground.z)
    levels = patch.levels.like(np.where(here, low, patch.levels.z))
    sill = np.column_stack((_ends(spec.line, at_m - half, at_m + half), [notch, notch]))
    return replace(patch, levels=levels, lines=(*patch.lines, HeldLine(Held.SILL, sill)))


def _ends(line: LineString, start: float, end: float) -> Floats:
    spots = [line.interpolate(max(start, 0.0)), line.interpolate(min(end, line.length))]
    return np.array([(spot.x, spot.y) for spot in spots])


def _between(line: LineString, start: float, end: float) -> LineString:
    xy, run = line_points(line)
    start, end = max(start, 0.0), min(end, float(run[-1]))
    inner = (run > start) & (run < end)
    first, last = _ends(line, start, end)
    return LineString(np.vstack((first, xy[inner], last)))


def _bed_slope(ground: AnyGround, spec: CheckSpec, at_m: float, water_right: bool) -> float:
    """Return how the bed falls through the check: between its lowest places above and below."""
    away = max(FALL_OVER * spec.height_m, FALL_CELLS * ground.cell_m)
    middle = spec.line.interpolate(at_m)
    found: list[tuple[Point, float]] = []
    for side in (1.0, -1.0):
        beside = spec.line.offset_curve(side * away)
        if beside.is_empty:
            return math.nan
        line = beside if isinstance(beside, LineString) else max(beside.geoms, key=len_of)
        seen = section(ground, line, ground.cell_m / 2)
        if not np.isfinite(seen.z_m).any():
            return math.nan
        k = int(np.nanargmin(seen.z_m))
        found.append((line.interpolate(float(seen.distance_m[k])), float(seen.z_m[k])))
    (left, left_z), (right, right_z) = found
    run = left.distance(middle) + middle.distance(right)
    drop = right_z - left_z if water_right else left_z - right_z
    return drop / run if run > 0 else math.nan


def len_of(line: LineString) -> float:
    """Return a line's length."""
    return float(line.length)
