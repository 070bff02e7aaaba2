"""A level book reduced: heights from staff readings, checked, closed and adjusted."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from canvas.base.errors import BadData
from canvas.base.sources import cites

#: Misclosure of ordinary engineering levelling: this times the root of the kilometres [mm].
#: Remembered: surveying texts give 12 √K for ordinary, 24 √K for rough work.
ORDINARY_MM = 12.0
ROUGH_MM = 24.0


@dataclass(frozen=True, slots=True)
class Reading:
    """One line of the book: a point and what was read on the staff there [m].

    A backsight opens a set-up of the instrument, a foresight closes it; a line with both is a
    change point. A reading on a staff held upside down (a soffit) is negative.
    """

    point: str
    back_m: float | None = None
    between_m: float | None = None
    fore_m: float | None = None
    #: Length of the sight, for sharing out the error; None when not noted.
    distance_m: float | None = None
    #: The point's height where it is known: at the start, and where the run closes.
    known_m: float | None = None


class Reduce(StrEnum):
    """How heights are worked out; both give the same, and check each other."""

    RISE_AND_FALL = "rise and fall"
    INSTRUMENT_HEIGHT = "height of instrument"


@dataclass(frozen=True, slots=True)
class Level:
    """A point's height."""

    point: str
    #: Rise (above 0) or fall from the line before; None at the first.
    rise_m: float | None
    #: Height of the line of sight it was read from.
    instrument_m: float
    #: As reduced, and with its share of the misclosure taken off.
    height_m: float
    adjusted_m: float


@dataclass(frozen=True, slots=True)
class Book:
    """A reduced level book."""

    levels: tuple[Level, ...]
    sum_back_m: float
    sum_fore_m: float
    sum_rise_m: float
    sum_fall_m: float
    setups: int
    #: As reduced less known, at the closing point; None where nothing closes the run.
    misclosure_m: float | None
    allowed_m: float | None
    #: Length levelled, where sights were noted; None otherwise.
    length_m: float | None

    @property
    def arithmetic_error_m(self) -> float:
        """Greatest difference of the three sums that must agree; 0 but for rounding."""
        first, last = self.levels[0].height_m, self.levels[-1].height_m
        sums = (
            self.sum_back_m - self.sum_fore_m,
            self.sum_rise_m - self.sum_fall_m,
            last - first,
        )
        return max(sums) - min(sums)

    @property
    def closes(self) -> bool | None:
        """Whether the misclosure is within what is allowed; None where it isn't known."""
        if self.misclosure_m is None or self.allowed_m is None:
            return None
        return abs(self.misclosure_m) <= self.allowed_m + 1e-9


def _check(readings: Sequence[Reading]) -> None:
    """Refuse a book that can't be read, naming the line."""
    if len(readings) < 2:
        raise BadData("a level book needs at least two lines")
    for i, line in enumerate(readings, start=1):
        where = f"line {i} ({line.point})"
        sights = [line.back_m, line.between_m, line.fore_m]
        values = [*sights, line.distance_m, line.known_m]
        if any(v is not None and not math.isfinite(v) for v in values):
            raise BadData("a reading is not a number", where=where)
        if all(sight is None for sight in sights):
            raise BadData("no reading in this line", where=where)
        if line.between_m is not None and (line.back_m is not None or line.fore_m is not None):
            raise BadData(
                "an intermediate sight stands alone in its line",
                where=where,
                remedy="A change point has a foresight and a backsight.",
            )
        if i == 1 and (line.back_m is None or line.fore_m is not None):
            raise BadData("the book must open with a backsight alone", where=where)
        if 1 < i < len(readings) and line.back_m is not None and line.fore_m is None:
            raise BadData(
                "a backsight without a foresight: the instrument moved without a change point",
                where=where,
            )
        if 1 < i < len(readings) and line.fore_m is not None and line.back_m is None:
            raise BadData(
                "a foresight ends the set-up, but no backsight opens the next", where=where
            )
    last = readings[-1]
    if last.fore_m is None or last.back_m is not None:
        raise BadData("the book must close with a foresight alone", where=f"line {len(readings)}")
    if readings[0].known_m is None and not any(r.known_m is not None for r in readings):
        raise BadData(
            "no point has a known height", remedy="Give the first point's, or assume 100 m."
        )


