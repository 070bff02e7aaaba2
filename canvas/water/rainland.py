"""Rain a storm on the land: the two-dimensional run, its record and its books."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from canvas.base.errors import InputError
from canvas.base.grid import Floats, Grid
from canvas.base.progress import Progress, silent
from canvas.water.bed import Bed
from canvas.water.gauges import LineGauge, LineRecord, PointGauge, PointRecord, Recorder
from canvas.water.runoff import runoff_mm
from canvas.water.shallow import Water
from canvas.water.storms import Storm
from canvas.water.tiles import Ints

#: Rain is taken as even over this long [s].
WINDOW_S = 30.0
#: Unit flow that counts as overtopping a crest [m²/s].
OVERTOPS = 1e-4
#: The same for a sill no higher than the ground on both its sides: rain of its own runs over it.
SPILLS = 1e-3
#: Progress is told this often [s of clock].
_TOLD_S = 0.1


@dataclass(frozen=True, slots=True)
class LandKind:
    """What becomes of rain on one kind of land.

    `cn`: the curve number's losses come off the rain before it runs; None for none. What stands
    or runs soaks in at `soak_mm_h` besides: for beds of swales and ponds. With a curve number it is
    0 elsewhere, or the soil would be counted twice. Without one, `soak_mm_h` is the soil's
    conductivity and `suction_mm` Green–Ampt's suction times moisture deficit.
    """

    label: str
    cn: float | None = None
    soak_mm_h: float = 0.0
    suction_mm: float = 0.0

    def net_mm(self, rain_mm: ArrayLike) -> Floats:
        """Return the rain [mm] that is left to run of rain fallen so far."""
        if self.cn is None:
            return np.asarray(rain_mm, float)
        return runoff_mm(rain_mm, self.cn)


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """The water at one moment: depth [m] and speed [m/s], single precision, NaN off the ground."""

    time_s: float
    depth_m: NDArray[np.float32]
    speed_m_s: NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Overtopping:
    """What went over each held face that lies between two cells of ground."""

    #: Row, column and axis (0 the cell's east face, 1 its south face); shape (n, 3).
    face: NDArray[np.int32]
    #: When water first went over [s]; NaN where it never did.
    first_s: Floats
    #: Greatest unit flow [m²/s] and all that went over [m³], east- or southward positive.
    peak_m2s: Floats
    volume_m3: Floats

    def first(self) -> int | None:
        """Return which face was overtopped first; None when none was."""
        return None if np.isnan(self.first_s).all() else int(np.nanargmin(self.first_s))


@dataclass(frozen=True, slots=True)
class Books:
    """Where all the water came from and went [m³]."""

    start: float
    rain: float
    #: Kept back by the curve numbers' losses.
    lost: float
    soaked: float
    ran_off: float
    standing: float
    error: float

    @property
    def share(self) -> float:
        """The error as a share of all that came."""
        came = self.start + self.rain
        return abs(self.error) / came if came > 0.0 else 0.0


@dataclass(frozen=True, slots=True, eq=False)
class RainRun:
    """What a storm did on the land."""

    storm: Storm
    length_s: float
    #: Greatest depth [m] and speed [m/s], time water arrived [s], and depth at the end [m].
    peak_depth: Grid
    peak_speed: Grid
    arrival: Grid
    end_depth: Grid
    soaked: Grid
    overtopping: Overtopping
    points: tuple[PointRecord, ...]
    lines: tuple[LineRecord, ...]
    #: Flow off the edges: ends of beats [s] and mean flow of each [m³/s].
    off_time_s: Floats
    off_m3s: Floats
    books: Books
    cells_stepped: int
    clock_s: float


class _Overflow:
    """Adds up what goes over held faces, and over others that are watched."""

    def __init__(self, water: Water, watched: Ints | None) -> None:
        self._water = water
        weirs = water.weir_faces
        others = np.zeros((0, 3), np.int32) if watched is None else np.asarray(watched, np.int32)
        held = {tuple(face) for face in weirs.tolist()}
        fresh = np.array([tuple(face) not in held for face in others.tolist()], np.bool_)
        self._faces = np.concatenate((weirs, others[fresh])).astype(np.int32)
        count = len(self._faces)
        self._least = np.where(np.arange(count) < len(weirs), OVERTOPS, SPILLS)
        self._first = np.full(count, np.nan)
        self._peak = np.zeros(count)
        self._volume = np.zeros(count)
        self._last = np.zeros(count)

    def read(self, beat_s: float) -> None:
        flow = self._water.at_faces(self._faces)
        started = np.isnan(self._first) & (np.abs(flow) > self._least)
        self._first[started] = self._water.time_s
        bigger = np.abs(flow) > np.abs(self._peak)
        self._peak[bigger] = flow[bigger]
        self._volume += 0.5 * (flow + self._last) * beat_s * self._water.cell_m
        self._last = flow

    def told(self) -> Overtopping:
        return Overtopping(self._faces, self._first, self._peak, self._volume)


def rain_on_land(
    bed: Bed,
    kinds: Sequence[LandKind],
    storm: Storm,
    *,
    depth_m: ArrayLike = 0.0,
    length_s: float | None = None,
    points: Sequence[PointGauge] = (),
    lines: Sequence[LineGauge] = (),
    frame_s: float = 0.0,
    on_frame: Callable[[Frame], None] | None = None,
    watched: Ints | None = None,
    arrived_m: float = 0.01,
    progress: Progress = silent,
) -> RainRun:
    """Run a storm over the land, and on until `length_s` (the storm's own length when not given).

    Parameters
    ----------
    bed : Bed
        Ground, roughness, held crests; `bed.kind` says which of `kinds` each cell is.
    depth_m : float or array
        Water standing at the start: ponds full to their sills, for one.
    frame_s, on_frame
        `on_frame` is handed the water every `frame_s` seconds, the start and the end included.
    watched : array
        Faces whose overflow is told besides the held ones', (n, 3) as in `Overtopping.face`: sills
        that lie no higher than the ground.
    progress
        Told the share done; raises `Cancelled` to stop the run.
    """
    if not kinds:
        raise InputError("the land has no kinds")
    end = storm.length_s if length_s is None else length_s
    if not end > 0.0:
        raise InputError("a run needs time to pass")
    began = time.perf_counter()
    water = _begun(bed, kinds, depth_m, arrived_m)
    recorder = Recorder(water, tuple(points), tuple(lines))
    overflow = _Overflow(water, watched)
    off_time, off_flow = [0.0], [0.0]
    frames = _frames(end, frame_s) if on_frame is not None else np.zeros(0)
    shown, told = 0, began
    applied = np.zeros(len(kinds))
    while True:
        if on_frame is not None and shown < len(frames) and water.time_s >= frames[shown] - 1e-6:
            on_frame(_frame(water))
            shown += 1
        if water.time_s >= end:
            break
        most = ahead = min(WINDOW_S, end - water.time_s)
        water.rain[:, 0] = _due_mm(storm, kinds, water.time_s + ahead, applied) / 1000.0 / ahead
        if shown < len(frames):
            most = min(most, frames[shown] - water.time_s)
        before = water.ran_off_m3
        took = water.beat(most)
        applied += water.rain[:, 0] * 1000.0 * took
        off_time.append(water.time_s)
        off_flow.append((water.ran_off_m3 - before) / took)
        recorder.read()
        overflow.read(took)
        if time.perf_counter() - told > _TOLD_S:
            told = time.perf_counter()
            progress(water.time_s / end, f"{water.time_s / 3600.0:.1f} h of {end / 3600.0:.1f} h")
    progress(1.0)
    return _result(water, kinds, storm, recorder, overflow, np.array(off_time), np.array(off_flow),
                   time.perf_counter() - began)  # fmt: skip


def _begun(bed: Bed, kinds: Sequence[LandKind], depth_m: ArrayLike, arrived_m: float) -> Water:
    """Return the water before the rain, each kind of land soaking at its own rate."""
    water = Water(bed, depth_m, kinds=len(kinds))
    water.arrived_m = arrived_m
    water.rain[:, 1] = [kind.soak_mm_h / 3.6e6 for kind in kinds]
    water.rain[:, 2] = [kind.suction_mm / 1000.0 for kind in kinds]
    return water


def _due_mm(storm: Storm, kinds: Sequence[LandKind], until_s: float, applied_mm: Floats) -> Floats:
    """Return the rain up to a time less what has been given: in the end all has been given."""
    fallen = storm.at(until_s)
    due = np.array([float(kind.net_mm(fallen)) for kind in kinds]) - applied_mm
    return np.maximum(due, 0.0)


def _frames(end: float, frame_s: float) -> Floats:
    if not frame_s > 0.0:
        return np.array([0.0, end])
    return np.append(np.arange(0.0, end - 1e-6, frame_s), end)


def _frame(water: Water) -> Frame:
    return Frame(water.time_s, water.depth().astype(np.float32), water.speed().astype(np.float32))


def _result(
    water: Water,
    kinds: Sequence[LandKind],
    storm: Storm,
    recorder: Recorder,
    overflow: _Overflow,
    off_time_s: Floats,
    off_m3s: Floats,
    clock_s: float,
) -> RainRun:
    ground = water.bed.ground
    fallen = float(storm.at(water.time_s))
    cell_m2 = ground.cell_m**2
    rain = fallen / 1000.0 * float(water.cells_of_kind.sum()) * cell_m2
    net = np.array([float(kind.net_mm(fallen)) for kind in kinds])
    lost = rain - float(net @ water.cells_of_kind) / 1000.0 * cell_m2
    books = Books(
        water.start_m3, rain, lost, water.soaked_m3, water.ran_off_m3, water.volume_m3,
        water.start_m3 + rain - lost - water.soaked_m3 - water.ran_off_m3 - water.volume_m3,
    )  # fmt: skip
    depth, speed, arrival = (ground.like(values) for values in water.peaks())
    points, lines = recorder.records()
    return RainRun(
        storm, water.time_s, depth, speed, arrival, ground.like(water.depth()),
        ground.like(water.soaked()), overflow.told(), points, lines, off_time_s, off_m3s, books,
        water.stepped, clock_s,
    )  # fmt: skip
