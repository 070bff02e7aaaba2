"""Charts on the pages: drawn once for desk and paper by `drawing.chart`, painted here."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QSize
from PySide6.QtGui import QFont, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from canvas.desk.bench import Bench
from canvas.desk.theme import Inks, inks
from canvas.drawing.chart import Axis, Chart, ChartStyle, bar_chart
from canvas.drawing.entries import Entry, Layer, Lines, Page, Stroke, Text
from canvas.drawing.furniture import ring
from canvas.drawing.palette import PALETTES
from canvas.paint.painter import paint_layers
from canvas.paint.view import View

if TYPE_CHECKING:
    pass

#: Letters of a chart on the screen [mm of a screen at 100 %]: as tall as the small print.
LETTERS_MM = 2.1
MM_PER_INCH = 25.4


class Figure(QWidget):
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
    def map_ink(self) -> dict[str, str]:
        """The map's inks, so that a picture's ground and sun look as on the map."""
        return dict(PALETTES[self._bench.theme])

    def small_font(self) -> QFont:
        """Return the font of small figures."""
        font = QFont(self.font())
        font.setPointSizeF(max(font.pointSizeF() - 1.5, 7.0))
        return font


class ChartFigure(Figure):
    """A chart made for the widget's size, and made again when that changes."""

    def __init__(self, bench: Bench, name: str) -> None:
        super().__init__(bench)
        self.setAccessibleName(name)
        self.chart: Chart | None = None

    @property
    def mm_px(self) -> float:
        """Pixels to a millimetre on this screen."""
        return self.logicalDpiX() / MM_PER_INCH

    def made(self, width_mm: float, height_mm: float) -> Chart | None:
        """Return the chart for a size; subclasses say what it shows."""
        return None

    def extras(self, chart: Chart) -> list[Entry]:
        """Return what is drawn over the chart."""
        return []

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the chart."""
        width, height = self.width() / self.mm_px, self.height() / self.mm_px
        self.chart = self.made(width, height)
        if self.chart is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        entries = (*self.chart.entries, *self.extras(self.chart))
        layer = Layer("chart", self.accessibleName(), entries)
        view = View.page(Page(width, height), self.mm_px, vector=False)
        paint_layers(painter, (layer,), view, PALETTES[self._bench.theme])
        self.over(painter, self.chart)
        painter.end()

    def over(self, painter: QPainter, chart: Chart) -> None:
        """Paint what lives: the pointer's place."""

    def spot(self, chart: Chart, x: float, y: float) -> QPointF:
        """Return the pixel of a value."""
        x_mm, y_mm = chart.at(x, y)
        return QPointF(x_mm * self.mm_px, self.height() - y_mm * self.mm_px)


class BarFigure(ChartFigure):
    """Upright bars, each with its figure, and a mark across each where there is one."""

    def __init__(self, bench: Bench, name: str, axis: str, role: str) -> None:
        super().__init__(bench, name)
        self._axis = axis
        self._role = role
        self._names: list[str] = []
        self._values: list[float] = []
        self._words: list[str] = []
        self._marks: list[float] = []
        self.setMinimumHeight(150)

    def sizeHint(self) -> QSize:
        """Ask for a low picture."""
        return QSize(360, 180)

    def show_axis(self, words: str) -> None:
        """Write other words along the upright axis."""
        self._axis = words

    def show_bars(
        self,
        names: Sequence[str],
        values: Sequence[float],
        words: Sequence[str],
        marks: Sequence[float] = (),
    ) -> None:
        """Show bars, what is written over each, and a value marked across each."""
        self._names, self._values = list(names), list(values)
        self._words, self._marks = list(words), list(marks)
        told = ", ".join(f"{n} {w}" for n, w in zip(self._names, self._words, strict=True))
        self.setAccessibleDescription(told)
        self.update()

    def made(self, width_mm: float, height_mm: float) -> Chart | None:
        """Return the bars as a chart."""
        if not self._names:
            return None
        high = max([*self._values, *self._marks, 1e-9])
        axis = Axis(self._axis, high=high)
        style = ChartStyle(LETTERS_MM)
        return bar_chart(
            self._names, self._values, width_mm, height_mm, axis, role=self._role, style=style
        )

    def extras(self, chart: Chart) -> list[Entry]:
        """Return the figures over the bars, and the marks across them."""
        entries: list[Entry] = []
        width = chart.plot[2] / len(self._names)
        for at, (value, words) in enumerate(zip(self._values, self._words, strict=True)):
            top = max(value, self._marks[at]) if self._marks else value
            x, y = chart.at(at + 0.5, top)
            if len(words) * LETTERS_MM * 0.62 <= width:
                y += LETTERS_MM * 0.95
                entries.append(Text(x, y, words, LETTERS_MM, "ink", halo="halo"))
        lines = [
            ring(chart.at(at + 0.08, mark), chart.at(at + 0.92, mark))
            for at, mark in enumerate(self._marks)
        ]
        return [Lines(lines, Stroke("ink", 0.5)), *entries] if lines else entries
