"""The bench: what the desk's parts share. It holds the open site, and tells what changed.

It computes nothing: edits go to the session, questions to the study, off the interface thread.
"""

from __future__ import annotations

import threading
from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Qt, Signal, Slot

from canvas.base.errors import UserError
from canvas.base.grid import Bounds
from canvas.base.progress import Progress
from canvas.base.quantity import UnitSystem
from canvas.desk.jobs import Jobs
from canvas.drawing.look import Look
from canvas.site.edits import Edit
from canvas.site.plan import Plan
from canvas.site.records import Element

if TYPE_CHECKING:
    from canvas.site.session import Session, Touched
    from canvas.study.study import Study
    from canvas.tools.pointer import Tool

FIRST_STAGE = "survey"
#: The first check of a plan waits so long at most for the map to show it [s].
PICTURE_S = 2.0
#: Calm at first sight: findings by their marks, names by their weight.
FIRST_LOOK = Look(year=10, thin=True, finding_places=False)


class Bench(QObject):
    """The open site, its latest study, and what is selected, shown and in hand."""

    #: A site was opened or closed.
    site_changed = Signal()
    #: `Touched`: an edit, undo, redo or reload has reached the disk.
    plan_changed = Signal(object)
    #: A new study's answers are there.
    study_changed = Signal()
    #: There is a newer study to draw, its findings perhaps not there yet.
    drawn_changed = Signal()
    selection_changed = Signal()
    stage_changed = Signal()
    look_changed = Signal()
    theme_changed = Signal()
    tool_changed = Signal()
    #: Site coordinates under the pointer [m].
    pointer_moved = Signal(float, float)
    #: A job began, moved on or ended.
    job_changed = Signal()
    #: Severity ("note", "warning", "error") and a line to show the person.
    told = Signal(str, str)
    #: A `UserError` to show in full, or any other exception: a fault of the program.
    troubled = Signal(object)
    #: Bounds (west, south, east, north) the map should show; None for everything.
    place_wanted = Signal(object)
    _begun = Signal(object, object, int)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.session: Session | None = None
        self.study: Study | None = None
        #: The session's revision the study answers for.
        self.study_revision = -1
        #: The study to draw: a site just opened is on the map before its findings are known.
        self.drawn: Study | None = None
        self.drawn_revision = -1
        self.selection: frozenset[str] = frozenset()
        self.stage = FIRST_STAGE
        self.look = FIRST_LOOK
        self.theme = "light"
        self.tool: Tool | None = None
        #: Phase the plan is looked at ("" = everything built).
        self.at = ""
        self.jobs = Jobs(self)
        self.jobs.changed.connect(self.job_changed)
        self.jobs.failed.connect(self.troubled)
        self._studying = self.jobs.lane("Reading the plan", patient=True)
        #: Whether a map is looking, and will say when it shows what was drawn last.
        self.watched = False
        self._pictured = threading.Event()
        self._begun.connect(self._draw, Qt.ConnectionType.QueuedConnection)

    # -- the site ---------------------------------------------------------------------------

    @property
    def plan(self) -> Plan | None:
        """The plan as it is now; None while no site is open."""
        return self.session.plan if self.session is not None else None

    @property
    def units(self) -> UnitSystem:
        """How numbers are shown."""
        return self.plan.site.unit_system() if self.plan is not None else UnitSystem.METRIC

    @property
    def stale(self) -> bool:
        """Whether the study's answers are older than the plan."""
        return self.session is not None and self.study_revision != self.session.revision

    def open_session(self, session: Session) -> None:
        """Put a site on the bench, in place of the one before."""
        self.close_session()
        self.session = session
        session.listeners.append(self._touched)
        self.site_changed.emit()
        self._restudy()

    def close_session(self) -> None:
        """Take the site off the bench and close it."""
        if self.session is None:
            return
        self.set_tool(None)
        self._studying.drop()
        self._pictured.set()
        session, self.session = self.session, None
        self.study, self.study_revision = None, -1
        self.drawn, self.drawn_revision = None, -1
        self.at = ""
        self.look = replace(FIRST_LOOK, palette=self.theme)
        self.select(())
        session.close()
        self.site_changed.emit()

    def apply(self, edit: Edit) -> Touched | None:
        """Make an edit; None when it was refused, and the person has been told why."""
        if self.session is None or not edit.changes:
            return None
        try:
            return self.session.apply(edit)
        except UserError as trouble:
            self.troubled.emit(trouble)
            return None

    def undo(self) -> None:
        """Take back the latest edit."""
        self._step("undo")

    def redo(self) -> None:
        """Make the latest taken-back edit again."""
        self._step("redo")

    def _step(self, which: str) -> None:
        if self.session is None:
            return
        try:
            touched = self.session.undo() if which == "undo" else self.session.redo()
        except UserError as trouble:
            self.troubled.emit(trouble)
            return
        if touched is not None:
            done = "Undone" if which == "undo" else "Done again"
            self.told.emit("note", f"{done}: {touched.label}")

    def _touched(self, touched: Touched) -> None:
        gone = {ident for ident in self.selection if ident not in touched.after}
        self.plan_changed.emit(touched)
        if gone:
            self.select(self.selection - gone)
        self._restudy()

    # -- the study --------------------------------------------------------------------------

    def _restudy(self) -> None:
        session = self.session
        if session is None:
            return
        plan, folder, revision = session.plan, session.folder, session.revision
        before, selection = self.drawn, self.selection
        at, year = self.at, self.look.year

        def work(progress: Progress) -> Study:
            study = _study(plan, folder, before, at, year)
            progress(0.3)
            if before is None or study.land is not before.land or (at, year) != _moment(before):
                # Rechecking takes no time, checking everything does: it is drawn first, and alone,
                # for the two would halve each other's speed.
                self._pictured.clear()
                self._begun.emit(session, study, revision)
                if self.watched:
                    self._pictured.wait(PICTURE_S)
            study.findings()
            for ident in selection:
                if ident in plan and isinstance(plan.get(ident), Element):
                    study.facts(ident)
            return study

        def then(study: Study) -> None:
            if self.session is session:
                self.study, self.study_revision = study, revision
                self._draw(session, study, revision)
                self.study_changed.emit()

        self._studying.ask(work, then)

    def pictured(self, study: Study) -> None:
        """Take note that a map shows this study."""
        if study is self.drawn:
            self._pictured.set()

    @Slot(object, object, int)
    def _draw(self, session: Session, study: Study, revision: int) -> None:
        if self.session is session and revision >= self.drawn_revision:
            self.drawn, self.drawn_revision = study, revision
            self.drawn_changed.emit()

    def set_at(self, phase: str) -> None:
        """Look at the plan as it stands when `phase` is built; "" for everything built."""
        if phase != self.at:
            self.at = phase
            self._restudy()

    # -- what is selected, shown and in hand --------------------------------------------------

    def select(self, idents: Iterable[str], how: str = "replace") -> None:
        """Change the selection: "replace" it, "add" to it or "toggle" each."""
        chosen = frozenset(idents)
        if how == "add":
            chosen = self.selection | chosen
        elif how == "toggle":
            chosen = self.selection ^ chosen
        if chosen != self.selection:
            self.selection = chosen
            self.selection_changed.emit()

    def selected(self) -> list[Element]:
        """Return the selected elements, in the plan's order."""
        plan = self.plan
        if plan is None:
            return []
        found = (plan.get(ident) for ident in self.selection)
        return [item for item in found if isinstance(item, Element)]

    def set_stage(self, key: str) -> None:
        """Turn to another stage of the work."""
        if key != self.stage:
            self.stage = key
            self.stage_changed.emit()

    def set_look(self, **changes: Any) -> None:
        """Change what the map shows."""
        look = replace(self.look, **changes)
        if look == self.look:
            return
        year_moved = look.year != self.look.year
        self.look = look
        self.look_changed.emit()
        if year_moved:
            self._restudy()

    def set_theme(self, theme: str) -> None:
        """Turn the desk "light" or "dark"."""
        if theme != self.theme:
            self.theme = theme
            self.look = replace(self.look, palette=theme)
            self.theme_changed.emit()

    def set_tool(self, tool: Tool | None) -> None:
        """Take a tool in hand, laying the one before aside; None for an empty hand."""
        if tool is self.tool:
            return
        if self.tool is not None:
            self.tool.cancel()
        self.tool = tool
        self.tool_changed.emit()

    def show_place(self, bounds: Bounds | None) -> None:
        """Let the map show a place; None for the whole site."""
        self.place_wanted.emit(bounds)

    def tell(self, severity: str, message: str) -> None:
        """Show the person a line: "note", "warning" or "error"."""
        self.told.emit(severity, message)

    def close(self) -> None:
        """Close the site and stop all work."""
        self.watched = False
        self._pictured.set()
        self.jobs.cancel_all()
        self.close_session()
        self.jobs.close()


def _study(plan: Plan, folder: Any, before: Study | None, at: str, year: int) -> Study:
    """Make the next study; called in the worker, where the heavy imports do no harm."""
    from canvas.study.land import Land
    from canvas.study.study import Study

    same = before is not None and _moment(before) == (at, year)
    if before is not None and same and before.land.same_as(plan):
        return before.moved(plan)
    return Study(plan, Land.load(plan, folder), at=at, year=year)


def _moment(study: Study) -> tuple[str, int]:
    """Return the phase and year a study looks at."""
    return study.at, study.year
