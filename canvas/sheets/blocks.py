"""Kinds of blocks: paragraphs, tables, drawings."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from canvas.drawing.entries import Anchor, Areas, Entry, Image, Lines, Stamps, Stroke, Text
from canvas.drawing.furniture import left_text, rule
from canvas.drawing.typeface import fit, width_mm, wrap
from canvas.sheets.flow import Block, Row, Type
from canvas.study.book import Column, Line

HAIR = Stroke("rule", 0.13)


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Words under a short heading of their own."""

    words: str
    heading: str = ""
    role: str = "ink"


def paragraphs(title: str, items: Sequence[Paragraph]) -> Block:
    """Return a block of paragraphs; each stays whole."""

    def make(width: float, letters: Type) -> list[Row]:
        return [_paragraph(item, width, letters) for item in items]

    return Block(title, make)


def _paragraph(item: Paragraph, width: float, letters: Type) -> Row:
    lines = wrap(item.words, letters.body, width)
    head = 1 if item.heading else 0
    step = letters.line

    def draw(x: float, top: float) -> list[Entry]:
        y = top - step * 0.6
        drawn: list[Entry] = []
        if item.heading:
            words = fit(item.heading, letters.body, width, bold=True)
            drawn.append(left_text(x, y, words, letters.body, item.role, bold=True))
            y -= step
        for line in lines:
            drawn.append(left_text(x, y, line, letters.body))
            y -= step
        return drawn

    return Row((len(lines) + head) * step + letters.body * 0.7, draw)


def table(title: str, columns: Sequence[Column], lines: Sequence[Line]) -> Block:
    """Return a block of one table with its headings repeated where it is continued."""

    def make(width: float, letters: Type) -> list[Row]:
        if not lines:
            return []
        widths = _widths(columns, lines, width, letters)
        head = Line(tuple(c.heading for c in columns), role="ink_soft")
        rows = [_table_row(head, columns, widths, replace(letters, body=letters.small), True)]
        return rows + [_table_row(line, columns, widths, letters, False) for line in lines]

    return Block(title, make, heads=1)


def _widths(
    columns: Sequence[Column], lines: Sequence[Line], width: float, letters: Type
) -> list[float]:
    """Return column widths: figures take what they need, words share the rest.

    Short words that can't be wrapped (numbers, dates, codes) get their whole length before those
    that can.
    """
    air = letters.body * 1.7
    wanted = []
    for i, column in enumerate(columns):
        needed = width_mm(column.heading, letters.small)
        cells = [width_mm(line.cells[i], letters.body, line.strong) for line in lines]
        wanted.append(max([needed, *cells]) + air)
    fixed = sum(w for w, c in zip(wanted, columns, strict=True) if c.right)
    room = max(width - fixed, width * 0.3)
    shares = sum(c.share for c in columns if not c.right) or 1.0
    squeeze = min(1.0, (width - room) / fixed) if fixed else 1.0
    found = [
        w * squeeze if c.right else room * c.share / shares
        for w, c in zip(wanted, columns, strict=True)
    ]
    short = [k for k, c in enumerate(columns) if not c.right and not c.wraps]
    give = [k for k, c in enumerate(columns) if c.wraps]
    lacking = {k: max(min(wanted[k] - air * 0.5, width * 0.3) - found[k], 0.0) for k in short}
    spare = sum(found[k] for k in give)
    if give and 0 < sum(lacking.values()) < spare / 2:
        for k in short:
            found[k] += lacking[k]
        for k in give:
            found[k] *= 1 - sum(lacking.values()) / spare
    return found


def _table_row(
    line: Line, columns: Sequence[Column], widths: Sequence[float], letters: Type, head: bool
) -> Row:
    step = letters.line
    cells: list[tuple[str, ...]] = []
    for words, column, width in zip(line.cells, columns, widths, strict=True):
        room = width - letters.body * 0.8
        if column.wraps and not head:
            cells.append(wrap(words, letters.body, room, line.strong))
        else:
            cells.append((fit(words, letters.body, room, line.strong),))
    count = max(len(cell) for cell in cells)
    height = count * step + letters.body * 0.75

    def draw(x: float, top: float) -> list[Entry]:
        drawn: list[Entry] = []
        left = x
        for lines, column, width in zip(cells, columns, widths, strict=True):
            for k, words in enumerate(lines):
                at = left + width - letters.body * 0.3 if column.right else left
                y = top - letters.body * 0.4 - step * (k + 0.5)
                anchor = Anchor.RIGHT if column.right else Anchor.LEFT
                drawn.append(Text(at, y, words, letters.body, line.role, anchor, bold=line.strong))
            left += width
        drawn.append(rule(x, top - height, x + sum(widths), top - height, HAIR))
        return drawn

    return Row(height, draw)


def moved(entry: Entry, dx: float, dy: float, grow: float = 1.0) -> Entry:
    """Return an entry in millimetres moved and, widths apart, scaled."""
    shift = np.array([dx, dy])
    match entry:
        case Lines():
            return replace(entry, paths=[path * grow + shift for path in entry.paths])
        case Areas():
            rings = [tuple(r * grow + shift for r in rings) for rings in entry.polygons]
            return replace(entry, polygons=rings)
        case Stamps():
            size = entry.size * grow if entry.on_ground else entry.size
            return replace(entry, xy=entry.xy * grow + shift, size=size)
        case Text():
            return replace(entry, x=entry.x * grow + dx, y=entry.y * grow + dy)
        case Image():
            west, south, east, north = entry.bounds
            bounds = (west * grow + dx, south * grow + dy, east * grow + dx, north * grow + dy)
            return replace(entry, bounds=bounds)
    return entry


def figure(title: str, height: float, draw: Callable[[float, float, float], list[Entry]]) -> Block:
    """Return a block of one drawing: `draw` gets left, bottom and width."""

    def make(width: float, letters: Type) -> list[Row]:
        return [Row(height, lambda x, top: draw(x, top - height, width))]

    return Block(title, make)
