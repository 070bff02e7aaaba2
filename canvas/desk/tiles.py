"""Tiles: parts of a page beside each other, as many as its width holds, the rest below."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QSize, QTimer
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLayout, QScrollArea, QVBoxLayout, QWidget

from canvas.desk.parts import column, scrolling

GAP = 16
MARGIN = 12


class Tiles(QWidget):
    """Lays parts into columns of nearly even height, and again whenever the width changes.

    A part that is "whole" goes across all columns; those after it begin a new band below.
    """

    def __init__(self, least: int = 300, gap: int = GAP) -> None:
        super().__init__()
        self._least = least
        self._gap = gap
        self._parts: list[tuple[QWidget, bool]] = []
        #: Columns the parts stand in now.
        self.columns = 0
        self._inside = QWidget()
        self._bands = QVBoxLayout(self._inside)
        self._bands.setContentsMargins(MARGIN, 8, MARGIN, 10)
        self._bands.setSpacing(8)
        self.area: QScrollArea = scrolling(self._inside)
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 0, 0)
        box.addWidget(self.area)

    def minimumSizeHint(self) -> QSize:
        """Be content with little: the rest is scrolled to."""
        return QSize(self._least, 90)

    def show_parts(self, parts: Sequence[tuple[QWidget, bool]]) -> None:
        """Show parts, each with whether it is to go across; those shown before are deleted."""
        for widget, _ in self._parts:
            if all(widget is not new for new, _ in parts):
                widget.hide()
                widget.deleteLater()
        self._parts = list(parts)
        for widget, _ in parts:
            widget.setParent(self._inside)
            widget.show()
        self.relay()
        # What was just put into a part is shown a moment later: only then has the part its height.
        QTimer.singleShot(0, self, self.relay)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Lay out anew when more or fewer columns fit."""
        super().resizeEvent(event)
        self._lay()

    def relay(self) -> None:
        """Lay out anew: parts have grown or shrunk, come or gone."""
        self.columns = 0
        self._lay()

    def _lay(self) -> None:
        room = max(self.width(), self._least) - 2 * MARGIN + self._gap
        columns = max(min(room // (self._least + self._gap), self._widest()), 1)
        if columns == self.columns:
            return
        self.columns = columns
        _release(self._bands)
        width = room // columns - self._gap
        band: list[tuple[QVBoxLayout, int]] = []
        for widget, whole in self._seen():
            if whole:
                self._bands.addWidget(widget)
                band = []
                continue
            if not band:
                band = self._band(columns)
            shortest = min(range(columns), key=lambda c: (band[c][1], c))
            column, high = band[shortest]
            column.insertWidget(column.count() - 1, widget)
            band[shortest] = (column, high + _height(widget, width))
        self._bands.addStretch(1)

    def _seen(self) -> list[tuple[QWidget, bool]]:
        """Return the parts that are not hidden: the others take no room."""
        return [part for part in self._parts if not part[0].isHidden()]

    def _widest(self) -> int:
        """Return how many parts the longest band holds: more columns would stand empty."""
        most = run = 0
        for _, whole in self._seen():
            run = 0 if whole else run + 1
            most = max(most, run)
        return most

    def _band(self, columns: int) -> list[tuple[QVBoxLayout, int]]:
        line = QHBoxLayout()
        line.setSpacing(self._gap)
        made = []
        for _ in range(columns):
            column = QVBoxLayout()
            column.setSpacing(8)
            column.addStretch(1)
            line.addLayout(column, 1)
            made.append((column, 0))
        self._bands.addLayout(line)
        return made


def _height(widget: QWidget, width: int) -> int:
    if widget.hasHeightForWidth():
        return widget.heightForWidth(width) + 8
    return widget.sizeHint().height() + 8


def _release(box: QVBoxLayout | QHBoxLayout) -> None:
    """Take everything out of a layout without deleting what it shows."""
    while (item := box.takeAt(0)) is not None:
        inner = item.layout()
        if isinstance(inner, QVBoxLayout | QHBoxLayout):
            _release(inner)


def holding(*items: QWidget | QLayout | None) -> QWidget:
    """Return a widget with items under each other, to stand as one part; None stretches."""
    made = QWidget()
    column(*items, parent=made)
    return made


def spread(page: QWidget, *parts: tuple[QWidget, int]) -> None:
    """Lay parts beside each other over a page, each with its share of the width."""
    line = QHBoxLayout(page)
    line.setContentsMargins(MARGIN, 8, MARGIN, 10)
    line.setSpacing(GAP)
    for widget, share in parts:
        line.addWidget(widget, share)
