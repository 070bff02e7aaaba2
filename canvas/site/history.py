"""History: which steps are done, which are undone, and when two become one. Values only."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from canvas.base.errors import InputError


@dataclass(frozen=True, slots=True)
class Step:
    """One entry of the undo list; `number` finds it in the journal."""

    label: str
    at: datetime
    number: int


@dataclass(frozen=True, slots=True)
class History:
    """The steps of a site. Every method returns the next history, so a failed commit costs none."""

    #: Oldest first; the last one is undone next.
    done: tuple[Step, ...] = ()
    #: The last one is redone next.
    undone: tuple[Step, ...] = ()
    #: Key of the last step while further edits may still melt into it.
    open_key: str | None = None

    @property
    def position(self) -> int:
        """Number of the last step done; 0 before the first."""
        return self.done[-1].number if self.done else 0

    def melts(self, merge_key: str | None) -> bool:
        """Tell whether an edit with this key becomes part of the last step."""
        return bool(merge_key and self.done and merge_key == self.open_key)

    def recorded(self, step: Step, merge_key: str | None) -> History:
        """Return the history after a new step; what was undone can't come back."""
        return History((*self.done, step), (), merge_key)

    def melted(self, step: Step | None, merge_key: str | None) -> History:
        """Return the history after an edit joined the last step; None: nothing is left of it."""
        if not self.done:
            raise InputError("there is no step to join")
        head = self.done[:-1]
        return History(head if step is None else (*head, step), (), merge_key if step else None)

    def undid(self) -> History:
        """Return the history after the last step was taken back."""
        if not self.done:
            raise InputError("there is nothing to undo")
        return History(self.done[:-1], (*self.undone, self.done[-1]))

    def redid(self) -> History:
        """Return the history after the last undone step was done again."""
        if not self.undone:
            raise InputError("there is nothing to redo")
        return History((*self.done, self.undone[-1]), self.undone[:-1])

    def released(self) -> History:
        """Return the history with its last step closed to further edits."""
        return replace(self, open_key=None)

    def trimmed(self, oldest: int) -> History:
        """Return the history without the done steps below number `oldest`."""
        return replace(self, done=tuple(step for step in self.done if step.number >= oldest))
