"""Pictures on the pages: a section with its grades, and bars by month or class."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontMetricsF,
    QMouseEvent,
    QPainter,
    QPainterPath,
    QPaintEvent,
    QPen,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from canvas.base.grid import Floats
from canvas.base.quantity import show, shown
from canvas.desk.bench import Bench
from canvas.desk.theme import Inks, inks
from canvas.drawing.furniture import nice_step


class Chart(QWidget):
    """A picture that follows the theme."""

    def __init__(self, bench: Bench) -> None:
        super().__init__()
        self._bench = bench
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        bench.theme_changed.connect(self.update)

    @property
    def ink(self) -> Inks:
        """The inks in force."""
        return inks(self._bench.theme)

    @property
    def palette_(self) -> dict[str, str]:
        """The map's inks, so that a chart's ground and sun look as on the map."""
        from canvas.drawing.palette import PALETTES

        return dict(PALETTES[self._bench.theme])

    def small_font(self) -> QFont:
        """Return the font of axis figures."""
        font = QFont(self.font())
        font.setPointSizeF(max(font.pointSizeF() - 1.5, 7.0))
        return font


class SectionChart(Chart):
    """Heights along a line, exaggerated as stated, with the grade of every stretch."""

    #: Distance along the line under the pointer [m]; -1 when it left.
    pointed = Signal(float)

    LEFT, RIGHT, TOP, FOOT = 62.0, 18.0, 16.0, 40.0

    def __init__(self, bench: Bench) -> None:
        super().__init__(bench)
        self._distance: Floats | None = None
        self._height: Floats | None = None
        self._grades: list[tuple[float, float, float]] = []
        self._at: float | None = None
        self.setMouseTracking(True)
        self.setMinimumHeight(130)
        self.setAccessibleName("Section")

    def sizeHint(self) -> QSize:
        """Ask for a wide, low picture."""
        return QSize(700, 200)

    def show_section(
        self, distance_m: Floats, z_m: Floats, grades: Sequence[tuple[float, float, float]]
    ) -> None:
        """Show heights (stations,) and grades (from [m], to [m], ratio)."""
        self._distance, self._height, self._grades = distance_m, z_m, list(grades)
        self.update()

    def _frame(self) -> QRectF:
        return QRectF(self.LEFT, self.TOP, max(self.width() - self.LEFT - self.RIGHT, 10),
                      max(self.height() - self.TOP - self.FOOT, 10))  # fmt: skip

    def _range(self) -> tuple[float, float]:
        assert self._height is not None
        known = self._height[self._height == self._height]
        low, high = float(known.min()), float(known.max())
        room = max((high - low) * 0.12, 0.5)
        return low - room, high + room

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw axes, ground, grades and the pointer's station."""
        if (
            self._distance is None
            or self._height is None
            or not (self._height == self._height).any()
        ):
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        frame, (low, high) = self._frame(), self._range()
        run = float(self._distance[-1])

        def at(d: float, z: float) -> QPointF:
            return QPointF(
                frame.left() + d / run * frame.width(),
                frame.bottom() - (z - low) / (high - low) * frame.height(),
            )

        self._axes(painter, frame, run, low, high)
        self._ground(painter, frame, at)
        self._stretches(painter, frame, run)
        self._pointer(painter, frame, at)
        times = frame.height() / (high - low) / (frame.width() / run)
        painter.setPen(QColor(self.ink.quiet))
        painter.setFont(self.small_font())
        where = frame.adjusted(6, 2, -6, 0)
        painter.drawText(where, Qt.AlignmentFlag.AlignLeft, f"heights drawn {times:.1f} times")
        painter.end()

    def _axes(self, painter: QPainter, frame: QRectF, run: float, low: float, high: float) -> None:
        painter.setFont(self.small_font())
        units = self._bench.units
        factor, symbol = shown("m", units).factor, shown("m", units).symbol
        metrics = QFontMetricsF(painter.font())
        step = nice_step((high - low) * factor / max(int(frame.height() / 34), 2))
        value = math.ceil(low * factor / step) * step
        while value <= high * factor:
            y = frame.bottom() - (value / factor - low) / (high - low) * frame.height()
            painter.setPen(QPen(QColor(self.ink.line), 1))
            painter.drawLine(QPointF(frame.left(), y), QPointF(frame.right(), y))
            painter.setPen(QColor(self.ink.quiet))
            box = QRectF(0, y - 8, frame.left() - 7, 16)
            painter.drawText(
                box,
                Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter,
                f"{value:g} {symbol}",
            )
            value += step
        step = nice_step(run * factor / max(int(frame.width() / 80), 2))
        value = 0.0
        while value <= run * factor + 1e-9:
            x = frame.left() + value / factor / run * frame.width()
            painter.setPen(QPen(QColor(self.ink.edge), 1))
            painter.drawLine(QPointF(x, frame.bottom()), QPointF(x, frame.bottom() + 4))
            words = f"{value:g} {symbol}"
            painter.setPen(QColor(self.ink.quiet))
            width = metrics.horizontalAdvance(words)
            painter.drawText(
                QPointF(min(x - width / 2, self.width() - width - 2), self.height() - 5), words
            )
            value += step

    def _ground(self, painter: QPainter, frame: QRectF, at: object) -> None:
        assert self._distance is not None
        assert self._height is not None
        assert callable(at)
        colours = self.palette_
        line, fill = QPainterPath(), QPainterPath()
        open_ = False
        last = QPointF()
        for d, z in zip(self._distance, self._height, strict=True):
            if math.isnan(z):
                if open_:
                    fill.lineTo(QPointF(last.x(), frame.bottom()))
                open_ = False
                continue
            spot = at(float(d), float(z))
            if open_:
                line.lineTo(spot)
                fill.lineTo(spot)
            else:
                line.moveTo(spot)
                fill.moveTo(QPointF(spot.x(), frame.bottom()))
                fill.lineTo(spot)
            open_, last = True, spot
        if open_:
            fill.lineTo(QPointF(last.x(), frame.bottom()))
        shade = QColor(colours["contour"])
        shade.setAlphaF(0.28)
        painter.fillPath(fill, shade)
        painter.setPen(QPen(QColor(colours["contour_index"]), 2))
        painter.drawPath(line)

    def _stretches(self, painter: QPainter, frame: QRectF, run: float) -> None:
        """Write the grade of each stretch in a band under the ground, as far as it fits."""
        painter.setFont(self.small_font())
        metrics = QFontMetricsF(painter.font())
        for start, end, ratio in self._grades:
            x0 = frame.left() + start / run * frame.width()
            x1 = frame.left() + end / run * frame.width()
            painter.setPen(QPen(QColor(self.ink.line), 1))
            painter.drawLine(QPointF(x1, frame.bottom() + 5), QPointF(x1, frame.bottom() + 20))
            words = show(ratio, "%", decimals=0)
            if not math.isnan(ratio) and metrics.horizontalAdvance(words) < x1 - x0 - 4:
                painter.setPen(QColor(self.ink.ink))
                box = QRectF(x0, frame.bottom() + 5, x1 - x0, 15)
                painter.drawText(box, Qt.AlignmentFlag.AlignCenter, words)

    def _pointer(self, painter: QPainter, frame: QRectF, at: object) -> None:
        if self._at is None or self._distance is None or self._height is None:
            return
        import numpy as np

        assert callable(at)
        z = float(np.interp(self._at, self._distance, self._height))
        if math.isnan(z):
            return
        spot = at(self._at, z)
        painter.setPen(QPen(QColor(self.ink.focus), 1, Qt.PenStyle.DashLine))
        painter.drawLine(QPointF(spot.x(), frame.top()), QPointF(spot.x(), frame.bottom()))
        painter.setBrush(QColor(self.ink.focus))
        painter.drawEllipse(spot, 3.5, 3.5)
        units = self._bench.units
        words = f"{show(self._at, 'm', units, 1)} along · {show(z, 'm', units, 2)}"
        metrics = QFontMetricsF(painter.font())
        x = min(spot.x() + 7, frame.right() - metrics.horizontalAdvance(words))
        painter.setPen(QColor(self.ink.ink))
        painter.drawText(QPointF(x, frame.top() + 9), words)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Follow the pointer along the section."""
        if self._distance is None:
            return
        frame = self._frame()
        share = (event.position().x() - frame.left()) / frame.width()
        self._at = min(max(share, 0.0), 1.0) * float(self._distance[-1])
        self.pointed.emit(self._at)
        self.update()

    def leaveEvent(self, event: object) -> None:
        """Forget the pointer."""
        self._at = None
        self.pointed.emit(-1.0)
        self.update()


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar: its name, its value, and what to write at it."""

    label: str
    value: float
    words: str
    #: A second value marked across the bar; None for none.
    mark: float | None = None
    #: Ink of the bar; "" for the chart's own.
    colour: str = ""


