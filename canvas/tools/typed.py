"""Typed values: "12.5", "12.5 at 45", "45°", "3 E, 2 S", "E 512300 N 5812400", "12 fall 1%".

Lengths with a quarter of the sky behind them are a step: 3 E, 2 S. So is a pair of numbers, east
and north, apart by a comma or semicolon: 3; -2. Two numbers with only a space between are refused:
on a title they would be bearing and distance. When either number of a pair is 20 km or more it is
a position, since no site is that wide; letters before the numbers, E and N, always mean one.
Bearings count clockwise from grid north and may be written as on a title plan: 123°45'30",
N 45°30' E.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from canvas.base.errors import BadData
from canvas.base.quantity import TYPED, UnitSystem, read_number, to_si

POSITION_FROM_M = 20_000.0
HOW = (
    "Type a length such as 12.5, a length and bearing such as 12.5 at 45, "
    "or a step such as 3 E, 2 S."
)

_NUMBER = r"[-+\N{MINUS SIGN}]?(?:\d[\d.,]*|[.,]\d+)"
_LENGTH = re.compile(rf"^({_NUMBER})\s*(mm|cm|km|m|ft|in|yd)?$")
_FEET = re.compile(r"^(\d+)\s*'\s*(?:(\d+(?:[.,]\d+)?)\s*\"?)?$")
_DMS = re.compile(
    r"^(\d+(?:[.,]\d+)?)\s*(?:°|d|deg)?\s*(?:(\d+(?:[.,]\d+)?)\s*['′m])?"
    r"\s*(?:(\d+(?:[.,]\d+)?)\s*(?:\"|″|''|s))?$"
)
_QUADRANT = re.compile(r"^([NS])\s*(.+?)\s*([EW])$", re.IGNORECASE)
_POSITION = re.compile(
    rf"^(?:E\s*({_NUMBER})[\s,;]*N\s*({_NUMBER})|N\s*({_NUMBER})[\s,;]*E\s*({_NUMBER}))$",
    re.IGNORECASE,
)
_AT = re.compile(r"^(.*?)\s*at\s*(.+)$", re.IGNORECASE)
_COMMA_BEARING = re.compile(r"^([^°]+?)\s*(?:;\s*|,\s+)([^,;]*°.*)$")
_STEP = re.compile(
    rf"^({_NUMBER})\s*(mm|cm|km|m|ft|in|yd)?\s*([NSEW])"
    rf"(?:[\s,;]+({_NUMBER})\s*(mm|cm|km|m|ft|in|yd)?\s*([NSEW]))?$",
    re.IGNORECASE,
)
_FALL = re.compile(r"^(.*?)\s*\b(fall|rise)\b\s*(.+)$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Entry:
    """What a typed value asks for; None where it says nothing."""

    length_m: float | None = None
    bearing_deg: float | None = None
    step_m: tuple[float, float] | None = None
    position_m: tuple[float, float] | None = None
    #: Drop of the ground along the piece: metres, or a ratio of its length. Rising is negative.
    fall_m: float | None = None
    fall_ratio: float | None = None

    @property
    def falls(self) -> bool:
        """Whether a fall is asked for."""
        return self.fall_m is not None or self.fall_ratio is not None


def read_entry(
    words: str, system: UnitSystem = UnitSystem.METRIC, *, decimal_comma: bool = False
) -> Entry:
    """Return what typed words ask for; `BadData` names what can't be read."""
    tidy = words.strip()
    if not tidy:
        raise BadData("Nothing was typed.", remedy=HOW)
    if fall := _FALL.match(tidy):
        sign = 1.0 if fall[2].lower() == "fall" else -1.0
        return _with_fall(fall[1], fall[3], sign, system, decimal_comma)
    if tidy.endswith("%"):
        return Entry(fall_ratio=read_number(tidy[:-1]) / 100.0)
    return _towards(tidy, system, decimal_comma) or _apart(tidy, system, decimal_comma)


def _towards(tidy: str, system: UnitSystem, decimal_comma: bool) -> Entry | None:
    """Return what words with a bearing in them ask for; None when there is none."""
    if polar := _AT.match(tidy) or _COMMA_BEARING.match(tidy):
        words = polar[1].strip()
        length = read_length(words, system, decimal_comma=decimal_comma) if words else None
        return Entry(length_m=length, bearing_deg=read_bearing(polar[2]))
    if "°" in tidy or _QUADRANT.match(tidy):
        return Entry(bearing_deg=read_bearing(tidy))
    return None


def _apart(tidy: str, system: UnitSystem, decimal_comma: bool) -> Entry:
    """Return the position, the step or the length that words ask for."""
    if spot := _POSITION.match(tidy):
        east, north = (spot[1], spot[2]) if spot[1] else (spot[4], spot[3])
        return Entry(position_m=(read_number(east), read_number(north)))
    if step := _STEP.match(tidy):
        return _step_entry(step, system)
    if pair := _pair(tidy, decimal_comma):
        return _pair_entry(pair, system)
    return Entry(length_m=read_length(tidy, system, decimal_comma=decimal_comma))


