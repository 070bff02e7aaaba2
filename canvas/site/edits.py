"""An edit: what was before, what is after. The only way a plan changes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from canvas.base.errors import InputError
from canvas.site.records import Record


@dataclass(frozen=True, slots=True)
class Change:
    """One record before and after; None before: added, None after: removed."""

    before: Record | None
    after: Record | None

    def __post_init__(self) -> None:
        """Refuse a change of nothing, or of one record into another."""
        if self.before is None and self.after is None:
            raise InputError("a change needs a record before or after")
        if self.before is not None and self.after is not None and self.before.id != self.after.id:
            raise InputError("a change keeps the identity")

    @property
    def id(self) -> str:
        """Identity of the record changed."""
        item = self.after if self.after is not None else self.before
        assert item is not None
        return item.id


@dataclass(frozen=True, slots=True)
class Edit:
    """One step that can be undone, named for the person."""

    label: str
    changes: tuple[Change, ...]
    #: The same key as the step before it makes both one step, until release, undo or restart.
    merge_key: str | None = None

    def inverse(self) -> Edit:
        """Return the edit that takes this one back."""
        back = tuple(Change(c.after, c.before) for c in reversed(self.changes))
        return replace(self, changes=back)

    def merged_onto(self, earlier: Edit) -> Edit:
        """Return one edit that does `earlier` and then this one."""
        net: dict[str, tuple[Record | None, Record | None]] = {}
        for change in (*earlier.changes, *self.changes):
            before = net[change.id][0] if change.id in net else change.before
            net[change.id] = (before, change.after)
        kept = tuple(Change(*pair) for pair in net.values() if pair[0] != pair[1])
        return replace(self, changes=kept)

    @property
    def touched(self) -> frozenset[str]:
        """Identities of every record the edit changes."""
        return frozenset(change.id for change in self.changes)


def add(label: str, items: Iterable[Record]) -> Edit:
    """Return an edit that adds records."""
    return Edit(label, tuple(Change(None, item) for item in items))


def remove(label: str, items: Iterable[Record]) -> Edit:
    """Return an edit that removes records."""
    return Edit(label, tuple(Change(item, None) for item in items))


def put(label: str, pairs: Iterable[tuple[Record, Record]], merge_key: str | None = None) -> Edit:
    """Return an edit that replaces records; pairs of (before, after)."""
    return Edit(label, tuple(Change(*pair) for pair in pairs if pair[0] != pair[1]), merge_key)
