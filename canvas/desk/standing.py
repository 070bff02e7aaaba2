"""How things stand, at the strip's end: "Ask", the findings by severity, what runs."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import QLabel, QProgressBar, QToolButton, QVBoxLayout, QWidget

from canvas.base.finding import Finding, Severity
from canvas.desk.bench import Bench
from canvas.desk.icons import icon
from canvas.desk.parts import column, icon_button, row
from canvas.desk.wording import plural

WIDTH = 224
#: Room for the words of running work.
WORDS_WIDTH = 54
SEVERITIES = (
    (Severity.ERROR, "error", "failing"),
    (Severity.WARNING, "warning", "to mind"),
    (Severity.ADVICE, "advice", "advice"),
)


def counted(findings: tuple[Finding, ...], severity: Severity) -> int:
    """Return how many findings of a severity stand."""
    return sum(1 for each in findings if each.severity is severity and not each.waived)


class Standing(QWidget):
    """Two lines: what can be asked for, and what is found against the plan."""

    #: A count of findings was pressed.
    wanted = Signal()

    def __init__(self, bench: Bench, ask: QWidget) -> None:
        super().__init__()
        self._bench = bench
        self.setAccessibleName("How things stand")
        self.setFixedWidth(WIDTH)
        self.badges = {severity: QToolButton() for severity, _, _ in SEVERITIES}
        for severity, badge in self.badges.items():
            badge.setObjectName(f"count-{severity.value}")
            badge.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
            badge.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            badge.clicked.connect(self.wanted)
        self.jobs = JobLine(bench)
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 2, 0, 15)
        box.setSpacing(0)
        box.addWidget(ask)
        box.addLayout(row(*self.badges.values(), None, self.jobs, gap=0))
        for signal in (bench.study_changed, bench.site_changed, bench.theme_changed):
            signal.connect(self.refresh)
        self.refresh()

    def refresh(self) -> None:
        """Show the counts afresh."""
        study = self._bench.study
        findings = study.findings() if study is not None else ()
        for severity, name, words in SEVERITIES:
            count = counted(findings, severity)
            badge = self.badges[severity]
            role = "warn" if count and severity is not Severity.ADVICE else "quiet"
            badge.setIcon(icon(name, self._bench.theme, role))
            badge.setText(str(count))
            told = f"{plural(count, 'finding')} {words}"
            badge.setToolTip(told)
            badge.setAccessibleName(told)
            badge.setEnabled(study is not None)


class JobLine(QWidget):
    """Running work: what, how far, and a way to stop it."""

    def __init__(self, bench: Bench) -> None:
        super().__init__()
        self._bench = bench
        self.words = QLabel()
        self.words.setObjectName("small")
        self.words.setFixedWidth(WORDS_WIDTH)
        self.bar = QProgressBar()
        self.bar.setRange(0, 1000)
        self.bar.setTextVisible(False)
        self.bar.setFixedSize(WORDS_WIDTH, 5)
        self.bar.setAccessibleName("Progress of the running work")
        self.stop = icon_button("close", "Cancel the running work", self._cancel, bench.theme)
        row(column(self.words, self.bar, gap=1), self.stop, gap=2, parent=self)
        # The room is kept while nothing runs, so that nothing beside it moves.
        kept = self.sizePolicy()
        kept.setRetainSizeWhenHidden(True)
        self.setSizePolicy(kept)
        bench.job_changed.connect(self.refresh)
        self.refresh()

    def _cancel(self) -> None:
        for job in self._bench.jobs.active()[:1]:
            job.cancel()
        self._bench.jobs.changed.emit()

    def refresh(self) -> None:
        """Show the oldest running job, and how many more wait."""
        active = self._bench.jobs.active()
        self.setVisible(bool(active))
        if not active:
            return
        job = active[0]
        more = f" (+{len(active) - 1})" if len(active) > 1 else ""
        whole = (job.note or job.label) + more
        fits = QFontMetrics(self.words.font())
        self.words.setText(fits.elidedText(whole, Qt.TextElideMode.ElideRight, WORDS_WIDTH))
        self.words.setAccessibleName(whole)
        self.setToolTip(whole)
        self.bar.setValue(round(job.fraction * 1000))
