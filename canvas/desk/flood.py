"""Water of a storm run on the map: a veil that follows the slider and lets clicks through."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QImage, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from canvas.desk.theme import inks

if TYPE_CHECKING:
    import numpy as np

    from canvas.base.grid import Bounds
    from canvas.desk.window import DeskWindow

#: How strongly the water covers the map.
STRENGTH = 0.9
#: Half the width of a mark where a work is overtopped [pixels].
MARK_PX = 9.0


class FloodVeil(QWidget):
    """Shows one moment's water, and numbered marks where works are first overtopped."""

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__(desk.map)
        self._desk = desk
        self._pixels: np.ndarray[Any, Any] | None = None
        self._image: QImage | None = None
        self._bounds: Bounds = (0.0, 0.0, 1.0, 1.0)
        self._marks: list[tuple[float, float, bool]] = []
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.setAccessibleName("Water on the map")
        desk.map.view_changed.connect(self.place)
        self.hide()

    @property
    def marks(self) -> int:
        """How many places of overtopping are marked."""
        return len(self._marks)

    def show_water(self, rgba: np.ndarray[Any, Any] | None, bounds: Bounds) -> None:
        """Show a picture over its place of the map; None for marks only."""
        self._pixels, self._bounds = rgba, bounds
        self._image = None
        if rgba is not None:
            rows, cols = rgba.shape[:2]
            # The pixels are kept: the image only points at them.
            self._image = QImage(rgba.data, cols, rows, 4 * cols, QImage.Format.Format_RGBA8888)
        self._follow()

    def show_marks(self, places: list[tuple[float, float, bool]]) -> None:
        """Mark places (east, north, whether a bank and not its sill was passed), in their order."""
        self._marks = places
        self._follow()

    def clear(self) -> None:
        """Take everything off the map."""
        self._marks = []
        self.show_water(None, self._bounds)

    def _follow(self) -> None:
        wanted = self._image is not None or bool(self._marks)
        self.setVisible(wanted)
        if wanted:
            self.place()
            self.update()

    def place(self) -> None:
        """Lie over the whole map, under what floats on it."""
        if not self.isHidden():
            self.setGeometry(self._desk.map.rect())
            self.lower()
            self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the water and the marks."""
        painter = QPainter(self)
        camera = self._desk.map.camera
        if self._image is not None:
            painter.setOpacity(STRENGTH)
            west, south, east, north = self._bounds
            place = QRectF(camera.screen_of(west, north), camera.screen_of(east, south))
            painter.drawImage(place, self._image)
            painter.setOpacity(1.0)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for number, (x, y, bank) in enumerate(self._marks, 1):
            self._mark(painter, camera.screen_of(x, y), str(number), bank=bank)
        painter.end()

    def _mark(self, painter: QPainter, at: QPointF, words: str, *, bank: bool) -> None:
        """Draw a drop for a sill that spills, a square on its corner for a bank that is passed."""
        ink = inks(self._desk.bench.theme)
        edge = QColor(ink.warn if bank else ink.focus)
        painter.setPen(QPen(edge, 2.2))
        painter.setBrush(QColor(ink.raised))
        m = MARK_PX
        if bank:
            corners = [QPointF(0, -m - 2), QPointF(m + 2, 0), QPointF(0, m + 2), QPointF(-m - 2, 0)]
            painter.drawPolygon(QPolygonF([at + each for each in corners]))
        else:
            painter.drawEllipse(at, m, m)
        font = QFont(self.font())
        font.setPointSizeF(max(font.pointSizeF() - 1.5, 7.0))
        font.setBold(True)
        painter.setFont(font)
        painter.setPen(QColor(ink.ink))
        box = QRectF(at.x() - m, at.y() - m, 2 * m, 2 * m)
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, words)
