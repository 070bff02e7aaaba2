"""Remembered answers: each kept with the inputs it read, true for as long as those stand."""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, TypeVar, cast

from canvas.site.records import Element

A = TypeVar("A")
#: Answers about elements that have gone are dropped once there are so many more than elements.
SPARE = 2000

Read = tuple[Hashable, object]


@dataclass(frozen=True, slots=True)
class _Kept:
    value: Any
    reads: tuple[Read, ...]


@dataclass(frozen=True, slots=True)
class _Made:
    inputs: tuple[object, ...]
    value: Any


@dataclass(frozen=True, slots=True)
class _Rows:
    """Answers about elements one by one, each true while its element is the very same."""

    items: dict[str, Element]
    values: dict[str, Any]
    #: What they read besides their own elements, all together.
    reads: dict[Hashable, object]


class Memory:
    """Answers by key, shared by a study and those that follow it.

    An answer holds while every input it read is still the very same object. A worker and the
    interface may ask at once: at worst both compute.
    """

    def __init__(self, below: Memory | None = None) -> None:
        self._kept: dict[Hashable, _Kept] = {}
        self._rows: dict[Hashable, _Rows] = {}
        self._made: dict[Hashable, _Made] = {}
        self._below = below
        self._local = threading.local()

    def overlay(self) -> Memory:
        """Return a memory that may read this one and never writes to it: for previews."""
        return Memory(self)

    def _find(self, key: Hashable) -> _Kept | None:
        found = self._kept.get(key)
        if found is None and self._below is not None:
            return self._below._find(key)
        return found

    def note(self, token: Hashable, value: object) -> None:
        """Record that the answer being worked out reads this input."""
        stack: list[dict[Hashable, object]] = getattr(self._local, "stack", [])
        if stack:
            stack[-1][token] = value

    def answer(
        self, key: Hashable, current: Callable[[Hashable], object], work: Callable[[], A]
    ) -> A:
        """Return the answer called `key`, worked out only if an input it read has changed.

        `current(token)` gives the input a token stands for today.
        """
        found = self._find(key)
        if found is None or any(current(token) is not value for token, value in found.reads):
            found = self._kept[key] = self._work(work)
        for token, read in found.reads:
            self.note(token, read)
        return cast(A, found.value)

    def known(self, key: Hashable, current: Callable[[Hashable], object]) -> Any:
        """Return an answer that is there and still true; None where it would have to be made."""
        found = self._find(key)
        if found is None or any(current(token) is not value for token, value in found.reads):
            return None
        return found.value

    def same(self, key: Hashable, inputs: tuple[object, ...], work: Callable[[], A]) -> A:
        """Return the answer called `key`, worked out only when an input is another object.

        For what is made of other answers: those come back the very same while they hold. What
        they read is for the caller to note.
        """
        found = self._find_made(key)
        if found is None or not _all_same(found.inputs, inputs):
            found = self._made[key] = _Made(inputs, work())
        return cast(A, found.value)

    def last(self, key: Hashable) -> Any:
        """Return what `same` worked out last under a key, true or not; None before."""
        found = self._find_made(key)
        return found.value if found is not None else None

    def last_kept(self, key: Hashable) -> Any:
        """Return what `answer` worked out last under a key, true or not; None before."""
        found = self._find(key)
        return found.value if found is not None else None

    def _find_made(self, key: Hashable) -> _Made | None:
        found = self._made.get(key)
        if found is None and self._below is not None:
            return self._below._find_made(key)
        return found

    def _work(self, work: Callable[[], Any]) -> _Kept:
        stack = self._local.__dict__.setdefault("stack", [])
        stack.append({})
        try:
            value = work()
        finally:
            reads = stack.pop()
        return _Kept(value, tuple(reads.items()))

    def answers(
        self,
        key: Hashable,
        current: Callable[[Hashable], object],
        items: Sequence[Element],
        work: Callable[[Element], A],
    ) -> list[A]:
        """Return one answer for each of `items`, worked out only for those that have changed.

        An input other than the element itself that changes makes all of them void. To look
        through ten thousand that have not changed takes a millisecond or two, where asking for
        each by a key of its own takes forty.
        """
        rows = self._find_rows(key)
        if rows is None or any(current(token) is not value for token, value in rows.reads.items()):
            rows = _Rows({}, {}, {})
        changed = [item for item in items if rows.items.get(item.id) is not item]
        if changed:
            rows = self._work_rows(rows, changed, work)
            if len(rows.items) > len(items) + SPARE:
                kept = {item.id: item for item in items}
                rows = _Rows(kept, {ident: rows.values[ident] for ident in kept}, rows.reads)
            self._rows[key] = rows
        values = rows.values
        return [values[item.id] for item in items]

    def _find_rows(self, key: Hashable) -> _Rows | None:
        found = self._rows.get(key)
        if found is None and self._below is not None:
            return self._below._find_rows(key)
        return found

    def _work_rows(
        self, rows: _Rows, changed: Sequence[Element], work: Callable[[Element], Any]
    ) -> _Rows:
        # Copies: another thread may be looking through the ones there are.
        items, values, reads = dict(rows.items), dict(rows.values), dict(rows.reads)
        for item in changed:
            made = self._work(partial(work, item))
            items[item.id], values[item.id] = item, made.value
            own = ("record", item.id)
            reads.update(read for read in made.reads if read[0] != own)
        return _Rows(items, values, reads)

    def forget(self, keep: Callable[[Hashable], bool]) -> None:
        """Drop the answers whose key is no longer wanted."""
        self._kept = {key: kept for key, kept in self._kept.items() if keep(key)}
        self._made = {key: made for key, made in self._made.items() if keep(key)}

    def __len__(self) -> int:
        return len(self._kept)


def _all_same(one: tuple[object, ...], other: tuple[object, ...]) -> bool:
    return len(one) == len(other) and all(
        a is b or (isinstance(a, (int, str, float)) and a == b)
        for a, b in zip(one, other, strict=True)
    )
