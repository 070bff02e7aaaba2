"""The legend as a block that is never torn: its columns, its headings, and how close it stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from canvas.drawing.entries import Entry, Stamps
from canvas.drawing.furniture import left_text
from canvas.drawing.legend import HEIGHT_MM, WIDTH_MM, LegendItem
from canvas.drawing.typeface import width_mm, wrap
from canvas.sheets.blocks import moved
from canvas.sheets.flow import Block, Row, Type

#: Gap between the legend's own columns, and between a sample and its words [mm].
GAP_MM, BESIDE_MM = 2.0, 1.3


@dataclass(frozen=True, slots=True)
class Style:
    """How close a legend stands."""

    #: Whether each family stands under its name.
    headed: bool
    #: Whether it is written in the sheet's small letters.
    small: bool
    #: Air under each line [mm].
    air_mm: float
    #: Narrowest column, in heights of its letters.
    least: float
    #: Widest sample, as a share of its column.
    sample: float


#: The roomiest first. Those of small letters come last: they want a reader with good eyes.
ROOMY = (Style(True, False, 1.2, 18.5, 0.3), Style(True, False, 0.35, 18.5, 0.3))
CLOSE = (Style(True, True, 0.35, 18.0, 0.27), Style(False, True, 0.2, 18.0, 0.25))


@dataclass(frozen=True, slots=True)
class Cell:
    """One line of the legend, or the name of a family over the lines that follow."""

    words: tuple[str, ...]
    height: float
    item: LegendItem | None = None


def legend_block(
    title: str, items: Sequence[LegendItem], style: Style, shades: str = "", across: int = 0
) -> Block:
    """Return the legend as one row, so that it stands whole or not at all.

    `shades` is the family of the shading's colours, named in every style: a colour means nothing
    without it. `across` fixes the number of columns; 0 takes as many as have room.
    """

    def make(width: float, letters: Type) -> list[Row]:
        return [_row(tuple(items), style, shades, across, width, letters)] if items else []

    return Block(title, make)


@lru_cache(maxsize=64)
def _row(
    items: tuple[LegendItem, ...], style: Style, shades: str, across: int, width: float,
    letters: Type,
) -> Row:  # fmt: skip
    size = letters.small if style.small else letters.body
    count = across or _columns(items, style, size, width)
    each = (width - GAP_MM * (count - 1)) / count
    shrink = min(1.0, each * style.sample / WIDTH_MM)
    cells = _cells(items, style, shades, size, each, shrink)
    columns = _balanced(cells, count)
    step = size * 1.58

    def draw(x: float, top: float) -> list[Entry]:
        drawn: list[Entry] = []
        for k, column in enumerate(columns):
            left, y = x + k * (each + GAP_MM), top
            for cell in column:
                drawn += _draw_cell(cell, left, y, size, step, shrink)
                y -= cell.height
        return drawn

    return Row(max(sum(cell.height for cell in column) for column in columns), draw)


def _columns(items: Sequence[LegendItem], style: Style, size: float, width: float) -> int:
    """Return how many columns have room without a word being broken."""
    longest = max(
        (width_mm(word, size) for item in items for word in item.label.split(" ")), default=0.0
    )
    least = max(style.least * size, (longest + BESIDE_MM) / (1 - style.sample) + 0.5)
    return max(int((width + GAP_MM) // (least + GAP_MM)), 1)


def _cells(
    items: Sequence[LegendItem], style: Style, shades: str, size: float, each: float,
    shrink: float,
) -> list[Cell]:  # fmt: skip
    room = each - WIDTH_MM * shrink - BESIDE_MM
    step = size * 1.58
    cells: list[Cell] = []
    family = ""
    for item in items:
        if item.group != family and (style.headed or item.group == shades):
            words = wrap(item.group, size, each, bold=True)
            cells.append(Cell(words, len(words) * step + size * 0.75))
        family = item.group
        lines = wrap(item.label, size, room)
        height = max(HEIGHT_MM * shrink, _marks_mm(item), len(lines) * step)
        cells.append(Cell(lines, height + style.air_mm, item))
    return cells


def _marks_mm(item: LegendItem) -> float:
    """Return the height of marks that keep their size where samples shrink [mm]."""
    marks = [e for e in item.entries if isinstance(e, Stamps) and not e.on_ground]
    return max((float(mark.size.max()) * 0.9 for mark in marks), default=0.0)


def _balanced(cells: Sequence[Cell], count: int) -> list[list[Cell]]:
    """Return the cells in columns about equally high, read down one and then the next."""
    low = sum(cell.height for cell in cells) / count
    high = sum(cell.height for cell in cells)
    for _ in range(12):
        middle = (low + high) / 2
        if len(_poured(cells, middle)) <= count:
            high = middle
        else:
            low = middle
    return _poured(cells, high)


def _poured(cells: Sequence[Cell], height: float) -> list[list[Cell]]:
    columns: list[list[Cell]] = [[]]
    y = 0.0
    for k, cell in enumerate(cells):
        # A family's name never stands at the foot of a column without what it names.
        needed = cell.height
        if cell.item is None and k + 1 < len(cells):
            needed += cells[k + 1].height
        if columns[-1] and y + needed > height + 1e-9:
            columns.append([])
            y = 0.0
        columns[-1].append(cell)
        y += cell.height
    return columns


def _draw_cell(
    cell: Cell, left: float, top: float, size: float, step: float, shrink: float
) -> list[Entry]:
    if cell.item is None:
        y = top - cell.height + step * (len(cell.words) - 0.5) + size * 0.1
        return [
            left_text(left, y - k * step, words, size, "ink_soft", bold=True)
            for k, words in enumerate(cell.words)
        ]
    middle = top - cell.height / 2
    low = middle - HEIGHT_MM * shrink / 2
    drawn = [moved(entry, left, low, shrink) for entry in cell.item.entries]
    x = left + WIDTH_MM * shrink + BESIDE_MM
    y = middle + (len(cell.words) - 1) * step / 2
    return drawn + [left_text(x, y - k * step, w, size) for k, w in enumerate(cell.words)]
