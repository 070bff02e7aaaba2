"""Stamps: one design painted at many places, as vectors or from cached sprites.

Sprites are painted by the very function that paints vectors, once for each size in device pixels,
so that screen and paper show the same drawing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import groupby

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import Qt
from PySide6.QtGui import QBrush, QPainter, QPen

from canvas.drawing.designs import Shape, design
from canvas.drawing.entries import Stamps
from canvas.paint.shapes import (
    CURVE,
    CURVE_DATA,
    LINE,
    MOVE,
    Palette,
    brush_of,
    path_read,
    path_streams,
    pen_of,
)
from canvas.paint.sprites import draw_many, sprite
from canvas.paint.view import View

#: Fewer stamps than this, or larger ones, are drawn as vectors: a sprite would not pay.
FEWEST = 40
LARGEST_PX = 160.0
#: On paper below this a crown's edge takes half its points: the sag is 0.03 mm at most.
COARSE_BELOW_MM = 7.0


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


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """Shapes of a design that are painted alike, as one path in the design's own square."""

    what: NDArray[np.int32]
    xy: NDArray[np.float64]
    last_start: int
    fill: str
    outline: bool


#: Control points of a quarter circle lie this share of the radius along its tangents.
_QUARTER = 4.0 / 3.0 * (math.sqrt(2.0) - 1.0)


Parts = tuple[_Part, ...]


def _circle(shape: Shape) -> tuple[NDArray[np.int32], NDArray[np.float64]]:
    """Return a disc as four curves."""
    k = _QUARTER
    unit = [(1, 0), (1, k), (k, 1), (0, 1), (-k, 1), (-1, k), (-1, 0), (-1, -k), (-k, -1), (0, -1),
            (k, -1), (1, -k), (1, 0)]  # fmt: skip
    what = [MOVE, *(CURVE, CURVE_DATA, CURVE_DATA) * 4]
    return np.array(what, np.int32), np.array(unit) * shape.radius + shape.points[0]


def _outline(shape: Shape, coarse: bool) -> tuple[NDArray[np.int32], NDArray[np.float64]]:
    if shape.radius:
        return _circle(shape)
    points = shape.points
    if coarse and len(points) > 40 and len(points) % 2 == 0:
        points = points[::2]
    if shape.closed:
        points = np.vstack([points, points[:1]])
    what = np.full(len(points), LINE, np.int32)
    what[0] = MOVE
    return what, points


@lru_cache(maxsize=256)
def _parts(symbol: str, coarse: bool) -> Parts:
    """Return a design's shapes in their order, neighbours that look alike joined."""
    parts: list[_Part] = []
    alike = groupby(design(symbol), key=lambda s: (s.fill, s.outline, s.closed and bool(s.fill)))
    for (fill, outline, filled), shapes in alike:
        drawn = [_outline(shape, coarse) for shape in shapes]
        # Filled ones stay apart: where they overlap, one path would leave holes.
        for group in [[each] for each in drawn] if filled else [drawn]:
            start = sum(len(what) for what, _ in group[:-1])
            what = np.concatenate([each[0] for each in group])
            xy = np.concatenate([each[1] for each in group])
            parts.append(_Part(what, xy, start, fill, outline))
    return tuple(parts)


def _vectors(
    painter: QPainter,
    stamps: Stamps,
    xy: NDArray[np.float64],
    size_px: NDArray[np.float64],
    turns: NDArray[np.float64] | None,
    view: View,
    palette: Palette,
) -> None:
    inks = _Inks.of(stamps, view, palette)
    coarse = view.vector & (size_px < COARSE_BELOW_MM * view.mm_px)
    for wanted in (False, True):
        here = coarse == wanted
        if here.any():
            turned = turns[here] if turns is not None else None
            parts = _parts(stamps.symbol, wanted)
            _paint_parts(painter, parts, xy[here], size_px[here], turned, inks, view.vector)


@dataclass(frozen=True, slots=True)
class _Inks:
    """Pen and brushes of one entry, made once."""

    pen: QPen
    none: QPen
    brushes: dict[str, QBrush]

    @classmethod
    def of(cls, stamps: Stamps, view: View, palette: Palette) -> _Inks:
        fill, stroke = stamps.fill, stamps.stroke
        none = QPen(Qt.PenStyle.NoPen)
        empty = QBrush(Qt.BrushStyle.NoBrush)
        return cls(
            pen_of(stroke, palette, view.mm_px, view.vector) if stroke else none,
            none,
            {
                "": empty,
                "fill": brush_of(fill.role, palette, fill.alpha) if fill else empty,
                "stroke": brush_of(stroke.role, palette, stroke.alpha) if stroke else empty,
            },
        )


def _paint_parts(
    painter: QPainter,
    parts: Parts,
    at: NDArray[np.float64],
    size_px: NDArray[np.float64],
    turns_deg: NDArray[np.float64] | None,
    inks: _Inks,
    vector: bool,
) -> None:
    """Paint a design at each place; turns are clockwise, designs have y up."""
    ready = []
    for part in parts:
        points = _laid_out(part.xy, at, size_px, turns_deg)
        streams = path_streams(part.what, np.round(points) if vector else points, part.last_start)
        ready.append((inks.pen if part.outline else inks.none, inks.brushes[part.fill], streams))
    for i in range(len(at)):
        for pen, brush, streams in ready:
            painter.setPen(pen)
            painter.setBrush(brush)
            painter.drawPath(path_read(streams[i]))


def _laid_out(
    xy: NDArray[np.float64],
    at: NDArray[np.float64],
    size_px: NDArray[np.float64],
    turns_deg: NDArray[np.float64] | None,
) -> NDArray[np.float64]:
    """Return a design's points at every place, shape (places, points, 2), y down."""
    x, y = xy[:, 0] * size_px[:, None], xy[:, 1] * size_px[:, None]
    if turns_deg is not None:
        turn = np.radians(turns_deg)[:, None]
        x, y = x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)
    return np.stack([at[:, :1] + x, at[:, 1:] - y], axis=-1)


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
    stroke, fill = stamps.stroke, stamps.fill
    inks = _Inks.of(stamps, replace(view, vector=False), palette)
    roles = tuple(palette[ink.role] for ink in (stroke, fill) if ink is not None)
    room = (stroke.width_mm * view.mm_px if stroke else 0.0) + 2
    for step in np.unique(steps):
        size = float(step)
        key = (stamps.symbol, size, stroke, fill, roles, round(view.mm_px, 4), ratio)
        parts = _parts(stamps.symbol, False)

        def paint(on: QPainter, size: float = size, parts: Parts = parts) -> None:
            _paint_parts(on, parts, np.zeros((1, 2)), np.array([size]), None, inks, False)

        picture = sprite(key, size + room, size + room, ratio, paint)
        draw_many(painter, picture, xy[steps == step], ratio)