def _with_fall(
    before: str, fall: str, sign: float, system: UnitSystem, decimal_comma: bool
) -> Entry:
    head = read_entry(before, system, decimal_comma=decimal_comma) if before else Entry()
    if head.step_m or head.position_m or (head.length_m and head.bearing_deg is not None):
        raise BadData(
            f"“{before} fall {fall}” says more than one point can meet.",
            remedy="Give a fall with a length or with a bearing, not with both.",
        )
    if fall.strip().endswith("%"):
        ratio = sign * read_number(fall.strip()[:-1]) / 100.0
        return Entry(head.length_m, head.bearing_deg, fall_ratio=ratio)
    drop = sign * read_length(fall, system, decimal_comma=decimal_comma)
    return Entry(head.length_m, head.bearing_deg, fall_m=drop)


def _pair(tidy: str, decimal_comma: bool) -> tuple[str, str] | None:
    """Return two numbers' texts: apart by ";", or by "," where that isn't a decimal.

    A space alone parts positions, as other programs copy them; steps it would leave in doubt.
    """
    pieces = re.split(r"\s*;\s*|\s*,\s+|\s+", tidy)
    if len(pieces) == 1 and not decimal_comma:
        pieces = re.split(r"\s*,\s*", tidy)
    whole = [piece for piece in pieces if piece]
    if len(whole) != 2 or not all(re.match(rf"^{_NUMBER}$", piece) for piece in whole):
        return None
    spaced = re.fullmatch(r"\S+\s+\S+", tidy) and not re.search(r"[,;]\s", tidy)
    if spaced and max(abs(read_number(piece)) for piece in whole) < POSITION_FROM_M:
        raise BadData(
            f"“{tidy}”: two numbers could be a step or a bearing and a distance.",
            remedy="Type a step as 3 E, 2 S or 3; -2, a length and bearing as 12.5 at 45.",
        )
    return whole[0], whole[1]


def _step_entry(found: re.Match[str], system: UnitSystem) -> Entry:
    """Return the step, or the position, of one or two lengths with their quarters."""
    east: float | None = None
    north: float | None = None
    far = False
    for digits, unit, quarter in (found.groups()[:3], found.groups()[3:]):
        if digits is None:
            continue
        value = read_number(digits)
        far = far or (not unit and abs(value) >= POSITION_FROM_M)
        length = value * TYPED[unit.lower()][1] if unit else to_si(value, "m", system)
        # A position is in the grid's metres, however lengths are shown.
        signed = (value if far else length) * (-1.0 if quarter.upper() in "SW" else 1.0)
        if quarter.upper() in "EW":
            if east is not None:
                raise BadData(f"“{found[0]}” says east or west twice.", remedy=HOW)
            east = signed
        elif north is not None:
            raise BadData(f"“{found[0]}” says north or south twice.", remedy=HOW)
        else:
            north = signed
    if far and east is not None and north is not None:
        return Entry(position_m=(east, north))
    return Entry(step_m=(east or 0.0, north or 0.0))


def _pair_entry(pair: tuple[str, str], system: UnitSystem) -> Entry:
    east, north = (read_number(text) for text in pair)
    if max(abs(east), abs(north)) >= POSITION_FROM_M:
        return Entry(position_m=(east, north))
    return Entry(step_m=(to_si(east, "m", system), to_si(north, "m", system)))


def read_length(
    words: str, system: UnitSystem = UnitSystem.METRIC, *, decimal_comma: bool = False
) -> float:
    """Return a typed length in metres: plain numbers are in the site's display unit."""
    tidy = words.strip()
    if feet := _FEET.match(tidy):
        return read_number(feet[1]) * 0.3048 + (read_number(feet[2]) if feet[2] else 0.0) * 0.0254
    found = _LENGTH.match(tidy)
    if found is None:
        raise BadData(f"“{tidy}” is not a length.", remedy=HOW)
    digits = found[1]
    if "," in digits and not decimal_comma and "." not in digits and digits.count(",") > 1:
        raise BadData(f"“{tidy}” is not a length.", remedy=HOW)
    value = read_number(digits)
    if found[2]:
        return value * TYPED[found[2]][1]
    return to_si(value, "m", system)


def read_bearing(words: str) -> float:
    """Return a typed bearing in degrees clockwise from north, 0 ≤ bearing < 360."""
    tidy = words.strip()
    if quadrant := _QUADRANT.match(tidy):
        angle = _angle(quadrant[2], tidy)
        if angle > 90:
            raise BadData(f"“{tidy}”: a quadrant bearing is at most 90°.")
        north, east = quadrant[1].upper() == "N", quadrant[3].upper() == "E"
        if north:
            return (angle if east else 360.0 - angle) % 360.0
        return 180.0 - angle if east else 180.0 + angle
    sign = -1.0 if tidy.startswith(("-", "\N{MINUS SIGN}")) else 1.0
    return sign * _angle(tidy.lstrip("-+\N{MINUS SIGN}"), tidy) % 360.0


def _angle(text: str, whole: str) -> float:
    found = _DMS.match(text.strip())
    if found is None:
        raise BadData(
            f"“{whole}” is not a bearing.", remedy="Type degrees, such as 45 or 123°45'30\"."
        )
    degrees, minutes, seconds = (read_number(part) if part else 0.0 for part in found.groups())
    if minutes >= 60 or seconds >= 60:
        raise BadData(f"“{whole}”: minutes and seconds stay below 60.")
    return degrees + minutes / 60.0 + seconds / 3600.0
