"""Runs kept with the site, in `derived/`: whole or not at all, unchanging, free to be deleted."""

from __future__ import annotations

import json
import os
import secrets
import shutil
import time
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from canvas.base.errors import StoreTrouble
from canvas.base.grid import Bounds, Grid

if TYPE_CHECKING:
    from canvas.water.rainland import Frame

FOLDER = "derived"
PREFIX = "rain-"
PART = ".part-"
#: Changes when files written before can't be read any more; those are not listed then.
FORMAT = 1
#: Depths and speeds are kept as whole mm and mm/s; this stands for no ground.
NONE = np.uint16(65535)
#: Maps kept of a whole run.
MAPS = ("peak_depth", "peak_speed", "arrival", "end_depth", "soaked")
#: A run left unfinished so long ago [s] is not being made any more.
ABANDONED_S = 24 * 3600


@dataclass(frozen=True, slots=True, eq=False)
class SavedRun:
    """A run on the disk: what `told` says of it, and where its maps and moments lie."""

    folder: Path
    told: dict[str, Any]

    @property
    def token(self) -> str:
        """Its name."""
        return str(self.told["token"])

    @property
    def made(self) -> str:
        """When it was made, in ISO 8601."""
        return str(self.told["made"])

    @property
    def times_s(self) -> list[float]:
        """The moments that were kept [s]."""
        return [float(t) for t in self.told["moments_s"]]

    def _grid(self, z: NDArray[np.floating]) -> Grid:
        told = self.told
        return Grid(np.asarray(z, np.float64), told["west_m"], told["north_m"], told["cell_m"])

    def map(self, name: str) -> Grid:
        """Return one of `MAPS`."""
        return self._grid(_array(self.folder / "maps.npz", name))

    def moment(self, number: int) -> tuple[Grid, Grid]:
        """Return depth [m] and speed [m/s] at one of the moments that were kept."""
        depth, speed = (_back(each) for each in self.whole(number))
        return self._grid(depth), self._grid(speed)

    def whole(self, number: int) -> tuple[NDArray[np.uint16], NDArray[np.uint16]]:
        """Return depth [mm] and speed [mm/s] as they are kept; `NONE` where there is no ground."""
        return _moment(self.folder, number)

    @property
    def bounds(self) -> Bounds:
        """West, south, east, north of its cells."""
        told, (rows, cols) = self.told, self.whole(0)[0].shape
        west, north, cell = told["west_m"], told["north_m"], told["cell_m"]
        return west, north - rows * cell, west + cols * cell, north

    def series(self, key: str) -> dict[str, NDArray[np.float64]]:
        """Return what a gauge saw, by quantity; empty when it was not there."""
        with np.load(self.folder / "gauges.npz") as file:
            names = [name for name in file.files if name.startswith(f"{key}/")]
            return {name.split("/", 1)[1]: np.asarray(file[name]) for name in names}


@dataclass(frozen=True, slots=True, eq=False)
class Shelf:
    """The runs there are, newest first."""

    runs: tuple[SavedRun, ...] = ()

    def run(self, token: str) -> SavedRun | None:
        """Return the run called `token`, or the newest for ""; None when there is none."""
        if not token:
            return self.runs[0] if self.runs else None
        return next((run for run in self.runs if run.token == token), None)


EMPTY = Shelf()
_SEEN: dict[Path, tuple[tuple[str, ...], Shelf]] = {}


def shelf(folder: Path | None) -> Shelf:
    """Return the runs kept beside a site; the very same object while none comes or goes."""
    if folder is None:
        return EMPTY
    try:
        names = tuple(
            sorted(entry.name for entry in os.scandir(folder / FOLDER) if _is_run(entry.name))
        )
    except OSError:
        names = ()
    before = _SEEN.get(folder)
    if before is not None and before[0] == names:
        return before[1]
    runs = [run for name in names if (run := _read(folder / FOLDER / name)) is not None]
    made = Shelf(tuple(sorted(runs, key=lambda run: run.made, reverse=True)))
    _SEEN[folder] = (names, made)
    return made


