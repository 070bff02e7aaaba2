"""How much of the rain runs off: curve numbers by cover, soil group and condition.

Runoffs of unlike patches are summed, never their curve numbers averaged: a roof in a pasture makes
twice the runoff that the average number tells.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from canvas.base import resources
from canvas.base.errors import InputError
from canvas.base.grid import Floats
from canvas.base.sources import Mark, cites


class SoilGroup(StrEnum):
    """Hydrologic soil groups, from fast to slow."""

    A = "A"
    B = "B"
    C = "C"
    D = "D"


class Condition(StrEnum):
    """How well the cover protects the soil."""

    POOR = "poor"
    FAIR = "fair"
    GOOD = "good"


class Moisture(StrEnum):
    """How wet the soil is before the storm."""

    DRY = "dry"
    AVERAGE = "average"
    WET = "wet"


@dataclass(frozen=True, slots=True)
class Cover:
    """A land cover and its curve numbers."""

    key: str
    label: str
    #: Numbers for soil groups A to D by condition; None where the source gives none. Covers
    #: without conditions have one row for all.
    numbers: dict[Condition | None, tuple[float | None, ...]]
    note: str
    source: str
    mark: Mark

    @property
    def conditions(self) -> tuple[Condition, ...]:
        """The conditions it is told apart by; empty for a cover that has none."""
        return tuple(c for c in self.numbers if c is not None)

    def number(self, group: SoilGroup, condition: Condition = Condition.FAIR) -> float:
        """Return the curve number at average moisture.

        Where the table lacks the condition asked for, the nearest it has stands in.
        """
        if None in self.numbers:
            row = self.numbers[None]
        else:
            order = list(Condition)
            want = order.index(condition)
            row = self.numbers[min(self.conditions, key=lambda c: abs(order.index(c) - want))]
        found = row[list(SoilGroup).index(group)]
        if found is None:
            raise InputError(f"the table has no curve number for {self.key} on group {group}")
        return found


@cache
def covers() -> dict[str, Cover]:
    """Return every land cover of the table by key."""
    table = resources.toml("curve_numbers.toml")
    about = table["about"]
    found = {}
    for key, row in table["cover"].items():
        numbers: dict[Condition | None, tuple[float | None, ...]] = {}
        for name in ("any", *Condition):
            if name in row:
                values = tuple(None if n < 0 else float(n) for n in row[name])
                numbers[None if name == "any" else Condition(name)] = values
        mark = Mark(row.get("mark", about["mark"]))
        found[key] = Cover(key, row["label"], numbers, row.get("note", ""), about["source"], mark)
    return found


@cites("chow1988")
def adjusted(cn: float, moisture: Moisture) -> float:
    """Return a curve number of average moisture for soil that is dry or wet before the storm."""
    if moisture is Moisture.DRY:
        return 4.2 * cn / (10.0 - 0.058 * cn)
    if moisture is Moisture.WET:
        return 23.0 * cn / (10.0 + 0.13 * cn)
    return cn


@cites("hec22")
def retention_mm(cn: ArrayLike) -> Floats:
    """Return how much the soil can hold back once runoff has begun [mm]."""
    number = np.asarray(cn, float)
    if not ((number > 0.0) & (number <= 100.0)).all():
        raise InputError("a curve number lies above 0 and up to 100")
    return np.asarray(25.4 * (1000.0 / number - 10.0))


def initial_loss_mm(cn: ArrayLike) -> Floats:
    """Return the rain lost before anything runs off [mm]: a fifth of the retention."""
    return 0.2 * retention_mm(cn)


@cites("hec22", "tr55_1986")
def runoff_mm(rain_mm: ArrayLike, cn: ArrayLike) -> Floats:
    """Return the depth of runoff [mm] of a depth of rain [mm]; shapes broadcast."""
    rain, held = np.asarray(rain_mm, float), retention_mm(cn)
    over = np.maximum(rain - 0.2 * held, 0.0)
    below = rain + 0.8 * held
    return np.asarray(np.divide(over**2, below, out=np.zeros_like(over + below), where=below > 0.0))


@dataclass(frozen=True, slots=True)
class Patch:
    """A piece of a catchment with one curve number."""

    area_m2: float
    cn: float
    label: str = ""


def runoff_m3(patches: Iterable[Patch], rain_mm: float) -> float:
    """Return the volume that runs off a catchment [m³]: the sum over its patches."""
    return sum(float(runoff_mm(rain_mm, p.cn)) * p.area_m2 for p in patches) / 1000.0


@cites("tr55_1986")
def composite_cn(patches: Iterable[Patch]) -> float:
    """Return the area-weighted curve number, for methods that want one for a whole catchment.

    Not for volumes: it hides what roofs and roads add.
    """
    listed = list(patches)
    area = sum(p.area_m2 for p in listed)
    if not area > 0.0:
        raise InputError("a composite curve number needs an area")
    return sum(p.cn * p.area_m2 for p in listed) / area


# Soil groups ------------------------------------------------------------------------------------


def _groups(rule: str) -> dict[str, object]:
    return dict(resources.toml("hydraulics.toml")["soil_group"][rule])


@cites("tr55_1986")
def group_of_texture(texture: str) -> SoilGroup:
    """Return the soil group of a texture class, by the 1986 list."""
    for group in SoilGroup:
        listed = _groups("texture")[group]
        if isinstance(listed, list) and texture in listed:
            return group
    raise InputError(f"no soil group for texture {texture!r}")


def _by_rate(rule: str, rate_mm_h: float) -> SoilGroup:
    limits = _groups(rule)
    for group in SoilGroup:
        if rate_mm_h > float(str(limits[group])):
            return group
    return SoilGroup.D


@cites("tr55_1986")
def group_of_transmission(rate_mm_h: float) -> SoilGroup:
    """Return the soil group of a steady transmission rate [mm/h], by the 1986 limits."""
    return _by_rate("transmission", rate_mm_h)


@cites("neh630_7")
def group_of_ksat(ksat_mm_h: float) -> SoilGroup:
    """Return the soil group of the least saturated conductivity [mm/h], by the 2009 limits.

    The two lists disagree: the same texture can fall in different groups. A measured rate beats
    both; shallow rock or water makes any soil D.
    """
    return _by_rate("ksat", ksat_mm_h)
