"""The storm: how much rain, what it fills, what spills where, and the books of it all."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from PySide6.QtWidgets import QApplication, QPlainTextEdit, QWidget

from canvas.base.errors import BadData
from canvas.desk.drawer import Page
from canvas.desk.forms import FieldForm
from canvas.desk.parts import button, fill_table, heading, quiet, row, small, table
from canvas.desk.stormfigures import ChainFigure, FlowFigure
from canvas.desk.tiles import Tiles, holding, spread
from canvas.site.edits import add, put
from canvas.site.records import changed, kind
from canvas.site.storms import DesignStorm, RainRows

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow
    from canvas.study.storm.chain import Chain
    from canvas.study.study import Study

#: Figures of the table stand at the right.
RIGHT = frozenset({1, 3, 4, 5, 6, 7, 9, 10})
#: Rows a table shows before it is scrolled.
MOST_ROWS = 10


class StormPage(Page):
    """The design storm and the chain of stores it runs through."""

    key = "storm"
    title = "Storm"
    icon = "storm"
    about = "What a storm fills, what spills, where to and how hard"
    rise = 0.49

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__()
        self._desk = desk
        self._lane = desk.bench.jobs.lane("Storm")
        self._asked: object = None
        self._chain: Chain | None = None
        self.words = quiet()
        self.diagram = ChainFigure(desk.bench, self._choose)
        self.flow = FlowFigure(desk.bench)
        self._flow_title = heading("Flow over time")
        from canvas.study.storm.told import HEADINGS

        self.table = table(HEADINGS, name="Stores in the storm")
        self.table.itemSelectionChanged.connect(self._picked)
        self.books = table(("The books of the whole", ""), name="Books of the storm")
        self.notes = small()
        self.form = FieldForm([s for s in kind("design_storm").specs if s.name != "id"])
        self.form.edited.connect(self._edited)
        self.tiles = Tiles(least=330)
        spread(self, (self.tiles, 1))
        box = self.layout()
        if box is not None:
            box.setContentsMargins(0, 0, 0, 0)
        stores = holding(heading("Each store"), self.table)
        flows = holding(self._flow_title, self.flow)
        sums = holding(self.books, self.notes)
        #: What stands empty while no storm has run.
        self._answers = (stores, flows, sums, self.diagram)
        self.tiles.show_parts(
            [
                (holding(self.words, self.diagram), True),
                (stores, True),
                (flows, False),
                (sums, False),
                (holding(heading("The design storm"), self.form), False),
                (self._rain_part(), False),
            ]
        )

    def _rain_part(self) -> QWidget:
        """Return the part in which a rain table is pasted or typed."""
        from canvas.study.storm.pasted import REMEDY

        self.rain = QPlainTextEdit()
        self.rain.setAccessibleName("Rain table: durations down, return periods across")
        self.rain.setPlaceholderText(REMEDY)
        self.rain.setTabChangesFocus(True)
        self.rain.setMinimumHeight(110)
        self._take = button("Take these depths", lambda: self._take_rain(intensity=False),
                            look="main", tip="Figures in mm")  # fmt: skip
        self._rates = button("Take them as mm/h", lambda: self._take_rain(intensity=True),
                             tip="Figures are intensities")  # fmt: skip
        self.rain_form = FieldForm([s for s in kind("rain_table").specs
                                    if s.name in ("source", "dated", "mark")])  # fmt: skip
        self.rain_form.edited.connect(self._rain_edited)
        return holding(
            heading("Rain table"),
            quiet("From the local weather service: depths by duration and return period."),
            self.rain, row(self._take, self._rates, None), self.rain_form,
        )  # fmt: skip

    def tools(self) -> Sequence[QWidget]:
        """Offer the ways on the map, and the figures to be taken along."""
        shown = self._desk.actions_["view.spills"]
        return (
            button("Spills on the map", shown.trigger, tip=shown.toolTip()),
            button("Copy the table", self._copy),
        )

    # -- showing ------------------------------------------------------------------------------

    def refresh(self) -> None:
        """Ask for the chain again when the plan has changed."""
        bench = self._desk.bench
        plan, study, session = bench.plan, bench.study, bench.session
        if plan is None or study is None:
            return
        self._show_records()
        write = session is not None and not session.readonly
        for control in (self.form, self.rain, self._take, self._rates, self.rain_form):
            control.setEnabled(write)
        token = (bench.study_revision, bench.units, bench.at)
        if token == self._asked:
            self._show_chosen()
            return
        self._asked = token
        self._lane.ask(study.chain, lambda found: self._show(study, found))

    def _storm(self) -> DesignStorm:
        plan = self._desk.bench.plan
        found = plan.of(DesignStorm) if plan is not None else []
        return found[0] if found else DesignStorm()

    def _rain_record(self) -> RainRows | None:
        plan = self._desk.bench.plan
        found = [r for r in plan.of(RainRows) if r.in_use] if plan is not None else []
        return found[0] if found else None

    def _show_records(self) -> None:
        storm, rain = self._storm(), self._rain_record()
        self.form.show_values(lambda name: getattr(storm, name))
        shown = rain if rain is not None else RainRows(depths="")
        self.rain_form.show_values(lambda name: getattr(shown, name))
        if not self.rain.hasFocus():
            self.rain.setPlainText(_as_typed(rain))

    def _show(self, study: Study, chain: Chain) -> None:
        from canvas.study.storm.told import books, notes, rows

        self._chain = chain
        units = self._desk.bench.units
        self.words.setText(_told(chain))
        found = rows(chain, units) if chain.run is not None else []
        self.table.blockSignals(True)
        fill_table(self.table, [r.cells for r in found], right=RIGHT)
        self.table.blockSignals(False)
        _fit_rows(self.table, len(found))
        sums = books(chain, units)
        fill_table(self.books, sums, right=frozenset({1}))
        _fit_rows(self.books, len(sums))
        self.notes.setText(
            " ".join(each if each.endswith(".") else f"{each}." for each in notes(chain))
        )
        for widget in self._answers:
            widget.setVisible(chain.run is not None)
        self._show_chosen()
        self.tiles.relay()

    def _show_chosen(self) -> None:
        """Show the selected store in diagram, table and chart: else the lowest that spills."""
        chain = self._chain
        if chain is None or chain.run is None:
            self.diagram.show_chain(chain, "")
            self.flow.show_flow(None, "")
            return
        order = list(chain.order)
        chosen = next((i for i in self._desk.bench.selection if i in order), "")
        self.diagram.show_chain(chain, chosen)
        shown = chosen or order[-1]
        self.flow.show_flow(chain, shown)
        self._flow_title.setText(f"Flow over time: {chain.network.nodes[shown].label}")
        self.table.blockSignals(True)
        if chosen:
            self.table.selectRow(order.index(chosen))
        else:
            self.table.clearSelection()
        self.table.blockSignals(False)

    def _picked(self) -> None:
        chain, at = self._chain, self.table.currentRow()
        if chain is not None and chain.run is not None and 0 <= at < len(chain.order):
            self._choose(chain.order[at])

    def _choose(self, ident: str) -> None:
        """Choose a store: on the map where it is drawn, else here alone."""
        plan, chain = self._desk.bench.plan, self._chain
        if plan is not None and ident in plan:
            self._desk.bench.select([ident])
        elif chain is not None:
            self.diagram.show_chain(chain, ident)
            self.flow.show_flow(chain, ident)
            self._flow_title.setText(f"Flow over time: {chain.network.nodes[ident].label}")
            self._desk.bench.show_place(chain.network.nodes[ident].place.buffer(20).bounds)

    def _copy(self) -> None:
        from canvas.study.storm.told import HEADINGS, rows

        if self._chain is None:
            return
        lines = ["\t".join(HEADINGS)]
        lines += ["\t".join(r.cells) for r in rows(self._chain, self._desk.bench.units)]
        QApplication.clipboard().setText("\n".join(lines))
        self._desk.bench.tell("note", "Copied the table")

    # -- changing -----------------------------------------------------------------------------

    def _edited(self, name: str, value: Any) -> None:
        plan, storm = self._desk.bench.plan, self._storm()
        if plan is None:
            return
        try:
            after = changed(storm, **{name: value})
        except BadData as trouble:
            self._desk.bench.tell("warning", trouble.text())
            return
        fresh = storm.id not in plan
        label = "Change the design storm"
        self._desk.bench.apply(add(label, [after]) if fresh else put(label, [(storm, after)]))

    def _rain_edited(self, name: str, value: Any) -> None:
        rain = self._rain_record()
        if rain is None:
            self._desk.bench.tell("warning", "Take the depths first, then say where they are from.")
            return
        after = changed(rain, **{name: value})
        self._desk.bench.apply(put("Change the rain table", [(rain, after)]))

    def _take_rain(self, *, intensity: bool) -> None:
        from canvas.study.storm.pasted import read_pasted

        try:
            depths = read_pasted(self.rain.toPlainText(), intensity=intensity)
        except BadData as trouble:
            self._desk.bench.tell("warning", trouble.text())
            return
        rain = self._rain_record()
        if rain is None:
            self._desk.bench.apply(add("Add the rain table", [RainRows(depths=depths)]))
        else:
            after = changed(rain, depths=depths)
            self._desk.bench.apply(put("Change the rain table", [(rain, after)]))
        self.rain.setPlainText(_as_typed(self._rain_record()))


def _as_typed(rain: RainRows | None) -> str:
    """Return a rain table as a person reads it: durations down, return periods across."""
    if rain is None or not rain.depths.strip():
        return ""
    from canvas.study.storm.design import rain_table

    try:
        found = rain_table(rain)
    except BadData:
        return rain.depths
    if found is None:
        return ""
    lines = [";".join(["duration", *(f"{y:g}" for y in found.years)])]
    for minutes, depths in zip(found.minutes, found.depth_mm, strict=True):
        name = f"{minutes:g} min" if minutes < 60 else f"{minutes / 60:g} h"
        lines.append(";".join([name, *(f"{d:g}" for d in depths)]))
    return "\n".join(lines)


def _told(chain: Chain) -> str:
    """Return the storm and what it does in a sentence or two."""
    if chain.trouble:
        return chain.trouble
    rain, running = chain.rain, chain.running()
    over = [s for s in running if s.over]
    said = f"{rain.said()} ({rain.basis}). "
    if not running:
        return said + "Nothing spills."
    words = "1 way" if len(running) == 1 else f"{len(running)} ways"
    worst = "" if not over else f", {len(over)} of them more than it was made for"
    return f"{said}Water spills by {words}{worst}."


def _fit_rows(made: Any, count: int) -> None:
    """Make a table as high as its rows, up to a limit."""
    rows = min(max(count, 1), MOST_ROWS)
    height = made.horizontalHeader().height() + rows * made.verticalHeader().defaultSectionSize()
    made.setFixedHeight(height + 20)
