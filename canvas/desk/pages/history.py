"""The undo list: every step by name, with its time; any of them can be gone back to."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QListWidget, QListWidgetItem, QVBoxLayout, QWidget

from canvas.desk.drawer import Page
from canvas.desk.parts import button, quiet
from canvas.desk.wording import clock

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow


class HistoryPage(Page):
    """Steps, newest first; those taken back stand above the line, greyed."""

    key = "history"
    title = "Undo list"
    icon = "history"
    about = "Every step of this site; it survives closing and reopening"

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__()
        self._desk = desk
        self._undone = 0
        self.list = QListWidget()
        self.list.setAccessibleName("Steps, newest first")
        self.list.itemActivated.connect(lambda _i: self._back())
        self.list.setAlternatingRowColors(True)
        self._go = button("Go back to this step", self._back)
        self._undo = button("Undo", desk.bench.undo, tip="Ctrl+Z")
        self._redo = button("Redo", desk.bench.redo, tip="Ctrl+Shift+Z")
        box = QVBoxLayout(self)
        box.setContentsMargins(12, 8, 12, 10)
        box.addWidget(quiet("Newest first. Greyed steps are taken back and can be done again."))
        box.addWidget(self.list, 1)

    def tools(self) -> Sequence[QWidget]:
        """Offer the ways back and forth."""
        return self._undo, self._redo, self._go

    def refresh(self) -> None:
        """List the steps."""
        session = self._desk.bench.session
        self.list.clear()
        if session is None:
            return
        undone = session.redo_steps()
        done = session.undo_steps()
        self._undone = len(undone)
        # Both come newest first by when they would be undone or redone next.
        for step in reversed(undone):
            self._row(f"{step.label}    {clock(step.at)}", off=True)
        for step in done:
            self._row(f"{step.label}    {clock(step.at)}", off=False)
        if done or undone:
            self._row("The site as it was opened first", off=False)
        self.list.setCurrentRow(self._undone)
        self._go.setEnabled(not session.readonly and bool(done or undone))

    def _row(self, words: str, *, off: bool) -> None:
        item = QListWidgetItem(words)
        if off:
            item.setForeground(self.palette().brush(self.palette().ColorRole.PlaceholderText))
            item.setData(Qt.ItemDataRole.AccessibleTextRole, words + ", taken back")
        self.list.addItem(item)

    def _back(self) -> None:
        """Undo or redo until the chosen step is the latest that is done."""
        steps = self.list.currentRow() - self._undone
        for _ in range(abs(steps)):
            if steps > 0:
                self._desk.bench.undo()
            else:
                self._desk.bench.redo()
