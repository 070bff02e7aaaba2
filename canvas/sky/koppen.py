"""The Köppen-Geiger class of a climate, after Peel, Finlayson & McMahon (2007)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canvas.base.grid import Floats
from canvas.base.sources import cites

_FIRST = {"A": "tropical", "B": "dry", "C": "temperate", "D": "cold", "E": "polar"}
_NAMES = {
    "Af": "rain forest",
    "Am": "monsoon",
    "Aw": "savanna",
    "BW": "desert",
    "BS": "steppe",
    "s": "dry summer",
    "w": "dry winter",
    "f": "no dry season",
    "h": "hot",
    "k": "cold",
    "a": "hot summer",
    "b": "warm summer",
    "c": "cool summer",
    "d": "very cold winter",
    "ET": "tundra",
    "EF": "frost all year",
}


@dataclass(frozen=True, slots=True)
class Koppen:
    """A class with its meaning."""

    code: str
    name: str


@cites("peel2007")
def koppen(mean_c: Floats, rain_mm: Floats, cold_limit_c: float = 0.0) -> Koppen:
    """Return the class from monthly means and rain totals, (12,) each.

    Summer is the warmer half of the year, so both hemispheres are served. `cold_limit_c` parts
    temperate from cold by the coldest month (0 °C; older maps have -3).
    """
    t, p = np.asarray(mean_c, dtype=np.float64), np.asarray(rain_mm, dtype=np.float64)
    north_summer = np.zeros(12, dtype=bool)
    north_summer[3:9] = True
    summer = north_summer if t[3:9].sum() >= t[~north_summer].sum() else ~north_summer
    year, mean = float(p.sum()), float(t.mean())
    wet_share = float(p[~summer].sum()) / year if year > 0 else 0.0
    threshold = 2 * mean
    if year > 0 and 1 - wet_share >= 0.7:
        threshold += 28
    elif wet_share < 0.7:
        threshold += 14
    if t.max() < 10:
        code = "ET" if t.max() > 0 else "EF"
    elif year < 10 * threshold:
        code = ("BW" if year < 5 * threshold else "BS") + ("h" if mean >= 18 else "k")
    elif t.min() >= 18:
        driest = float(p.min())
        code = "Af" if driest >= 60 else "Am" if driest >= 100 - year / 25 else "Aw"
    else:
        first = "C" if t.min() > cold_limit_c else "D"
        code = first + _season(p[summer], p[~summer]) + _heat(t)
    return Koppen(code, _meaning(code))


def _season(summer: Floats, winter: Floats) -> str:
    """Return s, w or f by the driest and wettest months of each half."""
    if summer.min() < 40 and summer.min() < winter.max() / 3:
        return "s"
    return "w" if winter.min() < summer.max() / 10 else "f"


def _heat(t: Floats) -> str:
    if t.max() >= 22:
        return "a"
    if (t >= 10).sum() >= 4:
        return "b"
    return "d" if t.min() < -38 else "c"


def _meaning(code: str) -> str:
    words = [_FIRST[code[0]]]
    if code[:2] in _NAMES:
        words.append(_NAMES[code[:2]])
        rest = code[2:]
    else:
        rest = code[1:]
    return ", ".join(words + [_NAMES[letter] for letter in rest])
