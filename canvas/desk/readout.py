"""The readout strip: where the pointer is, what the ground is there, what fails, what runs."""

from __future__ import annotations

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QProgressBar, QToolButton, QWidget

from canvas.base.finding import Finding, Severity
from canvas.base.quantity import UnitSystem, show
from canvas.desk.bench import Bench
from canvas.desk.icons import icon
from canvas.desk.parts import icon_button
from canvas.desk.wording import degrees, plural, steepness

#: The pointer is read out at most this often [ms].
PAUSE_MS = 30
SEVERITIES = (
    (Severity.ERROR, "error", "failing"),
    (Severity.WARNING, "warning", "to mind"),
    (Severity.ADVICE, "advice", "advice"),
)


class Readout(QWidget):
    """One line under the map."""

    def __init__(self, bench: Bench) -> None:
        super().__init__()
        self._bench = bench
        self.setObjectName("readout")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.setAccessibleName("Readout")
        self.setFixedHeight(32)
        self._at: tuple[float, float] | None = None
        self._wait = QTimer(self)
        self._wait.setSingleShot(True)
        self._wait.setInterval(PAUSE_MS)
        self._wait.timeout.connect(self._read)
        row = QHBoxLayout(self)
        row.setContentsMargins(12, 0, 8, 0)
        row.setSpacing(7)
        self.grid = self._cell(row, "Grid position", 152)
        self.geographic = self._cell(row, "Latitude and longitude", 156)
        self.level = self._cell(row, "Height of the existing ground", 92)
        self.slope = self._cell(row, "Slope", 92)
        self.aspect = self._cell(row, "Aspect", 62)
        self.scale = self._cell(row, "Map scale on this screen", 66)
        row.addStretch(1)
        self.age = QLabel("")
        self.age.setObjectName("quiet")
        row.addWidget(self.age)
        self._jobs = JobLine(bench)
        row.addWidget(self._jobs)
        self.badges = {severity: QToolButton() for severity, _, _ in SEVERITIES}
        for severity, badge in self.badges.items():
            badge.setObjectName(f"count-{severity.value}")
            badge.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
            badge.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            row.addWidget(badge)
        bench.pointer_moved.connect(self._moved)
        bench.study_changed.connect(self.refresh)
        bench.site_changed.connect(self.refresh)
        bench.theme_changed.connect(self.refresh)
        bench.plan_changed.connect(lambda _t: self._show_age())
        self.refresh()

    def _cell(self, row: QHBoxLayout, name: str, width: int) -> QLabel:
        cell = QLabel("–")
        cell.setAccessibleName(name)
        cell.setToolTip(name)
        cell.setMinimumWidth(width)
        row.addWidget(cell)
        line = QFrame()
        line.setFixedSize(1, 16)
        line.setObjectName("post")
        row.addWidget(line)
        return cell

    def show_scale(self, ratio: float) -> None:
        """Show the map's scale, 1 : ratio."""
        self.scale.setText(f"1 : {_round(ratio):,}".replace(",", "\N{NARROW NO-BREAK SPACE}"))

    def refresh(self) -> None:
        """Show the counts of findings and the latest spot afresh."""
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
        self._show_age()
        self._read()

    def _show_age(self) -> None:
        self.age.setText("answers a step behind…" if self._bench.stale else "")

    def _moved(self, x_m: float, y_m: float) -> None:
        self._at = (x_m, y_m)
        if not self._wait.isActive():
            self._wait.start()

    def _read(self) -> None:
        study = self._bench.study
        if study is None or self._at is None:
            for cell in (self.grid, self.geographic, self.level, self.slope, self.aspect):
                cell.setText("–")
            return
        spot, units = study.readout(*self._at), self._bench.units
        self.grid.setText(f"E {spot.east_m:,.1f}  N {spot.north_m:,.1f}".replace(",", "\u202f"))
        self.geographic.setText(degrees(spot.lat_deg, spot.lon_deg))
        self.level.setText(_height(spot.height_m, spot.plus_minus_m, units))
        self.level.setToolTip(f"Height of the existing ground, {spot.datum or 'datum not named'}")
        if spot.slope_ratio is None:
            self.slope.setText("slope –")
            self.aspect.setText("facing –")
            return
        from canvas.study.readout import compass

        self.slope.setText(steepness(spot.slope_ratio))
        facing = spot.aspect_deg
        self.aspect.setText("level" if facing is None else f"faces {compass(facing)}")


def counted(findings: tuple[Finding, ...], severity: Severity) -> int:
    """Return how many findings of a severity stand."""
    return sum(1 for each in findings if each.severity is severity and not each.waived)


def _height(height_m: float | None, pm_m: float | None, units: UnitSystem) -> str:
    if height_m is None:
        return "no ground"
    text = show(height_m, "m", units, 1)
    return f"{text} ± {show(pm_m, 'm', units, 1)}" if pm_m else text


def _round(ratio: float) -> int:
    """Return a scale number to three figures: no screen is truer than that."""
    if ratio < 1000:
        return round(ratio)
    step = 10 ** (len(str(int(ratio))) - 3)
    return int(round(ratio / step) * step)


class JobLine(QWidget):
    """Running work: what, how far, and a way to stop it."""

    def __init__(self, bench: Bench) -> None:
        super().__init__()
        self._bench = bench
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(6)
        self.words = QLabel()
        self.words.setObjectName("quiet")
        self.bar = QProgressBar()
        self.bar.setRange(0, 1000)
        self.bar.setTextVisible(False)
        self.bar.setFixedWidth(90)
        self.bar.setAccessibleName("Progress of the running work")
        self.stop = icon_button("close", "Cancel the running work", self._cancel, bench.theme)
        for widget in (self.words, self.bar, self.stop):
            row.addWidget(widget)
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
        self.words.setText((job.note or job.label) + more)
        self.bar.setValue(round(job.fraction * 1000))
