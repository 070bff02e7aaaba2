"""Earth dams across a hollow: the bank, its trench, the water behind it and the spillway beside it.

For comparing places and sizes. A dam that fails can kill: its design, and whether it may be
built at all, belong to licensed practice and the law of the place.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from shapely import LineString, MultiPolygon

from canvas.base.errors import BadData, InputError
from canvas.base.grid import Floats, Grid
from canvas.ground.crosssection import FREE_M, CrossSection, bound, run_out
from canvas.ground.designed import block_mean
from canvas.ground.faces import Held, HeldLine
from canvas.ground.frames import AnyGround, LineFrame, finer_by, frame_of_line, line_points
from canvas.ground.patch import Earth, Patch, Shaped, Shaper, earth, finished, on_enough_ground
from canvas.ground.pond import Basin, Pool
from canvas.ground.profile import Section, section
from canvas.ground.volumes import average_end_area_m3

#: Stations of a dam's axis, in cells of the ground.
STATION_CELLS = 0.5


@dataclass(frozen=True, slots=True)
class Trench:
    """The cut-off dug under a dam and filled with tight earth."""

    bottom_m: float = 2.4
    depth_m: float = 0.9
    side: float = 1.0

    @property
    def area_m2(self) -> float:
        """Its cross-section."""
        return self.bottom_m * self.depth_m + self.side * self.depth_m**2


@dataclass(frozen=True, slots=True)
class Bank:
    """What a dam is to be."""

    #: The axis: the middle of the crest, from bank to bank.
    axis: LineString
    #: Level of the crest once settled.
    crest_m: float
    width_m: float
    #: Run per rise of the wet and the dry face.
    upstream: float
    downstream: float
    #: Built higher by this share of its height.
    settlement: float = 0.05
    trench: Trench | None = field(default_factory=Trench)
    #: Topsoil taken off under it [m].
    strip_m: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Dam:
    """A dam on the ground."""

    bank: Bank
    patch: Patch
    #: As settled; `built_m3` is what is to be placed.
    earth: Earth
    #: Fill placed, settlement and the stripped ground's filling included [m³, compacted].
    built_m3: float
    trench_m3: float
    #: The water lies on the right of the axis.
    water_right: bool
    #: The ground along the axis, and the crest's height over it at its deepest.
    axis: Section
    height_m: float
    #: From the crest down to the lowest ground under the bank: its downstream toe, as a rule.
    toe_height_m: float
    #: The lowest ground just above and just below the bank; None where none is known.
    wet_toe_xy_m: tuple[float, float] | None
    dry_toe_xy_m: tuple[float, float] | None

    @property
    def placed_m3(self) -> float:
        """Earth placed in all, the trench's filling included [m³, compacted]."""
        return self.built_m3 + self.trench_m3

    def ends_m(self) -> tuple[float, float]:
        """Return where along the axis the crest comes out of the ground and goes into it again."""
        above = np.flatnonzero(self.bank.crest_m > self.axis.z_m)
        return float(self.axis.distance_m[above[0]]), float(self.axis.distance_m[above[-1]])

    def footprint(self) -> MultiPolygon:
        """Return the ground the bank covers."""
        return self.patch.outline()

    def by_sections_m3(self) -> float:
        """Return the settled bank by the mean of end areas along its axis."""
        h = np.maximum(self.bank.crest_m - self.axis.z_m, 0.0)
        slopes = (self.bank.upstream + self.bank.downstream) / 2
        return average_end_area_m3(self.axis.distance_m, self.bank.width_m * h + slopes * h**2)


def _bounds(bank: Bank, water_right: bool) -> CrossSection:
    """Return the bounds on the ground: filled up to the bank, never cut."""
    half = bank.width_m / 2
    low = [
        run_out(-half, 0.0, -1 / bank.downstream, -1),
        (-half, 0.0),
        (half, 0.0),
        run_out(half, 0.0, -1 / bank.upstream, 1),
    ]
    high = [(-half, FREE_M), (half, FREE_M)]
    found = CrossSection(bound(low), bound(high), (-half, half))
    return found if water_right else found.mirrored()


