"""What a test pit tells: texture, soaking from a falling level, clay, fitness for a pond."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from canvas.base.errors import BadData, InputError
from canvas.base.sources import cites
from canvas.water.runoff import SoilGroup, group_of_ksat, group_of_texture
from canvas.water.soak import design_rate_mm_h, textures

#: Every class of the triangle by key, and what it is called.
CLASSES = {
    "sand": "Sand", "loamy_sand": "Loamy sand", "sandy_loam": "Sandy loam", "loam": "Loam",
    "silt_loam": "Silt loam", "silt": "Silt", "sandy_clay_loam": "Sandy clay loam",
    "clay_loam": "Clay loam", "silty_clay_loam": "Silty clay loam", "sandy_clay": "Sandy clay",
    "silty_clay": "Silty clay", "clay": "Clay",
}  # fmt: skip
#: The least clay a class of the triangle can have, as a share.
LEAST_CLAY = {
    "sand": 0.0, "loamy_sand": 0.0, "sandy_loam": 0.0, "loam": 0.07, "silt_loam": 0.0,
    "silt": 0.0, "sandy_clay_loam": 0.20, "clay_loam": 0.27, "silty_clay_loam": 0.27,
    "sandy_clay": 0.35, "silty_clay": 0.40, "clay": 0.40,
}  # fmt: skip


@cites("soil_triangle")
def texture_class(sand: float, silt: float, clay: float) -> str:
    """Return the texture class of shares of sand, silt and clay, by the triangle of twelve.

    Shares need not add up to 1: they are taken of their sum.
    """
    total = sand + silt + clay
    if min(sand, silt, clay) < 0 or not total > 0:
        raise InputError(f"no soil: sand {sand}, silt {silt}, clay {clay}")
    s, u, c = 100 * sand / total, 100 * silt / total, 100 * clay / total
    return _clayey(s, u, c) if c >= 27 or (c >= 20 and u < 28) else _loamy(s, u, c)


def _clayey(s: float, u: float, c: float) -> str:
    if c >= 40 and u >= 40:
        return "silty_clay"
    if c >= 35 and s > 45:
        return "sandy_clay"
    if c >= 40:
        return "clay"
    if s > 45:
        return "sandy_clay_loam"
    return "silty_clay_loam" if s <= 20 else "clay_loam"


def _loamy(s: float, u: float, c: float) -> str:
    if u >= 50:
        return "silt" if u >= 80 and c < 12 else "silt_loam"
    if u + 1.5 * c < 15:
        return "sand"
    if u + 2 * c < 30:
        return "loamy_sand"
    if c < 7 or s > 52:
        return "sandy_loam"
    return "loam"


def texture_named(words: str) -> str | None:
    """Return the class somebody's words for a soil mean; None when they name none."""
    tidy = re.sub(r"[^a-z]+", " ", words.lower()).strip()
    tidy = tidy.replace("silty loam", "silt loam")
    found = [key for key in CLASSES if f" {key.replace('_', ' ')} " in f" {tidy} "]
    return max(found, key=len) if found else None


@cites("ribbon_test")
def texture_by_ribbon(ribbon_mm: float) -> str:
    """Return the middling class for how long a ribbon grows before it breaks; coarse, by feel."""
    if ribbon_mm >= 50:
        return "clay"
    return "clay_loam" if ribbon_mm >= 25 else "loam"


# Soaking ------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Soaked:
    """What falling water in a hole gave."""

    #: How fast the level fell in the end [mm/h], and the minutes for 25 mm of it.
    falls_mm_h: float
    minutes_per_25_mm: float
    #: The soil's own rate [mm/h]: water leaves through the hole's sides as well as its bottom.
    soaks_mm_h: float
    #: Whether it still slowed down at the end: then the soil was not yet soaked.
    slowing: bool


#: Rates that still differ by more than this share have not become steady; common practice.
STEADY = 0.2
#: What falls slower than this stands still [mm/h].
STANDS_MM_H = 1e-6