class BarChart(Chart):
    """Upright bars beside each other, each with its figure."""

    def __init__(self, bench: Bench, name: str) -> None:
        super().__init__(bench)
        self._bars: list[Bar] = []
        self._colour = ""
        self.setMinimumHeight(150)
        self.setAccessibleName(name)

    def sizeHint(self) -> QSize:
        """Ask for a low picture."""
        return QSize(360, 170)

    def show_bars(self, bars: Sequence[Bar], colour: str = "") -> None:
        """Show bars, in the accent unless a colour is given."""
        self._bars, self._colour = list(bars), colour
        told = ", ".join(f"{bar.label} {bar.words}" for bar in self._bars)
        self.setAccessibleDescription(told)
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the bars."""
        values = [v for b in self._bars for v in (b.value, b.mark or 0.0) if not math.isnan(v)]
        if not values:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setFont(self.small_font())
        metrics = QFontMetricsF(painter.font())
        top, foot = 20.0, self.height() - 20.0
        most = max(*values, 1e-9)
        width = self.width() / len(self._bars)
        for number, bar in enumerate(self._bars):
            self._bar(painter, metrics, bar, number * width, width, (top, foot, most))
        painter.end()

    def _bar(
        self,
        painter: QPainter,
        metrics: QFontMetricsF,
        bar: Bar,
        x: float,
        width: float,
        scale: tuple[float, float, float],
    ) -> None:
        top, foot, most = scale
        value = bar.value if bar.value == bar.value else 0.0
        high = (foot - top) * max(value, 0.0) / most
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(bar.colour or self._colour or self.ink.accent))
        box = QRectF(x + width * 0.14, foot - high, width * 0.72, high)
        painter.drawRoundedRect(box, 2, 2)
        if bar.mark is not None:
            y = foot - (foot - top) * bar.mark / most
            painter.setPen(QPen(QColor(self.ink.ink), 2))
            painter.drawLine(QPointF(x + width * 0.06, y), QPointF(x + width * 0.94, y))
        painter.setPen(QColor(self.ink.quiet))
        label = metrics.elidedText(bar.label, Qt.TextElideMode.ElideRight, width)
        painter.drawText(QRectF(x, foot + 3, width, 15), Qt.AlignmentFlag.AlignCenter, label)
        if metrics.horizontalAdvance(bar.words) <= width + 2:
            painter.setPen(QColor(self.ink.ink))
            y = min(foot - high, foot - (foot - top) * (bar.mark or 0) / most) - 15
            painter.drawText(
                QRectF(x - 2, y, width + 4, 14), Qt.AlignmentFlag.AlignCenter, bar.words
            )
