"""Numbers to Qt paths, pens and brushes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QByteArray, QDataStream, Qt
from PySide6.QtGui import QBrush, QColor, QPainterPath, QPen

from canvas.drawing.entries import Cap, Stroke

Palette = Mapping[str, str]
Px = NDArray[np.float64]

_RECORD = np.dtype([("what", ">i4"), ("x", ">f8"), ("y", ">f8")])
CAPS = {Cap.FLAT: Qt.PenCapStyle.FlatCap, Cap.ROUND: Qt.PenCapStyle.RoundCap}


def path_of(pieces: Iterable[Px], close: bool = False) -> QPainterPath:
    """Return one path of several polylines or rings, without a Python loop over points.

    Qt's own stream format is written: per point a type (0 move, 1 line) and two doubles.
    """
    kept = [piece for piece in pieces if len(piece) > 1]
    if not kept:
        return QPainterPath()
    if close:
        kept = [p if np.array_equal(p[0], p[-1]) else np.vstack([p, p[:1]]) for p in kept]
    starts = np.cumsum([0, *(len(p) for p in kept[:-1])])
    what = np.ones(sum(len(p) for p in kept), np.int32)
    what[starts] = MOVE
    return path_from(what, np.concatenate(kept), int(starts[-1]))


#: Elements of a path in Qt's stream.
MOVE, LINE, CURVE, CURVE_DATA = range(4)


def path_from(what: NDArray[np.int32], xy: Px, last_start: int) -> QPainterPath:
    """Return a path from element types and points; `last_start` is where its last figure starts."""
    return path_read(path_streams(what, xy[None], last_start)[0])


def path_streams(what: NDArray[np.int32], xy: Px, last_start: int) -> list[bytes]:
    """Return Qt's streams of paths that share their elements; `xy` is (paths, points, 2)."""
    records = np.empty(xy.shape[:2], _RECORD)
    records["what"], records["x"], records["y"] = what, xy[..., 0], xy[..., 1]
    # After the points: where the last figure starts, and the odd-even fill rule.
    head = len(what).to_bytes(4, "big")
    tail = last_start.to_bytes(4, "big") + bytes(4)
    return [head + row.tobytes() + tail for row in records]


def path_read(stream: bytes) -> QPainterPath:
    """Return the path a stream holds."""
    path = QPainterPath()
    QDataStream(QByteArray(stream)) >> path
    return path


def colour(role: str, palette: Palette, alpha: float = 1.0) -> QColor:
    """Return the ink of a role; "#rrggbb" stands for itself."""
    made = QColor(role if role.startswith("#") else palette[role])
    if alpha < 1.0:
        made.setAlphaF(alpha)
    return made


#: A line fainter than this stays see-through in a PDF; above, it takes the mixed ink.
SEE_THROUGH = 0.4


def line_ink(role: str, alpha: float, palette: Palette, vector: bool) -> QColor:
    """Return the ink of a line.

    In a PDF a see-through line would become an outline of its own, twenty times the bytes, so
    there the ink is mixed with the paper's instead.
    """
    if not vector or alpha >= 1.0 or alpha < SEE_THROUGH:
        return colour(role, palette, alpha)
    ink, paper = QColor(palette[role]), QColor(palette["paper"])
    share = 1.0 - alpha
    return QColor.fromRgbF(
        alpha * ink.redF() + share * paper.redF(),
        alpha * ink.greenF() + share * paper.greenF(),
        alpha * ink.blueF() + share * paper.blueF(),
    )


def pen_of(stroke: Stroke, palette: Palette, mm_px: float, vector: bool) -> QPen:
    """Return a pen in device pixels.

    On a screen nothing is finer than a pixel, which Qt draws many times faster than a broader
    line; the finer it should be, the fainter it is drawn instead.
    """
    width = stroke.width_mm * mm_px
    ink = line_ink(stroke.role, stroke.alpha, palette, vector)
    pen = QPen(ink)
    if not vector and width < 1.25:
        ink.setAlphaF(ink.alphaF() * min(1.0, 0.35 + 0.65 * width))
        pen.setColor(ink)
        width = 1.0
        pen.setCosmetic(True)
    pen.setWidthF(width)
    pen.setCapStyle(CAPS[stroke.cap])
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    if stroke.dash_mm:
        # Qt counts dashes in pen widths.
        pen.setDashPattern([max(length * mm_px / width, 0.01) for length in stroke.dash_mm])
    return pen


def brush_of(role: str, palette: Palette, alpha: float = 1.0) -> QBrush:
    """Return a plain brush."""
    return QBrush(colour(role, palette, alpha))
