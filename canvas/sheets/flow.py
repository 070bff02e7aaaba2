"""Blocks of rows that flow through columns and on to further sheets, whole rows at a time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from canvas.drawing.entries import Entry, Stroke
from canvas.drawing.furniture import left_text, rule
from canvas.drawing.typeface import LEADING, fit, width_mm


@dataclass(frozen=True, slots=True)
class Type:
    """Letter heights [mm] of a sheet: chosen by its size, read at arm's length."""

    body: float
    small: float
    head: float

    @property
    def line(self) -> float:
        """Distance from line to line of body text."""
        return self.body * LEADING


@dataclass(frozen=True, slots=True)
class Rect:
    """A place on paper [mm], by its lower left corner."""

    x: float
    y: float
    width: float
    height: float

    @property
    def top(self) -> float:
        """Upper edge."""
        return self.y + self.height


#: Share of a column below which a block is kept whole.
KEPT_WHOLE = 0.25

#: Draws a row whose top left corner is given.
Draw = Callable[[float, float], Sequence[Entry]]


@dataclass(frozen=True, slots=True)
class Row:
    """One row: its height, and how it is drawn at a top left corner."""

    height: float
    draw: Draw


@dataclass(frozen=True, slots=True)
class Block:
    """A titled list of rows. `make` lays them out for a width; their number must not depend on it.

    The first `heads` rows (a table's headings) are repeated where the block is continued.
    """

    title: str
    make: Callable[[float, Type], Sequence[Row]]
    heads: int = 0


@dataclass(slots=True)
class Flow:
    """What has been placed, and what is left for further columns."""

    type: Type
    waiting: list[tuple[Block, int]] = field(default_factory=list)
    entries: list[Entry] = field(default_factory=list)
    #: Blocks shorter than this share of a column are not torn over two.
    keep: float = KEPT_WHOLE

    def fill(self, columns: Sequence[Rect]) -> None:
        """Place waiting rows into columns, in order; what finds no room stays waiting."""
        for column in columns:
            self._fill_column(column)

    def place(self, block: Block, column: Rect) -> None:
        """Place one block at a column's top, before all that waits."""
        waiting, self.waiting = self.waiting, [(block, 0)]
        self._fill_column(column)
        self.waiting = waiting

    def fits(self, columns: Sequence[Rect]) -> bool:
        """Place what can be placed, and return whether that was all."""
        self.fill(columns)
        return self.done

    def _fill_column(self, column: Rect) -> None:
        y = column.top
        while self.waiting:
            block, done = self.waiting[0]
            rows = block.make(column.width, self.type)
            if not rows:
                self.waiting.pop(0)
                continue
            placed, y = self._place(block, rows, done, column, y)
            if placed < len(rows):
                self.waiting[0] = (block, placed)
                return
            self.waiting.pop(0)
            y -= self.type.line * 0.9

    def _place(
        self, block: Block, rows: Sequence[Row], done: int, column: Rect, y: float
    ) -> tuple[int, float]:
        """Place as many rows as fit; return how many are done in all, and where the next goes."""
        heads = rows[: block.heads]
        # A block continued repeats its headings; its first `heads` rows count as done with them.
        at = max(done, block.heads)
        title_room = self.type.head * LEADING + 1.4
        needed = title_room + sum(r.height for r in heads)
        needed += sum(r.height for r in rows[at : at + 2])
        whole = title_room + sum(r.height for r in rows)
        if done == 0 and whole < column.height * self.keep:
            needed = whole
        # No heading without a row under it.
        least = title_room + sum(r.height for r in heads) + sum(r.height for r in rows[at : at + 1])
        if y - max(min(needed, column.height), least) < column.y - 1e-6:
            return done, y
        self._title(block.title, " (continued)" if done else "", column, y)
        y -= title_room
        for row in heads:
            self.entries.extend(row.draw(column.x, y))
            y -= row.height
        while at < len(rows) and y - rows[at].height >= column.y - 1e-6:
            self.entries.extend(rows[at].draw(column.x, y))
            y -= rows[at].height
            at += 1
        return at, y

    def _title(self, title: str, tail: str, column: Rect, y: float) -> None:
        size = self.type.head
        room = column.width - width_mm(tail, size, bold=True)
        words = fit(title, size, room, bold=True) + tail
        base = y - size * LEADING
        self.entries.append(left_text(column.x, y - size * 0.75, words, size, bold=True))
        line = Stroke("ink", 0.25)
        self.entries.append(rule(column.x, base - 0.2, column.x + column.width, base - 0.2, line))

    @property
    def done(self) -> bool:
        """Whether everything has been placed."""
        return not self.waiting
