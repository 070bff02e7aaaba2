"""What lives on the map and is painted every frame: selection, ghosts, handles, snaps, labels."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QFontMetricsF, QPainter, QPainterPath, QPen
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from canvas.base.finding import Finding
from canvas.desk.map_camera import Camera
from canvas.site.records import Element
from canvas.tools.pointer import EMPTY, Ghost, GhostLabel, GhostShape, Snap

HANDLE_PX = 8.0
MIDDLE_PX = 6.0
POINT_RING_PX = 10.0
#: More selected points than this are shown as plain squares.
MOST_RINGS = 400
LABEL_OFF_PX = 16.0
PAD_PX = 6.0
#: Begins a line of a label that tells of a failing check.
WARNS = "⚠"
Ink = Mapping[str, str]


@dataclass
class Living:
    """Everything the overlay paints in one frame."""

    selected: Sequence[Element] = ()
    #: Elements of edits that the static picture doesn't show yet.
    fresh: Sequence[Element] = ()
    ghost: Ghost = EMPTY
    #: Where the cross-hair moved by keyboard stands; None when it is not shown.
    cross: tuple[float, float] | None = None
    findings: Sequence[Finding] = ()
    words: Sequence[str] = field(default=())


class Overlay:
    """Paints what lives. Shapes of the selection are kept until it changes."""

    def __init__(self) -> None:
        #: Frames painted so far.
        self.frames = 0
        self._selected: Sequence[Element] = ()
        self._path = QPainterPath()
        self._spots = np.empty((0, 2))

    def paint(self, painter: QPainter, camera: Camera, ink: Ink, living: Living) -> None:
        """Paint one frame."""
        self.frames += 1
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._paint_selection(painter, camera, ink, living.selected)
        for item in living.fresh:
            paint_shape(painter, camera, ink, GhostShape(item.geometry, "line"))
        for item in living.ghost.elements:
            paint_shape(painter, camera, ink, GhostShape(item.geometry, "guide"))
        for finding in living.findings:
            _paint_finding(painter, camera, ink, finding.where)
        for shape in living.ghost.shapes:
            paint_shape(painter, camera, ink, shape)
        if living.cross is not None:
            _paint_cross(painter, camera, ink, living.cross)
        if living.ghost.snap is not None:
            _paint_snap(painter, camera, ink, living.ghost.snap)
        self._paint_labels(painter, camera, ink, living)

    def _paint_selection(
        self, painter: QPainter, camera: Camera, ink: Ink, selected: Sequence[Element]
    ) -> None:
        if selected is not self._selected:
            self._selected = selected
            self._path = map_path(i.geometry for i in selected if i.geometry.geom_type != "Point")
            points = [i.geometry for i in selected if i.geometry.geom_type == "Point"]
            self._spots = shapely.get_coordinates(points) if points else np.empty((0, 2))
        if not selected:
            return
        colour = QColor(ink["select"])
        glow = QColor(colour)
        glow.setAlphaF(0.3)
        painter.save()
        painter.setTransform(camera.transform(), True)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for shade, width in ((glow, 6.0), (colour, 1.6)):
            painter.setPen(_cosmetic(shade, width))
            painter.drawPath(self._path)
        painter.restore()
        _paint_spots(painter, camera, colour, self._spots)

    @staticmethod
    def _paint_labels(painter: QPainter, camera: Camera, ink: Ink, living: Living) -> None:
        labels = list(living.ghost.labels)
        snap = living.ghost.snap
        if snap is not None:
            words = snap.words
            if labels and (labels[-1].x_m, labels[-1].y_m) == (snap.x_m, snap.y_m):
                last = labels.pop()
                words = f"{last.words}\n{words}"
            labels.append(GhostLabel(snap.x_m, snap.y_m, words))
        if living.words and labels:
            last = labels.pop()
            labels.append(GhostLabel(last.x_m, last.y_m, "\n".join((last.words, *living.words))))
        for number, label in enumerate(labels):
            at = camera.screen_of(label.x_m, label.y_m)
            beside = number == len(labels) - 1
            paint_label(painter, camera, ink, at, label.words, beside=beside)


def paint_shape(painter: QPainter, camera: Camera, ink: Ink, shape: GhostShape) -> None:
    """Paint one shape of a gesture in its look."""
    colour = QColor(ink["select"])
    if shape.look in ("handle", "middle", "hit"):
        _paint_handle(painter, camera, ink, shape)
        return
    if shape.look == "dots":
        _paint_spots(painter, camera, colour, shapely.get_coordinates(shape.geometry))
        return
    painter.save()
    fill = QColor(colour)
    fill.setAlphaF(0.12)
    painter.setBrush(QBrush(fill) if shape.look in ("area", "box") else Qt.BrushStyle.NoBrush)
    pen = _cosmetic(QColor(ink["guide"]) if shape.look == "guide" else colour, 1.6)
    if shape.look in ("guide", "box"):
        pen.setDashPattern([4.0, 3.0])
    painter.setPen(pen)
    if isinstance(shape.geometry, Point):
        painter.drawEllipse(camera.screen_of(shape.geometry.x, shape.geometry.y), 6.0, 6.0)
    else:
        painter.setTransform(camera.transform(), True)
        painter.drawPath(map_path([shape.geometry]))
    painter.restore()


def map_path(geometries: Iterable[BaseGeometry]) -> QPainterPath:
    """Return lines and outlines as one path in map metres."""
    path = QPainterPath()
    path.setFillRule(Qt.FillRule.OddEvenFill)
    for geometry in geometries:
        for part in shapely.get_parts(geometry):
            if part.geom_type == "Polygon":
                for ring in (part.exterior, *part.interiors):
                    _trace(path, shapely.get_coordinates(ring))
                    path.closeSubpath()
            elif part.geom_type != "Point":
                _trace(path, shapely.get_coordinates(part))
    return path


def _trace(path: QPainterPath, xy: np.ndarray[tuple[int, int], np.dtype[np.float64]]) -> None:
    (x0, y0), *rest = xy.tolist()
    path.moveTo(x0, y0)
    for x, y in rest:
        path.lineTo(x, y)


def _cosmetic(colour: QColor, width_px: float) -> QPen:
    pen = QPen(colour, width_px)
    pen.setCosmetic(True)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    return pen


def _paint_spots(
    painter: QPainter,
    camera: Camera,
    colour: QColor,
    spots: np.ndarray[tuple[int, int], np.dtype[np.float64]],
) -> None:
    if not len(spots):
        return
    west, south, east, north = camera.bounds(0.02)
    seen = spots[
        (spots[:, 0] >= west)
        & (spots[:, 0] <= east)
        & (spots[:, 1] >= south)
        & (spots[:, 1] <= north)
    ]
    at = [camera.screen_of(x, y) for x, y in seen.tolist()]
    painter.setBrush(Qt.BrushStyle.NoBrush)
    if len(at) > MOST_RINGS:
        pen = QPen(colour, 4.0)
        pen.setCapStyle(Qt.PenCapStyle.SquareCap)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        painter.setPen(pen)
        painter.drawPoints(at)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        return
    painter.setPen(QPen(colour, 2.0))
    for spot in at:
        painter.drawEllipse(spot, POINT_RING_PX, POINT_RING_PX)


def _paint_handle(painter: QPainter, camera: Camera, ink: Ink, shape: GhostShape) -> None:
    colour, paper = QColor(ink["select"]), QColor(ink["paper"])
    x, y = shapely.get_coordinates(shape.geometry)[0].tolist()
    at = camera.screen_of(x, y)
    painter.setPen(QPen(colour, 1.6))
    painter.setBrush(QBrush(colour if shape.look == "hit" else paper))
    if shape.look == "middle":
        painter.drawEllipse(at, MIDDLE_PX / 2, MIDDLE_PX / 2)
        return
    half = HANDLE_PX / 2
    painter.drawRect(QRectF(at.x() - half, at.y() - half, HANDLE_PX, HANDLE_PX))


def _paint_finding(painter: QPainter, camera: Camera, ink: Ink, where: BaseGeometry) -> None:
    colour = QColor(ink["warning"])
    fill = QColor(colour)
    fill.setAlphaF(0.2)
    painter.save()
    painter.setBrush(QBrush(fill))
    painter.setPen(_cosmetic(colour, 2.5))
    for part in shapely.get_parts(where):
        if part.geom_type == "Point":
            painter.drawEllipse(camera.screen_of(part.x, part.y), 8.0, 8.0)
    painter.setTransform(camera.transform(), True)
    parts = shapely.get_parts(where)
    areas = [part for part in parts if part.geom_type == "Polygon"]
    painter.drawPath(map_path(areas))
    # A filled line would shade whatever it bends round.
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawPath(map_path([part for part in parts if part.geom_type != "Polygon"]))
    painter.restore()


def _paint_snap(painter: QPainter, camera: Camera, ink: Ink, snap: Snap) -> None:
    if snap.guide is not None:
        paint_shape(painter, camera, ink, GhostShape(snap.guide, "guide"))
    at = camera.screen_of(snap.x_m, snap.y_m)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for colour, width in ((QColor(ink["paper"]), 4.5), (QColor(ink["select"]), 2.2)):
        painter.setPen(QPen(colour, width))
        painter.drawEllipse(at, 7.0, 7.0)


def _paint_cross(painter: QPainter, camera: Camera, ink: Ink, cross: tuple[float, float]) -> None:
    at = camera.screen_of(*cross)
    for colour, width in ((QColor(ink["paper"]), 4.0), (QColor(ink["ink"]), 1.6)):
        painter.setPen(QPen(colour, width))
        for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            painter.drawLine(
                QPointF(at.x() + 5 * dx, at.y() + 5 * dy),
                QPointF(at.x() + 22 * dx, at.y() + 22 * dy),
            )


def paint_label(
    painter: QPainter, camera: Camera, ink: Ink, at: QPointF, words: str, *, beside: bool
) -> QRectF:
    """Paint words on a plate, beside a place or on it, kept inside the view; return the plate."""
    font = QFont(painter.font())
    measure = QFontMetricsF(font)
    lines = words.split("\n")
    wide = max(measure.horizontalAdvance(line) for line in lines) + 2 * PAD_PX
    high = measure.height() * len(lines) + PAD_PX
    left, top = at.x() - wide / 2, at.y() - high / 2
    if beside:
        left, top = at.x() + LABEL_OFF_PX, at.y() + LABEL_OFF_PX
        if left + wide > camera.width:
            left = at.x() - LABEL_OFF_PX - wide
        if top + high > camera.height:
            top = at.y() - LABEL_OFF_PX - high
    plate = QRectF(left, top, wide, high)
    ground = QColor(ink["paper"])
    ground.setAlphaF(0.92)
    painter.setPen(QPen(QColor(ink["rule"]), 1.0))
    painter.setBrush(QBrush(ground))
    painter.drawRoundedRect(plate, 4.0, 4.0)
    for number, line in enumerate(lines):
        painter.setPen(QColor(ink["warning" if line.startswith(WARNS) else "ink"]))
        row = QRectF(
            plate.left() + PAD_PX,
            plate.top() + PAD_PX / 2 + number * measure.height(),
            wide,
            measure.height(),
        )
        painter.drawText(row, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, line)
    return plate
