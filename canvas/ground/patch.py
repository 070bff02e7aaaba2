"""A patch: designed levels at an earthwork's own cell size, and the earth it moves."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LinearRing, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import InputError
from canvas.base.grid import Bounds, Floats, Grid
from canvas.ground import earth_kernels as kernels
from canvas.ground import tally_kernels as tally
from canvas.ground.contours import contours
from canvas.ground.crosssection import FREE_M, CrossSection
from canvas.ground.faces import HeldLine
from canvas.ground.frames import AnyGround, cells_of, wider
from canvas.ground.rings import areas_of, nested

Mask = NDArray[np.bool_]

#: Batters are followed this far before they are said not to meet the ground [m].
FAR_REACH_M = 160.0
#: Levels nearer than this are the same for a digger [m].
SAME_M = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class Patch:
    """Designed levels over a part of the ground; all its arrays share the same cells."""

    name: str
    #: Designed levels; NaN where the ground stays.
    levels: Grid
    #: The ground it was shaped on.
    ground: Grid
    #: Cells the earthwork is for: the pad, the carriageway, the channel.
    core: Mask
    #: See `bite_m`; a function is asked when first wanted.
    bite: Floats | Callable[[], Floats]
    #: Crests, sills and inverts, to be held on the base grid.
    lines: tuple[HeldLine, ...] = ()
    #: Level of the full water on the wet side of a channel's bank; NaN elsewhere.
    full: Grid | None = None
    #: When it is built: its phase's place in the order. Ties keep the order given.
    phase: int = 0
    #: False when a batter ran to the edge of the data or of reach without meeting the ground.
    meets: bool = True
    #: What is not earth, on top of the formation: topsoil, aggregate [m], or None.
    cover_m: Floats | None = None

    @property
    def bite_m(self) -> Floats:
        """How far the ground lies beyond the earthwork's bounds; above 0 where earth moves."""
        return self.bite() if callable(self.bite) else self.bite

    @property
    def mask(self) -> Mask:
        """Cells the patch decides."""
        return ~np.isnan(self.levels.z)

    @property
    def area_m2(self) -> float:
        """Plan area decided by the patch."""
        return float(self.mask.sum()) * self.levels.cell_m**2

    def surface(self) -> Grid:
        """Return the ground with the patch on it, on the patch's cells."""
        return self.levels.like(np.where(self.mask, self.levels.z, self.ground.z))

    def change_m(self) -> Floats:
        """Return designed less existing; 0 where the ground stays."""
        return np.asarray(np.nan_to_num(self.levels.z - self.ground.z), np.float64)

    def outline(self) -> MultiPolygon:
        """Return where earth is moved: the tops of cuts and the toes of fills."""
        return region(self.levels, np.where(self.core & self.mask, 1.0, self.bite_m))

    def built_in(self, phase: int) -> Patch:
        """Return the same patch in another phase."""
        return replace(self, phase=phase)


def region(cells: Grid, height_m: Floats) -> MultiPolygon:
    """Return where a surface on some cells lies above 0, cut at the 0 line between the cells."""
    cell_m = float(cells.cell_m)
    wide = np.empty((cells.shape[0] + 2, cells.shape[1] + 2))
    tally.rimmed(np.ascontiguousarray(height_m, np.float64), cell_m, wide)
    west, north = cells.west_m - cell_m, cells.north_m + cell_m
    shells: list[LinearRing] = []
    holes: list[LinearRing] = []
    for _, line in contours(Grid(wide, west, north, cell_m), 1e9):
        if len(line) > 3:
            (shells if _left(line) else holes).append(LinearRing(line))
    found = nested(shells, holes)
    if found.is_valid:
        return found
    # Heights of just 0 let rings touch, others and themselves: taken one by one.
    whole: BaseGeometry = Polygon()
    for ring in (*shells, *holes):
        for area in areas_of(Polygon(ring)):
            whole = shapely.symmetric_difference(whole, area)
    return MultiPolygon(areas_of(whole))


def _left(line: Floats) -> bool:
    """Return whether a closed line runs counter-clockwise (its inside is the higher ground)."""
    x, y = line[:, 0] - line[0, 0], line[:, 1] - line[0, 1]
    return float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1])) > 0


@dataclass(frozen=True, slots=True, eq=False)
class Shaped:
    """Levels an earthwork gives the ground."""

    levels: Floats
    #: Earth dug and placed, both as they lie [m³].
    cut_m3: float
    fill_m3: float
    meets: bool


