"""Accepting a finding, with the reason that is printed on the sheet."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QPlainTextEdit

from canvas.desk.dialogs.base import DeskDialog
from canvas.desk.parts import label, quiet, small
from canvas.site.edits import add
from canvas.site.facts import Waiver

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow


class WaiveDialog(DeskDialog):
    """Asks why; without a reason nothing is waived."""

    def __init__(self, desk: DeskWindow, key: str) -> None:
        super().__init__(
            desk,
            "Waive a finding",
            "It stays on record and is printed on the sheet with your reason.",
            "Waive it",
            width=480,
        )
        self._key = key
        study = desk.bench.study
        findings = study.findings() if study is not None else ()
        finding = next((each for each in findings if each.key == key), None)
        if finding is not None:
            self.body.addWidget(label(finding.message))
            self.body.addWidget(quiet(finding.numbers(desk.bench.units)))
            if finding.caution:
                self.body.addWidget(small(finding.caution))
        self.reason = QPlainTextEdit()
        self.reason.setAccessibleName("Reason")
        self.reason.setPlaceholderText("Why this is accepted: who agreed, what was done instead …")
        self.reason.setTabChangesFocus(True)
        self.reason.setFixedHeight(84)
        self.reason.textChanged.connect(self.refresh_ready)
        self.body.addWidget(self.reason)
        self.refresh_ready()
        self.reason.setFocus()

    def ready(self) -> bool:
        """Whether there is a reason."""
        return bool(self.reason.toPlainText().strip())

    def do(self) -> None:
        """Record the waiver."""
        waiver = Waiver(
            finding=self._key,
            reason=self.reason.toPlainText().strip(),
            decided=datetime.date.today().isoformat(),
        )
        if self.desk.bench.apply(add("Waive a finding", [waiver])) is not None:
            self.accept()
