"""Run a storm over the designed ground and keep what it did."""

from __future__ import annotations

import datetime
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from canvas import __version__
from canvas.base.grid import Grid
from canvas.base.progress import Progress, silent
from canvas.site.records import kind_of
from canvas.study.rains.keep import Keeping, SavedRun
from canvas.study.rains.setup import RainChoice, Setup, setup
from canvas.water.rainland import Overtopping, RainRun, rain_on_land

if TYPE_CHECKING:
    from canvas.study.study import Study

CAUTION = (
    "A model of one storm on a ground model, not a flood study. Losses, roughness and levels are "
    "estimates; blockages, slips and broken banks are not in it. What people or property depend "
    "on is for licensed practice and the local authority."
)
#: Cells stepped in a second of one quiet core, and cells stepped per cell and second of storm:
#: for the estimate before a run, from runs on the sample.
_SPEED, _STEPS = 15e6, 0.22


def estimate_s(made: Setup) -> float:
    """Return about how long a run will take on this machine's cores when they are free [s]."""
    from os import cpu_count

    cells = float(np.isfinite(made.bed.ground.z).sum())
    # The step is as long as the cell is wide.
    steps = _STEPS * made.length_s * 2.0 / made.bed.ground.cell_m
    return cells * steps / (_SPEED * min(cpu_count() or 1, 4))


def run(study: Study, folder: Path, choice: RainChoice, progress: Progress = silent) -> SavedRun:
    """Run the storm and keep it beside the site; `Cancelled` leaves nothing behind.

    Raises
    ------
    BadData
        There is no ground or no rain, or the cells don't fit the ground's.
    StoreTrouble
        The site's folder can't be written.
    """
    progress(0.0, "Laying out the ground")
    made = setup(study, choice)
    keeping = Keeping(folder, made.token)
    try:
        every = made.length_s / max(choice.moments - 1, 1)
        found = rain_on_land(
            made.bed, made.kinds, made.storm, depth_m=made.depth_m, length_s=made.length_s,
            points=made.points, lines=made.lines, watched=made.wet.sills(), frame_s=every,
            on_frame=keeping.moment, progress=progress,
        )  # fmt: skip
        return keeping.finish(_told(study, made, found), _maps(found), _series(found))
    except BaseException:
        keeping.give_up()
        raise


def _maps(found: RainRun) -> dict[str, NDArray[np.float32]]:
    grids = {
        "peak_depth": found.peak_depth, "peak_speed": found.peak_speed, "arrival": found.arrival,
        "end_depth": found.end_depth, "soaked": found.soaked,
    }  # fmt: skip
    return {name: grid.z.astype(np.float32) for name, grid in grids.items()}


def _series(found: RainRun) -> dict[str, NDArray[np.float64]]:
    made = {"off/time_s": found.off_time_s, "off/flow_m3s": found.off_m3s}
    for point in found.points:
        key = point.gauge.key
        made[f"{key}/time_s"] = point.time_s
        made[f"{key}/depth_m"], made[f"{key}/level_m"] = point.depth_m, point.level_m
        made[f"{key}/speed_m_s"] = point.speed_m_s
    for line in found.lines:
        made[f"{line.gauge.key}/time_s"] = line.time_s
        made[f"{line.gauge.key}/flow_m3s"] = line.flow_m3s
    return made


def _told(study: Study, made: Setup, found: RainRun) -> dict[str, Any]:
    """Return what is told of a run besides its maps: JSON values only, SI units."""
    ground, storm = made.bed.ground, made.storm
    deepest, fastest = _most(found.peak_depth), _most(found.peak_speed)
    now = datetime.datetime.now(datetime.UTC)
    books = asdict(found.books)
    return {
        "token": made.token,
        "made": now.isoformat(timespec="microseconds"),
        "version": __version__,
        "choice": asdict(made.choice),
        "parts": made.parts,
        "storm": {
            "said": made.rain.said(), "basis": made.rain.basis, "depth_mm": storm.depth_mm,
            "hours": storm.length_s / 3600.0, "peak_mm_h": storm.peak_mm_h, "label": storm.label,
        },
        "cell_m": ground.cell_m, "west_m": ground.west_m, "north_m": ground.north_m,
        "cells": int(np.isfinite(ground.z).sum()),
        "length_s": found.length_s,
        "took_s": found.clock_s,
        "cells_stepped": found.cells_stepped,
        "deepest": deepest, "fastest": fastest,
        "greatest_off_m3s": float(found.off_m3s.max()),
        "books_m3": {**books, "error_share": found.books.share},
        "overtopped": _overtopped(study, made, found.overtopping, ground),
        "gauges": [_gauge(record) for record in (*found.points, *found.lines)],
        "remarks": list(made.remarks),
        "caution": CAUTION,
    }  # fmt: skip


def _most(grid: Grid) -> dict[str, float]:
    """Return the greatest value of a grid and where it is."""
    at = np.unravel_index(int(np.nanargmax(grid.z)), grid.shape)
    return {
        "value": float(grid.z[at]),
        "x_m": float(grid.x_m()[at[1]]),
        "y_m": float(grid.y_m()[at[0]]),
    }


def _gauge(record: Any) -> dict[str, Any]:
    made = {"id": record.gauge.key, "name": record.gauge.label}
    if hasattr(record, "flow_m3s"):
        at = int(np.argmax(np.abs(record.flow_m3s)))
        return {**made, "peak_m3s": float(record.flow_m3s[at]), "volume_m3": record.volume_m3,
                "peak_s": float(record.time_s[at])}  # fmt: skip
    at = int(np.argmax(record.depth_m))
    return {**made, "deepest_m": float(record.depth_m[at]), "highest_m": float(record.level_m[at]),
            "fastest_m_s": float(record.speed_m_s.max()),
            "peak_s": float(record.time_s[at])}  # fmt: skip


def _overtopped(study: Study, made: Setup, over: Overtopping, ground: Grid) -> list[dict[str, Any]]:
    """Return what went over each work, by its sill or over its bank, the first first."""
    wet, rows = made.wet, []
    east = over.face[:, 2] == 0
    owner = np.where(
        east,
        wet.owner_east[over.face[:, 0], np.minimum(over.face[:, 1], wet.owner_east.shape[1] - 1)],
        wet.owner_south[np.minimum(over.face[:, 0], wet.owner_south.shape[0] - 1), over.face[:, 1]],
    )  # fmt: skip
    for number in np.unique(owner[owner != 0]):
        mine = np.flatnonzero((owner == number) & np.isfinite(over.first_s))
        if not len(mine):
            continue
        first = mine[int(np.argmin(over.first_s[mine]))]
        row, col, axis = (int(v) for v in over.face[first])
        ident = wet.owners[abs(int(number)) - 1]
        item = study.plan.get(ident)
        label = kind_of(item).label if item is not None else "Earthwork"
        half = 0.5 * ground.cell_m
        rows.append({
            "id": ident, "kind": label, "name": getattr(item, "name", ""),
            "over": "sill" if number > 0 else "bank",
            "first_s": float(over.first_s[first]),
            "x_m": float(ground.x_m()[col]) + (half if axis == 0 else 0.0),
            "y_m": float(ground.y_m()[row]) - (half if axis == 1 else 0.0),
            "volume_m3": float(np.abs(over.volume_m3[mine]).sum()),
            "peak_m2s": float(np.abs(over.peak_m2s[mine]).max()),
        })  # fmt: skip
    return sorted(rows, key=lambda row: float(row["first_s"]))
