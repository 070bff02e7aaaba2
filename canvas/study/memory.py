"""Remembered answers: each kept with the inputs it read, true for as long as those stand."""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import Any, TypeVar, cast

A = TypeVar("A")

Read = tuple[Hashable, object]


@dataclass(frozen=True, slots=True)
class _Kept:
    value: Any
    reads: tuple[Read, ...]


class Memory:
    """Answers by key, shared by a study and those that follow it.

    An answer holds while every input it read is still the very same object. A worker and the
    interface may ask at once: at worst both compute.
    """

    def __init__(self, below: Memory | None = None) -> None:
        self._kept: dict[Hashable, _Kept] = {}
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
            found = self._work(key, work)
        for token, read in found.reads:
            self.note(token, read)
        return cast(A, found.value)

    def _work(self, key: Hashable, work: Callable[[], Any]) -> _Kept:
        stack = self._local.__dict__.setdefault("stack", [])
        stack.append({})
        try:
            value = work()
        finally:
            reads = stack.pop()
        kept = _Kept(value, tuple(reads.items()))
        self._kept[key] = kept
        return kept

    def forget(self, keep: Callable[[Hashable], bool]) -> None:
        """Drop the answers whose key is no longer wanted."""
        self._kept = {key: kept for key, kept in self._kept.items() if keep(key)}

    def __len__(self) -> int:
        return len(self._kept)
