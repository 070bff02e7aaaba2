"""Earth dams and ponds: quick volumes, banks, freeboard, when an engineer is needed.

Figures to compare sites with; a dam is built under local codes and by licensed practice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from canvas.base.errors import InputError
from canvas.base.sources import cites
from canvas.water.sections import GRAVITY, solve
from canvas.water.storage import prismoid_m3

ACRE_FOOT_M3 = 1233.48183754752


@cites("wa_dams")
def quick_volume_m3(surface_m2: float, depth_m: float) -> float:
    """Return the farm rule: 0.4 of the surface times the greatest depth; for up to 10 000 m³."""
    return 0.4 * surface_m2 * depth_m


#: Share of a farm dam that can be used: the last half metre is not drawn.
USABLE = 0.9


@cites("hec22")
def basin_m3(length_m: float, width_m: float, depth_m: float, z: float) -> float:
    """Return the volume of a dug basin: bottom length and width, depth, even slopes `z` : 1.

    The source's worked table uses a wrong last term; this is its formula.
    """
    sides = (length_m + width_m) * z * depth_m**2
    return length_m * width_m * depth_m + sides + 4.0 / 3.0 * z**2 * depth_m**3


def basin_length_m(volume_m3: float, ratio: float, depth_m: float, z: float) -> float:
    """Return the bottom length of a dug basin, `ratio` times as long as wide, for a volume."""
    if not basin_m3(0.0, 0.0, depth_m, z) < volume_m3:
        raise InputError("the slopes alone hold more than that")
    return solve(lambda x: basin_m3(x, x / ratio, depth_m, z), volume_m3, 1e5)


@dataclass(frozen=True, slots=True)
class Dam:
    """An earth bank across a hollow: crest width, up- and downstream slopes (horizontal : 1)."""

    crest_m: float
    up_z: float
    down_z: float

    def section_m2(self, height_m: float) -> float:
        """Return the area of its section at a height."""
        return self.crest_m * height_m + 0.5 * (self.up_z + self.down_z) * height_m**2

    def base_m(self, height_m: float) -> float:
        """Return the width of its foot on level ground."""
        return self.crest_m + (self.up_z + self.down_z) * height_m

    def volume_m3(
        self,
        station_m: Sequence[float],
        height_m: Sequence[float],
        overbuild: float = 0.0,
        how: str = "end",
    ) -> float:
        """Return the earth in it from heights along its centre line.

        `overbuild`: share of height added for settlement. `how`: average "end" areas, or
        "prismoidal" with the mean height in the middle.
        """
        x = np.asarray(station_m, float)
        h = np.asarray(height_m, float) * (1.0 + overbuild)
        if how not in ("end", "prismoidal"):
            raise InputError(f"volumes are by 'end' or 'prismoidal', got {how!r}")
        total = 0.0
        for i in range(len(x) - 1):
            a, b = self.section_m2(h[i]), self.section_m2(h[i + 1])
            middle = (
                self.section_m2(0.5 * (h[i] + h[i + 1])) if how == "prismoidal" else (a + b) / 2
            )
            total += prismoid_m3(a, middle, b, float(x[i + 1] - x[i]))
        return total


@cites("fao64")
def quick_dam_m3(height_m: float, length_m: float, crest_m: float, slopes: float) -> float:
    """Return FAO's quick volume of a dam; `slopes` sums both; a check, from memory."""
    return 0.216 * height_m * length_m * (2.0 * crest_m + height_m * slopes)


@cites("fao64")
def quick_storage_m3(length_m: float, throwback_m: float, height_m: float) -> float:
    """Return FAO's quick storage behind a dam: length, throwback, height; from memory."""
    return length_m * throwback_m * height_m / 6.0


