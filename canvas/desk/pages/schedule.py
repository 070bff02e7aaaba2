"""Schedules: what is on the plan, kind by kind, in tables that can be copied out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from PySide6.QtWidgets import QApplication, QComboBox, QHeaderView, QVBoxLayout, QWidget

from canvas.base.quantity import UnitSystem
from canvas.desk.drawer import Page
from canvas.desk.parts import button, fill_table, small, table
from canvas.site.records import element_kinds, kind

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow
    from canvas.study.book import Table
    from canvas.study.study import Study

#: As many rows are listed; more are counted.
MOST = 2000
#: Before the titles of the schedules a sheet prints, to tell them from kinds.
PRINTED = "printed:"


class SchedulePage(Page):
    """One table for each kind there is; choosing a row shows the element."""

    key = "schedule"
    title = "Schedules"
    icon = "schedule"
    about = "What is on the plan, kind by kind"

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__()
        self._desk = desk
        self._lane = desk.bench.jobs.lane("Schedule")
        self._idents: list[str] = []
        self._asked: object = None
        self._kinds: tuple[str, ...] = ()
        self._titles: tuple[str, ...] = ()
        self.which = QComboBox()
        self.which.setAccessibleName("Which schedule")
        self.which.setMinimumWidth(230)
        self.which.activated.connect(lambda _i: self.refresh())
        self._copy_it = button("Copy the table", self._copy)
        self.table = table(("Name",), name="Schedule")
        self.table.itemSelectionChanged.connect(self._picked)
        self._note = small()
        box = QVBoxLayout(self)
        box.setContentsMargins(12, 8, 12, 10)
        box.addWidget(self.table, 1)
        box.addWidget(self._note)

    def tools(self) -> Sequence[QWidget]:
        """Offer which schedule, and the table to be taken along."""
        return self.which, self._copy_it

    def refresh(self) -> None:
        """Show the chosen schedule as the plan stands."""
        bench = self._desk.bench
        plan, study = bench.plan, bench.study
        if plan is None or study is None:
            return
        kinds = tuple(key for key in element_kinds() if plan.of_kind(key))
        if kinds != self._kinds:
            chosen = self.which.currentData()
            self._kinds = kinds
            self.which.clear()
            self.which.addItem("Everything, counted", "")
            for key in kinds:
                self.which.addItem(kind(key).plural, key)
            for title in self._titles:
                self.which.addItem(f"As printed: {title}", PRINTED + title)
            self.which.setCurrentIndex(max(self.which.findData(chosen), 0))
        key = self.which.currentData() or ""
        token = (key, bench.study_revision, bench.units)
        if token == self._asked:
            return
        self._asked = token
        units = bench.units

        def work(_progress: Any) -> tuple[tuple[str, ...], Table]:
            printed = _printed(study, units)
            shown = printed.get(key.removeprefix(PRINTED)) or _table(study, key, units)
            return tuple(printed), shown

        self._lane.ask(work, lambda got: self._show(*got))

    def _offer(self, titles: tuple[str, ...]) -> None:
        """Offer the schedules a sheet prints after those of kinds."""
        if titles == self._titles:
            return
        chosen, self._titles = self.which.currentData(), titles
        for at in range(self.which.count() - 1, -1, -1):
            if str(self.which.itemData(at) or "").startswith(PRINTED):
                self.which.removeItem(at)
        for title in titles:
            self.which.addItem(f"As printed: {title}", PRINTED + title)
        self.which.setCurrentIndex(max(self.which.findData(chosen), 0))

    def _show(self, titles: tuple[str, ...], made: Table) -> None:
        self._offer(titles)
        heads = [column.heading for column in made.columns]
        rows = [list(line.cells) for line in made.lines]
        idents = [line.ident for line in made.lines]
        self.table.blockSignals(True)
        self.table.setColumnCount(len(heads))
        self.table.setHorizontalHeaderLabels(heads)
        header = self.table.horizontalHeader()
        for column in range(len(heads)):
            header.setSectionResizeMode(column, QHeaderView.ResizeMode.ResizeToContents)
        header.setStretchLastSection(False)
        if not any(idents):
            header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        figures = frozenset(
            c for c in range(1, len(heads)) if rows and all(_figure(r[c]) for r in rows[:20])
        )
        fill_table(self.table, rows[:MOST], right=figures)
        self.table.blockSignals(False)
        self._idents = idents
        more = len(rows) - MOST
        self._note.setText(
            f"and {more} more" if more > 0 else "Choosing a row shows it on the map."
        )

    def _picked(self) -> None:
        at = self.table.currentRow()
        if 0 <= at < len(self._idents) and self._idents[at]:
            self._desk.bench.select([self._idents[at]])

    def _copy(self) -> None:
        lines = []
        heads = [
            item.text() if (item := self.table.horizontalHeaderItem(c)) is not None else ""
            for c in range(self.table.columnCount())
        ]
        lines.append("\t".join(heads))
        for r in range(self.table.rowCount()):
            cells = (self.table.item(r, c) for c in range(self.table.columnCount()))
            lines.append("\t".join(cell.text() if cell is not None else "" for cell in cells))
        QApplication.clipboard().setText("\n".join(lines))
        self._desk.bench.tell("note", "Copied the table")


def _figure(words: str) -> bool:
    return words == "–" or words[:1].isdigit() or words[:2].lstrip("-−")[:1].isdigit()


def _printed(study: Study, units: UnitSystem) -> dict[str, Table]:
    """Return the schedules a sheet prints, by title; called in the worker."""
    from canvas.study.counts import phase_table
    from canvas.study.schedules import schedules

    phases = phase_table(study)
    return {t.title: t for t in (*([phases] if phases else ()), *schedules(study, units))}


def _table(study: Study, key: str, units: UnitSystem) -> Table:
    """Return the schedule of one kind, or how many there are of each; called in the worker."""
    from canvas.study.counts import counts_table, kind_table

    if not key or key.startswith(PRINTED):
        return counts_table(study)
    return kind_table(study, key, units, MOST)
