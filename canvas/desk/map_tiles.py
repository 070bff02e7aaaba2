"""Background pictures in tiles: read off the interface thread, the latest used kept."""

from __future__ import annotations

import math
import os
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QImage, QPainter

from canvas.base.errors import UserError
from canvas.base.grid import Bounds
from canvas.desk.map_camera import Camera
from canvas.exchange.geotiff import OpenPicture, picture_frame

TILE_PX = 512
MOST_BYTES = 256 * 1024 * 1024
READERS = min(max(os.cpu_count() or 2, 2), 4)
#: A tile may be magnified so much before a finer one is read.
MAGNIFIED = 1.42
#: While tiles keep coming, the map is told at most this often [s].
TELL_EVERY_S = 0.25
#: Tiles foreseen of the next finer level, and of the next coarser one, at most.
FORESEEN_FINER, FORESEEN_COARSER = 48, 32
#: Nothing is foreseen once the tiles take this share of the memory they may.
FORESEE_WITHIN = 0.75
#: Coarser tiles this many levels up stand in until the right one is there.
STAND_INS = 6


@dataclass(frozen=True, slots=True)
class Sheet:
    """A background picture's file, where it lies [m] and its pixel size [m]."""

    file: str
    bounds: Bounds
    pixel_m: float


@dataclass(frozen=True, slots=True)
class Place:
    """A tile of a sheet: its pixels are 2^level of the sheet's; columns and rows from its NW.

    So tiles lie on the blocks the file is stored in, and are read without resampling.
    """

    sheet: Sheet
    level: int
    col: int
    row: int

    @property
    def size_m(self) -> float:
        """Side of the tile [m]."""
        return float(TILE_PX * 2.0**self.level * self.sheet.pixel_m)

    @property
    def bounds(self) -> Bounds:
        """West, south, east, north [m]."""
        size, (west, _, _, north) = self.size_m, self.sheet.bounds
        left, top = west + self.col * size, north - self.row * size
        return left, top - size, left + size, top

    def above(self) -> Place:
        """Return the coarser tile that holds this one."""
        return Place(self.sheet, self.level + 1, self.col // 2, self.row // 2)


#: None: the picture does not reach there.
Tile = QImage | None


class Tiles:
    """Tiles read so far, least recently used thrown out first. Safe from several threads."""

    def __init__(self, arrived: Callable[[], None], most_bytes: int = MOST_BYTES) -> None:
        self._arrived = arrived
        self._most = most_bytes
        self._bytes = 0
        self._told = 0.0
        self._readers = Readers()
        self._sheets: dict[str, Sheet | None] = {}
        self._kept: OrderedDict[Place, Tile] = OrderedDict()
        self._asked: set[Place] = set()
        self._wanted: frozenset[Place] = frozenset()
        self._foreseen: frozenset[Place] = frozenset()
        self._lock = threading.Lock()
        self._pool = ThreadPoolExecutor(READERS, thread_name_prefix="tiles")

    def want(self, files: Sequence[str], camera: Camera, seen: Bounds) -> None:
        """Have the tiles read that touch `seen`; `arrived` is called from a reader's thread."""
        missing = [
            place
            for file in files
            for place in self._places(file, camera)
            if _touch(place.bounds, seen) and not self._has(place)
        ]
        with self._lock:
            self._wanted = frozenset(missing)
            # What is wanted goes before what may be.
            self._foreseen = frozenset()
            fresh = [place for place in missing if place not in self._asked]
            self._asked.update(fresh)
        for place in fresh:
            self._pool.submit(self._read, place)

    def foresee(self, files: Sequence[str], camera: Camera, seen: Bounds) -> None:
        """Have the tiles read that zooming in or out from `seen` would need; for when it is calm.

        Whatever is wanted next puts an end to it.
        """
        west, south, east, north = seen
        wide, high = (east - west) / 2, (north - south) / 2
        around = (west - wide, south - high, east + wide, north + high)
        likely: list[Place] = []
        for file in files:
            sheet = self._sheet(file)
            if sheet is None:
                continue
            level = level_for(camera, sheet.pixel_m)
            likely += places_in(sheet, level + 1, around)[:FORESEEN_COARSER]
            if level > 0:
                likely += places_in(sheet, level - 1, seen)[:FORESEEN_FINER]
        with self._lock:
            if self._bytes > FORESEE_WITHIN * self._most:
                return
            fresh = [p for p in likely if p not in self._kept and p not in self._asked]
            self._foreseen = frozenset(fresh)
            self._asked.update(fresh)
        for place in fresh:
            self._pool.submit(self._read, place)

    def paint(self, painter: QPainter, file: str, camera: Camera) -> None:
        """Paint a picture's tiles over the view; coarser ones stand in for those not there."""
        for place in self._places(file, camera):
            self._paint_one(painter, place, camera)

    def has_all(self, files: Sequence[str], camera: Camera, seen: Bounds) -> bool:
        """Return whether every tile that touches `seen` is there."""
        return all(
            self._has(place)
            for file in files
            for place in self._places(file, camera)
            if _touch(place.bounds, seen)
        )

    @property
    def busy(self) -> bool:
        """Whether tiles that are wanted are being read."""
        with self._lock:
            return any(place in self._asked for place in self._wanted)

    @property
    def bytes(self) -> int:
        """Memory the tiles take."""
        with self._lock:
            return self._bytes

    def clear(self) -> None:
        """Forget every tile."""
        with self._lock:
            self._kept.clear()
            self._sheets.clear()
            self._readers.forget()
            self._bytes = 0
            self._wanted = self._foreseen = frozenset()

    def close(self) -> None:
        """Stop reading."""
        with self._lock:
            self._wanted = self._foreseen = frozenset()
        self._pool.shutdown(wait=True, cancel_futures=True)
        self._readers.close()

    def _places(self, file: str, camera: Camera) -> list[Place]:
        sheet = self._sheet(file)
        if sheet is None:
            return []
        return places_in(sheet, level_for(camera, sheet.pixel_m), camera.bounds())

    def _sheet(self, file: str) -> Sheet | None:
        """Return where a picture lies; None when it can't be read."""
        with self._lock:
            if file in self._sheets:
                return self._sheets[file]
        try:
            found: Sheet | None = Sheet(file, *picture_frame(Path(file)))
        except UserError:
            # Missing pictures are told of where sites are opened.
            found = None
        with self._lock:
            self._sheets[file] = found
        return found

    def _has(self, place: Place) -> bool:
        with self._lock:
            return place in self._kept

    def _get(self, place: Place) -> Tile:
        with self._lock:
            if place in self._kept:
                self._kept.move_to_end(place)
                return self._kept[place]
            return None

    def _paint_one(self, painter: QPainter, place: Place, camera: Camera) -> None:
        target = camera.rect_of(place.bounds)
        stand_in, source = place, QRectF(0, 0, TILE_PX, TILE_PX)
        for _ in range(STAND_INS):
            if self._has(stand_in):
                tile = self._get(stand_in)
                if tile is not None:
                    painter.drawImage(target, tile, source)
                return
            half = QRectF(0, 0, source.width() / 2, source.height() / 2)
            shift_x = (stand_in.col % 2) * TILE_PX / 2
            shift_y = (stand_in.row % 2) * TILE_PX / 2
            half.moveTo(source.x() / 2 + shift_x, source.y() / 2 + shift_y)
            stand_in, source = stand_in.above(), half

    def _read(self, place: Place) -> None:
        with self._lock:
            full = self._bytes > FORESEE_WITHIN * self._most
            if place not in self._wanted and (full or place not in self._foreseen):
                self._asked.discard(place)
                return
        tile = self._readers.read(place)
        with self._lock:
            self._asked.discard(place)
            self._kept[place] = tile
            self._bytes += tile.sizeInBytes() if tile is not None else 0
            while self._bytes > self._most and len(self._kept) > 1:
                _, old = self._kept.popitem(last=False)
                self._bytes -= old.sizeInBytes() if old is not None else 0
            now = time.monotonic()
            more = any(other in self._asked for other in self._wanted)
            tell = place in self._wanted and (not more or now - self._told > TELL_EVERY_S)
            if tell:
                self._told = now
        if tell:
            self._arrived()


def level_for(camera: Camera, pixel_m: float) -> int:
    """Return the coarsest tile level that still looks sharp, but none finer than the sheet."""
    device_m = MAGNIFIED * camera.pixel_m / camera.ratio
    return max(math.floor(math.log2(device_m / pixel_m)), 0)


def _touch(a: Bounds, b: Bounds) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def places_in(sheet: Sheet, level: int, bounds: Bounds) -> list[Place]:
    """Return the sheet's tiles of a level that touch `bounds`, nearest to their middle first."""
    size = TILE_PX * 2.0**level * sheet.pixel_m
    west, south, east, north = sheet.bounds
    most_cols, most_rows = math.ceil((east - west) / size), math.ceil((north - south) / size)
    first_col, first_row = (bounds[0] - west) / size, (north - bounds[3]) / size
    last_col, last_row = (bounds[2] - west) / size, (north - bounds[1]) / size
    cols = range(max(math.floor(first_col), 0), min(math.floor(last_col) + 1, most_cols))
    rows = range(max(math.floor(first_row), 0), min(math.floor(last_row) + 1, most_rows))
    middle_c, middle_r = (first_col + last_col - 1) / 2, (first_row + last_row - 1) / 2
    found = [Place(sheet, level, col, row) for row in rows for col in cols]
    return sorted(found, key=lambda p: (p.col - middle_c) ** 2 + (p.row - middle_r) ** 2)


class Readers:
    """Pictures held open, each by the thread that reads it."""

    def __init__(self) -> None:
        self._local = threading.local()
        self._lock = threading.Lock()
        self._open: list[OpenPicture] = []
        self._round = 0

    def forget(self) -> None:
        """Let every thread close what it holds open before it reads again."""
        with self._lock:
            self._round += 1

    def close(self) -> None:
        """Close everything; no thread reads any more."""
        with self._lock:
            for picture in self._open:
                picture.close()
            self._open.clear()

    def read(self, place: Place) -> Tile:
        """Read one tile; None where the picture does not reach or can't be read."""
        try:
            rgba = self._picture(place.sheet.file).window(place.bounds, TILE_PX, TILE_PX)
        except UserError:
            return None
        return image_of(rgba)

    def _picture(self, file: str) -> OpenPicture:
        held: dict[str, OpenPicture] = self._local.__dict__.setdefault("held", {})
        with self._lock:
            if self._local.__dict__.setdefault("round", self._round) != self._round:
                for picture in held.values():
                    picture.close()
                    self._open.remove(picture)
                held.clear()
                self._local.round = self._round
        if file not in held:
            held[file] = OpenPicture(Path(file))
            with self._lock:
                self._open.append(held[file])
        return held[file]


def image_of(rgba: NDArray[np.uint8]) -> Tile:
    """Return pixels (rows, cols, 4) as an image; None when all are clear."""
    alpha = rgba[..., 3]
    if not alpha.any():
        return None
    pixels = np.ascontiguousarray(rgba)
    rows, cols = pixels.shape[:2]
    image = QImage(pixels.data, cols, rows, cols * 4, QImage.Format.Format_RGBA8888)
    kinds = QImage.Format
    wanted = kinds.Format_RGB32 if bool((alpha == 255).all()) else kinds.Format_ARGB32_Premultiplied
    # The converted copy owns its pixels: the array may go.
    return image.convertToFormat(wanted, Qt.ImageConversionFlag.AutoColor)
