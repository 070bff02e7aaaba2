"""What helps to bring things in: shapes and rasters at a glance, and how a table is read."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from PySide6.QtCore import QPoint, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QImage, QPainter, QPaintEvent, QPen, QPolygonF, QTransform
from PySide6.QtWidgets import QComboBox, QLineEdit, QWidget
from shapely import get_coordinates, get_parts, union_all

from canvas.base.grid import Bounds
from canvas.base.quantity import show
from canvas.desk.charts import Figure
from canvas.desk.jobs import Job
from canvas.desk.parts import column, quiet, row
from canvas.site.elements.land import SiteBoundary

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow
    from canvas.exchange.glimpse import Glimpse
    from canvas.exchange.incoming import Columns

#: Shapes drawn in the preview at most.
MOST_SHAPES = 3000
#: Files read as a table of text.
TABLES = {".csv", ".txt", ".tsv"}
#: Height of a raster made small, at least [pixels].
PICTURE_PX = 190
#: So much land about the boundary is shown with it, a share of its size on each side.
AROUND = 0.75


class Sheet:
    """Lays places of the site's CRS over a widget, north up, all of them in view."""

    def __init__(self, widget: QWidget, xy: Any) -> None:
        low, high = xy.min(axis=0), xy.max(axis=0)
        size = [max(float(span), 1e-6) for span in high - low]
        self._scale = min((widget.width() - 24) / size[0], (widget.height() - 24) / size[1])
        self._middle = (low + high) / 2
        self._at = QPointF(widget.width() / 2, widget.height() / 2)

    def __call__(self, spot: Any) -> QPointF:
        """Return the pixel of a place."""
        east, north = spot[0] - self._middle[0], spot[1] - self._middle[1]
        return QPointF(self._at.x() + east * self._scale, self._at.y() - north * self._scale)


class ShapesPreview(Figure):
    """The file's shapes over the site's boundary: a glance tells a wrong grid."""

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__(desk.bench)
        self._desk = desk
        self._shapes: list[Any] = []
        self.setMinimumSize(QSize(230, 200))
        self.setAccessibleName("Shapes of the file, over the site’s boundary")

    def show_shapes(self, shapes: list[Any]) -> None:
        """Show shapes in the site's CRS."""
        self._shapes = shapes[:MOST_SHAPES]
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the boundary and the shapes."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(self.map_ink["paper"]))
        painter.setPen(QPen(QColor(self.ink.line), 1))
        painter.drawRect(self.rect().adjusted(0, 0, -1, -1))
        plan = self._desk.bench.plan
        site = [item.geometry for item in plan.of(SiteBoundary)] if plan is not None else []
        xy = get_coordinates([*self._shapes, *site])
        if len(xy):
            at = Sheet(self, xy)
            dashed = QPen(QColor(self.map_ink["boundary"]), 2, Qt.PenStyle.DashLine)
            self._draw(painter, site, at, dashed)
            self._draw(painter, self._shapes, at, QPen(QColor(self.ink.accent), 1.6))
        painter.end()

    @staticmethod
    def _draw(painter: QPainter, shapes: list[Any], at: Any, pen: QPen) -> None:
        painter.setPen(pen)
        for part in get_parts(shapes):
            spots = [at(xy) for xy in get_coordinates(part)]
            if part.geom_type == "Point":
                painter.drawEllipse(spots[0], 2.5, 2.5)
            else:
                painter.drawPolyline(QPolygonF(spots))


class RasterPicture(Figure):
    """A raster made small, where it lies, under the site's boundary."""

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__(desk.bench)
        self._desk = desk
        self._image: QImage | None = None
        self._pixels: Any = None
        self._corners: Any = None
        self.setMinimumSize(QSize(240, PICTURE_PX))
        self.setAccessibleName("The file made small, under the site’s boundary")

    @property
    def loaded(self) -> bool:
        """Whether there is a picture."""
        return self._image is not None

    def show_glimpse(self, found: Glimpse | None) -> None:
        """Show a raster, or nothing."""
        self._image = self._pixels = self._corners = None
        if found is not None and found.rgba is not None:
            rows, cols = found.rgba.shape[:2]
            # The image leans on the array, which is kept with it.
            self._pixels = found.rgba
            form = QImage.Format.Format_RGBA8888
            self._image = QImage(self._pixels.data, cols, rows, cols * 4, form)
        if found is not None:
            self._corners = found.corners
        self.update()

    def spot_of(self, east_m: float, north_m: float) -> QPoint:
        """Return the pixel of a place, once the raster lies somewhere."""
        return self._sheet()((east_m, north_m)).toPoint()

    def _sheet(self) -> Sheet:
        xy = [np.reshape(self._corners, (-1, 2)), get_coordinates(self.outlines())]
        return Sheet(self, np.concatenate(xy))

    def outlines(self) -> list[Any]:
        """Return the site's boundaries."""
        plan = self._desk.bench.plan
        return [item.geometry for item in plan.of(SiteBoundary)] if plan is not None else []

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the raster and the boundary."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        painter.fillRect(self.rect(), QColor(self.map_ink["paper"]))
        painter.setPen(QPen(QColor(self.ink.line), 1))
        painter.drawRect(self.rect().adjusted(0, 0, -1, -1))
        if self._corners is not None:
            self._laid(painter)
        elif self._image is not None:
            whole = self._image.size().scaled(
                self.size() - QSize(12, 12), Qt.AspectRatioMode.KeepAspectRatio
            )
            left, top = (self.width() - whole.width()) // 2, (self.height() - whole.height()) // 2
            painter.drawImage(left, top, self._image.scaled(whole))
        painter.end()

    def _laid(self, painter: QPainter) -> None:
        """Draw the raster by its four corners, turned and sheared as they say."""
        outlines = self.outlines()
        at = self._sheet()
        quad = QPolygonF([at(spot) for spot in self._corners])
        if self._image is not None:
            box = QRectF(self._image.rect())
            flat = QPolygonF([box.topLeft(), box.topRight(), box.bottomRight(), box.bottomLeft()])
            turn = QTransform()
            if QTransform.quadToQuad(flat, quad, turn):
                painter.setTransform(turn)
                painter.drawImage(0, 0, self._image)
                painter.resetTransform()
        painter.setPen(QPen(QColor(self.ink.quiet), 1))
        painter.drawPolygon(quad)
        halo = QPen(QColor(self.map_ink["paper"]), 4.5)
        line = QPen(QColor(self.map_ink["boundary"]), 2, Qt.PenStyle.DashLine)
        for pen in (halo, line):
            painter.setPen(pen)
            for part in get_parts(outlines):
                painter.drawPolyline(QPolygonF([at(xy) for xy in get_coordinates(part)]))


