"""A gauge's record through a storm, with the moment the map shows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from canvas.base.quantity import shown
from canvas.desk.bench import Bench
from canvas.desk.charts import LETTERS_MM, ChartFigure
from canvas.drawing.chart import Chart, ChartStyle
from canvas.drawing.details.gauges import gauge_chart

if TYPE_CHECKING:
    from canvas.study.rains.keep import SavedRun


class HydrographChart(ChartFigure):
    """Flow past a line or depth at a staff, over hours."""

    def __init__(self, bench: Bench) -> None:
        super().__init__(bench, "Through the storm")
        self._run: SavedRun | None = None
        self._key = ""
        self._at_s: float | None = None
        self.setMinimumHeight(110)

    def sizeHint(self) -> QSize:
        """Ask for a wide, low picture."""
        return QSize(420, 170)

    def show_gauge(self, run: SavedRun | None, key: str) -> None:
        """Show what one gauge saw; "off" is the flow off the land."""
        self._run, self._key = run, key
        series = run.series(key) if run is not None else {}
        name = "flow_m3s" if "flow_m3s" in series else "depth_m"
        most = float(np.abs(series[name]).max()) if name in series else 0.0
        unit = "m³/s" if name == "flow_m3s" else "m"
        self.setAccessibleDescription(f"greatest {most:.3f} {unit}")
        self.update()

    def show_moment(self, time_s: float | None) -> None:
        """Mark a moment."""
        self._at_s = time_s
        self.update()

    def made(self, width_mm: float, height_mm: float) -> Chart | None:
        """Return the record as a chart, in the shown unit."""
        if self._run is None:
            return None
        style = ChartStyle(LETTERS_MM)
        return gauge_chart(self._run, self._key, width_mm, height_mm, self._bench.units, style)

    def over(self, painter: QPainter, chart: Chart) -> None:
        """Paint the moment the map shows."""
        if self._at_s is None:
            return
        hours = self._at_s / 3600.0 * shown("hours", self._bench.units).factor
        top = self.spot(chart, hours, chart.range[3])
        foot = self.spot(chart, hours, chart.range[2])
        painter.setPen(QPen(QColor(self.ink.focus), 1.4, Qt.PenStyle.DashLine))
        painter.drawLine(top, foot)
