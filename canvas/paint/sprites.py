"""Small pictures painted once and used many times on screens. Safe to use from any thread."""

from __future__ import annotations

import math
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable

import numpy as np
import shiboken6
from numpy.typing import NDArray
from PySide6.QtCore import Qt
from PySide6.QtGui import QPainter, QPixmap

#: Sprites kept: a few tens of megabytes at most.
KEPT = 3000

_kept: OrderedDict[Hashable, QPixmap] = OrderedDict()
_lock = threading.Lock()


def sprite(
    key: Hashable,
    width_px: float,
    height_px: float,
    ratio: float,
    paint: Callable[[QPainter], None],
) -> QPixmap:
    """Return the picture called `key`, painted about its middle if it is not there yet.

    `ratio` is device pixels to a painter's pixel; the picture is that much finer.
    """
    with _lock:
        found = _kept.get(key)
        if found is not None:
            _kept.move_to_end(key)
            return found
    # Even sides, so that the middle lies between pixels as on the device.
    width = math.ceil(width_px * ratio / 2) * 2 + 2
    height = math.ceil(height_px * ratio / 2) * 2 + 2
    made = QPixmap(width, height)
    made.fill(Qt.GlobalColor.transparent)
    painter = QPainter(made)
    try:
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.translate(width / 2, height / 2)
        painter.scale(ratio, ratio)
        paint(painter)
    finally:
        # A painter left open on a picture that goes takes the process with it.
        painter.end()
    with _lock:
        _kept[key] = made
        while len(_kept) > KEPT:
            _kept.popitem(last=False)
    return made


def draw_many(painter: QPainter, picture: QPixmap, xy: NDArray[np.float64], ratio: float) -> None:
    """Draw a picture centred on points, shape (n, 2), in one call."""
    if not len(xy):
        return
    # Keep a name on the buffer: the painter reads it in place.
    buffer = np.zeros((len(xy), 10))
    buffer[:, :2] = xy
    buffer[:, 4], buffer[:, 5] = picture.width(), picture.height()
    buffer[:, 6] = buffer[:, 7] = 1.0 / ratio
    buffer[:, 9] = 1.0
    fragments = shiboken6.wrapInstance(buffer.ctypes.data, QPainter.PixmapFragment)
    painter.drawPixmapFragments(fragments, len(xy), picture)  # type: ignore[arg-type]
