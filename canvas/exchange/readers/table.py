"""Tables of text: CSV with any separator and decimal sign, positions in two columns or as WKT."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import shapely

from canvas.base.errors import BadData
from canvas.exchange import headings
from canvas.exchange.incoming import Columns, Value
from canvas.exchange.readers.raw import SHAPE_TROUBLE, WGS84, RawFeature, RawFile, decoded

SEPARATORS = (";", "\t", "|", ",")
LONGEST_CELL = 16 << 20
#: Rows looked at to find the separator and the decimal sign.
LOOKED_AT = 200

WITH_COMMA = re.compile(r"[-+]?(\d{1,3}(\.\d{3})+|\d+),\d+")
SRID = re.compile(r"\s*SRID=(\d+);", re.IGNORECASE)
DEGREES = re.compile(
    r"(?P<sign>[-+])?\s*(?P<d>\d+(?:\.\d+)?)\s*[°d:\s]\s*(?:(?P<m>\d+(?:\.\d+)?)\s*['′m:\s]?\s*)?"
    r"(?:(?P<s>\d+(?:\.\d+)?)\s*(?:\"|″|'')?)?\s*(?P<side>[NSEW])?",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class _Layout:
    """Where things stand in the table, and how its numbers are written."""

    names: tuple[str, ...]
    x: int
    y: int
    wkt: int
    decimal: str
    geographic: bool


def read(path: Path, columns: Columns, file_crs: str) -> RawFile:
    """Read a table of text; `file_crs` settles what grid columns or WKT are in."""
    found = RawFile("CSV")
    text = decoded(path.read_bytes(), found.notes, columns.encoding)
    separator = columns.separator or separator_of(text)
    csv.field_size_limit(LONGEST_CELL)
    rows = rows_of(text, separator)
    first = next(rows, None)
    if first is None:
        raise BadData("the table is empty", remedy="Save or fetch it again.")
    headed = columns.header if columns.header is not None else not _all_numbers(first[1])
    names = _names(first[1], headed)
    sample = [cells for _, cells in _some(rows_of(text, separator), LOOKED_AT)][int(headed) :]
    layout = _layout(names, columns, sample, separator, found)
    found.crs = file_crs or (WGS84 if layout.geographic else "")
    for line, cells in rows if headed else _chained(first, rows):
        _take(line, cells, layout, found)
    return found


def _chained(
    first: tuple[int, list[str]], rest: Iterator[tuple[int, list[str]]]
) -> Iterator[tuple[int, list[str]]]:
    yield first
    yield from rest


def _some(rows: Iterator[tuple[int, list[str]]], most: int) -> list[tuple[int, list[str]]]:
    return [row for row, _ in zip(rows, range(most), strict=False)]


def rows_of(text: str, separator: str) -> Iterator[tuple[int, list[str]]]:
    """Yield (line number, cells) of every row that isn't blank."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, skipinitialspace=True)
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                yield reader.line_num, [cell.strip() for cell in cells]
    except csv.Error as error:
        raise BadData(
            f"the table can't be read ({error})",
            where=f"line {reader.line_num}",
            remedy="Save it afresh as CSV.",
        ) from error


def separator_of(text: str) -> str:
    """Return the separator that cuts most rows into as many cells as the first."""
    head = text[: 1 << 18]
    for separator in SEPARATORS:
        try:
            rows = [cells for _, cells in _some(rows_of(head, separator), LOOKED_AT)]
        except BadData:
            continue
        if rows and len(rows[0]) > 1:
            # The last row may be cut short by `head`.
            alike = sum(len(cells) == len(rows[0]) for cells in rows)
            if alike >= 0.8 * len(rows) - 1:
                return separator
    return ","


def _all_numbers(cells: list[str]) -> bool:
    return all(number_in(cell, ",") is not None for cell in cells if cell) and any(cells)


def _names(cells: list[str], headed: bool) -> tuple[str, ...]:
    if not headed:
        return tuple(str(number) for number in range(1, len(cells) + 1))
    taken: dict[str, int] = {}
    names = []
    for number, cell in enumerate(cells, 1):
        name = cell or f"column {number}"
        taken[name] = taken.get(name, 0) + 1
        names.append(name if taken[name] == 1 else f"{name} ({taken[name]})")
    return tuple(names)


def _layout(
    names: tuple[str, ...],
    columns: Columns,
    sample: list[list[str]],
    separator: str,
    found: RawFile,
) -> _Layout:
    tidy = [headings.split_unit(name)[0] for name in names]
    x = y = wkt = -1
    geographic = False
    if columns.wkt or columns.x or columns.y:
        wkt, x, y = (_chosen(c, names) for c in (columns.wkt, columns.x, columns.y))
        geographic = x >= 0 and tidy[x] in headings.LONGITUDE
    else:
        wkt = _among(tidy, headings.SHAPE)
        if wkt < 0:
            x, y = _among(tidy, headings.LONGITUDE), _among(tidy, headings.LATITUDE)
            geographic = x >= 0 and y >= 0
        if wkt < 0 and not geographic:
            x, y = _among(tidy, headings.EASTING), _among(tidy, headings.NORTHING)
        if wkt < 0 and (x < 0 or y < 0):
            x, y = _among(tidy, headings.MAYBE_LONGITUDE), _among(tidy, headings.MAYBE_LATITUDE)
            geographic = x >= 0 and y >= 0
    if wkt < 0 and (x < 0 or y < 0):
        listed = ", ".join(names[:20])
        raise BadData(
            f"no columns of this table hold positions for certain; its columns are: {listed}",
            where="line 1",
            remedy="Choose the columns with longitude and latitude, easting and northing, or WKT.",
        )
    decimal = columns.decimal or _decimal(sample, separator, (x, y), found)
    return _Layout(names, x, y, wkt, decimal, geographic)


