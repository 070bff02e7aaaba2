"""A storm being run over the land: it goes on while pages open and close."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Signal

from canvas.base.progress import Progress
from canvas.desk.jobs import Job, Worker

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow
    from canvas.study.rains.keep import SavedRun
    from canvas.study.rains.setup import RainChoice


class RainJob(QObject):
    """Starts, follows and stops the run of a storm; one at a time."""

    #: It began, moved on or ended.
    changed = Signal()
    #: A run is kept: its name.
    kept = Signal(str)

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__(desk)
        self._bench = desk.bench
        self.job: Job | None = None
        self._began = 0.0
        self._bench.site_changed.connect(self.stop)

    @property
    def running(self) -> bool:
        """Whether a storm is under way."""
        return self.job is not None

    @property
    def fraction(self) -> float:
        """How much of it is done."""
        return self.job.fraction if self.job is not None else 0.0

    def left_s(self) -> float | None:
        """Return about how long it will take yet [s]; None while that can't be told."""
        if self.job is None or self.fraction < 0.01:
            return None
        return (time.monotonic() - self._began) * (1.0 - self.fraction) / self.fraction

    def start(self, choice: RainChoice) -> None:
        """Run the storm as wanted over the ground as it is now."""
        session, study = self._bench.session, self._bench.study
        if session is None or study is None or self.running:
            return
        folder = session.folder

        def work(progress: Progress) -> Any:
            from canvas.study.rains.run import run

            return run(study, folder, choice, progress)

        self._began = time.monotonic()
        self.job = self._bench.jobs.run(
            "Rain on the land", work, self._done, self._failed, worker=Worker.RUNS
        )
        self.job.progressed.connect(self.changed)
        self.job.ended.connect(self._ended)
        self.changed.emit()

    def stop(self) -> None:
        """Stop the run under way; nothing of it is kept."""
        if self.job is not None:
            self.job.cancel()

    def _ended(self) -> None:
        self.job = None
        self.changed.emit()

    def _done(self, run: SavedRun) -> None:
        self._bench.tell("note", "The storm has been run, and is kept with the site")
        # Facts of gauges and maps of water follow the newest run.
        self._bench.study_changed.emit()
        self.kept.emit(run.token)

    def _failed(self, trouble: Exception) -> None:
        self._bench.troubled.emit(trouble)
