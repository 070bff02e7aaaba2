"""Work off the interface thread: progress, cancel, and answers that come back on it.

Three workers: one answers questions about the plan, in order; one reads and writes files; one
runs what takes minutes.
Work gets values only (plans, grids, frozen records), never a widget. A `Lane` keeps one kind of
question to its latest asking: an answer to an older one is dropped, not shown.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from enum import StrEnum
from typing import Any

from PySide6.QtCore import QObject, Qt, Signal, Slot

from canvas.base.errors import Cancelled
from canvas.base.progress import Progress

Work = Callable[[Progress], Any]
Then = Callable[[Any], None]
Failed = Callable[[Exception], None]


class Worker(StrEnum):
    """Which of the workers a job waits for."""

    STUDY = "study"
    FILES = "files"
    RUNS = "runs"


class Job(QObject):
    """One piece of work. Every public signal fires on the interface thread."""

    progressed = Signal()
    ended = Signal()
    _post = Signal(str, object)

    def __init__(self, label: str, work: Work, then: Then, failed: Failed, *, quiet: bool) -> None:
        super().__init__()
        self.label = label
        #: Quiet jobs are not listed in the readout strip.
        self.quiet = quiet
        self.fraction = 0.0
        self.note = ""
        self._work = work
        self._then = then
        self._failed = failed
        self._stop = threading.Event()
        self.future: Future[None] | None = None
        self._post.connect(self._arrive, Qt.ConnectionType.QueuedConnection)

    @property
    def cancelled(self) -> bool:
        """Whether the job was told to stop."""
        return self._stop.is_set()

    def cancel(self) -> None:
        """Ask the work to stop at its next report; its answer will not be used."""
        self._stop.set()

    def run(self) -> None:
        """Do the work; called in the worker's thread."""
        try:
            if self.cancelled:
                raise Cancelled
            self._post.emit("done", self._work(self._report))
        except Cancelled:
            self._post.emit("stopped", None)
        except Exception as err:  # noqa: BLE001 - decided on the interface thread
            self._post.emit("failed", err)

    def _report(self, fraction: float, note: str = "") -> None:
        if self.cancelled:
            raise Cancelled
        self._post.emit("progress", (fraction, note))

    @Slot(str, object)
    def _arrive(self, what: str, value: Any) -> None:
        if what == "progress":
            self.fraction, note = value
            self.note = note or self.note
            self.progressed.emit()
            return
        self.ended.emit()
        if self.cancelled or what == "stopped":
            return
        if what == "done":
            self._then(value)
        else:
            self._failed(value)


class Jobs(QObject):
    """Every job under way, and the workers that do them."""

    changed = Signal()
    #: Raised by a job nobody else wanted the trouble of.
    failed = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._pools = {
            worker: ThreadPoolExecutor(1, thread_name_prefix=worker.value) for worker in Worker
        }
        self._active: list[Job] = []
        self._closed = False

    def run(
        self,
        label: str,
        work: Work,
        then: Then,
        failed: Failed | None = None,
        *,
        worker: Worker = Worker.FILES,
        quiet: bool = False,
    ) -> Job:
        """Start `work(progress)`; `then(result)` or `failed(error)` follow on this thread."""
        job = Job(label, work, then, failed or self.failed.emit, quiet=quiet)
        if self._closed:
            job.cancel()
            return job
        self._active.append(job)
        job.progressed.connect(self.changed)
        job.ended.connect(lambda: self._forget(job))
        job.future = self._pools[worker].submit(job.run)
        self.changed.emit()
        return job

    def lane(
        self,
        label: str,
        *,
        worker: Worker = Worker.STUDY,
        quiet: bool = True,
        patient: bool = False,
    ) -> Lane:
        """Return a lane for one kind of question, latest asking wins."""
        return Lane(self, label, worker, quiet=quiet, patient=patient)

    def active(self) -> list[Job]:
        """Return the jobs a person should see, oldest first."""
        return [job for job in self._active if not job.quiet and not job.cancelled]

    @property
    def busy(self) -> bool:
        """Whether anything at all is under way, seen or not."""
        return bool(self._active)

    def cancel_all(self) -> None:
        """Ask every job to stop."""
        for job in list(self._active):
            job.cancel()
        self.changed.emit()

    def close(self) -> None:
        """Stop all work and wait for the workers; nothing runs afterwards."""
        self._closed = True
        self.cancel_all()
        for pool in self._pools.values():
            pool.shutdown(wait=True, cancel_futures=True)
        self._active.clear()

    def _forget(self, job: Job) -> None:
        if job in self._active:
            self._active.remove(job)
        self.changed.emit()


class Lane:
    """Asks one kind of question at a time; a newer asking makes the older one void.

    A patient lane lets the answer under way arrive first: askings in quick succession then still
    bring an answer now and again.
    """

    def __init__(
        self, jobs: Jobs, label: str, worker: Worker, *, quiet: bool, patient: bool
    ) -> None:
        self._jobs = jobs
        self._label = label
        self._worker = worker
        self._quiet = quiet
        self._patient = patient
        self._running: Job | None = None
        self._next: tuple[Work, Then, Failed | None] | None = None

    @property
    def busy(self) -> bool:
        """Whether an answer is awaited."""
        return self._running is not None

    def ask(self, work: Work, then: Then, failed: Failed | None = None) -> None:
        """Ask; if an older question is being answered, it is told to stop and this one follows."""
        self._next = (work, then, failed)
        if self._running is None:
            self._start()
        elif not self._patient:
            self._running.cancel()

    def drop(self) -> None:
        """Forget every question asked."""
        self._next = None
        if self._running is not None:
            self._running.cancel()

    def _start(self) -> None:
        if self._next is None:
            return
        work, then, failed = self._next
        self._next = None
        job = self._jobs.run(
            self._label, work, then, failed, worker=self._worker, quiet=self._quiet
        )
        if job.future is None:
            return
        self._running = job
        job.ended.connect(self._ended)

    def _ended(self) -> None:
        self._running = None
        self._start()
