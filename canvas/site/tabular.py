"""Small tables kept in one text field: a row a line, values by semicolon, numbers with a point."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from canvas.base.errors import BadData

Cell = float | str | None
Row = tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a field of rows."""

    name: str
    label: str
    #: Key of `base.quantity.UNITS`; None for a column of words.
    unit: str | None = ""
    low: float = -math.inf
    high: float = math.inf
    #: Whether a row may leave it empty.
    may_be_empty: bool = False
    help: str = ""


def parse(text: str, columns: Sequence[Column]) -> tuple[Row, ...]:
    """Return the rows of a table, a cell a column; raises `BadData` naming row, column and value.

    Empty lines are skipped, cells left away at the end of a row are empty.
    """
    rows = (line for line in text.splitlines() if line.strip())
    return tuple(_row(line, nth, columns) for nth, line in enumerate(rows, start=1))


def problem(text: str, columns: Sequence[Column]) -> str:
    """Return what is wrong with a table; "" if nothing is."""
    try:
        parse(text, columns)
    except BadData as err:
        return err.what
    return ""


def form(rows: Iterable[Sequence[Cell]]) -> str:
    """Return rows as the text they are kept in; numbers come back the very same."""
    return "\n".join(";".join(_cell_text(cell) for cell in row) for row in rows)


def _cell_text(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, str):
        return " ".join(cell.replace(";", ",").split())
    return repr(int(cell)) if cell == int(cell) else repr(float(cell))


def _row(line: str, nth: int, columns: Sequence[Column]) -> Row:
    cells = [cell.strip() for cell in line.split(";")]
    if len(cells) > len(columns) and any(cells[len(columns) :]):
        raise BadData(f"row {nth} has {len(cells)} values, not {len(columns)}")
    cells += [""] * (len(columns) - len(cells))
    return tuple(_cell(cell, nth, col) for cell, col in zip(cells, columns, strict=False))


def _cell(text: str, nth: int, column: Column) -> Cell:
    if not text:
        if not column.may_be_empty:
            raise BadData(f"row {nth} lacks “{column.label}”")
        return None if column.unit is not None else ""
    if column.unit is None:
        return text
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise BadData(f"row {nth}, {column.label}: “{text}” is not a number")
    if not column.low <= value <= column.high:
        limits = f"{column.low:g} to {column.high:g} {column.unit}".rstrip()
        raise BadData(f"row {nth}, {column.label}: {value:g} lies outside {limits}")
    return value