def water_side(ground: AnyGround, axis: LineString, away_m: float) -> bool:
    """Return whether the water would lie on the right: the side whose valley floor is higher."""
    floor = []
    for side in (away_m, -away_m):
        beside = shapely.segmentize(axis.offset_curve(side), ground.cell_m)
        xy = shapely.get_coordinates(beside)
        z = ground.sample(xy[:, 0], xy[:, 1]) if len(xy) else np.array([np.nan])
        floor.append(float(z[~np.isnan(z)].min()) if np.isfinite(z).any() else math.nan)
    left, right = floor
    if math.isnan(left) or math.isnan(right):
        raise BadData(
            "the valley beside the dam is beyond the known ground",
            remedy="Move the dam, or bring in ground that reaches further.",
        )
    return right >= left


def dam(ground: AnyGround, bank: Bank, name: str = "", water_right: bool | None = None) -> Dam:
    """Return the dam on the ground.

    Its faces run down until they meet it. `water_right` is found from the valley's fall unless
    told. Raises `BadData` where the ground is higher than the crest all along, or unknown.
    """
    if min(bank.width_m, bank.upstream, bank.downstream) <= 0 or bank.settlement < 0:
        raise InputError(f"not a dam: {bank}")
    axis = section(ground, bank.axis, ground.cell_m * STATION_CELLS)
    height = bank.crest_m - axis.z_m
    if np.isnan(height).any():
        raise BadData("the dam's axis leaves the known ground", remedy="Shorten or move it.")
    tallest = float(height.max())
    if tallest <= 0:
        raise BadData(
            "the ground is higher than the crest all along the dam",
            remedy="Raise the crest, or draw the dam across the hollow.",
        )
    if water_right is None:
        water_right = water_side(ground, bank.axis, bank.width_m / 2 + 2 * ground.cell_m)
    section_ = _bounds(bank, water_right)
    slope = max(bank.upstream, bank.downstream)
    # Cells an eighth of the crest would be wasted on a bank ten times as wide.
    across = max(bank.width_m, (bank.upstream + bank.downstream) * tallest / 2)
    parts = finer_by(ground, across)
    first = bank.width_m / 2 + 1.3 * slope * tallest + 2.0

    frame: LineFrame | None = None

    def make(cells: Grid, reach_m: float) -> tuple[Shaper, Shaped]:
        nonlocal frame
        frame = frame_of_line(cells, bank.axis, reach_m)
        level = np.full(cells.shape, float(bank.crest_m))
        shaper = Shaper.by_section(cells, frame.aside_m, level, section_)
        return shaper, shaper.at()

    shaper, shaped = on_enough_ground(ground, bank.axis.bounds, parts, first, make)
    patch = finished(name, shaper, shaped)
    filled = patch.mask & (patch.change_m() > 0)
    # What only holds the crest's place in higher ground is no part of the dam.
    patch = replace(
        patch,
        levels=patch.levels.like(np.where(filled, patch.levels.z, np.nan)),
        core=patch.core & filled,
        lines=(HeldLine(Held.CREST, _crest_line(bank, axis)),),
    )
    assert frame is not None  # made with the cells
    lowest = float(patch.ground.z[filled].min()) if filled.any() else float(axis.z_m.min())
    return Dam(
        bank,
        patch,
        earth(patch, bank.strip_m),
        _built_m3(shaper, bank, patch, axis),
        _trench_m3(bank, axis),
        water_right,
        axis,
        tallest,
        bank.crest_m - lowest,
        *_toes(patch, frame, water_right, parts),
    )


def _crest_line(bank: Bank, axis: Section) -> Floats:
    """Return the crest with its level, as far as it stands above the ground."""
    above = np.flatnonzero(bank.crest_m > axis.z_m)
    first, last = max(above[0] - 1, 0), min(above[-1] + 1, len(axis.z_m) - 1)
    start, end = axis.distance_m[first], axis.distance_m[last]
    xy, run = line_points(bank.axis)
    at = np.concatenate(([start], run[(run > start) & (run < end)], [end]))
    x, y = np.interp(at, run, xy[:, 0]), np.interp(at, run, xy[:, 1])
    return np.column_stack((x, y, np.full(len(at), bank.crest_m)))


def _built_m3(shaper: Shaper, bank: Bank, settled: Patch, axis: Section) -> float:
    """Return the earth placed: the bank raised by its settlement, on the stripped ground."""
    ground = settled.ground
    if bank.settlement > 0:
        # It settles in proportion to its height: each place is built higher by the share of what
        # stands there.
        stands = np.where(settled.mask, np.maximum(shaper.low - ground.z, 0.0), 0.0)
        rise = bank.settlement * float(stands.sum()) * ground.cell_m**2
    else:
        rise = 0.0
    return earth(settled, bank.strip_m).fill_m3 + rise


