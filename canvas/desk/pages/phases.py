"""The phases: named, ordered, dated; every element may belong to one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from PySide6.QtWidgets import QWidget

from canvas.base.errors import BadData
from canvas.desk.drawer import Page
from canvas.desk.forms import FieldForm
from canvas.desk.parts import button, fill_table, heading, quiet, row, scrolling, table
from canvas.desk.tiles import holding, spread
from canvas.site.edits import Change, Edit, add, put
from canvas.site.facts import Phase
from canvas.site.plan import Plan
from canvas.site.records import Element, changed, kind

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow


def renumbered(order: list[Phase]) -> list[tuple[Phase, Phase]]:
    """Return (before, after) of phases put in a new order."""
    return [(p, changed(p, place=n)) for n, p in enumerate(order, start=1)]


def removal(plan: Plan, phase: Phase) -> Edit:
    """Return the edit that removes a phase and leaves its elements without one."""
    freed = [
        Change(item, changed(item, phase="")) for item in plan.elements() if item.phase == phase.id
    ]
    return Edit(f"Remove phase {phase.name}", (*freed, Change(phase, None)))


class PhasesPage(Page):
    """A table of the phases, and the fields of the chosen one."""

    key = "phases"
    title = "Phases"
    icon = "phases"
    about = "The stretches the work is built in"

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__()
        self._desk = desk
        self._phases: list[Phase] = []
        self.table = table(("Name", "Starts", "Elements"), name="Phases in their order")
        self.table.itemSelectionChanged.connect(self._show_form)
        self.form = FieldForm([s for s in kind("phase").specs if s.name != "place"])
        self.form.edited.connect(self._edited)
        self._add = button("Add a phase", self._new, look="main")
        self._up = button("Earlier", lambda: self._move(-1))
        self._down = button("Later", lambda: self._move(1))
        self._remove = button("Remove", self._drop)
        self._give_button = button("Put the selection in it", self._give)
        words = quiet("What is built together, in order. The map and the sheet can show the plan "
                      "up to any of them.")  # fmt: skip
        chosen = holding(heading("The chosen phase"), self.form, row(self._give_button, None), None)
        spread(self, (holding(words, self.table), 6), (scrolling(chosen), 5))

    def tools(self) -> Sequence[QWidget]:
        """Offer what is done with the list."""
        return self._add, self._up, self._down, self._remove

    def refresh(self) -> None:
        """List the phases."""
        plan, session = self._desk.bench.plan, self._desk.bench.session
        if plan is None or session is None:
            return
        chosen = self._chosen()
        self._phases = plan.phases()
        counts: dict[str, int] = {}
        for item in plan.elements():
            counts[item.phase] = counts.get(item.phase, 0) + 1
        rows = [(p.name or "–", p.starts or "–", str(counts.get(p.id, 0))) for p in self._phases]
        self.table.blockSignals(True)
        fill_table(self.table, rows, right=frozenset({2}))
        idents = [p.id for p in self._phases]
        if idents:
            at = idents.index(chosen.id) if chosen and chosen.id in idents else 0
            self.table.selectRow(at)
        self.table.blockSignals(False)
        self._show_form()

    def _chosen(self) -> Phase | None:
        at = self.table.currentRow()
        return self._phases[at] if 0 <= at < len(self._phases) else None

    def _show_form(self) -> None:
        session = self._desk.bench.session
        phase = self._chosen()
        write = session is not None and not session.readonly
        self._add.setEnabled(write)
        for control in (self.form, self._up, self._down, self._remove):
            control.setEnabled(write and phase is not None)
        some = bool(self._desk.bench.selection)
        self._give_button.setEnabled(write and phase is not None and some)
        if phase is not None:
            self.form.show_values(lambda name: getattr(phase, name))
        else:
            self.form.show_values(lambda _name: "")

    def _edited(self, name: str, value: Any) -> None:
        phase = self._chosen()
        if phase is None:
            return
        try:
            after = changed(phase, **{name: value})
        except BadData as trouble:
            self._desk.bench.tell("warning", trouble.text())
            return
        self._desk.bench.apply(put(f"Change phase {phase.name}", [(phase, after)]))

    def _new(self) -> None:
        number = len(self._phases) + 1
        made = Phase(name=f"Phase {number}", place=number)
        if self._desk.bench.apply(add(f"Add phase {number}", [made])) is not None:
            self.table.selectRow(number - 1)
            self.form.control("name").setFocus()

    def _move(self, step: int) -> None:
        at = self.table.currentRow()
        to = at + step
        if not 0 <= to < len(self._phases):
            return
        order = list(self._phases)
        order[at], order[to] = order[to], order[at]
        phase = self._phases[at]
        self._desk.bench.apply(put(f"Move phase {phase.name}", renumbered(order)))
        self.table.selectRow(to)

    def _drop(self) -> None:
        plan, phase = self._desk.bench.plan, self._chosen()
        if plan is not None and phase is not None:
            self._desk.bench.apply(removal(plan, phase))

    def _give(self) -> None:
        phase = self._chosen()
        items: list[Element] = self._desk.bench.selected()
        if phase is not None and items:
            pairs = [(item, changed(item, phase=phase.id)) for item in items]
            self._desk.bench.apply(put(f"Put into phase {phase.name}", pairs))
