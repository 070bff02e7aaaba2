"""What helps to bring features in: their shapes at a glance, and how a table is read."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QPointF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QComboBox, QLineEdit, QWidget
from shapely import get_coordinates, get_parts

from canvas.desk.charts import Figure
from canvas.desk.parts import row
from canvas.site.elements.land import SiteBoundary

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow
    from canvas.exchange.incoming import Columns

#: Shapes drawn in the preview at most.
MOST_SHAPES = 3000
#: Files read as a table of text.
TABLES = {".csv", ".txt", ".tsv"}


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
            low, high = xy.min(axis=0), xy.max(axis=0)
            size = max(float((high - low).max()), 1.0)
            scale = (min(self.width(), self.height()) - 24) / size
            middle = (low + high) / 2

            def at(spot: Any) -> QPointF:
                return QPointF(
                    self.width() / 2 + (spot[0] - middle[0]) * scale,
                    self.height() / 2 - (spot[1] - middle[1]) * scale,
                )

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
