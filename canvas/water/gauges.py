"""Gauges in a run of rain on the land: points and lines that keep a record."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from canvas.base.errors import InputError
from canvas.base.grid import Floats, Grid
from canvas.water.hydrographs import Hydrograph
from canvas.water.shallow import Water


@dataclass(frozen=True, slots=True)
class PointGauge:
    """A staff in the water: depth, level and speed in its cell."""

    key: str
    x_m: float
    y_m: float
    label: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class LineGauge:
    """A line across the flow, `xy_m` (n, 2): flow from its left to its right counts positive."""

    key: str
    xy_m: Floats
    label: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class PointRecord:
    """What a point gauge saw."""

    gauge: PointGauge
    time_s: Floats
    depth_m: Floats
    level_m: Floats
    speed_m_s: Floats


@dataclass(frozen=True, slots=True, eq=False)
class LineRecord:
    """What passed a line gauge [m³/s]; negative from right to left."""

    gauge: LineGauge
    time_s: Floats
    flow_m3s: Floats

    @property
    def volume_m3(self) -> float:
        """What passed in all."""
        q, t = self.flow_m3s, self.time_s
        return float((0.5 * (q[1:] + q[:-1]) * np.diff(t)).sum())

    def hydrograph(self, step_s: float) -> Hydrograph:
        """Return the flow from left to right at equal steps."""
        count = int(np.ceil(self.time_s[-1] / step_s)) + 1
        flow = np.interp(np.arange(count) * step_s, self.time_s, self.flow_m3s)
        return Hydrograph(step_s, np.maximum(flow, 0.0))


def faces_across(grid: Grid, xy_m: Floats) -> NDArray[np.int64]:
    """Return the faces of cells a line is drawn along: row, column, 0 east or 1 south, sign.

    The line is laid on the nearest edges of cells; shape (n, 4). Sign 1 where flow east- or
    southward runs from the line's left to its right.
    """
    points = np.asarray(xy_m, float)
    if points.ndim != 2 or points.shape[1] != 2 or len(points) < 2:
        raise InputError(f"a line needs (n, 2) points, got {points.shape}")
    rows, cols = grid.shape
    col = np.clip(np.rint((points[:, 0] - grid.west_m) / grid.cell_m), 0, cols).astype(int)
    row = np.clip(np.rint((grid.north_m - points[:, 1]) / grid.cell_m), 0, rows).astype(int)
    found: list[tuple[int, int, int, int]] = []
    for i in range(len(points) - 1):
        found += _stairs(int(row[i]), int(col[i]), int(row[i + 1]), int(col[i + 1]))
    inside = [f for f in found if 0 <= f[0] < rows - f[2] and 0 <= f[1] < cols - (1 - f[2])]
    return np.array(inside, np.int64).reshape(-1, 4)


def _stairs(r: int, c: int, r1: int, c1: int) -> list[tuple[int, int, int, int]]:
    """Walk from corner to corner of cells along their edges, near the straight line."""
    dr, dc = r1 - r, c1 - c
    down, along = (1 if dr > 0 else -1), (1 if dc > 0 else -1)
    walked_r, walked_c = 0, 0
    found = []
    while walked_r < abs(dr) or walked_c < abs(dc):
        by_col = (walked_c + 0.5) * abs(dr) < (walked_r + 0.5) * abs(dc)
        if walked_c < abs(dc) and (by_col or walked_r >= abs(dr)):
            # Eastward, the right hand is south.
            found.append((r - 1, c if along > 0 else c - 1, 1, along))
            c += along
            walked_c += 1
        else:
            # Southward, the right hand is west.
            found.append((r if down > 0 else r - 1, c - 1, 0, -down))
            r += down
            walked_r += 1
    return found


@dataclass(slots=True, eq=False)
class Recorder:
    """Reads the gauges of a run after every beat."""

    water: Water
    points: tuple[PointGauge, ...]
    lines: tuple[LineGauge, ...]
    _cells: NDArray[np.int64] = field(init=False)
    _faces: list[NDArray[np.int64]] = field(init=False)
    _times: list[float] = field(default_factory=list)
    _seen: list[Floats] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Find the gauges' cells and faces."""
        grid = self.water.bed.ground
        cells = []
        for gauge in self.points:
            cell = grid.cell_at(gauge.x_m, gauge.y_m)
            if cell is None or np.isnan(grid.z[cell]):
                raise InputError(f"gauge {gauge.label or gauge.key} stands outside the ground")
            cells.append(cell)
        self._cells = np.array(cells, np.int64).reshape(-1, 2)
        self._faces = [faces_across(grid, line.xy_m) for line in self.lines]
        self.read()

    def read(self) -> None:
        """Read every gauge now."""
        self._times.append(self.water.time_s)
        parts = [self.water.at_cells(self._cells)]
        for faces in self._faces:
            flow = self.water.at_faces(faces[:, :3]) * faces[:, 3]
            parts.append(np.array([flow.sum() * self.water.cell_m]))
        self._seen.append(np.concatenate([p.ravel() for p in parts]))

    def records(self) -> tuple[tuple[PointRecord, ...], tuple[LineRecord, ...]]:
        """Return what all gauges have seen."""
        time, seen = np.array(self._times), np.array(self._seen)
        z = self.water.bed.ground.z
        points = []
        for i, gauge in enumerate(self.points):
            depth, speed = seen[:, 2 * i], seen[:, 2 * i + 1]
            level = z[tuple(self._cells[i])] + depth
            points.append(PointRecord(gauge, time, depth, level, speed))
        first = 2 * len(self.points)
        lines = [LineRecord(g, time, seen[:, first + j]) for j, g in enumerate(self.lines)]
        return tuple(points), tuple(lines)
