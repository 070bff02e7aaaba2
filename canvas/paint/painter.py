"""The drawing list painted: one way for screen, PDF and PNG. Usable from any thread on a QImage."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from pathlib import Path as FilePath

import numpy as np
import shapely
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QImage, QPainter, QPainterPath, QPen

from canvas.base.errors import InputError, UserError
from canvas.drawing.entries import (
    Anchor,
    Areas,
    Entry,
    Fill,
    Hatch,
    Image,
    Layer,
    Lines,
    Raster,
    Stamps,
    Text,
)
from canvas.drawing.palette import greyed
from canvas.drawing.typeface import face, width_mm
from canvas.exchange.geotiff import picture_frame, picture_window
from canvas.paint import fonts
from canvas.paint.shapes import Palette, brush_of, colour, line_ink, path_of, pen_of
from canvas.paint.sprites import draw_many, sprite
from canvas.paint.stamps import paint_stamps
from canvas.paint.view import View

#: Writing smaller than this on a screen is not painted [px high capitals].
LEAST_TEXT_PX = 3.0
#: Width of the halo around writing, in capital heights.
HALO = 0.42
#: Pictures on paper are read this finely [pixels per mm]: 300 dpi.
PAPER_PX_MM = 300 / 25.4
#: Nor more finely than this many times its own pixels.
FINER = 1.5
#: A picture is never read with more pixels than this.
MOST_PIXELS = 24_000_000
MOST_HATCH_LINES = 6000
MOST_DOTS = 120_000


def paint_layers(painter: QPainter, layers: Iterable[Layer], view: View, palette: Palette) -> None:
    """Paint layers, lowest first; the painter's transform must be the device's own."""
    for layer in layers:
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setOpacity(painter.opacity() * layer.opacity)
        for entry in layer.entries:
            paint_entry(painter, entry, view, palette)
        painter.restore()


def paint_entry(painter: QPainter, entry: Entry, view: View, palette: Palette) -> None:
    """Paint one entry."""
    match entry:
        case Lines():
            _paint_lines(painter, entry, view, palette)
        case Areas():
            _paint_areas(painter, entry, view, palette)
        case Stamps():
            paint_stamps(painter, entry, view, palette)
        case Text():
            _paint_text(painter, entry, view, palette)
        case Image():
            _paint_image(painter, entry, view)
        case Raster():
            _paint_raster(painter, entry, view)
        case _:
            raise InputError(f"nothing paints a {type(entry).__name__}")


def _paint_lines(painter: QPainter, lines: Lines, view: View, palette: Palette) -> None:
    margin = view.units(lines.stroke.width_mm)
    painter.setPen(pen_of(lines.stroke, palette, view.mm_px, view.vector))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    seen = [view.px(path) for path in lines.paths if view.sees(path, margin)]
    if not view.vector and lines.stroke.dash_mm:
        seen = [cut for path in seen for cut in _near(path, view)]
    # A path each: one great path of many is far slower to stroke.
    for path in seen:
        painter.drawPath(path_of([path]))


def _near(path: np.ndarray, view: View) -> list[np.ndarray]:
    """Return the stretches of a path near the window: dashes far outside cost without end."""
    left, top, width, height = view.rect_px(view.clip)
    pad = max(width, height)
    step = path[1:] - path[:-1]
    if not len(step) or float(np.abs(step).sum()) < 8 * pad:
        return [path]
    low = np.minimum(path[1:], path[:-1])
    high = np.maximum(path[1:], path[:-1])
    near = (
        (high[:, 0] > left - pad) & (low[:, 0] < left + width + pad)
        & (high[:, 1] > top - pad) & (low[:, 1] < top + height + pad)
    )  # fmt: skip
    edges = np.flatnonzero(np.diff(np.concatenate([[0], near.astype(np.int8), [0]])))
    return [path[a : b + 1] for a, b in edges.reshape(-1, 2)]


def _paint_areas(painter: QPainter, areas: Areas, view: View, palette: Palette) -> None:
    pen = pen_of(areas.stroke, palette, view.mm_px, view.vector) if areas.stroke else None
    margin = view.units(areas.stroke.width_mm) if areas.stroke else 0.0
    fill = areas.fill
    solid = fill is not None and fill.hatch is Hatch.SOLID
    for rings in areas.polygons:
        if not rings or not view.sees(rings[0], margin):
            continue
        outline = [view.px(ring) for ring in rings]
        path = path_of(outline, close=True)
        if fill is not None and not solid:
            _paint_hatch(painter, path, outline, fill, view, palette)
        if not solid and pen is None:
            continue
        painter.setPen(pen if pen is not None else Qt.PenStyle.NoPen)
        painter.setBrush(
            brush_of(fill.role, palette, fill.alpha)
            if fill is not None and solid
            else Qt.BrushStyle.NoBrush
        )
        painter.drawPath(path)


def _paint_hatch(
    painter: QPainter,
    path: QPainterPath,
    rings: Sequence[NDArray[np.float64]],
    fill: Fill,
    view: View,
    palette: Palette,
) -> None:
    """Fill an area with lines or dots that hang on the map, so that neighbours join."""
    if fill.hatch is Hatch.NONE:
        return
    window = QRectF(*view.rect_px(view.clip))
    box = path.boundingRect().intersected(window)
    gap = fill.gap_mm * view.mm_px
    if box.isEmpty() or gap <= 0.4:
        return
    painter.save()
    painter.setClipPath(path, Qt.ClipOperation.IntersectClip)
    ink = line_ink(fill.role, fill.alpha, palette, view.vector)
    width = fill.line_mm * view.mm_px
    pen = QPen(ink, width if view.vector else max(width, 1.0))
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    if not view.vector and width < 1.0:
        ink.setAlphaF(ink.alphaF() * max(width, 0.45))
        pen.setColor(ink)
        pen.setCosmetic(True)
    origin = view.point(0.0, 0.0)
    if fill.hatch is Hatch.DOTS and view.vector:
        _dots(painter, box, origin, gap, pen)
    elif fill.hatch is Hatch.DOTS:
        _dot_sprites(painter, rings, box, origin, gap, ink, width)
    else:
        painter.setPen(pen)
        # A brush left from an area before would fill between the hatch lines, at great cost.
        painter.setBrush(Qt.BrushStyle.NoBrush)
        angles = (fill.angle_deg,) if fill.hatch is Hatch.LINES else (
            fill.angle_deg, fill.angle_deg + 90.0,
        )  # fmt: skip
        for angle in angles:
            lines = _hatch_lines(box, origin, angle, gap)
            painter.drawPath(path_of(lines))
    painter.restore()


def _hatch_lines(
    box: QRectF, origin: tuple[float, float], angle_deg: float, gap: float
) -> list[np.ndarray]:
    """Return lines across a box at an angle (counter-clockwise), whole gaps from the origin."""
    along = np.array([math.cos(math.radians(angle_deg)), -math.sin(math.radians(angle_deg))])
    across = np.array([-along[1], along[0]])
    corners = np.array(
        [
            [box.left(), box.top()],
            [box.right(), box.top()],
            [box.right(), box.bottom()],
            [box.left(), box.bottom()],
        ]
    )
    far = (corners - origin) @ across
    first, last = math.ceil(far.min() / gap), math.floor(far.max() / gap)
    if last - first > MOST_HATCH_LINES:
        return []
    reach = (corners - origin) @ along
    steps = np.arange(first, last + 1)
    starts = origin + steps[:, None] * gap * across + reach.min() * along
    ends = origin + steps[:, None] * gap * across + reach.max() * along
    return [np.array([a, b]) for a, b in zip(starts, ends, strict=True)]


def _dots(
    painter: QPainter, box: QRectF, origin: tuple[float, float], gap: float, pen: QPen
) -> None:
    """Fill a box with dots on a staggered lattice: rows of dashes without length, round-ended."""
    rise = gap * math.sqrt(3) / 2
    first = math.floor((box.top() - origin[1]) / rise)
    last = math.ceil((box.bottom() - origin[1]) / rise)
    if (last - first) * box.width() / gap > MOST_DOTS:
        return
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    pen.setDashPattern([0.001, gap / max(pen.widthF(), 1e-6)])
    painter.setPen(pen)
    start = math.floor((box.left() - origin[0]) / gap) - 1
    for row in range(first, last + 1):
        x = origin[0] + (start + 0.5 * (row % 2)) * gap
        y = origin[1] + row * rise
        painter.drawLine(QPointF(x, y), QPointF(box.right(), y))


def _dot_sprites(
    painter: QPainter,
    rings: Sequence[NDArray[np.float64]],
    box: QRectF,
    origin: tuple[float, float],
    gap: float,
    ink: QColor,
    width: float,
) -> None:
    """Fill an area with the same lattice from one cached dot: many times faster on a screen."""
    rise = gap * math.sqrt(3) / 2
    if box.width() * box.height() / (gap * rise) > MOST_DOTS:
        return
    rows = np.arange(
        math.floor((box.top() - origin[1]) / rise), math.ceil((box.bottom() - origin[1]) / rise) + 1
    )
    cols = np.arange(
        math.floor((box.left() - origin[0]) / gap) - 1,
        math.ceil((box.right() - origin[0]) / gap) + 1,
    )
    i, j = (each.ravel() for each in np.meshgrid(cols, rows))
    xy = np.column_stack([origin[0] + (i + 0.5 * (j % 2)) * gap, origin[1] + j * rise])
    across = max(width, 1.0)
    # Whole dots only: half a dot at the edge would blur it.
    area = shapely.make_valid(shapely.Polygon(rings[0], rings[1:]))
    outline = shapely.buffer(area, -across / 2)
    shapely.prepare(outline)
    ratio = painter.device().devicePixelRatio()

    def paint(on: QPainter) -> None:
        on.setPen(Qt.PenStyle.NoPen)
        on.setBrush(ink)
        on.drawEllipse(QPointF(0.0, 0.0), across / 2, across / 2)

    key = ("dot", ink.rgba(), round(across, 2), ratio)
    picture = sprite(key, across + 2, across + 2, ratio, paint)
    draw_many(painter, picture, xy[shapely.contains_xy(outline, xy)], ratio)


def _paint_text(painter: QPainter, text: Text, view: View, palette: Palette) -> None:
    cap = text.size_mm * view.mm_px
    if not text.words or (not view.vector and cap < LEAST_TEXT_PX):
        return
    x, y = view.point(text.x, text.y)
    west, south, east, north = view.clip
    margin = view.units(text.size_mm * (len(text.words) + 2))
    if not (west - margin < text.x < east + margin and south - margin < text.y < north + margin):
        return
    if view.vector or text.turn_deg or not text.halo:
        painter.save()
        painter.translate(x, y)
        painter.rotate(text.turn_deg)
        _write(painter, text, cap, palette, view.vector)
        painter.restore()
        return
    # Names with a halo take a third of a millisecond each: cut each out once.
    ratio = painter.device().devicePixelRatio()
    inks = (palette[text.role], palette[text.halo])
    look = (text.words, text.bold, text.italic, text.anchor, text.stand)
    key = ("text", look, round(cap, 2), inks, ratio)
    wide = 2 * (width_mm(text.words, cap, text.bold, text.italic) + cap)
    picture = sprite(key, wide, cap * 4, ratio, lambda on: _write(on, text, cap, palette, False))
    # On whole pixels: letters cut out stay as sharp as letters written.
    at = np.round(np.array([[x, y]]) * ratio) / ratio
    draw_many(painter, picture, at, ratio)


def _write(painter: QPainter, text: Text, cap: float, palette: Palette, vector: bool) -> None:
    """Write one line with its place at the origin, capitals `cap` device pixels high."""
    width = width_mm(text.words, cap, text.bold, text.italic)
    left = {Anchor.LEFT: 0.0, Anchor.CENTRE: -width / 2, Anchor.RIGHT: -width}[text.anchor]
    base = cap / 2 if text.stand == "middle" else 0.0
    if text.halo:
        em = cap * face(text.bold, text.italic).em_per_cap
        ink = colour(text.halo, palette, 1.0 if vector else 0.85)
        halo = QPen(ink, HALO * cap * fonts.OUTLINE_PX / em)
        halo.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        painter.save()
        painter.translate(left, base)
        painter.scale(em / fonts.OUTLINE_PX, em / fonts.OUTLINE_PX)
        painter.strokePath(fonts.outline(text.words, text.bold, text.italic), halo)
        painter.restore()
    # The device written on, which may be a cut-out's, not the sheet's: fonts are sized in points.
    dpi = painter.device().logicalDpiY()
    made = fonts.font(round(cap, 3), dpi, text.bold, text.italic)
    painter.setFont(made)
    painter.setPen(colour(text.role, palette))
    painter.translate(left, base)
    if not vector and not text.halo:
        # On pixels each letter's advance is rounded: what stands in a column would end up to 5 %
        # past it. (Names on the map stand free, and squeezing takes half a millisecond each.)
        wide = QFontMetricsF(made, painter.device()).horizontalAdvance(text.words)
        painter.scale(width / wide if wide > 0 and width > 0 else 1.0, 1.0)
    painter.drawText(QPointF(0.0, 0.0), text.words)


def _paint_image(painter: QPainter, image: Image, view: View) -> None:
    rgba = np.ascontiguousarray(image.rgba)
    rows, cols = rgba.shape[:2]
    if not rows or not cols:
        return
    picture = QImage(rgba.data, cols, rows, cols * 4, QImage.Format.Format_RGBA8888)
    _draw_picture(painter, picture, QRectF(*view.rect_px(image.bounds)), image.opacity)


def _draw_picture(painter: QPainter, picture: QImage, where: QRectF, opacity: float) -> None:
    painter.save()
    painter.setOpacity(painter.opacity() * opacity)
    painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
    painter.drawImage(where, picture)
    painter.restore()


def _paint_raster(painter: QPainter, raster: Raster, view: View) -> None:
    """Paint what is in view of an image file; one that cannot be read is left out."""
    west, south, east, north = (
        max(raster.bounds[0], view.clip[0]),
        max(raster.bounds[1], view.clip[1]),
        min(raster.bounds[2], view.clip[2]),
        min(raster.bounds[3], view.clip[3]),
    )
    if west >= east or south >= north:
        return
    fine = min(1.0, PAPER_PX_MM / view.mm_px) if view.vector else 1.0
    ratio = painter.device().devicePixelRatio()
    width = (east - west) * view.per_unit * fine * ratio
    height = (north - south) * view.per_unit * fine * ratio
    shrink = min(1.0, math.sqrt(MOST_PIXELS / max(width * height, 1.0)))
    cols, rows = max(round(width * shrink), 1), max(round(height * shrink), 1)
    try:
        _, pixel_m = picture_frame(FilePath(raster.file))
        cols = min(cols, math.ceil((east - west) / pixel_m * FINER))
        rows = min(rows, math.ceil((north - south) / pixel_m * FINER))
        rgba = picture_window(FilePath(raster.file), (west, south, east, north), cols, rows)
    except UserError:
        # Sheets name what they leave out, the desk what is missing: a plan without it still reads.
        return
    if raster.grey:
        rgba = greyed(rgba)
    picture = QImage(rgba.data, cols, rows, cols * 4, QImage.Format.Format_RGBA8888)
    box = QRectF(*view.rect_px((west, south, east, north)))
    _draw_picture(painter, picture, box, raster.opacity)
