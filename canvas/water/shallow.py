"""Shallow water over a ground: rain, soaking in, wetting and drying, crests and sills held.

The full shallow-water equations on a staggered grid (Stelling & Duinmeijer 2003): a lake stays at
rest with its shore, a sheet on a steep slope runs at Manning's depth, a jump keeps momentum.
Tiles of the grid step at their own pace; dry ones sleep. First order in space and time.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from canvas.base import pool
from canvas.base.errors import InputError
from canvas.base.grid import Floats
from canvas.base.sources import cites
from canvas.water import kernels as k
from canvas.water import survey_kernels as sk
from canvas.water.bed import Bed, find_rim, find_weirs, lay_still, lay_water
from canvas.water.cell_kernels import step_cells
from canvas.water.tiles import Ints, Pace, Tiling, pace

#: Share of the longest stable step that is taken.
SAFETY = 0.95
#: Longest step of any tile [s].
LONGEST_S = 60.0
#: A tile whose longest step falls to this share of the last beat's has a front come into it.
FRONT = 0.8
#: A front is taken to have crossed a tile after so many of its steps.
CROSSING = 48
#: What takes longer steps than this is no front [s].
SLOWEST_S = 2.0
#: Fewer tasks than this run in the calling thread: sharing would cost more than it saves.
_WORTH_SHARING = 150
#: What a task counts for when the pool decides whether to split.
_TASK_CELLS = 2_500


class Water:
    """The state of a run: depth and flow on a bed, at one time.

    Parameters
    ----------
    bed : Bed
        What the water runs over.
    depth_m : float or array
        Depth at the start, of the ground's shape.
    kinds : int
        How many rows the rain table has.
    """

    @cites("stelling2003", "villemonte1947")
    def __init__(self, bed: Bed, depth_m: ArrayLike = 0.0, *, kinds: int = 1) -> None:
        self.bed = bed
        self.tiling = Tiling(bed.ground.shape)
        self.cell_m = bed.ground.cell_m
        #: Time since the start [s].
        self.time_s = 0.0
        self._water = lay_water(bed, self.tiling, depth_m)
        self._still = lay_still(bed, self.tiling)
        strips, rows, cols = self.tiling.laid
        self._flow = np.zeros((strips, rows, 8, cols), np.float32)
        kind = np.zeros(bed.ground.shape) if bed.kind is None else np.asarray(bed.kind)
        if not ((kind >= 0) & (kind < kinds)).all():
            raise InputError(f"kinds of cells must lie in 0..{kinds - 1}")
        # Kind 0 of the kernels is a wall, on which nothing falls.
        kind = np.where(bed.missing, 0, kind + 1)
        self._kind = self.tiling.lay(kind, 0).astype(np.int16)
        self._rain = np.zeros((kinds + 1, 3))
        #: How many cells there are of each kind.
        self.cells_of_kind = np.bincount(kind.ravel().astype(int), minlength=kinds + 1)[1:]
        self._holds = self._kinds_of_tiles(kinds)
        self._weirs = find_weirs(bed, self.tiling)
        self._rim = find_rim(bed, self.tiling)
        count = self.tiling.count
        self._spring = np.zeros((0, 3), np.int32)
        self._supply = np.zeros(0)
        self._spring_start = np.zeros(count + 1, np.int32)
        self._beside = self.tiling.beside()
        self._passed = np.zeros((2, count, max(k.TILE_COLS, k.TILE_ROWS)))
        self._seen = np.zeros((4, *self._passed.shape[1:]))
        self._lost = np.zeros(count)
        self._tiles = np.zeros((count, sk.TILE_FIELDS))
        #: Volumes since the start [m³]: rained on (less losses), fed in, run off the edges.
        self.rained_m3 = self.fed_m3 = self.ran_off_m3 = 0.0
        #: Cells stepped so far.
        self.stepped = 0
        #: Depth at which water counts as arrived [m].
        self.arrived_m = 0.01
        self._peak = np.zeros((strips, rows, 3, cols))
        self._peak[:, :, 2] = np.nan
        everything = np.column_stack((np.arange(count), self.tiling.first(), np.zeros((count, 4))))
        self._survey(np.ascontiguousarray(everything, np.int32))
        # Each tile's longest step at the last survey, and until when a front may run in it.
        self._known = np.full(count, np.inf)
        self._restless = np.zeros(count)
        self._watch_fronts(np.arange(count))
        #: Longest beat just now: short while things change fast, growing while they don't.
        self._calm_s = 1e-3
        #: Water on the ground at the start [m³].
        self.start_m3 = self.volume_m3

    @property
    def rain(self) -> Floats:
        """The rain table, shape (kinds, 3); write into it between beats.

        Rain less losses [m/s], rate of soaking in [m/s], and Green–Ampt's suction times moisture
        deficit [m] (0 for a steady rate).
        """
        return self._rain[1:]

    def _kinds_of_tiles(self, kinds: int) -> NDArray[np.bool_]:
        """Return which kinds each tile holds, shape (tiles, kinds)."""
        down, along = self.tiling.tiles
        inner = self._kind[1:-1, 1:-1].reshape(along, down, -1).transpose(1, 0, 2)
        return np.stack([(inner == i + 1).any(axis=2).ravel() for i in range(kinds)], axis=1)

    def feed(self, cells: Sequence[tuple[int, int]], flow_m3s: ArrayLike) -> None:
        """Feed water into cells (row, col) from outside, until told otherwise [m³/s each]."""
        at = np.asarray(cells, np.int32).reshape(-1, 2)
        place = self.tiling.places(at[:, 0], at[:, 1])
        flow = np.broadcast_to(np.asarray(flow_m3s, float), (len(at),))
        order, self._spring_start = self.tiling.grouped(self.tiling.tile_of(place))
        self._spring = np.ascontiguousarray(place[order])
        self._supply = np.ascontiguousarray(flow[order]) / self.cell_m**2

    # What can be read between beats --------------------------------------------------------------

    def _of(self, laid: NDArray[np.floating]) -> Floats:
        return np.where(self.bed.missing, np.nan, self.tiling.grid(laid))

    def depth(self) -> Floats:
        """Return the depth of water [m], NaN where there is no ground."""
        return np.maximum(self._of(self._water[:, :, k.DEPTH]), 0.0)

    def flow(self) -> tuple[Floats, Floats]:
        """Return the unit flow through each cell's east and south face [m²/s], positive so."""
        flow = self._flow
        return self.tiling.grid(flow[:, :, k.Q1]), self.tiling.grid(flow[:, :, k.P1])

    def velocity(self) -> tuple[Floats, Floats]:
        """Return the speed eastward and southward at the cells' centres [m/s]."""
        u = self.tiling.grid(self._flow[:, :, k.U])
        v = self.tiling.grid(self._flow[:, :, k.V])
        wet = self.tiling.grid(self._water[:, :, k.DEPTH]) > k.FILM
        east = 0.5 * (u + np.pad(u, ((0, 0), (1, 0)))[:, :-1])
        south = 0.5 * (v + np.pad(v, ((1, 0), (0, 0)))[:-1])
        return np.where(wet, east, 0.0), np.where(wet, south, 0.0)

    def speed(self) -> Floats:
        """Return the speed of flow [m/s]; 0 where water is thinner than a film."""
        return np.where(self.bed.missing, np.nan, np.hypot(*self.velocity()))

    def soaked(self) -> Floats:
        """Return what has soaked in since the start [m]."""
        return self._of(self._water[:, :, k.SOAKED])

    def peaks(self) -> tuple[Floats, Floats, Floats]:
        """Return the greatest depth [m] and speed [m/s] so far, and when water arrived [s]."""
        return self._of(self._peak[:, :, 0]), self._of(self._peak[:, :, 1]), self._of(
            self._peak[:, :, 2]
        )  # fmt: skip

    def at_cells(self, cells: NDArray[np.integer]) -> Floats:
        """Return depth [m] and speed [m/s] in cells (row, column), shape (n, 2)."""
        strip, row, col = self.tiling.places(cells[:, 0], cells[:, 1]).T
        west = np.where(col > 0, col - 1, k.TILE_COLS - 1)
        flow = self._flow
        x = 0.5 * (flow[strip, row, k.U, col] + flow[strip - (col == 0), row, k.U, west])
        y = 0.5 * (flow[strip, row, k.V, col] + flow[strip, row - 1, k.V, col])
        depth = np.maximum(self._water[strip, row, k.DEPTH, col], 0.0)
        return np.column_stack((depth, np.where(depth > k.FILM, np.hypot(x, y), 0.0)))

    def at_faces(self, faces: NDArray[np.integer]) -> Floats:
        """Return the unit flow [m²/s] through faces (row, column, 0 east or 1 south)."""
        strip, row, col = self.tiling.places(faces[:, 0], faces[:, 1]).T
        which = np.where(faces[:, 2] == 0, k.Q1, k.P1)
        return np.asarray(self._flow[strip, row, which, col], np.float64)

    @property
    def weir_faces(self) -> Ints:
        """Held faces: row and column of the cell, 0 east or 1 south; shape (n, 3)."""
        return self._weirs.face

    def weir_flow(self) -> Floats:
        """Return the unit flow over each held face, east- or southward positive [m²/s]."""
        return self.at_faces(self._weirs.face)

    @property
    def volume_m3(self) -> float:
        """Water on the ground now [m³]."""
        return float(self._tiles[:, sk.HELD].sum()) * self.cell_m**2

    @property
    def soaked_m3(self) -> float:
        """Water soaked in since the start [m³]."""
        return float(self._water[:, :, k.SOAKED].sum()) * self.cell_m**2

    @property
    def mass_error_m3(self) -> float:
        """What the books lack: all that came less all that went and all that stands [m³]."""
        came = self.start_m3 + self.rained_m3 + self.fed_m3
        return came - self.ran_off_m3 - self.soaked_m3 - self.volume_m3

    # Stepping -----------------------------------------------------------------------------------

    def beat(self, most_s: float) -> float:
        """Take one long beat of at most `most_s` seconds; return its length [s]."""
        if not most_s > 0.0:
            raise InputError(f"a beat needs time to pass, got {most_s}")
        awake = self._awake()
        if not awake.any():
            self.time_s += most_s
            return most_s
        plan = self._plan(awake, most_s)
        for each in (self._passed, self._seen, self._lost):
            each.fill(0.0)
        self._run(plan)
        self.time_s += plan.long_s
        self.stepped += plan.work
        self.rained_m3 += float(self.cells_of_kind @ self.rain[:, 0]) * plan.long_s * self.cell_m**2
        self.fed_m3 += float(self._supply.sum()) * plan.long_s * self.cell_m**2
        self.ran_off_m3 += float(self._lost.sum())
        self._survey(plan.task)
        self._watch_fronts(plan.task[:, 0])
        self._pace_beats(plan)
        return plan.long_s

    def _watch_fronts(self, tiles: NDArray[np.integer]) -> None:
        """Note the tiles where something fast has come in: until it can have crossed them."""
        now = self._tiles[tiles, sk.WHOLE]
        came = now < FRONT * self._known[tiles]
        # A film that barely moves has steps without end: it is no front.
        self._restless[tiles[came]] = self.time_s + CROSSING * np.minimum(now[came], SLOWEST_S)
        self._known[tiles] = now

    def _pace_beats(self, plan: Pace) -> None:
        """Shorten the next beats when tiles came to need far finer steps than they took."""
        took = plan.dt_s * 2.0 ** plan.task[:, 3]
        least = float((self._tiles[plan.task[:, 0], sk.WHOLE] / took).min())
        if least < 0.95:
            self._calm_s = max(0.5 * plan.long_s, plan.dt_s)
        elif plan.long_s > 0.5 * self._calm_s:
            self._calm_s = min(1.1 * self._calm_s, LONGEST_S)

    def advance(self, until_s: float) -> None:
        """Step until the given time [s]."""
        while self.time_s < until_s:
            self.beat(until_s - self.time_s)

    def _awake(self) -> NDArray[np.bool_]:
        """Return which tiles take part: wet, beside wet ones, rained on or fed."""
        wet = np.pad((self._tiles[:, sk.DEEPEST] > k.FILM).reshape(self.tiling.tiles), 1)
        near = wet[1:-1, 1:-1] | wet[:-2, 1:-1] | wet[2:, 1:-1] | wet[1:-1, :-2] | wet[1:-1, 2:]
        rained = (self._holds & (self.rain[:, 0] > 0.0)).any(axis=1)
        held = self._tiles[:, sk.HELD] > 0.0
        soaking = (self._holds & (self.rain[:, 1] > 0.0)).any(axis=1) & held
        return np.asarray(near.ravel() | rained | soaking | (np.diff(self._spring_start) > 0))

    def _plan(self, awake: NDArray[np.bool_], most_s: float) -> Pace:
        allowed = SAFETY * self._tiles[:, sk.WHOLE :]
        longest = min(self._calm_s, most_s)
        restless = (self._restless > self.time_s) & awake
        if restless.any():
            # Where a front runs, the tiles beside it go at its pace, and no beat lets it pass them.
            allowed[restless, 1:] = allowed[restless, :1]
            longest = min(longest, k.TILE_ROWS * float(allowed[restless, 0].min()))
        plan = pace(self.tiling, allowed, awake, longest)
        if plan.long_s < most_s * (1.0 - 1e-9):
            return plan
        # End on the very second asked for.
        return Pace(most_s / 2**plan.top, plan.top, plan.task, plan.due, plan.work)

    def _run(self, plan: Pace) -> None:
        """Carry out one long beat: faces at the start of each step, cells at its end."""
        for step in range(2**plan.top):
            self._faces(plan, _due_at(step, plan.top))
            self._cells(plan, _due_at(step + 1, plan.top))

    def _faces(self, plan: Pace, beat: int) -> None:
        weirs = self._weirs

        def work(first: int, end: int) -> None:
            k.step_faces(
                self._water, self._still, self._flow, plan.task, first, end, beat, plan.dt_s,
                self.cell_m, weirs.listed, weirs.share, weirs.start, self._passed,
            )  # fmt: skip

        _share(int(plan.due[beat]), work)

    def _cells(self, plan: Pace, beat: int) -> None:
        rim = self._rim
        soaks = bool((self._rain[:, 1] > 0.0).any())

        def work(first: int, end: int) -> None:
            step_cells(
                self._water, self._still, self._flow, plan.task, first, end, beat, plan.dt_s,
                self.cell_m, self._passed, self._seen, self._beside, self._kind, self._rain,
                soaks, rim.place, rim.slope, rim.start, self._spring, self._supply,
                self._spring_start, self._lost,
            )  # fmt: skip

        _share(int(plan.due[beat]), work)

    def _survey(self, task: Ints) -> None:
        def work(first: int, end: int) -> None:
            sk.survey(
                self._water, self._still, self._flow, task, first, end, self.time_s,
                self.arrived_m, self.cell_m, self._peak, self._tiles,
            )  # fmt: skip

        _share(len(task), work)


def _share(due: int, work: Callable[[int, int], object]) -> None:
    """Carry out tasks 0..due, on all cores where that is worth it."""
    if due < _WORTH_SHARING:
        work(0, due)
    else:
        pool.over_rows((due, _TASK_CELLS), work)


def _due_at(step: int, top: int) -> int:
    """Return how often `step` divides by two: the highest level due at it."""
    return top if step == 0 else min((step & -step).bit_length() - 1, top)
