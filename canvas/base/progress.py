"""How long work reports: a callable that may raise `Cancelled`."""

from __future__ import annotations

from typing import Protocol


class Progress(Protocol):
    """Told how far the work has come; raises `Cancelled` when the person gave up waiting."""

    def __call__(self, fraction: float, note: str = "") -> None:
        """Report `fraction` (0 to 1) of the work done and what is going on."""


def silent(fraction: float, note: str = "") -> None:
    """Report to nobody."""


def part(progress: Progress, start: float, end: float) -> Progress:
    """Return a progress that fills the stretch `start`..`end` of another one."""

    def report(fraction: float, note: str = "") -> None:
        progress(start + (end - start) * min(max(fraction, 0.0), 1.0), note)

    return report