def _trench_m3(bank: Bank, axis: Section) -> float:
    """Return the trench's volume, along the axis wherever the crest stands above the ground."""
    if bank.trench is None:
        return 0.0
    run = np.diff(axis.distance_m)
    height = bank.crest_m - axis.z_m
    under = (height[:-1] > 0) | (height[1:] > 0)
    return bank.trench.area_m2 * float(run[under].sum())


@dataclass(frozen=True, slots=True, eq=False)
class Pond:
    """The water a dam holds at its spillway's level."""

    dam: Dam
    water: Pool

    @property
    def water_per_earth(self) -> float:
        """Water held per earth placed: the higher, the better the place."""
        placed = self.dam.placed_m3
        return self.water.volume_m3 / placed if placed > 0 else math.nan

    @property
    def freeboard_m(self) -> float:
        """From the full water up to the settled crest."""
        return self.dam.bank.crest_m - self.water.level_m

    @property
    def holds(self) -> bool:
        """Whether the water stays behind the dam, on known ground."""
        return not (self.water.open or self.water.escaped)


def behind(dam_: Dam, level_m: float, basin: Basin) -> Pond:
    """Return the water behind a dam at a level, on the basin's ground.

    The ground must be the one the dam was built on, or its like. Raises `BadData` for a level
    above the crest.
    """
    if level_m > dam_.bank.crest_m:
        raise BadData(
            "the full water is above the dam's crest",
            remedy="Lower the spillway or raise the crest.",
        )
    ground = basin.ground
    if dam_.wet_toe_xy_m is None:
        raise BadData("no ground is known above this dam", remedy="Move the dam.")
    change = np.where(dam_.patch.mask, dam_.patch.levels.z - dam_.patch.ground.z, 0.0)
    laid = block_mean(ground, dam_.patch.levels, change)
    wall = _crest_line(dam_.bank, dam_.axis)
    water = basin.pool(
        dam_.wet_toe_xy_m,
        level_m,
        change=laid,
        wall_xyz_m=wall,
        beyond_xy_m=dam_.dry_toe_xy_m,
    )
    return Pond(dam_, water)


def _toes(
    patch: Patch, frame: LineFrame, water_right: bool, parts: int
) -> tuple[tuple[float, float] | None, tuple[float, float] | None]:
    """Return the lowest places just beyond the wet and the dry toe; None where there is none."""
    covered, cells = patch.mask, patch.ground
    near = covered.copy()
    for _ in range(2 * parts):
        grown = near.copy()
        grown[1:] |= near[:-1]
        grown[:-1] |= near[1:]
        grown[:, 1:] |= near[:, :-1]
        grown[:, :-1] |= near[:, 1:]
        near = grown
    ring = near & ~covered & (frame.past_m == 0) & ~np.isnan(cells.z)
    ring &= np.isfinite(frame.aside_m)
    found: list[tuple[float, float] | None] = []
    for right in (water_right, not water_right):
        side = ring & ((frame.aside_m > 0) if right else (frame.aside_m < 0))
        if not side.any():
            found.append(None)
            continue
        row, col = np.unravel_index(np.argmin(np.where(side, cells.z, np.inf)), cells.shape)
        found.append((float(cells.x_m()[col]), float(cells.y_m()[row])))
    return found[0], found[1]


def crest_for(
    fits: Callable[[float], float], low_m: float, high_m: float, within_m: float = 0.01
) -> float:
    """Return the lowest level at which `fits`, rising with the level, reaches 0.

    The straighter `fits` runs, the fewer levels are tried: cube roots of volumes do best.
    """
    under, over = fits(low_m), fits(high_m)
    if over < 0:
        raise BadData("no level within reach holds that much", remedy="Ask less, or move it.")
    if under >= 0:
        return low_m
    tried, side = 0, 0.4
    while high_m - low_m > within_m:
        tried += 1
        middle = (low_m + high_m) / 2
        # Halved by turns with what a straight line says, once that has had its chance.
        if (tried <= 4 or tried % 2) and math.isfinite(under) and math.isfinite(over):
            # A hair above where it should be, then below, so that both ends close in.
            aim = low_m + (high_m - low_m) * under / (under - over) + within_m * side
            hair, side = within_m / 8, -side
            middle = min(max(aim, low_m + hair), high_m - hair)
        found = fits(middle)
        if found >= 0:
            high_m, over = middle, found
        else:
            low_m, under = middle, found
    return high_m
