"""The balance of earth: what is dug and filled, kept, brought and taken away, phase by phase."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QComboBox, QWidget

from canvas.base.quantity import show, shown
from canvas.desk.charts import BarFigure
from canvas.desk.drawer import Page
from canvas.desk.parts import fill_table, heading, quiet, small, table
from canvas.desk.tiles import Tiles, holding, spread

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow
    from canvas.study.balance import PhaseBalance, SiteBalance
    from canvas.study.book import Table

#: Rows a table shows before it is scrolled.
MOST_ROWS = 8
#: Width of the page from which the bars and their names have room [pixels].
CHART_FROM = 840


class EarthPage(Page):
    """Bars and tables of the earth of one phase, or of all."""

    key = "earth"
    title = "Earth balance"
    icon = "earth"
    about = "What is dug, filled, kept, brought in and taken away"

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__()
        self._desk = desk
        self._lane = desk.bench.jobs.lane("Earth balance")
        self._asked: object = None
        self._found: SiteBalance | None = None
        self.which = QComboBox()
        self.which.setAccessibleName("Which phase")
        self.which.setMinimumWidth(210)
        self.which.activated.connect(lambda _i: self._fill())
        self.words = quiet()
        self.words.setAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)
        self._barred = False
        self.chart = BarFigure(desk.bench, "Earth of the phase", "", "contour_index")
        self.tables = Tiles(least=380)
        spread(self, (holding(self.words, self.chart), 5), (self.tables, 7))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Beside another page the names under the bars would run into each other."""
        super().resizeEvent(event)
        self._show_chart()

    def _show_chart(self) -> None:
        self.chart.setVisible(self._barred and self.width() >= CHART_FROM)

    def tools(self) -> Sequence[QWidget]:
        """Offer the phases."""
        return (self.which,)

    def refresh(self) -> None:
        """Ask for the balance again when the plan has changed."""
        bench = self._desk.bench
        study = bench.study
        if study is None:
            return
        token = (bench.study_revision, bench.units)
        if token == self._asked:
            return
        self._asked = token
        from canvas.study.balance import balance

        self._lane.ask(lambda _p: balance(study), self._show)

    def _show(self, found: SiteBalance) -> None:
        self._found = found
        chosen = self.which.currentData()
        self.which.clear()
        self.which.addItem(found.whole.name, None)
        for row in found.phases:
            self.which.addItem(row.name, row.ident)
        self.which.setCurrentIndex(max(self.which.findData(chosen), 0) if chosen is not None else 0)
        self._fill()

    def _chosen(self, found: SiteBalance) -> PhaseBalance:
        at = self.which.currentIndex()
        return found.phases[at - 1] if 0 < at <= len(found.phases) else found.whole

    def _fill(self) -> None:
        found, study = self._found, self._desk.bench.study
        if found is None or study is None:
            return
        row = self._chosen(found)
        self.words.setText(self._told(found, row))
        self._barred = bool(row.lines)
        self._show_chart()
        if row.lines:
            self._bars(row)
        from canvas.study.balance_tables import (
            NOTES,
            earth_table,
            moves_table,
            phase_table,
            store_table,
        )
        from canvas.study.book import Book

        book = Book(study, self._desk.bench.units)
        made: list[Table | None] = []
        if found.whole.works:
            made = [
                earth_table(book, row), phase_table(book, found), store_table(book, found),
                moves_table(book, row),
            ]  # fmt: skip
        parts: list[tuple[QWidget, bool]] = [
            (_table_part(each, self._desk), k < 2)
            for k, each in enumerate(made)
            if each is not None
        ]
        notes = " ".join(NOTES)
        self.tables.show_parts([*parts, (small(notes if parts else ""), True)])

    def _told(self, found: SiteBalance, row: PhaseBalance) -> str:
        """Return the balance in a few sentences."""
        units = self._desk.bench.units
        if not found.whole.works and not found.left_out:
            return "No earthworks are proposed yet: draw a platform, terraces or a shaped track."
        from canvas.study.balance_tables import carriage
        from canvas.study.book import Book

        study = self._desk.bench.study
        words = [carriage(Book(study, units), row)] if study is not None else []
        if row.bare_m2 > 0:
            words.append(
                f"{show(row.bare_m2, 'ha', units)} of ground is left bare: "
                "cover or sow it before the rains."
            )
        if found.left_out:
            count = len(found.left_out)
            words.append(f"{count} cannot be built as drawn and {'is' if count == 1 else 'are'} "
                         "left out.")  # fmt: skip
        return " ".join(words)

    def _bars(self, row: PhaseBalance) -> None:
        units = self._desk.bench.units
        how = shown("m3", units)
        topsoil = [line for line in row.lines if line.key == "topsoil"]
        earth = [line for line in row.lines if line.key != "topsoil"]
        sums: list[tuple[str, float]] = [
            ("Topsoil off", sum(line.cut_m3 for line in topsoil)),
            ("put back", sum(line.fill_m3 for line in topsoil)),
            ("Earth dug", sum(line.cut_m3 for line in earth)),
            ("fill takes", sum(line.fill_bank_m3 for line in earth)),
            ("to heaps", sum(line.onto_heaps_m3 - line.from_heaps_m3 for line in row.lines)),
            ("taken away", sum(line.taken_away_m3 for line in row.lines)),
            ("brought in", sum(line.brought_in_m3 + line.from_pits_m3 for line in row.lines)),
        ]
        self.chart.show_axis(f"{how.symbol} in the bank")
        self.chart.show_bars(
            [name for name, _ in sums],
            [max(value, 0.0) * how.factor for _, value in sums],
            [f"{value * how.factor:,.0f}".replace(",", "\N{NARROW NO-BREAK SPACE}")
             for _, value in sums],
        )  # fmt: skip


def _table_part(made: Table, desk: Any) -> QWidget:
    """Return a table with its title, as high as its rows."""
    heads = [column.heading for column in made.columns]
    grid = table(heads, name=made.title)
    right = frozenset(k for k, column in enumerate(made.columns) if column.right)
    fill_table(grid, [list(line.cells) for line in made.lines], right=right)
    idents = [line.ident for line in made.lines]
    if any(idents):
        grid.itemSelectionChanged.connect(
            lambda: desk.bench.select([idents[grid.currentRow()]]) if grid.currentRow() >= 0 else 0
        )
    high = grid.horizontalHeader().sizeHint().height() + 8
    rows = min(len(made.lines), MOST_ROWS)
    grid.setFixedHeight(high + rows * grid.verticalHeader().defaultSectionSize())
    return holding(heading(made.title), grid)
