"""Tables of words and figures, and the book that writes one study's figures into them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from canvas.base.fact import Fact
from canvas.base.quantity import UnitSystem, show
from canvas.site.records import Element

if TYPE_CHECKING:
    from canvas.study.study import Study

STATUS_SHORT = {
    "existing": "kept",
    "remove": "remove",
    "proposed": "proposed",
    "built": "built",
    "gone": "gone",
}


@dataclass(frozen=True, slots=True)
class Column:
    """A table's column: heading, share of the width, and whether figures stand right."""

    heading: str
    share: float = 1.0
    right: bool = False
    #: Wrapped onto further lines instead of cut short.
    wraps: bool = False


@dataclass(frozen=True, slots=True)
class Line:
    """A table's line; `strong` for totals, `ident` the element it is about."""

    cells: tuple[str, ...]
    strong: bool = False
    role: str = "ink"
    ident: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """One schedule."""

    title: str
    columns: tuple[Column, ...]
    lines: tuple[Line, ...]


class Book:
    """Writes the figures of one study in one unit system."""

    def __init__(self, study: Study, units: UnitSystem) -> None:
        self.study = study
        self.units = units
        self.phase_numbers = {p.id: n for n, p in enumerate(study.plan.phases(), 1)}

    def fact(self, item: Element, key: str) -> Fact | None:
        """Return a figure of an element, by key."""
        return next((f for f in self.study.facts(item.id) if f.key == key), None)

    def value(self, item: Element, key: str) -> float | None:
        """Return a figure as a number; None where unknown."""
        fact = self.fact(item, key)
        return fact.value if fact is not None and isinstance(fact.value, float) else None

    def shown(self, item: Element, key: str, decimals: int | None = None) -> str:
        """Return a figure as people read it; "–" where unknown."""
        fact = self.fact(item, key)
        if fact is None or fact.value is None:
            return "–"
        if isinstance(fact.value, str):
            return fact.value
        return show(fact.value, fact.unit or "ratio", self.units, decimals)

    def total(self, items: Sequence[Element], key: str, unit: str, decimals: int | None) -> str:
        """Return the sum of a figure over elements."""
        found = [v for item in items if (v := self.value(item, key)) is not None]
        return show(sum(found), unit, self.units, decimals) if found else "–"

    def state(self, item: Element) -> str:
        """Return an element's status in a word, with the number of the phase it is built in."""
        words = STATUS_SHORT[item.status] if item.owner == "ours" else item.owner
        number = self.phase_numbers.get(item.phase)
        return f"{words}, phase {number}" if number else words
