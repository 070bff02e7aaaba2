"""Climate tables of text: a row a day (or hour), or twelve months down or across."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any

from canvas.base.errors import BadData
from canvas.base.progress import Progress
from canvas.exchange.readers import climate_words as cw
from canvas.exchange.readers.climate_dates import Dates
from canvas.exchange.readers.raw import decoded
from canvas.exchange.readers.table import WITH_COMMA, number_in, rows_of, separator_of

#: Rows before the headings that may be a file's own preface.
PREFACE = 80
MOST_ROWS = 400_000
MOST_SKIPPED = 200

Rows = list[tuple[int, list[str]]]


def read_job(arguments: dict[str, Any], folder: Path, report: Progress) -> dict[str, Any]:
    """Read a climate file of any kind; see `exchange.climate.read_climate`."""
    path = Path(arguments["path"])
    data = path.read_bytes()
    if path.suffix.lower() == ".epw" or data[:9] == b"LOCATION,":
        from canvas.exchange.readers import epw

        return epw.read_text(decoded(data, []))
    notes: list[str] = []
    return read_text(decoded(data, notes), arguments.get("units", {}), notes)


def read_text(text: str, units: Mapping[str, str], notes: list[str]) -> dict[str, Any]:
    """Read a table from its text, pasted or out of a file."""
    separator = _separator(text)
    rows = [(line, cells) for line, cells in rows_of(text, separator)]
    if not rows:
        raise BadData("the table is empty", remedy="Save or fetch it again.")
    if len(rows) > MOST_ROWS:
        raise BadData(
            f"the table has more than {MOST_ROWS} rows", remedy="Cut it to the years that matter."
        )
    decimal = "," if separator != "," and _comma_decimals(rows) else "."
    if decimal == ",":
        notes.append("Numbers were read with a decimal comma.")
    for n, (_, cells) in enumerate(rows[:PREFACE]):
        across = [cw.month_of(c) if not c[:1].isdigit() else None for c in cells]
        if sum(m is not None for m in across) == 12:
            return _across(across, rows[n + 1 :], decimal, units, notes)
        reader = _Reader(cells, decimal, units, notes)
        if reader.wanted and reader.dates.any:
            return reader.dated(rows[n + 1 :])
        if reader.wanted and reader.dates.month >= 0:
            return reader.monthly(rows[n + 1 :])
    raise BadData(
        "no row of headings names both a date (or month) and a quantity of the weather",
        where="line 1",
        remedy="Head the columns with words such as: date, tmax (°C), tmin (°C), rain (mm), wind "
        "(m/s). Or: month, …",
    )


def _separator(text: str) -> str:
    """Return the separator; a preface of other shape must not mislead."""
    body = "\n".join(text.splitlines()[-60:])
    found = separator_of(body)
    return found if found != "," or "," in body else "\t"


def _comma_decimals(rows: Rows) -> bool:
    cells = [c for _, row in rows[-200:] for c in row]
    commas = sum(bool(WITH_COMMA.fullmatch(c)) for c in cells)
    return commas > sum(
        c.count(".") == 1 and c.replace(".", "").lstrip("-").isdigit() for c in cells
    )


class _Reader:
    """Takes quantities out of the columns that hold them."""

    def __init__(
        self, headings: Sequence[str], decimal: str, units: Mapping[str, str], notes: list[str]
    ) -> None:
        self.headings, self.decimal, self.units, self.notes = headings, decimal, units, notes
        self.dates = Dates(headings)
        self.wanted: dict[int, tuple[str, str]] = {}
        taken: set[str] = set()
        for n, heading in enumerate(headings):
            found = cw.column_of(heading)
            if found and n not in self.dates.columns and found[0] not in taken:
                self.wanted[n] = found
                taken.add(found[0])
        self.skipped: list[tuple[str, str]] = []
        self.missing = 0

    def dated(self, rows: Rows) -> dict[str, Any]:
        """Return a daily or hourly table."""
        if not rows:
            raise BadData("there are headings but no rows", remedy="Save or fetch it again.")
        said = self.dates.learn([cells for _, cells in rows])
        if said:
            self.notes.append(said)
        taken: dict[datetime, list[float]] = {}
        twice = 0
        for line, cells in rows:
            when = self.dates.read(cells)
            if when is None:
                self._skip(line, "its date can't be read")
                continue
            twice += when in taken
            taken[when] = self._numbers(line, cells)
        if twice:
            self.notes.append(f"{twice} dates stood there twice; the last was taken.")
        when_all = sorted(taken)
        hourly = len({w.date() for w in when_all}) < 0.7 * len(when_all)
        columns = {
            key: [taken[w][i] for w in when_all] for i, (key, _) in enumerate(self.wanted.values())
        }
        if not hourly:
            when_all = [datetime.combine(w.date(), datetime.min.time()) for w in when_all]
            if "t_c" in columns and "tmean_c" not in columns:
                columns["tmean_c"] = columns.pop("t_c")
                self.wanted = {
                    n: ("tmean_c" if key == "t_c" else key, unit)
                    for n, (key, unit) in self.wanted.items()
                }
        stamp = [w.isoformat(timespec="minutes") if hourly else str(w.date()) for w in when_all]
        return self._table("hourly" if hourly else "daily", stamp, columns)

    def monthly(self, rows: Rows) -> dict[str, Any]:
        """Return the twelve months, means over the years where there are several."""
        sums: dict[int, list[list[float]]] = {m: [] for m in range(1, 13)}
        for line, cells in rows:
            at = self.dates.month
            month = cw.month_of(cells[at]) if at < len(cells) else None
            if month is None:
                self._skip(line, "it names no month")
                continue
            sums[month].append(self._numbers(line, cells))
        if any(len(each) > 1 for each in sums.values()):
            most = max(len(each) for each in sums.values())
            self.notes.append(f"Months are means over up to {most} years.")
        columns = {
            key: [_mean([row[i] for row in sums[m]]) for m in range(1, 13)]
            for i, (key, _) in enumerate(self.wanted.values())
        }
        return self._table("monthly", _months(), columns)

    def _numbers(self, line: int, cells: Sequence[str]) -> list[float]:
        out = []
        for n, (key, _) in self.wanted.items():
            out.append(self.number(cells[n] if n < len(cells) else "", key, f"line {line}"))
        return out

    def number(self, cell: str, key: str, place: str) -> float:
        """Return a cell's number in the file's unit; NaN where there is none."""
        text = cell.strip().casefold()
        if not text or text in cw.MISSING:
            return math.nan
        if text in cw.TRACE:
            return 0.0 if key == "rain_mm" else math.nan
        value = number_in(cell, self.decimal)
        if value is None:
            self._skip(place, f"{key}: “{cell[:30]}” is not a number")
            return math.nan
        if value <= cw.LOWEST_CODE or value in cw.HIGH_CODES:
            self.missing += 1
            return math.nan
        return value

    def _skip(self, place: int | str, why: str) -> None:
        if len(self.skipped) < MOST_SKIPPED:
            self.skipped.append((place if isinstance(place, str) else f"line {place}", why))

    def _table(self, kind: str, when: list[str], columns: dict[str, list[float]]) -> dict[str, Any]:
        if not when or all(math.isnan(v) for values in columns.values() for v in values):
            raise BadData("the table holds no numbers", remedy="Check its columns.")
        units, out = {}, {}
        for key, written in self.wanted.values():
            unit = _unit(key, self.units.get(key, written), columns[key])
            units[key] = unit[0]
            factor = unit[1] / 24 if unit[0] == "W/m²" and kind == "hourly" else unit[1]
            out[key] = [
                None if math.isnan(v) else round(factor * v + unit[2], 9) for v in columns[key]
            ]
        if self.missing:
            self.notes.append(f"{self.missing} codes for missing values were left out.")
        read = {*self.wanted, *self.dates.columns}
        return {
            "kind": kind,
            "when": when,
            "columns": out,
            "units": units,
            "notes": self.notes,
            "skipped": self.skipped,
            "unread": [h for n, h in enumerate(self.headings) if n not in read and h],
        }


def _unit(key: str, written: str, values: list[float]) -> tuple[str, float, float]:
    """Return the unit of a column; its usual one where nothing is said or understood."""
    if written:
        found = cw.unit_of(key, written)
        if found:
            return found
        if key not in cw.UNITS_OF:
            raise BadData(f"{key} has no unit “{written}”", remedy="Leave it out.")
    known = [v for v in values if not math.isnan(v)]
    usual = cw.USUAL[key]
    if usual == "%" and known and max(known) <= 1.0:
        usual = "fraction"
    if key == "pressure_kpa" and known and max(known) < 200:
        usual = "kPa"
    found = cw.unit_of(key, usual)
    assert found is not None
    return found


def _across(
    months: Sequence[int | None],
    rows: Rows,
    decimal: str,
    units: Mapping[str, str],
    notes: list[str],
) -> dict[str, Any]:
    """Return monthly normals written with the months across and a quantity in each row."""
    first = [cells[0] if cells else "" for _, cells in rows]
    reader = _Reader([f if cw.column_of(f) else "" for f in first], decimal, units, notes)
    if not reader.wanted:
        raise BadData(
            "no row below the months names a quantity of the weather",
            remedy="Start the rows with words such as: tmax (°C), tmin (°C), rain (mm).",
        )
    columns: dict[str, list[float]] = {}
    for n, (key, _) in reader.wanted.items():
        line, cells = rows[n]
        values = [math.nan] * 12
        for at, month in enumerate(months):
            if month is not None and at < len(cells):
                values[month - 1] = reader.number(cells[at], key, f"line {line}")
        columns[key] = values
    return reader._table("monthly", _months(), columns)


def _months() -> list[str]:
    return [str(date(1, m, 1)) for m in range(1, 13)]


def _mean(values: list[float]) -> float:
    known = [v for v in values if not math.isnan(v)]
    return sum(known) / len(known) if known else math.nan
