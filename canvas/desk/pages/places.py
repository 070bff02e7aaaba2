"""Places found on the ground: what to look for, what was found and why, and taking one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from PySide6.QtWidgets import QComboBox, QLineEdit, QProgressBar, QWidget

from canvas.base.errors import UserError
from canvas.base.progress import Progress
from canvas.base.quantity import read_number, shown
from canvas.desk.drawer import Page
from canvas.desk.jobs import Job, Worker
from canvas.desk.parts import button, fill_table, form_rows, quiet, row, small, stretched, table
from canvas.desk.tiles import holding, spread

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow
    from canvas.study.study import Study
    from canvas.study.suggest.proposal import Proposal
    from canvas.tools.plane import XY

#: Key, what is looked for, and the fields it takes: name, label, unit, what stands there first.
SORTS: tuple[tuple[str, str, tuple[tuple[str, str, str, float | None], ...]], ...] = (
    ("swales", "Level lines for swales",
     (("steepest", "Ground no steeper than", "%", 0.18), ("longest", "Longest", "m", 400.0))),
    ("ponds", "Places for a dam and pond",
     (("runoff", "Runoff of a dry year", "mm", None), ("longest", "Longest crest", "m", 80.0))),
    ("platforms", "Places for a platform",
     (("length", "Length", "m", 18.0), ("depth", "Depth", "m", 12.0))),
    ("track", "A track between two points",
     (("grade", "Steepest grade", "%", 0.12), ("width", "Width", "m", 3.5))),
)  # fmt: skip
CAUTION = (
    "From the ground data alone: walk each place. Dams, deep cuts and ways need the eyes of "
    "somebody licensed before anything is dug."
)


class PlacesPage(Page):
    """Looks for places, off the interface thread, and lists them with their reasons."""

    key = "places"
    title = "Find a place"
    icon = "places"
    about = "Places for swales, ponds, platforms and tracks, ranked with reasons"

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__()
        self._desk = desk
        self._job: Job | None = None
        self._found: list[Proposal] = []
        self._tool: Any = None
        self.what = QComboBox()
        self.what.setAccessibleName("What to look for")
        for key, words, _ in SORTS:
            self.what.addItem(words, key)
        self.what.activated.connect(lambda _i: self._ask_for())
        self.fields: dict[str, QLineEdit] = {}
        self._form_box = QWidget()
        self._form = form_rows()
        self._form.setContentsMargins(0, 0, 0, 0)
        self._form_box.setLayout(self._form)
        self.look = button("Look for places", self._look, look="main")
        self.stop = button("Stop", self._stop)
        self.bar = QProgressBar()
        self.bar.setAccessibleName("How far the search is")
        self.bar.setRange(0, 100)
        self.bar.setTextVisible(False)
        self.words = quiet()
        self.table = table(("", "Score", "Why"), name="Places found")
        self.table.itemSelectionChanged.connect(self._picked)
        self.figures = table(("What", "Figure", "On what"), name="Figures of the place")
        stretched(self.table, 2)
        stretched(self.figures, 2)
        self.take = button("Put it into the plan", self._take, look="main")
        left = holding(
            self.what, self._form_box, row(self.look, self.stop, None), self.bar, small(CAUTION)
        )
        right = holding(self.figures, row(self.take, None))
        spread(self, (left, 3), (holding(self.words, self.table), 5), (right, 5))
        self._ask_for()

    def tools(self) -> Sequence[QWidget]:
        """Nothing but the page's own controls."""
        return ()

    # -- asking -------------------------------------------------------------------------------

    def _ask_for(self) -> None:
        """Show the fields of what is looked for."""
        while self._form.rowCount():
            self._form.removeRow(0)
        self.fields.clear()
        for name, words, unit, first in self._sort()[2]:
            line = QLineEdit()
            line.setAccessibleName(words)
            how = shown(unit, self._desk.bench.units)
            line.setText("" if first is None else f"{first * how.factor:.4g}")
            if first is None:
                line.setPlaceholderText("any")
            self._form.addRow(f"{words} [{how.symbol}]", line)
            self.fields[name] = line
        track = self._sort()[0] == "track"
        self.look.setText("Click its two ends" if track else "Look for places")
        self._show([])

    def _sort(self) -> tuple[str, str, tuple[tuple[str, str, str, float | None], ...]]:
        return SORTS[max(self.what.currentIndex(), 0)]

    def _values(self) -> dict[str, float | None]:
        """Return the fields in SI; `BadData` names the one that is no number."""
        values: dict[str, float | None] = {}
        for name, _, unit, _ in self._sort()[2]:
            words = self.fields[name].text().strip()
            factor = shown(unit, self._desk.bench.units).factor
            values[name] = read_number(words) / factor if words else None
        return values

    def _look(self) -> None:
        study = self._desk.bench.study
        if study is None:
            return
        try:
            values = self._values()
        except UserError as trouble:
            self._desk.bench.troubled.emit(trouble)
            return
        key = self._sort()[0]
        if key != "track":
            self._run(lambda progress: search(study, key, values, progress))
            return
        from canvas.tools.choosing import EndsTool

        def ends(start: XY, end: XY) -> None:
            self._run(lambda progress: way(study, start, end, values, progress))

        self._desk.bench.set_tool(EndsTool(self._desk.map.world, ends))
        self._desk.map.setFocus()

    def _run(self, work: Callable[[Progress], list[Proposal]]) -> None:
        self._cancel()
        self._show([])
        self.bar.setValue(0)
        self._busy(on=True)
        self.words.setText("Looking…")
        job = self._desk.bench.jobs.run(
            "Looking for places", work, self._arrived, self._failed, worker=Worker.RUNS
        )
        job.progressed.connect(self._progressed)
        self._job = job

    def _progressed(self) -> None:
        job = self._job
        if job is not None and not job.cancelled:
            self.bar.setValue(round(100 * job.fraction))
            self.words.setText(f"{job.note}…")

    def _cancel(self) -> None:
        if self._job is not None:
            self._job.cancel()
            self._job = None

    def _stop(self) -> None:
        self._cancel()
        self._busy(on=False)
        self.words.setText("Stopped.")

    def _busy(self, *, on: bool) -> None:
        self.bar.setVisible(on)
        self.stop.setEnabled(on)
        self.look.setEnabled(not on)

    def _failed(self, fault: Exception) -> None:
        self._job = None
        self._busy(on=False)
        self.words.setText(fault.text() if isinstance(fault, UserError) else "")
        if not isinstance(fault, UserError):
            self._desk.bench.troubled.emit(fault)

    def _arrived(self, found: list[Proposal]) -> None:
        self._job = None
        self._busy(on=False)
        self._show(found)
        if not found:
            self.words.setText("No place was found: ask for less, or allow more.")
            return
        from canvas.tools.choosing import ChooseTool

        self.words.setText("The best first. Click a row, or a place on the map, to look at it.")
        bench = self._desk.bench
        self._tool = ChooseTool(
            self._desk.map.world, [each.element for each in found], self._chosen_on_map
        )
        bench.set_tool(self._tool)
        self.table.selectRow(0)

    # -- showing ------------------------------------------------------------------------------

    def _show(self, found: list[Proposal]) -> None:
        self._found = found
        rows = [(str(n), f"{p.score:.2f}", p.why) for n, p in enumerate(found, start=1)]
        fill_table(self.table, rows, right=frozenset({1}))
        fill_table(self.figures, [], right=frozenset({1}))
        self.take.setEnabled(False)
        if not found:
            self._drop_tool()

    def _picked(self) -> None:
        at = self.table.currentRow()
        if not 0 <= at < len(self._found):
            return
        units = self._desk.bench.units
        parts = [
            (name, f"{value:.2f}", "part of the score") for name, value in self._found[at].parts
        ]
        facts = [
            (f.label, f.shown(units), "; ".join(w for w in (f.basis, f.remark) if w))
            for f in self._found[at].facts
        ]
        fill_table(self.figures, parts + facts, right=frozenset({1}))
        session = self._desk.bench.session
        self.take.setEnabled(session is not None and not session.readonly)
        if self._tool is not None and self._tool.chosen != at:
            self._tool.choose(at)
        self._desk.map.tool_moved()

    def _chosen_on_map(self, place: int) -> None:
        if self.table.currentRow() != place:
            self.table.selectRow(place)

    def _take(self) -> None:
        if self._tool is None:
            return
        edit = self._tool.take()
        if edit is not None and self._desk.bench.apply(edit) is not None:
            self._desk.bench.tell("note", "Put the place into the plan")

    def _drop_tool(self) -> None:
        if self._tool is not None and self._desk.bench.tool is self._tool:
            self._desk.bench.set_tool(None)
        self._tool = None

    def refresh(self) -> None:
        """Say what is missing while there is no ground."""
        study, plan = self._desk.bench.study, self._desk.bench.plan
        there = study is not None and study.land.grid is not None
        busy = self._job is not None and not self._job.cancelled and not self._found
        self._busy(on=busy and self.stop.isEnabled())
        self.look.setEnabled(there and self.look.isEnabled())
        if plan is not None and any(plan.get(each.element.id) for each in self._found):
            self._show([])
            self.words.setText("It is in the plan: reshape it there, or look for another.")
        if not there:
            self.words.setText("The site has no ground yet: bring in a terrain model.")

    def closed(self) -> None:
        """Take the places off the map."""
        self._cancel()
        self._busy(on=False)
        self._show([])


