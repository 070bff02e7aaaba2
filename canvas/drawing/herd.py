"""Many elements of a kind as their symbol gets them, with what was worked out of each before.

After an edit ten thousand trees are laid out again of which one has moved: what a symbol works out
of an element alone, whatever the scale, is kept and taken from there.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any, TypeVar, overload

from canvas.drawing.pen import Drawn
from canvas.site.records import Element
from canvas.study.scene import Parts
from canvas.study.study import Study

A = TypeVar("A")
#: Answers about elements not asked for any more are dropped once there are so many of them.
SPARE = 2000


class Kept:
    """What was worked out of elements, each true while the element's parts are the very same."""

    def __init__(self) -> None:
        self._parts: dict[str, Parts] = {}
        self._values: dict[str, Any] = {}

    def rows(self, herd: Herd, work: Callable[[Sequence[Drawn]], Sequence[A]]) -> list[A]:
        """Return one answer for each element, in their order."""
        parts, values, items = self._parts, self._values, herd.items
        changed = [
            k
            for k, (item, made) in enumerate(zip(items, herd.parts, strict=True))
            if parts.get(item.id) is not made
        ]
        if changed:
            fresh = work([herd[k] for k in changed])
            if len(parts) > len(items) + SPARE:
                live = {item.id for item in items}
                parts = {ident: made for ident, made in parts.items() if ident in live}
                values = {ident: value for ident, value in values.items() if ident in live}
            idents = [items[k].id for k in changed]
            # New ones, not these changed: another thread may be reading them.
            values = values | dict(zip(idents, fresh, strict=True))
            parts = parts | {items[k].id: herd.parts[k] for k in changed}
            self._parts, self._values = parts, values
        return [values[item.id] for item in items]


class Herd(Sequence[Drawn]):
    """Elements of one kind, ready to be drawn."""

    def __init__(self, study: Study, key: str, items: Sequence[Element]) -> None:
        self.items = items
        self.parts = study.parts_of(key, items)
        self._study = study
        self._key = key

    def __len__(self) -> int:
        return len(self.items)

    @overload
    def __getitem__(self, at: int) -> Drawn: ...

    @overload
    def __getitem__(self, at: slice) -> list[Drawn]: ...

    def __getitem__(self, at: int | slice) -> Drawn | list[Drawn]:
        if isinstance(at, slice):
            return [self[k] for k in range(*at.indices(len(self)))]
        item = self.items[at]
        return Drawn(item, self.parts[at], partial(self._study.own_facts, item.id))

    def rows(self, work: Callable[[Sequence[Drawn]], Sequence[A]]) -> list[A]:
        """Return what `work` says of each, asking only about those that have changed."""
        kept = self._study.remember(("drawn", self._key, work), Kept)
        return kept.rows(self, work)


def rows_of(items: Sequence[Drawn], work: Callable[[Sequence[Drawn]], Sequence[A]]) -> Sequence[A]:
    """Return what `work` says of each element alone: of its record and parts, nothing else."""
    return items.rows(work) if isinstance(items, Herd) else work(items)


def items_of(items: Sequence[Drawn]) -> Sequence[Element]:
    """Return the records of what is drawn."""
    return items.items if isinstance(items, Herd) else [drawn.item for drawn in items]