@cites("porchet")
def percolation(readings: Sequence[tuple[float, float]], hole_mm: float) -> Soaked:
    """Return the rates from readings (minute, water over the bottom in mm) in a round hole.

    A level that rises is a refill: what was read since the last one counts, its later half.
    Raises `BadData` for too few readings, or water that does not fall.
    """
    run = _last_run(readings)
    if len(run) < 2:
        raise BadData("two readings of falling water are needed", remedy="Add readings.")
    late = run[-max(len(run) // 2 + 1, 2) :]
    minute, depth = late[:, 0], late[:, 1]
    falls = _falling(minute, depth)
    if falls < STANDS_MM_H:
        return Soaked(0.0, math.inf, 0.0, False)
    half = hole_mm / 4
    soaks = half * _falling(minute, np.log(depth + half))
    steps = -np.diff(run[:, 1]) / np.diff(run[:, 0]) * 60
    slowing = len(steps) >= 2 and steps[-1] < (1 - STEADY) * steps[-2]
    return Soaked(falls, 25 / falls * 60, soaks, slowing)


def _falling(minute: np.ndarray, value: np.ndarray) -> float:
    """Return how fast a value falls in an hour: the slope by least squares."""
    return float(-np.polyfit(minute - minute[0], value, 1)[0] * 60)


def _last_run(readings: Sequence[tuple[float, float]]) -> np.ndarray:
    table = np.asarray(readings, float).reshape(-1, 2)
    if len(table) > 1 and not (np.diff(table[:, 0]) > 0).all():
        raise BadData("the minutes of the percolation readings must rise", remedy="Sort them.")
    refills = np.flatnonzero(np.diff(table[:, 1]) > 0) if len(table) > 1 else np.zeros(0, int)
    return table[refills[-1] + 1 if len(refills) else 0 :]


# What the pit says --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Layer:
    """One horizon."""

    from_m: float
    to_m: float
    #: Key of a texture class; None where its words name none.
    texture: str | None
    #: Share of stones by volume; None when not noted.
    stones: float | None = None


@dataclass(frozen=True, slots=True)
class Pit:
    """What was found in a test pit; None where it was not looked at."""

    depth_m: float
    layers: tuple[Layer, ...] = ()
    rock_m: float | None = None
    water_m: float | None = None
    #: Shares of sand, silt, clay from a jar.
    shares: tuple[float, float, float] | None = None
    ribbon_mm: float | None = None
    soaked: Soaked | None = None
    #: Class of the crumb test, 1 to 4.
    crumb: int | None = None

    @property
    def texture(self) -> str | None:
        """The texture: by jar, else the tightest layer's words, else by ribbon."""
        if self.shares is not None:
            return texture_class(*self.shares)
        named = [layer.texture for layer in self.layers if layer.texture is not None]
        if named:
            return max(named, key=lambda key: (LEAST_CLAY[key], key))
        return texture_by_ribbon(self.ribbon_mm) if self.ribbon_mm is not None else None

    @property
    def texture_by(self) -> str:
        """Which test the texture comes from."""
        if self.shares is not None:
            return "jar test"
        return "tightest horizon" if any(each.texture for each in self.layers) else "ribbon"

    @property
    def clay(self) -> float | None:
        """Share of clay: measured in a jar, else the least its class can have."""
        if self.shares is not None:
            return self.shares[2] / sum(self.shares)
        return LEAST_CLAY[self.texture] if self.texture is not None else None

    @property
    def stones(self) -> float | None:
        """Share of stones in the stoniest horizon."""
        return max((each.stones for each in self.layers if each.stones is not None), default=None)

    @property
    def dispersive(self) -> bool | None:
        """Whether its clay goes into suspension by itself; None when not tested."""
        return None if self.crumb is None else self.crumb >= DISPERSIVE

    @property
    def rate_mm_h(self) -> float | None:
        """The rate to design soakage with: half of what was measured, else the texture's."""
        if self.soaked is not None:
            return design_rate_mm_h(self.soaked.soaks_mm_h)
        return ksat_of(self.texture) if self.texture is not None else None

    @property
    def group(self) -> tuple[SoilGroup, str] | None:
        """The hydrologic soil group and what it rests on."""
        for depth, least, what in (
            (self.rock_m, SHALLOW_ROCK_M, "rock"), (self.water_m, SHALLOW_WATER_M, "water"),
        ):  # fmt: skip
            if depth is not None and depth < least:
                return SoilGroup.D, f"{what} at {depth:.1f} m"
        if self.soaked is not None:
            return group_of_ksat(self.soaked.soaks_mm_h), "measured soaking"
        if self.texture is not None:
            return group_of_texture(_listed(self.texture)), f"texture by {self.texture_by}"
        return None


#: Crumbs of this class and above are dispersive.
DISPERSIVE = 3
#: Ground with rock, or standing water, nearer than this is of group D whatever its texture [m].
SHALLOW_ROCK_M = 0.5
SHALLOW_WATER_M = 0.6


def _listed(texture: str) -> str:
    """Return the class tables of rates have: none of them lists pure silt."""
    return "silt_loam" if texture == "silt" else texture


def ksat_of(texture: str) -> float:
    """Return the saturated conductivity of a texture class [mm/h]."""
    return textures()[_listed(texture)].ksat_mm_h


@dataclass(frozen=True, slots=True)
class Fitness:
    """How fit a soil is to hold water, in words with reasons."""

    verdict: str
    reasons: tuple[str, ...]

    def words(self) -> str:
        """Return it as a sentence."""
        return f"{self.verdict}: {'; '.join(self.reasons)}" if self.reasons else self.verdict


#: An earth pond that loses more than this is hardly worth having [mm a day].
SEEPS_MM_DAY = 50.0
#: Clay that is tight, and that can be made tight by good compacting.
TIGHT_CLAY = 0.20
SEALING_CLAY = 0.10
#: More stones than this in the soil leak along their sides; common practice.
STONY = 0.30


@cites("ah590", "common_practice_water")
def pond_fitness(pit: Pit) -> Fitness:
    """Return whether a pond or a dam may be built in or of this soil, with reasons."""
    stops, doubts, goods = [], [], []
    if pit.dispersive:
        stops.append("its clay is dispersive: water tunnels through banks of it")
    elif pit.crumb is None:
        doubts.append("no crumb test for dispersive clay")
    if pit.clay is None:
        doubts.append("texture not known")
    elif pit.clay < SEALING_CLAY:
        stops.append(f"{pit.clay:.0%} clay is too little to seal")
    elif pit.clay < TIGHT_CLAY:
        doubts.append(f"{pit.clay:.0%} clay seals only when compacted well")
    else:
        goods.append(
            f"{pit.clay:.0%} clay or more" if pit.shares is None else f"{pit.clay:.0%} clay"
        )
    if pit.soaked is not None:
        daily = 24 * pit.soaked.soaks_mm_h
        loses = f"soaks away {daily:.0f} mm a day"
        if daily > SEEPS_MM_DAY:
            doubts.append(f"{loses}: more than {SEEPS_MM_DAY:.0f}, a blanket or lining is needed")
        else:
            goods.append(loses)
    if pit.stones is not None and pit.stones > STONY:
        doubts.append(f"{pit.stones:.0%} stones")
    if pit.rock_m is not None:
        doubts.append(f"rock at {pit.rock_m:.1f} m: water may leave along its cracks")
    if pit.water_m is not None:
        doubts.append(f"water stood at {pit.water_m:.1f} m")
    verdict = "Unfit" if stops else "Doubtful" if doubts else "Fit"
    return Fitness(verdict, tuple(stops + doubts + goods))
