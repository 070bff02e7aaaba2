"""A rain table as people paste it: rows of three, or a matrix of durations by return periods."""

from __future__ import annotations

import re
from collections.abc import Sequence

from canvas.base.errors import BadData
from canvas.base.quantity import read_number
from canvas.site.storms import RAIN_COLUMNS, RainRows
from canvas.site.tabular import form, problem
from canvas.study.storm.design import rain_table

REMEDY = (
    "Paste durations down and return periods across, such as:\n"
    "duration;2;10;100\n30 min;14;22;36\n1 h;19;30;50\nor rows of hours; years; depth in mm."
)
_MINUTES = re.compile(r"(?:min(?:ute)?s?|')\.?$", re.IGNORECASE)
_HOURS = re.compile(r"(?:h|hrs?|hours?)\.?$", re.IGNORECASE)
_DAYS = re.compile(r"(?:d|days?)\.?$", re.IGNORECASE)
_YEARS = re.compile(r"(?:years?|yrs?|y|a|ari)\.?$", re.IGNORECASE)
_BEFORE = re.compile(r"^(?:1\s*(?::|in|/)\s*)", re.IGNORECASE)


def read_pasted(text: str, *, intensity: bool = False) -> str:
    """Return the rows of a rain table as a record keeps them; `BadData` says what is amiss.

    Numbers may have a decimal comma. `intensity`: figures are mm/h, not mm.
    """
    lines = [_cells(line) for line in text.splitlines() if line.strip()]
    if not lines:
        raise BadData("there is no table in this text", remedy=REMEDY)
    matrix = len(lines) > 1 and _is_head(lines[0], lines[1])
    rows = _matrix(lines) if matrix else _triples(lines)
    if intensity:
        rows = [(h, y, value * h) for h, y, value in rows]
    rows = sorted((h, y, round(value, 4)) for h, y, value in rows)
    found = form(rows)
    trouble = problem(found, RAIN_COLUMNS)
    if trouble:
        raise BadData(trouble, remedy=REMEDY)
    rain_table(RainRows(depths=found))
    return found


def _cells(line: str) -> list[str]:
    for between in ("\t", ";", "|"):
        if between in line:
            cells = [cell.strip() for cell in line.strip(" |").split(between)]
            return cells if between == "\t" else [c for c in cells if c] or [""]
    wide = re.split(r"\s{2,}", line.strip())
    if len(wide) > 1:
        return wide
    # "30 min 14 22": a unit belongs to the number before it.
    joined = re.sub(r"(\d)\s+(min|h|hours?|hrs?|d|days?|years?|yrs?)\b", r"\1\2", line.strip())
    plain = joined.split()
    return plain if len(plain) > 1 else [cell.strip() for cell in line.split(",")]


def _is_head(first: Sequence[str], second: Sequence[str]) -> bool:
    """Return whether the first line names return periods: one cell more or no number in front."""
    if len(first) < 2:
        return False
    if len(second) == len(first) + 1:
        return True
    try:
        _number(first[0])
    except BadData:
        # Words in front: "duration", or the headings of three columns, whose others are words too.
        return all(_is_years(cell) for cell in first[1:])
    return False


def _is_years(text: str) -> bool:
    try:
        _years(text)
    except BadData:
        return False
    return True


def _matrix(lines: list[list[str]]) -> list[tuple[float, float, float]]:
    head, body = lines[0], lines[1:]
    named = len(head) == len(body[0]) or not _is_years(head[0])
    years = [_years(cell) for cell in (head[1:] if named else head)]
    unit = head[0] if named else ""
    rows = []
    for line in body:
        hours = _hours(line[0], unit)
        if len(line) - 1 != len(years):
            raise BadData(
                f"the row of {line[0]} has {len(line) - 1} depths for {len(years)} return periods",
                remedy=REMEDY,
            )
        rows += [(hours, y, _number(cell)) for y, cell in zip(years, line[1:], strict=True)]
    return rows


def _triples(lines: list[list[str]]) -> list[tuple[float, float, float]]:
    rows = []
    for n, line in enumerate(lines, start=1):
        if len(line) != 3:
            raise BadData(f"line {n} has {len(line)} values, not 3", remedy=REMEDY)
        try:
            rows.append((_hours(line[0], "hours"), _years(line[1]), _number(line[2])))
        except BadData:
            if n == 1:
                continue
            raise
    return rows


def _number(text: str) -> float:
    return read_number(re.sub(r"\s*mm(?:/h)?$", "", text.strip()))


def _years(text: str) -> float:
    """Return a return period: "10", "10 years", "1 in 10", or a yearly chance such as "10 %"."""
    tidy = _YEARS.sub("", _BEFORE.sub("", text.strip())).strip()
    if tidy.endswith("%"):
        return 100.0 / read_number(tidy[:-1])
    return read_number(tidy)


def _hours(text: str, unit: str) -> float:
    """Return a duration in hours; its unit stands behind it or in the heading."""
    tidy = text.strip()
    for pattern, factor in ((_MINUTES, 1 / 60), (_HOURS, 1.0), (_DAYS, 24.0)):
        if pattern.search(tidy):
            return read_number(pattern.sub("", tidy)) * factor
    words = unit.casefold()
    if "min" in words:
        return read_number(tidy) / 60
    if re.search(r"\bh(?:ours?|rs?)?\b", words):
        return read_number(tidy)
    raise BadData(
        f"it is not said whether the duration {tidy} is minutes or hours",
        remedy="Write “min” or “h” behind it, or in the heading of the column.",
    )
