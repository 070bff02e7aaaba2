"""A boundary from a title plan: bearings and distances to corners, misclosure, adjustment."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from canvas.base.errors import BadData, InputError
from canvas.base.grid import Floats
from canvas.base.quantity import ACRE_M2, FT, read_number
from canvas.base.sources import cites

#: Length units met on title plans, in metres (NIST SP 811; Gunter's chain = 66 ft = 100 links).
LENGTH_UNITS: dict[str, float] = {
    "m": 1.0,
    "ft": FT,
    "'": FT,
    "′": FT,
    "usft": 1200 / 3937,
    "lk": 0.66 * FT,
    "link": 0.66 * FT,
    "links": 0.66 * FT,
    "ch": 66 * FT,
    "chain": 66 * FT,
    "chains": 66 * FT,
    "yd": 3 * FT,
    "rod": 16.5 * FT,
    "rods": 16.5 * FT,
    "perch": 16.5 * FT,
    "perches": 16.5 * FT,
}

#: Area units a deed may use, in square metres.
AREA_UNITS: dict[str, float] = {
    "m2": 1.0,
    "m²": 1.0,
    "ha": 1e4,
    "ac": ACRE_M2,
    "acre": ACRE_M2,
    "acres": ACRE_M2,
}

_BEARING_HELP = "Type 123.4567, 123°27'24\" or N 45°30' E."
_QUADRANT = re.compile(r"^([NS])\s*(.*?)\s*([EW])$", re.IGNORECASE)
_DMS = re.compile(
    r"^(\d+)\s*(?:°|º|d|\s|-)\s*(\d+(?:[.,]\d+)?)\s*(?:['′’m\s-]\s*(?:(\d+(?:[.,]\d+)?)\s*(?:\"|″|”|''|s)?)?)?$",
    re.IGNORECASE,
)
_MEASURE = re.compile(r"^([\d.,\s'\u00a0\u202f]*?\d[.,]?)\s*([A-Za-z²'′]+[²2]?)?\s*$")


@dataclass(frozen=True, slots=True)
class Leg:
    """One side of the boundary as typed."""

    #: Clockwise from the north the plan uses, [0, 360).
    bearing_deg: float
    distance_m: float


def _angle(text: str, where: str, packed: bool) -> float:
    """Return a typed angle in degrees: decimal, or degrees, minutes, seconds."""
    tidy = text.strip().rstrip("°º").strip()
    parts = _DMS.match(tidy)
    if parts:
        degrees, minutes, seconds = (
            float(p.replace(",", ".")) if p else 0.0 for p in parts.groups()
        )
    else:
        try:
            value = read_number(tidy)
        except BadData:
            raise BadData(f"“{text}” is not an angle", where=where, remedy=_BEARING_HELP) from None
        if not packed:
            return value
        degrees = math.floor(value + 1e-9)
        minutes, seconds = divmod(round((value - degrees) * 1e4, 6), 100)
    if minutes >= 60 or seconds >= 60:
        raise BadData(
            f"“{text}” has 60 or more minutes or seconds", where=where, remedy=_BEARING_HELP
        )
    return degrees + minutes / 60 + seconds / 3600


def read_bearing(text: str, where: str = "", packed: bool = False) -> float:
    """Return a typed bearing as degrees clockwise from north, [0, 360).

    Understands decimal degrees (point or comma), degrees-minutes-seconds with or without signs,
    and quadrant bearings (N45°30'E, S 10 W). With `packed`, a plain number means D.MMSS
    (123.2724 is 123°27'24"). Raises `BadData` naming `where`.
    """
    tidy = " ".join(text.split())
    quadrant = _QUADRANT.match(tidy)
    if quadrant:
        pole, angle_text, side = quadrant.groups()
        angle = _angle(angle_text, where, packed)
        if not 0 <= angle <= 90:
            raise BadData(
                f"“{text}” turns more than 90° from {pole.upper()}",
                where=where,
                remedy="A quadrant bearing lies between 0° and 90°.",
            )
        east = angle if side.upper() == "E" else -angle
        return (east if pole.upper() == "N" else 180 - east) % 360
    if len(tidy) == 1 and tidy.upper() in "NESW":
        return 90.0 * "NESW".index(tidy.upper())
    angle = _angle(tidy, where, packed)
    if not 0 <= angle <= 360:
        raise BadData(f"“{text}” is not between 0° and 360°", where=where, remedy=_BEARING_HELP)
    return angle % 360


def _measure(text: str, units: dict[str, float], default: str, what: str, where: str) -> float:
    parts = _MEASURE.match(text.strip())
    key = (parts.group(2) or default) if parts else ""
    size = units.get(key.lower())
    if parts is None or size is None:
        raise BadData(
            f"“{text}” is not {what}",
            where=where,
            remedy=f"Type a number and one of: {', '.join(units)}.",
        )
    try:
        value = read_number(parts.group(1)) * size
    except BadData as trouble:
        raise BadData(trouble.what, where=where, remedy=trouble.remedy) from None
    if not value > 0:
        raise BadData(f"“{text}” is not above 0", where=where, remedy="Type a positive number.")
    return value


def read_distance(text: str, unit: str = "m", where: str = "") -> float:
    """Return a typed distance in metres; `unit` holds when none is typed."""
    return _measure(text, LENGTH_UNITS, unit, "a distance", where)


def read_deed_area(text: str, unit: str = "m2", where: str = "") -> float:
    """Return a typed area in square metres; `unit` holds when none is typed."""
    return _measure(text, AREA_UNITS, unit, "an area", where)


def read_legs(rows: Iterable[tuple[str, str]], unit: str = "m", packed: bool = False) -> list[Leg]:
    """Return the legs typed as (bearing, distance) rows; empty rows are skipped.

    Raises `BadData` whose `where` is "Line n", counted from 1.
    """
    legs = []
    for number, (bearing, distance) in enumerate(rows, start=1):
        if not bearing.strip() and not distance.strip():
            continue
        where = f"Line {number}"
        if not bearing.strip() or not distance.strip():
            lacking = "distance" if bearing.strip() else "bearing"
            raise BadData(f"the {lacking} is missing", where=where, remedy=_BEARING_HELP)
        legs.append(Leg(read_bearing(bearing, where, packed), read_distance(distance, unit, where)))
    return legs


def split_lines(text: str) -> list[tuple[str, str]]:
    """Split pasted text into (bearing, distance) rows: one leg a line.

    The two are parted by a tab, a semicolon, a lone comma followed by a space, or the last gap
    in the line that leaves a distance behind it.
    """
    rows = []
    for line in text.splitlines():
        for mark in ("\t", ";", ", "):
            if mark in line:
                bearing, _, distance = line.partition(mark)
                break
        else:
            cut = re.search(r"\s+([\d.,]+\s*[A-Za-z'′]*)\s*$", line)
            bearing, distance = (line[: cut.start()], cut.group(1)) if cut else (line, "")
        rows.append((bearing.strip(), distance.strip()))
    return rows


@dataclass(frozen=True, slots=True, eq=False)
class Traverse:
    """Corners computed from legs, and how well they close."""

    #: Corners as typed, (legs + 1, 2): the last would fall on the first in a perfect plan.
    raw_xy_m: Floats
    #: Corners after the misclosure is shared out, (legs, 2).
    xy_m: Floats
    #: Where the last corner falls from the first: east, north.
    gap_xy_m: tuple[float, float]
    misclosure_m: float
    perimeter_m: float
    #: The leg (from 0) that runs most nearly along the gap: the first to look at for a mistyped
    #: distance.
    suspect_leg: int

    @property
    def precision(self) -> float:
        """Perimeter over misclosure, the n of "1 : n"; infinite when it closes."""
        return self.perimeter_m / self.misclosure_m if self.misclosure_m > 0 else math.inf

    @property
    def polygon(self) -> Polygon:
        """The adjusted boundary."""
        return Polygon(self.xy_m)

    @property
    def area_m2(self) -> float:
        """Area of the adjusted boundary on the grid."""
        return _shoelace(self.xy_m)

    @property
    def raw_area_m2(self) -> float:
        """Area of the corners as typed, closed straight across the gap."""
        return _shoelace(self.raw_xy_m)


def _shoelace(xy: Floats) -> float:
    local = xy - xy[0]
    x, y = local[:, 0], local[:, 1]
    return abs(float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))) / 2


@cites("compass_rule")
def traverse(
    legs: Sequence[Leg],
    start_xy_m: tuple[float, float] = (0.0, 0.0),
    convergence_deg: float = 0.0,
    scale: float = 1.0,
) -> Traverse:
    """Return the corners of a closed boundary from its legs, adjusted by the compass rule.

    Bearings from true north need the grid convergence at the site (`GridOnEarth`): grid bearing
    = true bearing - convergence; leave it 0 for bearings from grid north. `scale` is the
    combined factor when the distances are ground distances. The compass (Bowditch) rule shares
    the gap out over the corners in proportion to the distance run. Raises `BadData` for fewer
    than three legs.
    """
    if len(legs) < 3:
        raise BadData(
            f"a boundary needs at least three lines, and there are {len(legs)}",
            remedy="Type every line of the title plan, including the one back to the start.",
        )
    if not scale > 0:
        raise InputError(f"scale must be above 0, got {scale}")
    bearing = np.radians([leg.bearing_deg - convergence_deg for leg in legs])
    length = np.array([leg.distance_m for leg in legs]) * scale
    steps = np.column_stack((np.sin(bearing), np.cos(bearing))) * length[:, None]
    raw = np.vstack(([0.0, 0.0], np.cumsum(steps, axis=0)))
    gap = raw[-1].copy()
    run = np.concatenate(([0.0], np.cumsum(length)))
    adjusted = raw - gap * (run / run[-1])[:, None]
    misclosure = float(np.hypot(*gap))
    if misclosure < 1e-9 * run[-1]:
        # Rounding of the sines, not of the plan.
        misclosure = 0.0
    along = np.abs(steps @ gap) / length
    origin = np.asarray(start_xy_m, dtype=np.float64)
    return Traverse(
        raw + origin,
        adjusted[:-1] + origin,
        (float(gap[0]), float(gap[1])),
        misclosure,
        float(run[-1]),
        int(np.argmax(along)),
    )


@dataclass(frozen=True, slots=True)
class DeedCheck:
    """A measured area against the one in the deed."""

    measured_m2: float
    deed_m2: float

    @property
    def difference_m2(self) -> float:
        """Measured less deed."""
        return self.measured_m2 - self.deed_m2

    @property
    def share(self) -> float:
        """The difference as a share of the deed's area."""
        return self.difference_m2 / self.deed_m2


def against_deed(measured_m2: float, deed_m2: float) -> DeedCheck:
    """Return how a measured area stands to the deed's."""
    if not deed_m2 > 0:
        raise BadData("the deed's area must be above 0", remedy="Type the area from the deed.")
    return DeedCheck(measured_m2, deed_m2)
