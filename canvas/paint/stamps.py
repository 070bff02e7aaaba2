"""Stamps: one design painted at many places, as vectors or from cached sprites.

Sprites are painted by the very function that paints vectors, once for each size in device pixels,
so that screen and paper show the same drawing.
"""

from __future__ import annotations

import math
import threading
from collections import OrderedDict

import numpy as np
import shiboken6
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QPainter, QPen, QPixmap

from canvas.drawing.designs import Design, design
from canvas.drawing.entries import Fill, Stamps, Stroke
from canvas.paint.shapes import Palette, brush_of, path_of, pen_of, polygon_of
from canvas.paint.view import View

#: Fewer stamps than this, or larger ones, are drawn as vectors: a sprite would not pay.
FEWEST = 40
LARGEST_PX = 160.0
#: Sprites kept: about 40 MB at most, far less in practice.
KEPT = 1500

_sprites: OrderedDict[tuple[object, ...], QPixmap] = OrderedDict()
_lock = threading.Lock()


def paint_stamps(painter: QPainter, stamps: Stamps, view: View, palette: Palette) -> None:
    """Paint all stamps that are in view."""
    per = view.per_unit if stamps.on_ground else view.mm_px
    size_px = np.asarray(stamps.size, float) * per
    seen = _in_view(stamps, view, size_px)
    if not seen.any():
        return
    xy, size_px = view.px(stamps.xy[seen]), size_px[seen]
    turns = stamps.turn_deg[seen] if stamps.turn_deg is not None else None
    small = size_px <= LARGEST_PX
    if view.vector or turns is not None or np.count_nonzero(small) < FEWEST:
        _vectors(painter, stamps, xy, size_px, turns, view, palette)
        return
    _from_sprites(painter, stamps, xy[small], size_px[small], view, palette)
    if not small.all():
        _vectors(painter, stamps, xy[~small], size_px[~small], None, view, palette)


def _in_view(stamps: Stamps, view: View, size_px: NDArray[np.float64]) -> NDArray[np.bool_]:
    west, south, east, north = view.clip
    margin = size_px / view.per_unit
    x, y = stamps.xy[:, 0], stamps.xy[:, 1]
    seen: NDArray[np.bool_] = (
        (x >= west - margin) & (x <= east + margin) & (y >= south - margin) & (y <= north + margin)
    )
    return seen


def _vectors(
    painter: QPainter,
    stamps: Stamps,
    xy: NDArray[np.float64],
    size_px: NDArray[np.float64],
    turns: NDArray[np.float64] | None,
    view: View,
    palette: Palette,
) -> None:
    shapes = design(stamps.symbol)
    pen = pen_of(stamps.stroke, palette, view.mm_px, view.vector) if stamps.stroke else None
    for i in range(len(xy)):
        turn = float(turns[i]) if turns is not None else 0.0
        _paint_design(
            painter,
            shapes,
            xy[i],
            float(size_px[i]),
            turn,
            pen,
            stamps.fill,
            stamps.stroke,
            palette,
        )


def _paint_design(
    painter: QPainter,
    shapes: Design,
    at: NDArray[np.float64],
    size_px: float,
    turn_deg: float,
    pen: QPen | None,
    fill: Fill | None,
    stroke: Stroke | None,
    palette: Palette,
) -> None:
    """Paint one design; `turn_deg` is clockwise, designs have y up."""
    cos, sin = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    spin = np.array([[cos, sin], [sin, -cos]]) * size_px
    for shape in shapes:
        painter.setPen(pen if pen is not None and shape.outline else Qt.PenStyle.NoPen)
        if shape.fill == "fill" and fill is not None:
            painter.setBrush(brush_of(fill.role, palette, fill.alpha))
        elif shape.fill == "stroke" and stroke is not None:
            painter.setBrush(brush_of(stroke.role, palette, stroke.alpha))
        else:
            painter.setBrush(Qt.BrushStyle.NoBrush)
        points = shape.points @ spin + at
        if shape.radius:
            radius = shape.radius * size_px
            painter.drawEllipse(QPointF(*points[0]), radius, radius)
        elif shape.closed:
            painter.drawPath(path_of([points], close=True))
        else:
            painter.drawPolyline(polygon_of(points))


def _from_sprites(
    painter: QPainter,
    stamps: Stamps,
    xy: NDArray[np.float64],
    size_px: NDArray[np.float64],
    view: View,
    palette: Palette,
) -> None:
    ratio = painter.device().devicePixelRatio()
    # Small symbols come in whole pixels, large ones in steps of a twelfth: at most 4 % off, and
    # few enough to paint while zooming.
    steps = np.where(
        size_px < 24, np.maximum(np.round(size_px), 2), 24 * 2 ** (np.round(
            np.log2(np.maximum(size_px, 1) / 24) * 12) / 12),
    )  # fmt: skip
    for step in np.unique(steps):
        pixmap = _sprite(stamps, float(step), view, palette, ratio)
        here = xy[steps == step]
        # Keep a name on the buffer: the painter reads it in place.
        buffer = np.zeros((len(here), 10))
        buffer[:, :2] = here
        buffer[:, 4], buffer[:, 5] = pixmap.width(), pixmap.height()
        buffer[:, 6] = buffer[:, 7] = 1.0 / ratio
        buffer[:, 9] = 1.0
        fragments = shiboken6.wrapInstance(buffer.ctypes.data, QPainter.PixmapFragment)
        painter.drawPixmapFragments(fragments, len(here), pixmap)  # type: ignore[arg-type]


def _sprite(stamps: Stamps, size_px: float, view: View, palette: Palette, ratio: float) -> QPixmap:
    stroke, fill = stamps.stroke, stamps.fill
    inks = tuple(palette[ink.role] for ink in (stroke, fill) if ink is not None)
    key = (stamps.symbol, size_px, stroke, fill, inks, round(view.mm_px, 4), ratio)
    with _lock:
        found = _sprites.get(key)
        if found is not None:
            _sprites.move_to_end(key)
            return found
    width = (stroke.width_mm * view.mm_px if stroke else 0.0) + 2
    side = math.ceil((size_px + width) * ratio / 2) * 2 + 2
    pixmap = QPixmap(side, side)
    pixmap.fill(Qt.GlobalColor.transparent)
    painter = QPainter(pixmap)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.translate(side / 2, side / 2)
    painter.scale(ratio, ratio)
    pen = pen_of(stroke, palette, view.mm_px, False) if stroke else None
    _paint_design(
        painter, design(stamps.symbol), np.zeros(2), size_px, 0.0, pen, fill, stroke, palette
    )
    painter.end()
    with _lock:
        _sprites[key] = pixmap
        while len(_sprites) > KEPT:
            _sprites.popitem(last=False)
    return pixmap
