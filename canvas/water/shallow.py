"""Shallow water over a ground: rain, soaking in, wetting and drying, crests and sills held.

The full shallow-water equations on a staggered grid (Stelling & Duinmeijer 2003): a lake stays at
rest with its shore, a sheet on a steep slope runs at Manning's depth, a jump keeps momentum.
Tiles of the grid step at their own pace; dry ones sleep. First order in space and time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from canvas.base import pool
from canvas.base.errors import InputError
from canvas.base.grid import Floats, Grid
from canvas.ground.faces import Faces
from canvas.water import kernels as k
from canvas.water.tiles import Ints, Pace, Tiling, pace

#: Share of the longest stable step that is taken.
SAFETY = 0.8
#: Longest step of any tile [s].
LONGEST_S = 30.0
#: Tasks below this many run in the calling thread: sharing costs more than it saves.
_WORTH_SHARING = 80
#: Cells a task stands for when the pool decides whether to split.
_TASK_CELLS = 2_500


@dataclass(frozen=True, slots=True, eq=False)
class Bed:
    """The ground water runs over, and what it meets there.

    `manning`: n [s/m^1/3], one number or one per cell. `faces`: held crests and sills.
    `share_east`, `share_south`: part of a held face's width that is really crest (a sill crossing
    cells askew meets more face than it is long); 1 where not given. `shut`: edges that are walls
    ("north", "east", "south", "west"); water runs off over the others and into missing ground.
    `kind`: which entry of the rain table each cell takes (0 for all when not given).
    """

    ground: Grid
    manning: ArrayLike
    faces: Faces | None = None
    share_east: Floats | None = None
    share_south: Floats | None = None
    shut: frozenset[str] = frozenset()
    kind: NDArray[np.integer] | None = None


@dataclass(slots=True, eq=False)
class _Lists:
    """Cells and faces that need more than the common step, grouped by tile."""

    weir: Ints
    share: Floats
    weir_start: Ints
    #: Padded cells whose east or south face is held, with the axis, in the order of `weir`.
    weir_cell: Ints
    rim: Ints
    slope: Floats
    rim_start: Ints
    spring: Ints = field(default_factory=lambda: np.zeros((0, 2), np.int32))
    supply: Floats = field(default_factory=lambda: np.zeros(0))
    spring_start: Ints = field(default_factory=lambda: np.zeros(1, np.int32))


class Water:
    """The state of a run: depth and flow on a bed, at one time.

    `rain` (kinds, 3): rain less losses [m/s], rate of soaking in [m/s] and Green–Ampt's suction
    times moisture deficit [m], for each kind of cell; may be changed between beats.
    """

    def __init__(self, bed: Bed, depth_m: ArrayLike = 0.0, *, kinds: int = 1) -> None:
        self.bed = bed
        self.tiling = Tiling(bed.ground.shape)
        self.cell_m = bed.ground.cell_m
        self.time_s = 0.0
        self._dry = np.isnan(bed.ground.z)
        self.water = _water(bed, self.tiling, np.asarray(depth_m, np.float64))
        self._still = _still(bed, self.tiling, self.water[k.BED])
        self._flow = np.zeros((8, *self.tiling.padded), np.float32)
        self._kind = np.zeros(self.tiling.padded, np.int16)
        kind = np.zeros(bed.ground.shape, np.int16) if bed.kind is None else bed.kind
        # Kind 0 of the kernels is a wall, on which nothing falls.
        self._kind[self.tiling.inner] = np.where(self._dry, 0, kind + 1)
        self._rain = np.zeros((kinds + 1, 3))
        self.cells_of_kind = np.bincount(self._kind.ravel(), minlength=kinds + 1)[1:]
        self._holds = self._kinds_of_tiles(kinds)
        self._lists = _lists(bed, self.tiling, self.water[k.BED], self._still)
        count = self.tiling.count
        self._lists.spring_start = np.zeros(count + 1, np.int32)
        self._beside = self.tiling.beside()
        self._passed = np.zeros((2, count, k.TILE_COLS))
        self._seen = np.zeros((4, count, k.TILE_COLS))
        self._lost = np.zeros(count)
        self._tiles = np.zeros((count, 3))
        self._tiles[:, 0] = np.inf
        self._everything = self._all_tasks()
        #: Volumes since the start [m³]: rained on (less losses), fed in, run off the edges.
        self.rained_m3 = self.fed_m3 = self.ran_off_m3 = 0.0
        #: Cells stepped so far.
        self.stepped = 0
        #: Depth at which water counts as arrived [m].
        self.arrived_m = 0.01
        self.peak = np.zeros((3, *self.tiling.padded))
        self.peak[2] = np.nan
        self._survey(self._everything)
        self.start_m3 = self.volume_m3

    @property
    def rain(self) -> Floats:
        """The rain table, shape (kinds, 3); write into it."""
        return self._rain[1:]

    def _kinds_of_tiles(self, kinds: int) -> NDArray[np.bool_]:
        """Return which kinds each tile holds, shape (tiles, kinds)."""
        down, along = self.tiling.tiles
        cut = self._kind[1:-1, 1:-1].reshape(down, k.TILE_ROWS, along, k.TILE_COLS)
        held = [(cut == i + 1).any(axis=(1, 3)).ravel() for i in range(kinds)]
        return np.column_stack(held)

    def _all_tasks(self) -> Ints:
        count = self.tiling.count
        columns = (np.arange(count), self.tiling.first_cell(), np.zeros((count, 4)))
        return np.ascontiguousarray(np.column_stack(columns), np.int32)

    def feed(self, cells: Sequence[tuple[int, int]], flow_m3s: ArrayLike) -> None:
        """Feed water into cells of the grid from outside, until told otherwise [m³/s]."""
        at = np.asarray(cells, np.int32).reshape(-1, 2) + np.int32(1)
        flow = np.broadcast_to(np.asarray(flow_m3s, float), (len(at),))
        order, start = self.tiling.grouped(self.tiling.tile_of(at[:, 0], at[:, 1]))
        self._lists.spring = np.ascontiguousarray(at[order])
        self._lists.supply = np.ascontiguousarray(flow[order]) / self.cell_m**2
        self._lists.spring_start = start

    # What can be read at any time -------------------------------------------------------------

    def _of(self, values: Floats) -> Floats:
        return np.where(self._dry, np.nan, values[self.tiling.inner])

    def depth(self) -> Floats:
        """Return the depth of water [m], NaN where there is no ground."""
        return np.maximum(self._of(self.water[k.DEPTH]), 0.0)

    def speed(self) -> Floats:
        """Return the speed of flow [m/s]; 0 where water is thinner than a film."""
        u, v = self._flow[k.U].astype(np.float64), self._flow[k.V].astype(np.float64)
        x = 0.5 * (u + np.roll(u, 1, axis=1))
        y = 0.5 * (v + np.roll(v, 1, axis=0))
        return self._of(np.where(self.water[k.DEPTH] > k.FILM, np.hypot(x, y), 0.0))

    def soaked(self) -> Floats:
        """Return what has soaked in since the start [m]."""
        return self._of(self.water[k.SOAKED])

    @property
    def volume_m3(self) -> float:
        """Water on the ground now [m³]."""
        inside = self.water[k.DEPTH][self.tiling.inner]
        return float(inside[~self._dry].sum()) * self.cell_m**2

    @property
    def soaked_m3(self) -> float:
        """Water soaked in since the start [m³]."""
        return float(self.water[k.SOAKED][self.tiling.inner].sum()) * self.cell_m**2

    @property
    def mass_error_m3(self) -> float:
        """What the books lack: all that came less all that went and all that stands [m³]."""
        came = self.start_m3 + self.rained_m3 + self.fed_m3
        return came - self.ran_off_m3 - self.soaked_m3 - self.volume_m3

    # Stepping -----------------------------------------------------------------------------------

    def beat(self, most_s: float) -> float:
        """Take one long beat of at most `most_s` seconds; return its length [s]."""
        plan = self._plan(most_s)
        if plan is None:
            self.time_s += most_s
            return most_s
        self._passed.fill(0.0)
        self._seen.fill(0.0)
        self._lost.fill(0.0)
        self._run(plan)
        self.time_s += plan.long_s
        self.stepped += plan.work
        self.rained_m3 += float(self.cells_of_kind @ self.rain[:, 0]) * plan.long_s * self.cell_m**2
        self.fed_m3 += float(self._lists.supply.sum()) * plan.long_s * self.cell_m**2
        self.ran_off_m3 += float(self._lost.sum())
        self._survey(plan.task)
        return plan.long_s

    def advance(self, until_s: float) -> None:
        """Step until the given time [s]."""
        while self.time_s < until_s:
            self.beat(until_s - self.time_s)

    def _plan(self, most_s: float) -> Pace | None:
        """Decide which tiles take part and how fast each steps; None when nothing moves."""
        if most_s <= 0.0:
            raise InputError(f"a beat needs time to pass, got {most_s}")
        wet = self._tiles[:, 1] > k.FILM
        shape = self.tiling.tiles
        near = np.pad(wet.reshape(shape), 1)
        awake = near[:-2, 1:-1] | near[2:, 1:-1] | near[1:-1, :-2] | near[1:-1, 2:]
        awake = (awake | near[1:-1, 1:-1]).ravel()
        awake |= (self._holds & (self.rain[:, 0] > 0.0)).any(axis=1)
        awake |= (self._tiles[:, 2] != 0.0) & (self._holds & (self.rain[:, 1] > 0.0)).any(axis=1)
        awake |= np.diff(self._lists.spring_start) > 0
        if not awake.any():
            return None
        plan = pace(self.tiling, SAFETY * self._tiles[:, 0], awake, min(LONGEST_S, most_s))
        if plan.long_s > most_s * (1 - 1e-9):
            # End on the very second asked for.
            return Pace(most_s / 2**plan.top, plan.top, plan.task, plan.due, plan.work)
        return plan

    def _run(self, plan: Pace) -> None:
        """Carry out one long beat: short steps that matter little run in one go."""
        shared = plan.top + 1
        for level in range(plan.top, -1, -1):
            if plan.due[level] >= _WORTH_SHARING:
                shared = level
        short = 2 ** min(shared, plan.top)
        for start in range(0, 2**plan.top, short):
            self._faces(plan, _level_of(start, plan.top))
            for step in range(start, start + short - 1):
                self._cells(plan, _level_of(step + 1, plan.top))
                self._faces(plan, _level_of(step + 1, plan.top))
            self._cells(plan, _level_of(start + short, plan.top))

    def _share(self, due: int, work: object) -> None:
        call = work if callable(work) else None
        assert call is not None
        if due < _WORTH_SHARING:
            call(0, due)
        else:
            pool.over_rows((due, _TASK_CELLS), call)

    def _faces(self, plan: Pace, beat: int) -> None:
        lists = self._lists

        def work(first: int, end: int) -> None:
            k.step_faces(
                self.water, self._still, self._flow, plan.task, first, end, beat, plan.dt_s, self.cell_m,
                lists.weir, lists.share, lists.weir_start, self._passed,
            )  # fmt: skip

        self._share(int(plan.due[beat]), work)

    def _cells(self, plan: Pace, beat: int) -> None:
        lists = self._lists
        soaks = bool((self._rain[:, 1] > 0.0).any())

        def work(first: int, end: int) -> None:
            k.step_cells(
                self.water, self._still, self._flow, plan.task, first, end, beat, plan.dt_s,
                self.cell_m, self._passed, self._seen, self._beside, self._kind, self._rain, soaks, lists.rim, lists.slope,
                lists.rim_start, lists.spring, lists.supply, lists.spring_start, self._lost,
            )  # fmt: skip

        self._share(int(plan.due[beat]), work)

    def _survey(self, task: Ints) -> None:
        def work(first: int, end: int) -> None:
            k.survey(
                self.water, self._still, self._flow, task, first, end, self.time_s,
                self.arrived_m, self.cell_m, self.peak, self._tiles,
            )  # fmt: skip

        self._share(len(task), work)


def _level_of(step: int, top: int) -> int:
    """Return how often `step` divides by two: the level due at it."""
    return top if step == 0 else min((step & -step).bit_length() - 1, top)


def _water(bed: Bed, tiling: Tiling, depth_m: Floats) -> Floats:
    """Lay bed and depth into padded fields, walls all round and where there is no ground."""
    z = bed.ground.z
    if not np.isfinite(z).any():
        raise InputError("the ground has no heights")
    water = np.zeros((3, *tiling.padded))
    water[k.BED] = k.WALL
    water[k.BED][tiling.inner] = np.where(np.isnan(z), k.WALL, z)
    depth = np.where(np.isnan(z), 0.0, np.broadcast_to(depth_m, z.shape))
    if not (depth >= 0.0).all():
        raise InputError("depths must not be negative")
    water[k.DEPTH][tiling.inner] = depth
    return water


def _still(bed: Bed, tiling: Tiling, level: Floats) -> NDArray[np.float32]:
    """Lay roughness and what the faces hold into padded fields."""
    still = np.full((5, *tiling.padded), k.WALL, np.float32)
    manning = np.broadcast_to(np.asarray(bed.manning, float), bed.ground.shape)
    if not (manning > 0.0).all():
        raise InputError("Manning's n must be above 0 everywhere")
    still[k.N2] = 1e-3
    still[k.N2][tiling.inner] = manning**2
    faces = bed.faces or Faces.none(bed.ground.shape)
    rows, cols = bed.ground.shape
    held = np.maximum(level[:, :-1], level[:, 1:])
    inside = held[1 : rows + 1, 1:cols]
    np.maximum(inside, faces.east_m, out=inside)
    still[k.RISE_E][:, :-1] = held - level[:, :-1]
    still[k.RISE_E_BEYOND][:, :-1] = held - level[:, 1:]
    held = np.maximum(level[:-1], level[1:])
    inside = held[1:rows, 1 : cols + 1]
    np.maximum(inside, faces.south_m, out=inside)
    still[k.RISE_S][:-1] = held - level[:-1]
    still[k.RISE_S_BEYOND][:-1] = held - level[1:]
    return still


def _lists(bed: Bed, tiling: Tiling, level: Floats, still: NDArray[np.float32]) -> _Lists:
    """Find the held faces and the open rim."""
    weir, share, cell = _held_faces(bed, level, still)
    order, start = tiling.grouped(tiling.tile_of(cell[:, 0], cell[:, 1]))
    first = tiling.first_cell()[tiling.tile_of(cell[:, 0], cell[:, 1])]
    inside = cell - first
    place = (inside[:, 0] + 1) * k._W + k._LEFT + inside[:, 1]
    weirs = np.column_stack((weir, place)).astype(np.int32).reshape(-1, 2)[order]
    rim, slope = _open_rim(bed, level)
    rim_order, rim_start = tiling.grouped(tiling.tile_of(rim[:, 0], rim[:, 1]))
    return _Lists(
        np.ascontiguousarray(weirs),
        np.ascontiguousarray(share[order]),
        start,
        np.column_stack((cell, weir)).astype(np.int32).reshape(-1, 3)[order],
        np.ascontiguousarray(rim[rim_order]),
        np.ascontiguousarray(slope[rim_order]),
        rim_start,
    )


def _held_faces(
    bed: Bed, level: Floats, still: NDArray[np.float32]
) -> tuple[Ints, Floats, Ints]:
    """Return axis (0 east, 1 south), open share and padded cell of each face that is held up."""
    axes, shares, cells = [], [], []
    for axis, rise, beyond, given in (
        (0, k.RISE_E, k.RISE_E_BEYOND, bed.share_east),
        (1, k.RISE_S, k.RISE_S_BEYOND, bed.share_south),
    ):
        # A face as high as the higher of its two cells holds nothing of its own.
        held = (still[rise] > 1e-6) & (still[beyond] > 1e-6)
        held &= (level < k.WALL) & (np.roll(level, -1, axis=1 - axis) < k.WALL)
        row, col = np.nonzero(held)
        cells.append(np.column_stack((row, col)))
        axes.append(np.full(len(row), axis))
        shares.append(np.ones(len(row)) if given is None else given[row - 1, col - 1])
    return (
        np.concatenate(axes).astype(np.int32),
        np.concatenate(shares).astype(np.float64),
        np.concatenate(cells).astype(np.int32).reshape(-1, 2),
    )


def _open_rim(bed: Bed, level: Floats) -> tuple[Ints, Floats]:
    """Return the open sides of cells at the edges and beside missing ground, and their fall."""
    there = level < k.WALL
    rows, cols = bed.ground.shape
    row, col = np.nonzero(there)
    found, falls = [], []
    for side, dr, dc in (("north", -1, 0), ("south", 1, 0), ("west", 0, -1), ("east", 0, 1)):
        out = ~there[row + dr, col + dc]
        at_edge = {
            "north": row == 1, "south": row == rows, "west": col == 1, "east": col == cols,
        }[side]  # fmt: skip
        out &= ~at_edge if side in bed.shut else True
        r, c = row[out], col[out]
        back = level[r - dr, c - dc]
        fall = np.where(back < k.WALL, back - level[r, c], 0.0) / bed.ground.cell_m
        found.append(np.column_stack((r, c)))
        falls.append(np.maximum(fall, 0.0))
    return np.concatenate(found).astype(np.int32), np.concatenate(falls)
