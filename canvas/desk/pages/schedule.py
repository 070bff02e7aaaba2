"""Schedules: what is on the plan, kind by kind, in tables that can be copied out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QApplication, QComboBox, QHeaderView, QVBoxLayout

from canvas.base.fact import Fact
from canvas.base.quantity import UnitSystem
from canvas.desk.drawer import Page
from canvas.desk.parts import button, fill_table, row, small, table
from canvas.desk.wording import called
from canvas.site.plan import Plan
from canvas.site.records import Element, element_kinds, kind

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow
    from canvas.study.study import Study

#: As many rows are listed; more are counted.
MOST = 2000
#: Facts that place an element rather than measure it: not worth a column.
PLACING = {"east_m", "north_m", "lon_deg", "lat_deg"}


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
        self.which = QComboBox()
        self.which.setAccessibleName("Which schedule")
        self.which.activated.connect(lambda _i: self.refresh())
        self.table = table(("Name",), name="Schedule")
        self.table.itemSelectionChanged.connect(self._picked)
        self._note = small()
        box = QVBoxLayout(self)
        box.setContentsMargins(12, 10, 12, 12)
        box.addLayout(row(self.which, None, button("Copy the table", self._copy)))
        box.addWidget(self.table, 1)
        box.addWidget(self._note)

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
            self.which.setCurrentIndex(max(self.which.findData(chosen), 0))
        key = self.which.currentData() or ""
        token = (key, bench.study_revision, bench.units)
        if token == self._asked:
            return
        self._asked = token
        units = bench.units
        if key:
            self._lane.ask(lambda _p: _of_kind(study, key, units), self._show)
        else:
            self._show(_counted(study.plan))

    def _show(self, got: tuple[list[str], list[list[str]], list[str]]) -> None:
        heads, rows, idents = got
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


def _counted(plan: Plan) -> tuple[list[str], list[list[str]], list[str]]:
    """Return how many there are of each kind, by status."""
    rows = []
    for key, each in element_kinds().items():
        items = [i for i in plan.of_kind(key) if isinstance(i, Element)]
        if items:
            there = sum(1 for i in items if i.status in ("existing", "built"))
            wanted = sum(1 for i in items if i.status == "proposed")
            going = sum(1 for i in items if i.status == "remove")
            rows.append([each.plural, str(len(items)), str(there), str(wanted), str(going)])
    return ["Kind", "All", "There now", "Proposed", "To go"], rows, [""] * len(rows)


def _of_kind(
    study: Study, key: str, units: UnitSystem
) -> tuple[list[str], list[list[str]], list[str]]:
    """Return heads, rows and identities of a kind's schedule; called in the worker."""
    items = [i for i in study.plan.of_kind(key) if isinstance(i, Element)][:MOST]
    facts = {item.id: study.facts(item.id) for item in items}
    columns: dict[str, Fact] = {}
    for some in facts.values():
        for fact in some:
            if fact.key not in PLACING:
                columns.setdefault(fact.key, fact)
    keys = list(columns)[:7]
    phases = {p.id: p.name for p in study.plan.phases()}
    status = kind(key).spec("status")
    heads = ["Name", *(_head(columns[k]) for k in keys), "Status", "Phase"]
    rows = []
    for item in items:
        mine = {fact.key: fact for fact in facts[item.id]}
        figures = [mine[k].shown(units) if k in mine else "–" for k in keys]
        tail = [status.label_of(item.status), phases.get(item.phase, "–")]
        rows.append([called(item), *figures, *tail])
    return heads, rows, [item.id for item in items]


def _head(fact: Fact) -> str:
    return f"{fact.label} {fact.basis}".strip()