@cites("level_book")
def reduce(
    readings: Sequence[Reading],
    how: Reduce = Reduce.RISE_AND_FALL,
    allowed_mm_per_root_km: float = ORDINARY_MM,
    adjust: bool = True,
) -> Book:
    """Return a book's heights, its checks and its closing error, shared out.

    Heights start from the first known point. The error is taken off by sight length where all
    are noted, else evenly by set-ups; points read between take the share of their set-up. The
    allowance is mm times the root of the kilometres levelled, and is not known without lengths.
    Raises `BadData` naming the line that can't be.
    """
    _check(readings)
    raw, instrument, rises, setup = (
        _by_rise(readings) if how is Reduce.RISE_AND_FALL else _by_instrument(readings)
    )
    start = next(i for i, line in enumerate(readings) if line.known_m is not None)
    known = readings[start].known_m
    assert known is not None  # found just above
    lift = known - raw[start]
    heights = [z + lift for z in raw]
    closing = [i for i, line in enumerate(readings) if line.known_m is not None and i > start]
    close = closing[-1] if closing else None
    error = None
    if close is not None:
        end = readings[close].known_m
        assert end is not None  # it is among those known
        error = heights[close] - end
    share = _shares(readings, setup, start, close)
    fixed = [z - (error or 0.0) * s if adjust else z for z, s in zip(heights, share, strict=True)]
    length = _length(readings)
    allowed = None if length is None else allowed_mm_per_root_km / 1000 * math.sqrt(length / 1000)
    levels = tuple(
        Level(line.point, rises[i], instrument[i] + lift, heights[i], fixed[i])
        for i, line in enumerate(readings)
    )
    return Book(
        levels,
        sum(line.back_m or 0.0 for line in readings),
        sum(line.fore_m or 0.0 for line in readings),
        sum(rise for rise in rises if rise is not None and rise > 0),
        -sum(rise for rise in rises if rise is not None and rise < 0),
        sum(line.back_m is not None for line in readings),
        error,
        allowed,
        length,
    )


_Reduced = tuple[list[float], list[float], list[float | None], list[int]]


def _read(line: Reading) -> float:
    """Return what was read looking at a point from the set-up before it moves on."""
    for sight in (line.fore_m, line.between_m, line.back_m):
        if sight is not None:
            return sight
    raise BadData("no reading in this line", where=line.point)


def _by_rise(readings: Sequence[Reading]) -> _Reduced:
    """Work from point to point: the reading before less the reading here is the rise."""
    raw, setup = [0.0], [1]
    before = readings[0].back_m
    assert before is not None  # checked
    instrument, number = [before], 1
    rises: list[float | None] = [None]
    for line in readings[1:]:
        here = _read(line)
        rise = before - here
        raw.append(raw[-1] + rise)
        rises.append(rise)
        instrument.append(raw[-1] + here)
        setup.append(number)
        before = here
        if line.back_m is not None:
            before = line.back_m
            number += 1
    return raw, instrument, rises, setup


def _by_instrument(readings: Sequence[Reading]) -> _Reduced:
    """Work from the line of sight: its height less the reading is the point's."""
    back = readings[0].back_m
    assert back is not None  # checked
    sight, number = back, 1
    raw, instrument, setup = [0.0], [sight], [1]
    rises: list[float | None] = [None]
    for line in readings[1:]:
        z = sight - _read(line)
        rises.append(z - raw[-1])
        raw.append(z)
        instrument.append(sight)
        setup.append(number)
        if line.back_m is not None:
            sight = z + line.back_m
            number += 1
    return raw, instrument, rises, setup


def _length(readings: Sequence[Reading]) -> float | None:
    """Return the length levelled: back and fore sights; None unless all are noted."""
    turning = [line for line in readings if line.back_m is not None or line.fore_m is not None]
    if any(line.distance_m is None for line in turning):
        return None
    return sum(line.distance_m or 0.0 for line in turning)


def _shares(
    readings: Sequence[Reading], setup: Sequence[int], start: int, close: int | None
) -> list[float]:
    """Return each line's share of the misclosure, 0 at the start and 1 where the run closes."""
    if close is None:
        return [0.0] * len(readings)
    length = _length(readings)
    gone, run, total = [], 0.0, 0.0
    for i, line in enumerate(readings):
        if length is not None:
            turning = line.back_m is not None or line.fore_m is not None
            run += (line.distance_m or 0.0) if turning and i > 0 else 0.0
            gone.append(run)
        else:
            gone.append(float(setup[i]) if i > 0 else 0.0)
    total = gone[close] - gone[start]
    if total <= 0:
        return [0.0] * len(readings)
    return [min(max((g - gone[start]) / total, 0.0), 1.0) for g in gone]
