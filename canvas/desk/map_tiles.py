"""Background pictures in tiles: read off the interface thread, the latest used kept."""

from __future__ import annotations

import math
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QImage, QPainter

from canvas.base.errors import UserError
from canvas.base.grid import Bounds
from canvas.desk.map_camera import Camera
from canvas.exchange.rasters import picture_window

TILE_PX = 512
MOST_BYTES = 256 * 1024 * 1024
#: More readers would take the interface thread's turn on small machines.
READERS = 1
#: A tile may be magnified so much before a finer one is read.
MAGNIFIED = 1.34
#: While tiles keep coming, the map is told at most this often [s].
TELL_EVERY_S = 0.12
#: Coarser tiles this many levels up stand in until the right one is there.
STAND_INS = 6


@dataclass(frozen=True, slots=True)
class Place:
    """A tile: file, level (pixel size is 2^level m), column and row counted from the CRS origin."""

    file: str
    level: int
    col: int
    row: int

    @property
    def size_m(self) -> float:
        """Side of the tile [m]."""
        return float(TILE_PX * 2.0**self.level)

    @property
    def bounds(self) -> Bounds:
        """West, south, east, north [m]."""
        size = self.size_m
        return self.col * size, self.row * size, (self.col + 1) * size, (self.row + 1) * size

    def above(self) -> Place:
        """Return the coarser tile that holds this one."""
        return Place(self.file, self.level + 1, self.col // 2, self.row // 2)


#: None: the picture does not reach there.
Tile = QImage | None


class Tiles:
    """Tiles read so far, least recently used thrown out first. Safe from several threads."""

    def __init__(self, arrived: Callable[[], None], most_bytes: int = MOST_BYTES) -> None:
        self._arrived = arrived
        self._most = most_bytes
        self._bytes = 0
        self._told = 0.0
        self._kept: OrderedDict[Place, Tile] = OrderedDict()
        self._asked: set[Place] = set()
        self._wanted: frozenset[Place] = frozenset()
        self._lock = threading.Lock()
        self._pool = ThreadPoolExecutor(READERS, thread_name_prefix="tiles")

    def paint(
        self, painter: QPainter, file: str, camera: Camera, finest_m: float, seen: Bounds
    ) -> tuple[bool, bool]:
        """Paint a picture's tiles over the view.

        Return whether every tile that touches `seen` was the right one, and whether all were.
        Missing ones are asked for; `arrived` is called from a reader's thread as they come.
        """
        level = level_for(camera, finest_m)
        places = places_in(file, level, camera.bounds())
        missing = [place for place in places if not self._has(place)]
        for place in places:
            self._paint_one(painter, place, camera)
        self._ask(missing)
        return not any(_touch(place.bounds, seen) for place in missing), not missing

    @property
    def busy(self) -> bool:
        """Whether tiles that are wanted are being read."""
        with self._lock:
            return any(place in self._asked for place in self._wanted)

    def clear(self) -> None:
        """Forget every tile."""
        with self._lock:
            self._kept.clear()
            self._bytes = 0
            self._wanted = frozenset()

    def close(self) -> None:
        """Stop reading."""
        with self._lock:
            self._wanted = frozenset()
        self._pool.shutdown(wait=True, cancel_futures=True)

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
            shift_y = (1 - stand_in.row % 2) * TILE_PX / 2
            half.moveTo(source.x() / 2 + shift_x, source.y() / 2 + shift_y)
            stand_in, source = stand_in.above(), half

    def _ask(self, missing: list[Place]) -> None:
        with self._lock:
            self._wanted = frozenset(missing)
            fresh = [place for place in missing if place not in self._asked]
            self._asked.update(fresh)
        for place in fresh:
            self._pool.submit(self._read, place)

    def _read(self, place: Place) -> None:
        with self._lock:
            if place not in self._wanted:
                self._asked.discard(place)
                return
        tile = read_tile(place)
        with self._lock:
            self._asked.discard(place)
            self._kept[place] = tile
            self._bytes += tile.sizeInBytes() if tile is not None else 0
            while self._bytes > self._most and len(self._kept) > 1:
                _, old = self._kept.popitem(last=False)
                self._bytes -= old.sizeInBytes() if old is not None else 0
            now = time.monotonic()
            more = any(other in self._asked for other in self._wanted)
            tell = not more or now - self._told > TELL_EVERY_S
            if tell:
                self._told = now
        if tell:
            self._arrived()


def level_for(camera: Camera, finest_m: float) -> int:
    """Return the coarsest tile level that still looks sharp, but none finer than was made."""
    device_m = MAGNIFIED * camera.pixel_m / camera.ratio
    return max(math.floor(math.log2(device_m)), math.floor(math.log2(finest_m) + 1e-9))


def _touch(a: Bounds, b: Bounds) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def places_in(file: str, level: int, bounds: Bounds) -> list[Place]:
    """Return the tiles of a level that touch `bounds`, those nearest the middle first."""
    size = TILE_PX * 2.0**level
    cols = range(math.floor(bounds[0] / size), math.floor(bounds[2] / size) + 1)
    rows = range(math.floor(bounds[1] / size), math.floor(bounds[3] / size) + 1)
    middle_c = (bounds[0] + bounds[2]) / 2 / size - 0.5
    middle_r = (bounds[1] + bounds[3]) / 2 / size - 0.5
    found = [Place(file, level, col, row) for row in rows for col in cols]
    return sorted(found, key=lambda p: (p.col - middle_c) ** 2 + (p.row - middle_r) ** 2)


def read_tile(place: Place) -> Tile:
    """Read one tile; None where the picture does not reach or can't be read."""
    try:
        rgba = picture_window(Path(place.file), place.bounds, TILE_PX, TILE_PX)
    except UserError:
        return None
    if not rgba[..., 3].any():
        return None
    pixels = np.ascontiguousarray(rgba)
    image = QImage(pixels.data, TILE_PX, TILE_PX, TILE_PX * 4, QImage.Format.Format_RGBA8888)
    solid = bool((pixels[..., 3] == 255).all())
    wanted = QImage.Format.Format_RGB32 if solid else QImage.Format.Format_ARGB32_Premultiplied
    # The copy owns its pixels: the array may go.
    return image.convertToFormat(wanted, Qt.ImageConversionFlag.AutoColor)