class RasterPreview(QWidget):
    """Draws a raster small in the background, and says how it lies to the boundary."""

    def __init__(self, desk: DeskWindow, *, heights: bool) -> None:
        super().__init__()
        self._desk = desk
        self._heights = heights
        self._job: Job | None = None
        self._asked: tuple[Path, str] | None = None
        self.picture = RasterPicture(desk)
        self.words = quiet()
        column(self.picture, self.words, gap=4, parent=self)
        self.words.setFixedHeight(self.words.fontMetrics().lineSpacing() + 4)
        self.setVisible(False)

    def look(self, path: Path | None, file_crs: str) -> None:
        """Look at a file; its CRS is told where the file doesn't say."""
        asked = (path, file_crs) if path is not None else None
        if asked == self._asked:
            return
        self.stop()
        self._asked = asked
        self._show(None)
        plan = self._desk.bench.plan
        if path is None or plan is None:
            return
        target, around, heights = plan.site.crs, self._around(), self._heights

        def work(progress: Any) -> Glimpse:
            from canvas.exchange.glimpse import glimpse_raster

            return glimpse_raster(
                path,
                target_crs=target,
                file_crs=file_crs,
                heights=heights,
                around=around,
                progress=progress,
            )

        # What is wrong with the file is told where it is looked at and read.
        self._job = self._desk.bench.jobs.run(
            f"Drawing {path.name} small", work, self._show, lambda _trouble: self._show(None)
        )

    def stop(self) -> None:
        """Stop looking; nothing arrives afterwards."""
        if self._job is not None:
            self._job.cancel()
            self._job = None

    def _around(self) -> Bounds | None:
        """Return the boundary with land about it [m]; None while there is no boundary."""
        outlines = self.picture.outlines()
        if not outlines:
            return None
        west, south, east, north = union_all(outlines).bounds
        room = AROUND * max(east - west, north - south)
        return west - room, south - room, east + room, north + room

    def _show(self, found: Glimpse | None) -> None:
        self.picture.show_glimpse(found)
        self.words.setText(self._told(found) if found is not None else "")
        self.setVisible(found is not None)

    def _told(self, found: Glimpse) -> str:
        """Say how it lies to the boundary."""
        outlines = self.picture.outlines()
        if found.corners is None:
            return "Where it lies is not known yet."
        lie = found.lies(union_all(outlines)) if outlines else None
        if lie is None:
            return "There is no boundary yet to lay over it."
        share, apart_m = lie
        if apart_m > 0:
            apart = show(apart_m, "m", self._desk.bench.units, 0)
            return f"It lies {apart} from the boundary: check its grid (CRS)."
        if share > 0.9995:
            return "The whole boundary lies on it. Look whether it lies right."
        return f"It covers {show(share, '%', decimals=0)} of the land inside the boundary."


class TableOptions(QWidget):
    """How to read a table of text, for when it can't be found out."""

    changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.east, self.north = QLineEdit(), QLineEdit()
        for box, words in ((self.east, "East or longitude"), (self.north, "North or latitude")):
            box.setAccessibleName(f"Column of {words.lower()}")
            box.setPlaceholderText(f"{words}: heading or number")
            box.editingFinished.connect(self.changed)
        self.separator, self.decimal = QComboBox(), QComboBox()
        for value, words in (("", "Cells: find out"), (",", "Comma"), (";", "Semicolon"),
                             ("\t", "Tab"), ("|", "Bar")):  # fmt: skip
            self.separator.addItem(words, value)
        for value, words in (("", "Decimals: find out"), (".", "Point"), (",", "Comma")):
            self.decimal.addItem(words, value)
        for combo, words in (
            (self.separator, "What parts the cells"), (self.decimal, "Decimal mark")
        ):  # fmt: skip
            combo.setAccessibleName(words)
            combo.activated.connect(lambda _i: self.changed.emit())
        row(self.east, self.north, self.separator, self.decimal, parent=self)

    def columns(self) -> Columns:
        """Return what was chosen."""
        from canvas.exchange.incoming import Columns

        return Columns(
            x=self.east.text().strip(),
            y=self.north.text().strip(),
            separator=str(self.separator.currentData()),
            decimal=str(self.decimal.currentData()),
        )
