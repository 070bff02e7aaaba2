"""The section view: the ground along a line, with the grade of every stretch."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QApplication, QLabel, QVBoxLayout, QWidget
from shapely import LineString, Polygon

from canvas.base.quantity import show
from canvas.desk.charts import SectionChart
from canvas.desk.drawer import Page
from canvas.desk.parts import button, quiet
from canvas.desk.wording import called
from canvas.drawing.furniture import nice_step

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow
    from canvas.ground.profile import Section


class SectionPage(Page):
    """Follows the drawn line, or else the selected one."""

    key = "section"
    title = "Section"
    icon = "section"
    about = "The ground along a drawn or selected line"
    place = "beside"

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__()
        self._desk = desk
        self.chart = SectionChart(desk.bench)
        self.words: QLabel = quiet()
        self._cut: Section | None = None
        self._draw = button("Draw a line…", desk.actions_["measure.section"].trigger)
        self._follow = button("Follow the selection", desk.section_of_selection)
        self._copy_it = button("Copy the figures", self._copy)
        box = QVBoxLayout(self)
        box.setContentsMargins(12, 4, 12, 8)
        box.setSpacing(2)
        box.addWidget(self.words)
        box.addWidget(self.chart, 1)
        self.chart.pointed.connect(self._pointed)

    def tools(self) -> Sequence[QWidget]:
        """Offer a line to be drawn or followed."""
        return self._draw, self._follow, self._copy_it

    def _line(self) -> tuple[LineString, str] | None:
        if self._desk.section_line is not None:
            return self._desk.section_line, "The drawn line"
        for item in self._desk.bench.selected():
            if isinstance(item.geometry, LineString):
                return item.geometry, called(item)
            if isinstance(item.geometry, Polygon):
                return LineString(item.geometry.exterior.coords), f"Around {called(item)}"
        return None

    def refresh(self) -> None:
        """Cut the ground again along the line."""
        study = self._desk.bench.study
        chosen = self._line()
        cut = study.section(chosen[0]) if study is not None and chosen is not None else None
        self._cut = cut
        self.chart.setVisible(cut is not None)
        if cut is None or chosen is None:
            if study is not None and study.land.grid is None:
                self.words.setText("The site has no ground yet: bring in a terrain model.")
            else:
                self.words.setText("Draw a line across the land, or select one.")
            return
        from canvas.study.tables import stretches

        units = self._desk.bench.units
        run = float(cut.distance_m[-1])
        parts = stretches(cut, nice_step(run / 16))
        self.chart.show_section(cut.distance_m, cut.z_m, parts)
        known = [p for p in parts if p.grade == p.grade]
        words = f"{chosen[1]}: {show(run, 'm', units, 1)} on the grid"
        if known:
            worst = max(known, key=lambda p: abs(p.grade))
            words += f", steepest stretch {show(abs(worst.grade), '%', decimals=0)}"
        if cut.known_share < 1:
            words += f"; {show(1 - cut.known_share, '%', decimals=0)} of it has no ground"
        accuracy = study.terrain.accuracy_m if study is not None else None
        if accuracy:
            words += f"; heights ± {show(accuracy, 'm', units)}"
        self.words.setText(words + ".")

    def _pointed(self, along_m: float) -> None:
        """Show on the map where the pointer is on the section."""
        if self._cut is None or along_m < 0:
            self._desk.spot.show_at(None)
            return
        import numpy as np

        x = float(np.interp(along_m, self._cut.distance_m, self._cut.x_m))
        y = float(np.interp(along_m, self._cut.distance_m, self._cut.y_m))
        self._desk.spot.show_at((x, y))

    def closed(self) -> None:
        """Take the spot off the map and forget the drawn line."""
        self._desk.section_line = None
        self._desk.spot.show_at(None)

    def _copy(self) -> None:
        if self._cut is None:
            return
        rows = zip(self._cut.distance_m, self._cut.x_m, self._cut.y_m, self._cut.z_m, strict=True)
        lines = ["distance_m\teast_m\tnorth_m\theight_m"]
        lines += [f"{d:.3f}\t{x:.3f}\t{y:.3f}\t{z:.3f}" for d, x, y, z in rows]
        QApplication.clipboard().setText("\n".join(lines))
        self._desk.bench.tell("note", "Copied the section’s figures")