#: Least crest width by height [m]: rows (height up to, width).
CREST_RULES: dict[str, tuple[str, tuple[tuple[float, float], ...]]] = {
    "nrcs_old": ("nrcs378_old", ((4.6, 2.4), (6.1, 3.0), (7.6, 3.7))),
    "kansas": ("kar_5_40_56", ((6.1, 3.0), (7.6, 3.7), (12.2, 4.3), (math.inf, 4.6))),
}


def crest_width_m(height_m: float, rule: str = "nrcs_old") -> float:
    """Return the least crest width [m] by a rule; the widest of the rule beyond its table."""
    if rule not in CREST_RULES:
        raise InputError(f"crest rules are {', '.join(CREST_RULES)}, got {rule!r}")
    rows = CREST_RULES[rule][1]
    return next((width for most, width in rows if height_m <= most), rows[-1][1])


# Freeboard ------------------------------------------------------------------------------


@cites("smb_waves")
def wave_height_m(fetch_m: float, wind_m_s: float) -> float:
    """Return the significant height of waves [m] after a fetch of open water, by Saville."""
    if not (fetch_m >= 0.0 and wind_m_s > 0.0):
        raise InputError("waves need a fetch and wind")
    reach = GRAVITY * fetch_m / wind_m_s**2
    return 0.283 * math.tanh(0.0125 * reach**0.42) * wind_m_s**2 / GRAVITY


@cites("kdwp_ponds", "smb_waves", "common_practice_water")
def freeboard_m(
    flood_head_m: float, fetch_m: float = 0.0, wind_m_s: float = 25.0, run_up: float = 1.5
) -> float:
    """Return the height of the settled crest over the spillway's crest [m].

    The greatest of 0.9 m, of 0.3 m over the design flood, and of the flood with the run-up of
    waves (1.5 times their height on earth slopes, common practice).
    """
    waves = run_up * wave_height_m(fetch_m, wind_m_s) if fetch_m > 0.0 else 0.0
    return max(0.9, flood_head_m + 0.3, flood_head_m + waves)


# What can go wrong ----------------------------------------------------------------------


@cites("froehlich1995")
def breach_peak_m3s(volume_m3: float, height_m: float) -> float:
    """Return the peak of the flood when a dam breaks; from memory, an order of magnitude."""
    return float(0.607 * volume_m3**0.295 * height_m**1.24)


@cites("cwc6002")
def california_dam(height_m: float, volume_m3: float) -> bool:
    """Return whether a dam comes under California's supervision."""
    if height_m <= 6.0 * 0.3048 or volume_m3 <= 15.0 * ACRE_FOOT_M3:
        return False
    return height_m >= 25.0 * 0.3048 or volume_m3 >= 50.0 * ACRE_FOOT_M3


@cites("wa_dams", "common_practice_water")
def needs_engineer(height_m: float, volume_m3: float, *, dwelling_below: bool = False) -> str:
    """Say why a dam should be designed by an engineer; "" when the usual limits are kept."""
    if dwelling_below:
        return "people live or pass below it"
    if volume_m3 > 10_000.0:
        return "it holds more than 10 000 m³"
    if height_m > 2.0:
        return "it is higher than 2 m"
    if volume_m3 > 1000.0:
        return "it holds more than 1000 m³"
    return ""


@cites("kar_5_40_56")
def drawdown_flow_m3s(volume_m3: float, days: float = 14.0, share: float = 0.9) -> float:
    """Return the mean flow a drawdown pipe needs to empty a share of a pond in some days."""
    return share * volume_m3 / (days * 86400.0)


def reliable_catchment_m2(volume_m3: float, rain_mm: float, coefficient: float) -> float:
    """Return the catchment [m²] whose yearly runoff fills a volume."""
    if not (rain_mm > 0.0 and coefficient > 0.0):
        raise InputError("a catchment needs rain and a runoff coefficient")
    return 1000.0 * volume_m3 / (rain_mm * coefficient)


def seepage_m3(area_m2: float, rate_mm_day: float, days: float) -> float:
    """Return what seeps away from a pond."""
    return area_m2 * rate_mm_day * days / 1000.0
