"""A mark on the map for a spot looked at elsewhere, such as on the section."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from canvas.desk.theme import inks

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow

SIZE = 26


class SpotMark(QWidget):
    """A ring that lies over the map and lets every click through."""

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__(desk.map)
        self._desk = desk
        self._at: tuple[float, float] | None = None
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.setFixedSize(SIZE, SIZE)
        self.hide()

    def show_at(self, place: tuple[float, float] | None) -> None:
        """Show the mark at a place of the map [m]; None takes it away."""
        self._at = place
        self.setVisible(place is not None)
        self.place()

    def place(self) -> None:
        """Stand where the place is on the screen now."""
        if self._at is not None:
            at = self._desk.map.screen_of(*self._at)
            self.move(round(at.x() - SIZE / 2), round(at.y() - SIZE / 2))
            self.raise_()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the ring."""
        ink = inks(self._desk.bench.theme)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        middle = QPointF(SIZE / 2, SIZE / 2)
        for colour, width in ((ink.raised, 5), (ink.focus, 2.4)):
            painter.setPen(QPen(QColor(colour), width))
            painter.drawEllipse(middle, 9, 9)
        painter.end()
