"""The findings: every one with its place, measure, source and caution; worst first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QComboBox, QVBoxLayout, QWidget

from canvas.base.finding import Finding, Severity
from canvas.desk.cardfacts import FindingPlate, numbers
from canvas.desk.drawer import Page
from canvas.desk.parts import button, heading, label, quiet, small
from canvas.desk.tiles import Tiles
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
        self._count = label("", "quiet", wrap=False)
        self._before = button("Previous", lambda: desk.step_finding(-1), tip="Shift+F8")
        self._after = button("Next", lambda: desk.step_finding(1), tip="F8")
        self._tiles = Tiles(290)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(self._tiles)

    def tools(self) -> Sequence[QWidget]:
        """Offer which findings, and the steps from one to the next."""
        return self.which, self._before, self._after, self._count

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
        parts: list[tuple[QWidget, bool]] = []
        names = numbers(findings)
        waived = sum(1 for each in findings if each.waived)
        self._count.setText(
            f"{plural(len(findings) - waived, 'finding')} standing, {waived} waived"
        )
        for severity, words in GROUPS:
            some = [each for each in chosen[:MOST] if each.severity is severity]
            if some:
                parts.append((heading(f"{words} · {len(some)}"), True))
            parts += [
                (FindingPlate(self._desk, each, number=names[each.key]), False) for each in some
            ]
        if len(chosen) > MOST:
            parts.append((small(f"and {len(chosen) - MOST} more"), True))
        if not chosen:
            parts.append((quiet(self._nothing(study is not None)), True))
        self._tiles.show_parts(parts)

    def _nothing(self, known: bool) -> str:
        if not known:
            return "The plan is being read…"
        sets = self._desk.bench.plan.site.sets() if self._desk.bench.plan is not None else ()
        if not sets:
            return "No rule set is chosen: choose one under “Rules and limits”."
        return "Nothing of this sort is found against the plan."
