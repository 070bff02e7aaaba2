"""How a level line is to be traced, and the words that set it: "1:300 left, 120 m, 25 % steepest".

Pieces are apart by ";" or ", ". A ratio 1:n or a share in per cent is the fall along the line, to
the left or the right seen looking downhill; "level" and "0" are none. A length is how far the line
goes each way; "steepest" after a share, "clear" after a length and "high" after a height say what
else is meant.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace

from canvas.base.errors import BadData
from canvas.base.quantity import read_number

HOW = (
    "Type 1:300 left, 0.5 % right or level; 120 m each way; 25 % steepest; 2 m clear; 251.20 high."
)
_RATIO = re.compile(r"^1\s*:\s*([\d.,]+)\s*(left|right|l|r)?$", re.IGNORECASE)
_SHARE = re.compile(r"^([\d.,]+)\s*%\s*(left|right|l|r|steepest|limit)?$", re.IGNORECASE)
_CLEAR = re.compile(r"^(.+?)\s+clear$", re.IGNORECASE)
_HIGH = re.compile(r"^(.+?)\s+high$", re.IGNORECASE)
_LEVEL = re.compile(r"^(0|level|0\s+level)$", re.IGNORECASE)
#: Falls steeper than this are no level line's [ratio].
STEEPEST_FALL = 0.05


@dataclass(frozen=True, slots=True)
class Tracing:
    """What a trace is asked for."""

    #: Fall along the line, looking downhill to the left (+) or to the right (−) [ratio].
    grade: float = 0.0
    #: Each way from the click [m].
    length_m: float = 100.0
    #: Steepest ground it may cross [ratio].
    slope: float = 0.25
    #: Beyond the work's own half width [m].
    clear_m: float = 0.0
    #: The level to follow; None for the ground's at the click.
    level_m: float | None = None

    def said(self, length: Callable[[float], str]) -> str:
        """Return it in few words; `length` writes a length as people read it."""
        fall = "level"
        if self.grade:
            side = "left" if self.grade > 0 else "right"
            fall = f"1:{1 / abs(self.grade):.0f} falling to the {side}"
        words = f"{fall}, {length(self.length_m)} each way, to {self.slope * 100:.0f} % of slope"
        if self.clear_m:
            words += f", {length(self.clear_m)} clear"
        return words if self.level_m is None else f"{words}, at {length(self.level_m)}"


def read_tracing(words: str, now: Tracing, read_length: Callable[[str], float]) -> Tracing:
    """Return what typed words ask for, the rest as it was; `BadData` names what can't be read."""
    pieces = [each.strip() for each in re.split(r";|,\s", words) if each.strip()]
    if not pieces:
        raise BadData("Nothing was typed.", remedy=HOW)
    for piece in pieces:
        now = _piece(piece, now, read_length)
    return now


def _piece(piece: str, now: Tracing, read_length: Callable[[str], float]) -> Tracing:
    if _LEVEL.match(piece):
        return replace(now, grade=0.0)
    if found := _RATIO.match(piece) or _SHARE.match(piece):
        return _share(found, now, piece)
    if found := _HIGH.match(piece):
        return replace(now, level_m=read_length(found[1]))
    if found := _CLEAR.match(piece):
        return replace(now, clear_m=_above(read_length(found[1]), piece, least=0.0))
    return replace(now, length_m=_above(read_length(piece), piece, least=1.0))


def _share(found: re.Match[str], now: Tracing, piece: str) -> Tracing:
    value = read_number(found[1])
    if found.re is _RATIO:
        if not value > 0:
            raise BadData(f"“{piece}” is no fall.", remedy=HOW)
        return _falling(1.0 / value, found[2], now, piece)
    share = value / 100.0
    if (found[2] or "").lower() not in ("steepest", "limit"):
        return _falling(share, found[2], now, piece)
    if not 0.0 < share <= 1.0:
        raise BadData(f"“{piece}” is no limit for the slope.", remedy=HOW)
    return replace(now, slope=share)


def _falling(share: float, side: str | None, now: Tracing, piece: str) -> Tracing:
    if share > STEEPEST_FALL:
        raise BadData(
            f"“{piece}” falls more steeply than a line along the hill can.",
            remedy="Type at most 5 %. The steepest ground to cross is typed as 25 % steepest.",
        )
    right = now.grade < 0 if side is None else side.lower().startswith("r")
    return replace(now, grade=-share if right else share)


def _above(value: float, piece: str, least: float) -> float:
    if not least <= value <= 5000.0:
        raise BadData(f"“{piece}” is not a length a line can have.", remedy=HOW)
    return value