def _chosen(name: str, names: tuple[str, ...]) -> int:
    if not name:
        return -1
    tidy = [headings.bare(each) for each in names]
    if name in names:
        return names.index(name)
    if headings.bare(name) in tidy:
        return tidy.index(headings.bare(name))
    if name.isdigit() and 1 <= int(name) <= len(names):
        return int(name) - 1
    raise BadData(
        f"the table has no column “{name}”", remedy=f"Its columns are: {', '.join(names[:20])}."
    )


def _among(tidy: list[str], wanted: tuple[str, ...]) -> int:
    """Return the column with the surest of the wanted names, -1 where none has any."""
    return next((tidy.index(name) for name in wanted if name in tidy), -1)


def _decimal(
    sample: list[list[str]], separator: str, position: tuple[int, int], found: RawFile
) -> str:
    """Return the decimal sign: a comma when numbers with one outnumber those with a point."""
    if separator == ",":
        # Commas inside numbers are quoted then; look at the positions alone.
        sample = [[row[i] for i in position if 0 <= i < len(row)] for row in sample]
    cells = [cell for row in sample for cell in row]
    commas = sum(bool(WITH_COMMA.fullmatch(cell)) for cell in cells)
    points = sum(bool(re.fullmatch(r"[-+]?\d+\.\d+", cell)) for cell in cells)
    if commas <= points:
        return "."
    found.notes.append("Numbers were read with a decimal comma.")
    return ","


def _take(line: int, cells: list[str], layout: _Layout, found: RawFile) -> None:
    place = f"line {line}"
    if len(cells) > len(layout.names) and any(cells[len(layout.names) :]):
        found.skip(place, f"it has {len(cells)} cells where the headings are {len(layout.names)}")
        return
    values: dict[str, Value] = {
        name: _tidied(cell, layout.decimal)
        for number, (name, cell) in enumerate(zip(layout.names, cells, strict=False))
        if number not in (layout.x, layout.y, layout.wkt) and cell
    }
    if layout.wkt >= 0:
        _take_text(cells[layout.wkt] if layout.wkt < len(cells) else "", values, place, found)
        return
    pair = [
        _coordinate(cells[i] if i < len(cells) else "", layout.decimal)
        for i in (layout.x, layout.y)
    ]
    if pair[0] is None or pair[1] is None:
        axis = layout.x if pair[0] is None else layout.y
        text = cells[axis] if axis < len(cells) else ""
        said = f"“{text[:40]}” is not a number" if text else "it is empty"
        found.skip(place, f"{layout.names[axis]}: {said}")
        return
    found.add(RawFeature(shapely.Point(pair[0], pair[1]), values, place))


def _take_text(text: str, values: dict[str, Value], place: str, found: RawFile) -> None:
    """Take a shape written as well-known text, with or without "SRID=n;" before it."""
    number = SRID.match(text)
    try:
        geometry = shapely.from_wkt(text[number.end() :] if number else text)
    except SHAPE_TROUBLE as error:
        found.skip(place, f"its WKT can't be read ({str(error)[:120]})")
        return
    if geometry is None or not text:
        found.skip(place, "it has no shape")
        return
    if number and not found.crs:
        found.crs = f"EPSG:{number[1]}"
    found.add(RawFeature(geometry, values, place))


def _tidied(cell: str, decimal: str) -> Value:
    """Return an attribute with a decimal point where the file's sign is a comma."""
    if decimal == "," and WITH_COMMA.fullmatch(cell):
        return cell.replace(".", "").replace(",", ".")
    return cell


def _coordinate(cell: str, decimal: str) -> float | None:
    plain = number_in(cell, decimal)
    return plain if plain is not None else _degrees(cell.replace(",", "."))


def number_in(cell: str, decimal: str) -> float | None:
    """Return the number a cell holds, written with this decimal sign, or None."""
    text = re.sub(r"[\s'\u00a0\u202f]", "", cell).replace("\N{MINUS SIGN}", "-")
    other = "." if decimal == "," else ","
    if decimal in text:
        text = text.replace(other, "")
    try:
        return float(text.replace(decimal, "."))
    except ValueError:
        return None


def _degrees(cell: str) -> float | None:
    """Return degrees from degrees, minutes and seconds: 37°45'12"S, 145 30 E, -37:45:12."""
    match = DEGREES.fullmatch(cell.strip()) if len(cell) < 60 else None
    if match is None:
        return None
    value = float(match["d"]) + float(match["m"] or 0) / 60 + float(match["s"] or 0) / 3600
    side = (match["side"] or "").upper()
    return -value if match["sign"] == "-" or side in ("S", "W") else value
