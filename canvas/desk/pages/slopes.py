"""The slope table: how much of the site is how steep."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QWidget

from canvas.base.quantity import area_unit, show
from canvas.desk.charts import BarFigure
from canvas.desk.drawer import Page
from canvas.desk.parts import button, fill_table, quiet, small, table
from canvas.desk.tiles import holding, spread

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow
    from canvas.study.tables import SlopeShare


class SlopesPage(Page):
    """Areas by slope class, as bars and as a table."""

    key = "slopes"
    title = "Slope table"
    icon = "slope"
    about = "Plan area of the site by slope class"

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__()
        self._desk = desk
        self._lane = desk.bench.jobs.lane("Slope table")
        self._asked: object = None
        self.chart = BarFigure(
            desk.bench, "Share of the site by slope class", "% of the site", "contour_index"
        )
        self.table = table(("Class", "Slope", "Area", "Share"), name="Slope classes")
        self.words = quiet()
        from canvas.base.sources import source
        from canvas.ground.surface import SLOPE_CLASSES_SOURCE

        named = source(SLOPE_CLASSES_SOURCE).text
        shade = desk.actions_["shade.slope_classes"]
        self._shade = button("Shade the map with them", shade.trigger)
        figures = holding(
            self.words, self.table, small(f"Classes: {named} Cells count by their centre.")
        )
        spread(self, (figures, 5), (self.chart, 6))

    def tools(self) -> Sequence[QWidget]:
        """Offer the map shaded the same way."""
        return (self._shade,)

    def refresh(self) -> None:
        """Ask for the table again when the ground or the boundary has changed."""
        bench = self._desk.bench
        study = bench.study
        if study is None or study.land.grid is None:
            self._asked = None
            self.words.setText("The site has no ground yet: bring in a terrain model.")
            self.chart.hide()
            self.table.setRowCount(0)
            return
        token = (study.land, tuple(i.id for i in study.plan.of_kind("site_boundary")), bench.units,
                 tuple(study.plan.of_kind("site_boundary")), bench.theme)  # fmt: skip
        if token == self._asked:
            return
        self._asked = token
        from canvas.study.tables import slope_shares

        inside = "inside the boundary" if study.plan.of_kind("site_boundary") else "on the ground"
        self._lane.ask(lambda _p: slope_shares(study), lambda got: self._show(got, inside))

    def _show(self, shares: list[SlopeShare], inside: str) -> None:
        units = self._desk.bench.units
        total = sum(each.area_m2 for each in shares)
        self.words.setText(f"{show(total, area_unit(total), units)} {inside}, by how steep it is.")
        used = [each for each in shares if each.area_m2 > 0]
        last = shares.index(used[-1]) + 1 if used else 0
        self.chart.show()
        self.chart.show_bars(
            [each.letter for each in shares[:last]],
            [each.share * 100 for each in shares[:last]],
            [show(each.share, "%", decimals=0) for each in shares[:last]],
        )
        rows = [
            (f"{s.letter}  {s.name}", _range(s), show(s.area_m2, area_unit(s.area_m2), units),
             show(s.share, "%"))
            for s in shares[:last]
        ]  # fmt: skip
        fill_table(self.table, rows, right=frozenset({1, 2, 3}))


def _range(each: SlopeShare) -> str:
    if each.high == float("inf"):
        return f"over {show(each.low, '%', decimals=0)}"
    return f"{each.low * 100:.0f}–{show(each.high, '%', decimals=0)}"
