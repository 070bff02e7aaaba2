"""Paper sizes and map scales."""

from __future__ import annotations

import math
from dataclasses import dataclass

from canvas.base.errors import BadData
from canvas.base.quantity import UnitSystem

INCH_MM = 25.4


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet upright: width is the shorter side."""

    name: str
    width_mm: float
    height_mm: float

    def sides(self, landscape: bool) -> tuple[float, float]:
        """Return width and height as laid on the table [mm]."""
        if landscape:
            return self.height_mm, self.width_mm
        return self.width_mm, self.height_mm


def _inches(name: str, width: float, height: float) -> Paper:
    return Paper(name, width * INCH_MM, height * INCH_MM)


#: ISO 216 A series; ANSI/ASME Y14.1 A to E; architectural sizes A to E1 as US drawing offices keep
#: them. From memory of the standards.
PAPERS: dict[str, Paper] = {
    paper.name: paper
    for paper in (
        Paper("A4", 210, 297),
        Paper("A3", 297, 420),
        Paper("A2", 420, 594),
        Paper("A1", 594, 841),
        Paper("A0", 841, 1189),
        _inches("ANSI A", 8.5, 11),
        _inches("ANSI B", 11, 17),
        _inches("ANSI C", 17, 22),
        _inches("ANSI D", 22, 34),
        _inches("ANSI E", 34, 44),
        _inches("Arch A", 9, 12),
        _inches("Arch B", 12, 18),
        _inches("Arch C", 18, 24),
        _inches("Arch D", 24, 36),
        _inches("Arch E", 36, 48),
        _inches("Arch E1", 30, 42),
    )
}
#: Names people type for some of them.
ALSO = {"LETTER": "ANSI A", "TABLOID": "ANSI B", "LEDGER": "ANSI B"}

#: Ratios best fit chooses from: those a metric scale rule is engraved with.
METRIC_SCALES = tuple(
    digit * power
    for power in (100, 1000, 10_000, 100_000)
    for digit in (1.0, 1.25, 2.0, 2.5, 3.0, 4.0, 5.0, 7.5)
)
#: Feet to the inch on an engineer's rule.
US_FEET = (10, 20, 30, 40, 50, 60, 80, 100, 150, 200, 300, 400, 500, 600, 800, 1000, 2000, 5000)
US_SCALES = tuple(feet * 12.0 for feet in US_FEET)


def paper(name: str) -> Paper:
    """Return a paper by its name, in any case; `BadData` lists those there are."""
    tidy = " ".join(name.replace("-", " ").replace("_", " ").split())
    tidy = ALSO.get(tidy.upper(), tidy)
    for known in PAPERS.values():
        if tidy.lower() in (known.name.lower(), known.name.replace(" ", "").lower()):
            return known
    raise BadData(f"there is no paper called “{name}”", remedy=f"Papers: {', '.join(PAPERS)}.")


def scales(units: UnitSystem) -> tuple[float, ...]:
    """Return the round scales (n of 1:n) of a system, the largest map first."""
    return US_SCALES if units is UnitSystem.US else METRIC_SCALES


def best_scale(
    width_m: float, height_m: float, room_x_mm: float, room_y_mm: float, units: UnitSystem
) -> float:
    """Return the largest round scale at which an area fits in the room."""
    least = max(width_m / room_x_mm, height_m / room_y_mm, 1e-9) * 1000
    for scale in scales(units):
        if scale >= least * (1 - 1e-9):
            return scale
    power = 10.0 ** math.floor(math.log10(least))
    # Beyond the list: 1, 2, 5 times powers of ten.
    return next(d * power for d in (1.0, 2.0, 5.0, 10.0) if d * power >= least * (1 - 1e-9))


def check_scale(scale: float) -> float:
    """Return a scale typed by a person, or say what is wrong with it."""
    if not math.isfinite(scale) or not 1 <= scale <= 1e7:
        raise BadData(
            f"1:{scale:g} is not a scale a sheet can be drawn at",
            remedy="Give the n of 1:n, such as 500.",
        )
    return scale
