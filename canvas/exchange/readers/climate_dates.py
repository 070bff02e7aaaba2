"""Dates of climate tables: one column or several, in whichever order the file writes them."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from datetime import datetime, timedelta

from canvas.base.errors import BadData
from canvas.exchange.headings import bare
from canvas.exchange.readers import climate_words as cw

_TIME = re.compile(r"(.+?)[T\s]+(\d{1,2}):(\d{2})(?::\d{2}(?:\.\d+)?)?\s*(?:Z|UTC)?$")
_PARTS = re.compile(r"[\s/.\-]+")
ORDERS = ("ymd", "dmy", "mdy")


class Dates:
    """How a table writes its dates; built from its headings and rows."""

    def __init__(self, headings: Sequence[str]) -> None:
        tidy = [bare(h) for h in headings]
        self.year, self.month = _among(tidy, cw.YEAR), _among(tidy, cw.MONTH)
        self.day, self.ordinal = _among(tidy, cw.DAY), _among(tidy, cw.DAY_OF_YEAR)
        self.hour = _among(tidy, ("hour", "hr", "hh", "hora", "heure", "ora", "stunde"))
        self.whole = _among(tidy, cw.DATE)
        if self.year >= 0 and (self.ordinal >= 0 or (self.month >= 0 and self.day >= 0)):
            self.whole = -1
        self.order = "ymd"

    @property
    def any(self) -> bool:
        """Whether there are whole dates."""
        return self.whole >= 0 or (
            self.year >= 0 and (self.ordinal >= 0 or (self.month >= 0 and self.day >= 0))
        )

    @property
    def columns(self) -> tuple[int, ...]:
        """Columns taken up by dates."""
        every = (self.year, self.month, self.day, self.ordinal, self.hour, self.whole)
        return tuple(c for c in every if c >= 0)

    def learn(self, rows: Sequence[Sequence[str]]) -> str:
        """Find out the order of day and month from all rows; return a note, or ""."""
        if self.whole < 0:
            return ""
        best, steps_of_best, rivals = "", -1, 0
        for order in ORDERS:
            self.order = order
            found = [self.read(row) for row in rows[:5000]]
            good = [f for f in found if f is not None]
            if len(good) < 0.9 * len(found) or not good:
                continue
            day = timedelta(days=1)
            steps = sum(timedelta() <= b - a <= day for a, b in itertools.pairwise(good))
            rivals += steps == steps_of_best
            if steps > steps_of_best:
                best, steps_of_best, rivals = order, steps, 0
        if not best:
            raise BadData(
                f"“{rows[0][self.whole][:30]}” is not a date this table's rows agree on",
                remedy="Write dates as year-month-day.",
            )
        self.order = best
        if rivals:
            return f"Dates could be read in more than one way; they were read as {best}."
        return (
            ""
            if best == "ymd"
            else f"Dates were read as {'day' if best == 'dmy' else 'month'} first."
        )

    def read(self, row: Sequence[str]) -> datetime | None:
        """Return a row's date, with its hour where it has one; None where it can't be read."""
        try:
            if self.whole >= 0:
                return self._whole(row[self.whole].strip())
            year = int(float(row[self.year]))
            hour = int(float(row[self.hour])) if self.hour >= 0 else 0
            if self.ordinal >= 0:
                day = datetime(year, 1, 1) + timedelta(days=int(float(row[self.ordinal])) - 1)
                return day + timedelta(hours=hour)
            month = cw.month_of(row[self.month])
            return datetime(year, month or 0, int(float(row[self.day]))) + timedelta(hours=hour)
        except (ValueError, IndexError, OverflowError):
            return None

    def _whole(self, text: str) -> datetime | None:
        timed = _TIME.match(text)
        clock = timedelta()
        if timed:
            text = timed[1]
            clock = timedelta(hours=int(timed[2]), minutes=int(timed[3]))
        if re.fullmatch(r"\d{8}", text):
            return datetime(int(text[:4]), int(text[4:6]), int(text[6:])) + clock
        parts = _PARTS.split(text.strip().rstrip("."))
        if len(parts) != 3:
            return None
        at = {letter: parts[n] for n, letter in enumerate(self.order)}
        if len(at["y"]) not in (2, 4) or (self.order == "ymd" and len(at["y"]) != 4):
            return None
        year = int(at["y"])
        if year < 100:
            year += 2000 if year < 50 else 1900
        month = cw.month_of(at["m"])
        return None if month is None else datetime(year, month, int(at["d"])) + clock


def _among(tidy: list[str], wanted: tuple[str, ...]) -> int:
    return next((tidy.index(name) for name in wanted if name in tidy), -1)
