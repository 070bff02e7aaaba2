"""The findings: every one with its place, measure, source and caution; worst first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QComboBox, QVBoxLayout, QWidget

from canvas.base.finding import Finding, Severity
from canvas.desk.cardfacts import FindingPlate
from canvas.desk.drawer import Page
from canvas.desk.parts import button, column, empty, heading, quiet, row, scrolling, small
from canvas.desk.wording import plural

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow

#: As many are listed at once; the rest are counted.
MOST = 200
GROUPS = (
    (Severity.ERROR, "Failing"),
    (Severity.WARNING, "To mind"),
    (Severity.ADVICE, "Advice"),
)


class FindingsPage(Page):
    """Lists what does not meet its rules; each zooms to its place."""

    key = "findings"
    title = "Findings"
    icon = "findings"
    about = "What does not meet its rules, where, by how much, and on whose word"

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__()
        self._desk = desk
        self._shown: object = None
        self.which = QComboBox()
        self.which.setAccessibleName("Which findings")
        for key, words in (
            ("standing", "Those that stand"),
            ("selected", "Those of the selection"),
            ("waived", "Those waived"),
        ):
            self.which.addItem(words, key)
        self.which.currentIndexChanged.connect(lambda _i: self.refresh())
        self._count = quiet()
        before = button("Previous", lambda: desk.step_finding(-1), tip="Shift+F8")
        after = button("Next", lambda: desk.step_finding(1), tip="F8")
        inside = QWidget()
        self._list = QVBoxLayout(inside)
        self._list.setContentsMargins(12, 4, 8, 12)
        self._list.setSpacing(8)
        box = column(row(self.which, None, before, after), self._count, margin=12, gap=6)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addLayout(box)
        whole.addWidget(scrolling(inside), 1)

    def _chosen(self, findings: tuple[Finding, ...]) -> list[Finding]:
        which = self.which.currentData()
        if which == "waived":
            return [each for each in findings if each.waived]
        if which == "selected":
            return [each for each in findings if self._desk.bench.selection & set(each.elements)]
        return [each for each in findings if not each.waived]

    def refresh(self) -> None:
        """List the findings."""
        bench = self._desk.bench
        study = bench.study
        findings = study.findings() if study is not None else ()
        chosen = self._chosen(findings)
        state = (tuple(f.key + f.message + f.waived for f in chosen), bench.theme, bench.units)
        if state == self._shown:
            return
        self._shown = state
        empty(self._list)
        waived = sum(1 for each in findings if each.waived)
        self._count.setText(
            f"{plural(len(findings) - waived, 'finding')} standing, {waived} waived"
        )
        for severity, words in GROUPS:
            some = [each for each in chosen[:MOST] if each.severity is severity]
            if some:
                self._list.addWidget(heading(f"{words} · {len(some)}"))
            for each in some:
                self._list.addWidget(FindingPlate(self._desk, each))
        if len(chosen) > MOST:
            self._list.addWidget(small(f"and {len(chosen) - MOST} more"))
        if not chosen:
            self._list.addWidget(quiet(self._nothing(study is not None)))
        self._list.addStretch(1)

    def _nothing(self, known: bool) -> str:
        if not known:
            return "The plan is being read…"
        sets = self._desk.bench.plan.site.sets() if self._desk.bench.plan is not None else ()
        if not sets:
            return "No rule set is chosen: choose one under “Rules and limits”."
        return "Nothing of this sort is found against the plan."