def search(
    study: Study, key: str, values: dict[str, float | None], progress: Progress
) -> list[Proposal]:
    """Return the places of one sort; values are SI, None for any."""
    from dataclasses import replace

    from canvas.ground.pond_sites import PondWish
    from canvas.study.suggest.level_lines import suggest_level_lines
    from canvas.study.suggest.platforms import PadWish, suggest_platforms
    from canvas.study.suggest.ponds import suggest_ponds

    given = {name: value for name, value in values.items() if value is not None}
    if key == "swales":
        return suggest_level_lines(
            study, steepest=given.get("steepest", 0.18), longest_m=given.get("longest", 400.0),
            progress=progress,
        )  # fmt: skip
    if key == "ponds":
        wish = replace(PondWish(), longest_m=given.get("longest", 80.0))
        return suggest_ponds(study, wish, dry_runoff_mm=given.get("runoff"), progress=progress)
    pad = PadWish(given.get("length", 18.0), given.get("depth", 12.0))
    return suggest_platforms(study, pad, progress=progress)


def way(
    study: Study, start: XY, end: XY, values: dict[str, float | None], progress: Progress
) -> list[Proposal]:
    """Return ways between two points; values are SI, None for any."""
    from canvas.study.suggest.tracks import suggest_tracks

    return suggest_tracks(
        study, start, end, steepest=values.get("grade") or 0.12,
        width_m=values.get("width") or 3.5, progress=progress,
    )  # fmt: skip