@dataclass(slots=True, eq=False)
class Shaper:
    """Shapes the ground between two bounds, as often as asked: the bounds are made once.

    `low` and `high` are levels; `core` marks the cells shaping starts from.
    """

    ground: Grid
    low: Floats
    high: Floats
    core: Mask
    _state: NDArray[np.uint8] = field(init=False)
    _queue: NDArray[np.int32] = field(init=False)
    _out: Floats = field(init=False)
    _stamp: int = 0

    def __post_init__(self) -> None:
        """Make the work space."""
        self._state = np.ascontiguousarray(self.core).view(np.uint8).copy()
        self._queue = np.empty(self.core.size, np.int32)
        self._out = np.empty(self.core.shape)

    @classmethod
    def by_section(
        cls, ground: Grid, aside_m: Floats, level_m: Floats, section: CrossSection
    ) -> Shaper:
        """Return a shaper for a section at `aside_m` from its line, `level_m` its reference."""
        low, high = np.empty(ground.shape), np.empty(ground.shape)
        kernels.add_table(aside_m, section.low, level_m, low)
        kernels.add_table(aside_m, section.high, level_m, high)
        core = (aside_m >= section.core_m[0]) & (aside_m <= section.core_m[1])
        return cls(ground, low, high, core & ~np.isnan(low))

    def free(self, where: Mask) -> None:
        """Leave the ground as it is in some cells; shaping does not pass through them."""
        self.low[where], self.high[where] = -FREE_M, FREE_M
        self.core[where] = False
        self._state[where] &= 254

    def at(self, shift_m: float = 0.0, *, anew: bool = False) -> Shaped:
        """Return the ground shaped with both bounds raised; `levels` is only good until next.

        With `anew` they are the caller's to keep.
        """
        if anew:
            self._out = np.empty(self.core.shape)
        self._stamp += 2
        if self._stamp > 254:
            self._state &= 1
            self._stamp = 2
        cut, fill, edge = kernels.spread(
            self.ground.z,
            self.low,
            self.high,
            shift_m,
            self._state,
            self._stamp,
            self._out,
            self._queue,
        )
        cell = self.ground.cell_m**2
        return Shaped(self._out, cut * cell, fill * cell, not edge)

    def seen_at(self, cells: NDArray[np.int64]) -> Mask:
        """Return where the last run came, of some cells by their places in the flat array."""
        return np.asarray((self._state.ravel()[cells] & 254) == self._stamp)

    def bite_m(self, shift_m: float = 0.0) -> Floats:
        """Return how far the ground lies beyond the bounds where the last run came; −cell else."""
        out = np.empty(self.core.shape)
        kernels.bite(
            *(self.ground.z, self.low, self.high, shift_m),
            *(self._state, self._stamp, float(self.ground.cell_m), out),
        )
        return out

    def balance(
        self, cost: Callable[[float], float], low_m: float, high_m: float, within_m: float
    ) -> float:
        """Return the shift at which `cost`, falling as the shift rises, is 0 (Brent's method).

        Raises `InputError` when 0 does not lie between the two shifts.
        """
        from scipy.optimize import brentq

        over, under = cost(low_m), cost(high_m)
        if over < 0 or under > 0:
            raise InputError("no level in between balances")
        return float(brentq(cost, low_m, high_m, xtol=within_m))


def on_enough_ground(
    base: AnyGround,
    bounds: Bounds,
    parts: int,
    reach_m: float,
    make: Callable[[Grid, float], tuple[Shaper, Shaped]],
) -> tuple[Shaper, Shaped]:
    """Shape on ever wider cells until the batters meet the ground, or reach its end.

    `make` is given the cells with the ground and the reach, and returns a shaper and its run.
    """
    full = shapely.box(*base.bounds)
    while True:
        cells = cells_of(base, wider(bounds, reach_m), parts)
        shaper, shaped = make(cells, reach_m)
        done = shapely.box(*cells.bounds).covers(full)
        if shaped.meets or done or reach_m >= FAR_REACH_M:
            return shaper, shaped
        reach_m = min(2 * reach_m, FAR_REACH_M)


def finished(name: str, shaper: Shaper, shaped: Shaped, shift_m: float = 0.0) -> Patch:
    """Return the patch of a shaper's last run."""
    ground = shaper.ground
    return Patch(
        name,
        ground.like(shaped.levels.copy()),
        ground,
        shaper.core,
        shaper.bite_m(shift_m),
        meets=shaped.meets,
    )


@dataclass(frozen=True, slots=True)
class Earth:
    """What a patch moves; volumes in m³, each as it lies there: cut in the bank, fill in place."""

    cut_m3: float
    fill_m3: float
    #: Topsoil taken off first, and put back on what is to grow again.
    topsoil_off_m3: float
    topsoil_back_m3: float
    #: What else is laid on the formation (aggregate, lining), in place.
    laid_m3: float
    #: Plan area where earth is moved.
    area_m2: float
    deepest_cut_m: float
    highest_fill_m: float

    def left_over_m3(self, compacted_per_bank: float) -> float:
        """Return the cut that fill doesn't take [m³ in the bank]; below 0 where earth lacks."""
        return self.cut_m3 - self.fill_m3 / compacted_per_bank


def together(each: Sequence[Earth]) -> Earth:
    """Return what several patches move in all."""
    return Earth(
        cut_m3=sum(one.cut_m3 for one in each),
        fill_m3=sum(one.fill_m3 for one in each),
        topsoil_off_m3=sum(one.topsoil_off_m3 for one in each),
        topsoil_back_m3=sum(one.topsoil_back_m3 for one in each),
        laid_m3=sum(one.laid_m3 for one in each),
        area_m2=sum(one.area_m2 for one in each),
        deepest_cut_m=max((one.deepest_cut_m for one in each), default=0.0),
        highest_fill_m=max((one.highest_fill_m for one in each), default=0.0),
    )


def earth(patch: Patch, strip_m: float = 0.0) -> Earth:
    """Return what a patch moves, by the difference of its levels on its own cells.

    `strip_m` of topsoil is taken off wherever earth moves, before anything else; what of
    `patch.cover_m` lies on the core is laid material, beside the core it is topsoil put back.
    """
    cell = patch.levels.cell_m**2
    cover = np.zeros((1, 1)) if patch.cover_m is None else patch.cover_m
    arrays = (patch.levels.z, patch.ground.z, cover)
    z, ground, cover = (np.ascontiguousarray(each, np.float64) for each in arrays)
    cut, fill, cells, beside, laid, deepest, highest = tally.moved(
        z, ground, cover, np.ascontiguousarray(patch.core), strip_m
    )
    return Earth(
        cut_m3=float(cut) * cell,
        fill_m3=float(fill) * cell,
        topsoil_off_m3=strip_m * float(cells) * cell,
        topsoil_back_m3=float(beside) * cell,
        laid_m3=float(laid) * cell,
        area_m2=float(cells) * cell,
        deepest_cut_m=float(deepest),
        highest_fill_m=float(highest),
    )