def _is_run(name: str) -> bool:
    return name.startswith(PREFIX)


def _read(folder: Path) -> SavedRun | None:
    """Return a run; None for one that can't be read or is of another format."""
    try:
        told = json.loads((folder / "run.json").read_text("utf-8"))
    except (OSError, ValueError):
        return None
    if not isinstance(told, dict) or told.get("format") != FORMAT:
        return None
    return SavedRun(folder, told)


@lru_cache(maxsize=16)
def _array(path: Path, name: str) -> NDArray[np.float32]:
    with np.load(path) as file:
        return np.asarray(file[name])


@lru_cache(maxsize=48)
def _moment(folder: Path, number: int) -> tuple[NDArray[np.uint16], NDArray[np.uint16]]:
    with np.load(folder / f"moment-{number:04d}.npz") as file:
        return np.asarray(file["depth_mm"]), np.asarray(file["speed_mm_s"])


def _whole(values: NDArray[np.float32]) -> NDArray[np.uint16]:
    # Rounded up, so that the thinnest film that counts does not vanish.
    number = np.minimum(np.ceil(np.nan_to_num(values) * 1000.0 - 1e-3), 65534.0)
    return np.where(np.isnan(values), NONE, np.maximum(number, 0.0)).astype(np.uint16)


def _back(whole: NDArray[np.uint16]) -> NDArray[np.float32]:
    return np.where(whole == NONE, np.float32(np.nan), whole.astype(np.float32) / 1000.0)


class Keeping:
    """Writes a run beside its place and moves it there when it is whole; else leaves nothing."""

    def __init__(self, site: Path, token: str) -> None:
        self._home = site / FOLDER
        self.folder = self._home / f"{PREFIX}{token}"
        self._part = self._home / f"{PART}{secrets.token_hex(6)}"
        self._moments: list[float] = []
        self._guard(lambda: self._part.mkdir(parents=True))

    def _guard(self, write: Any) -> None:
        try:
            write()
        except OSError as err:
            raise StoreTrouble(
                f"the run could not be kept ({err.strerror})",
                where=str(self._home),
                remedy="Check that the site’s folder can be written and the disk has room.",
            ) from err

    def moment(self, frame: Frame) -> None:
        """Keep the water of one moment."""
        path = self._part / f"moment-{len(self._moments):04d}.npz"
        depth, speed = _whole(frame.depth_m), _whole(frame.speed_m_s)
        self._guard(lambda: np.savez_compressed(path, depth_mm=depth, speed_mm_s=speed))
        self._moments.append(frame.time_s)

    def finish(
        self,
        told: dict[str, Any],
        maps: dict[str, NDArray[np.float32]],
        gauges: dict[str, NDArray[np.float64]],
    ) -> SavedRun:
        """Write the rest and put the run in its place; one of the same name makes way."""
        whole = {**told, "format": FORMAT, "moments_s": self._moments}

        def write() -> None:
            np.savez_compressed(self._part / "maps.npz", allow_pickle=False, **maps)
            np.savez_compressed(self._part / "gauges.npz", allow_pickle=False, **gauges)
            text = json.dumps(whole, indent=1, ensure_ascii=False)
            (self._part / "run.json").write_text(text, "utf-8")
            if self.folder.exists():
                shutil.rmtree(self.folder)
            self._part.rename(self.folder)

        self._guard(write)
        _forget(self._home.parent)
        return SavedRun(self.folder, whole)

    def give_up(self) -> None:
        """Take away what was written so far."""
        shutil.rmtree(self._part, ignore_errors=True)


def _forget(site: Path) -> None:
    _SEEN.pop(site, None)
    _array.cache_clear()
    _moment.cache_clear()


def delete(site: Path, token: str) -> None:
    """Delete a run, and what broke off a day or more ago."""
    home = site / FOLDER
    shutil.rmtree(home / f"{PREFIX}{token}", ignore_errors=True)
    before = time.time() - ABANDONED_S
    for left in home.glob(f"{PART}*"):
        if left.stat().st_mtime < before:
            shutil.rmtree(left, ignore_errors=True)
    _forget(site)
