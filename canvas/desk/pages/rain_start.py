"""How a storm is to be run over the land: its rain, its cells, its ponds; start and cancel."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from PySide6.QtWidgets import QComboBox, QLineEdit, QProgressBar, QWidget

from canvas.base.errors import BadData
from canvas.base.quantity import read_number, show, shown
from canvas.desk.parts import button, column, form_rows, quiet, row, small

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow
    from canvas.study.rains.setup import RainChoice

#: Cells offered, as parts or multiples of the ground's own.
CELLS = (1.0, 2.0, 3.0, 4.0, 0.5)


class RainStart(QWidget):
    """The choices before a run, its progress while it goes on."""

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__()
        self._desk = desk
        self._asked: object = None
        self._lane = desk.bench.jobs.lane("Before the storm is run")
        self.rain = QComboBox()
        self.rain.setAccessibleName("Storm to run")
        self.rain.addItem("The design storm", "")
        self.rain.addItem("Another depth", "typed")
        self.rain.activated.connect(lambda _i: self.refresh())
        self.depth_box, self.hours_box = QLineEdit(), QLineEdit("24")
        for box, name in (
            (self.depth_box, "Depth of the storm"),
            (self.hours_box, "Hours of the storm"),
        ):
            box.setAccessibleName(name)
            box.setPlaceholderText("")
            box.editingFinished.connect(self.refresh)
        self.cells = QComboBox()
        self.cells.setAccessibleName("Cells of the run")
        self.cells.activated.connect(lambda _i: self.refresh())
        self.whole = QComboBox()
        self.whole.setAccessibleName("Ground of the run")
        self.whole.addItem("What drains to the site", False)
        self.whole.addItem("All of the ground", True)
        self.whole.activated.connect(lambda _i: self.refresh())
        self.words = quiet()
        self.bar = QProgressBar()
        self.bar.setRange(0, 1000)
        self.bar.setTextVisible(False)
        self.bar.setAccessibleName("Progress of the storm")
        self.left = small()
        self.go = button("Run the storm", self._go, look="main")
        self.halt = button("Cancel", desk.rain.stop)
        self._unit = form_rows()
        self._unit.addRow("Rain", self.rain)
        self._unit.addRow("Depth, hours", row(self.depth_box, self.hours_box))
        self._unit.addRow("Cells", self.cells)
        self._unit.addRow("Ground", self.whole)
        column(self._unit, row(self.go, self.halt, None), self.bar, self.left, self.words, None,
               parent=self)  # fmt: skip
        desk.rain.changed.connect(self._moved)
        self._known: str | None = None
        self._moved()

    # -- the choice -----------------------------------------------------------------------------

    def choice(self) -> RainChoice:
        """Return what is chosen; `BadData` names a figure that can't be read."""
        from canvas.study.rains.setup import RainChoice

        study = self._desk.bench.study
        grid = study.land.grid if study is not None else None
        share = float(self.cells.currentData() or 1.0)
        made = RainChoice(
            cell_m=None if grid is None or share == 1.0 else share * grid.cell_m,
            whole=bool(self.whole.currentData()),
        )
        if not self.rain.currentData():
            return made
        factor = shown("mm", self._desk.bench.units).factor
        depth, hours = (
            read_number(self.depth_box.text()) / factor,
            read_number(self.hours_box.text()),
        )
        if not (0.0 < depth <= 3000.0 and 0.08 <= hours <= 240.0):
            raise BadData("A storm has a depth of up to 3000 mm and lasts 0.08 to 240 hours.")
        return replace(made, depth_mm=depth, hours=hours)

    def refresh(self) -> None:
        """Show what can be chosen, and about how long it would take."""
        bench = self._desk.bench
        study = bench.study
        typed = bool(self.rain.currentData())
        self.depth_box.setEnabled(typed)
        self.hours_box.setEnabled(typed)
        self.depth_box.setToolTip(f"Depth of the storm [{shown('mm', bench.units).symbol}]")
        self.hours_box.setToolTip("How long it lasts [h]")
        if study is None:
            return
        grid = study.land.grid
        if grid is not None and self.cells.count() == 0:
            for share in CELLS:
                words = "the ground’s own" if share == 1.0 else "finer" if share < 1 else "coarser"
                self.cells.addItem(f"{share * grid.cell_m:g} m, {words}", share)
            # Coarse enough to be done while one waits.
            self.cells.setCurrentIndex(1 if grid.z.size > 400_000 else 0)
        if typed and not self.depth_box.text().strip():
            self._say("Type the depth of the storm.")
            return
        try:
            choice = self.choice()
        except BadData as trouble:
            self._say(trouble.text())
            return
        token = (bench.study_revision, choice)
        if token == self._asked:
            return
        self._asked = token
        self._known = None
        self.words.setText("Laying out the ground…")
        self._moved()

        def work(_progress: Any) -> tuple[str, str]:
            from canvas.study.rains.run import estimate_s
            from canvas.study.rains.setup import setup

            made = setup(study, choice)
            cells = int((made.bed.ground.z == made.bed.ground.z).sum())
            minutes = max(estimate_s(made) / 60.0, 0.1)
            about = f"{minutes:.0f} min" if minutes >= 1.5 else f"{minutes * 60:.0f} s"
            area = show(cells * made.bed.ground.cell_m**2, "ha")
            return made.token, (
                f"{made.rain.said()} over {area}: about {about} on free cores; the more water "
                f"stands deep, the longer."
            )

        self._lane.ask(work, self._told, self._trouble)

    def _told(self, got: tuple[str, str]) -> None:
        self._known = got[0]
        self.words.setText(got[1])
        self._moved()

    def _trouble(self, trouble: Exception) -> None:
        text = getattr(trouble, "text", None)
        if text is None:
            self._desk.bench.troubled.emit(trouble)
        self._say(text() if text is not None else "The run can’t be laid out.")

    def _say(self, words: str) -> None:
        self._asked, self._known = None, None
        self.words.setText(words)
        self._moved()

    # -- the run --------------------------------------------------------------------------------

    def _go(self) -> None:
        try:
            self._desk.rain.start(self.choice())
        except BadData as trouble:
            self._say(trouble.text())

    def _moved(self) -> None:
        """Show how far the run is."""
        job = self._desk.rain
        session = self._desk.bench.session
        self.go.setEnabled(not job.running and self._known is not None and session is not None)
        self.go.setVisible(not job.running)
        self.halt.setVisible(job.running)
        self.bar.setVisible(job.running)
        self.left.setVisible(job.running)
        if not job.running:
            return
        self.bar.setValue(round(job.fraction * 1000))
        left = job.left_s()
        note = job.job.note if job.job is not None else ""
        if left is not None:
            words = f"{left / 60.0:.0f} min" if left >= 90 else f"{left:.0f} s"
            note = f"{note}, about {words} left"
        self.left.setText(note)
