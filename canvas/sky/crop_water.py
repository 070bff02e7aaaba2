"""What plants drink: FAO-56 crop coefficients, young trees, mulch, the soil's store, salt."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from canvas.base.errors import InputError
from canvas.base.grid import Floats
from canvas.base.sources import cites

#: Coefficient of dry bare soil with next to no plants, and of open shallow water (Table 12).
KC_LEAST, KC_OPEN_WATER = 0.15, 1.05
#: Share of the ground wetted (Table 20): the middle of 0.3 to 0.4 under drip.
WETTED_DRIP, WETTED_SPRINKLER = 0.35, 1.0


@cites("fao56")
def climate_term(wind_ms: float, rh_min: float, height_m: float) -> float:
    """Return what wind (2 m) and dry air (fraction) add to a coefficient for a height (eq. 62)."""
    dryness = 0.04 * (wind_ms - 2) - 0.004 * (100 * rh_min - 45)
    return float(dryness * (height_m / 3) ** 0.3)


@cites("fao56")
def kc_in_climate(kc: float, wind_ms: float, rh_min: float, height_m: float) -> float:
    """Return a tabled mid or end coefficient (above 0.45) fitted to a climate (eq. 62)."""
    return kc + climate_term(wind_ms, rh_min, height_m)


@cites("fao56")
def kc_initial_wetted(kc_initial: float, wetted: float) -> float:
    """Return the first stage's coefficient where only a share of the ground is wetted (eq. 60)."""
    return kc_initial * wetted


@dataclass(frozen=True, slots=True)
class Stages:
    """Lengths of the four growth stages [days] and the coefficients they join."""

    initial: int
    development: int
    middle: int
    late: int
    kc_initial: float
    kc_middle: float
    kc_end: float


@cites("fao56")
def kc_on_day(stages: Stages, day: int) -> float:
    """Return the coefficient on a day from planting (1 is the first), straight between (eq. 66)."""
    total = stages.initial + stages.development + stages.middle + stages.late
    if not 1 <= day <= total:
        raise InputError(f"day {day} is not among the {total} days of growth")
    grown = stages.initial + stages.development
    ends = (0, stages.initial, grown, grown + stages.middle, total)
    values = (
        stages.kc_initial, stages.kc_initial, stages.kc_middle, stages.kc_middle, stages.kc_end,
    )  # fmt: skip
    return float(np.interp(day, ends, values))


@cites("fao56")
def kc_full(height_m: float, wind_ms: float = 2.0, rh_min: float = 0.45) -> float:
    """Return the basal coefficient of full cover by height (eqs 99 and 100)."""
    return min(1.2, 1 + 0.1 * height_m) + climate_term(wind_ms, rh_min, height_m)


@cites("fao56")
def kcb_sparse(
    full: float, cover: float, height_m: float, cover_in_shade: float | None = None
) -> float:
    """Return the basal coefficient of plants that cover only part of the ground (eq. 98).

    `cover` is the share covered seen from above, `cover_in_shade` that shaded at midday (larger
    under a low sun); the same when not given.
    """
    shaded = min(cover if cover_in_shade is None else cover_in_shade, 1.0)
    share = min(1.0, 2 * cover, shaded ** (1 / (1 + height_m)))
    return float(KC_LEAST + (full - KC_LEAST) * share)


@cites("fao56")
def cover_in_shade(
    cover: float, noon_elevation_deg: float, height_to_width: float | None = None
) -> float:
    """Return the share of ground shaded at solar noon.

    Round crowns: cover / sin(elevation). With `height_to_width`, plants shaped as boxes in rows
    under a sun square to them: cover x (1 + ratio / tan(elevation)).
    """
    e = math.radians(noon_elevation_deg)
    if height_to_width is None:
        return min(cover / math.sin(e), 1.0)
    return min(cover * (1 + height_to_width / math.tan(e)), 1.0)


@cites("fao56")
def stomata_factor(leaf_resistance: float, slope: float, gamma: float, wind_ms: float) -> float:
    """Return the reduction for leaves that close up more than grass's 100 s/m (eq. 102)."""
    open_air = slope + gamma * (1 + 0.34 * wind_ms)
    return open_air / (slope + gamma * (1 + 0.34 * wind_ms * leaf_resistance / 100))


@cites("fereres_castel1981")
def cover_factor(cover: float) -> float:
    """Return Kr: the share of a mature orchard's water that young trees use, twice their cover."""
    return min(2 * max(cover, 0.0), 1.0)


def tree_litres(et_mm: float, kc: float, crown_m: float, area_m2: float) -> float:
    """Return a young tree's water [L/day, net] from its crown and the ground it stands on."""
    if not area_m2 > 0:
        raise InputError("a tree stands on some ground")
    cover = min(math.pi * crown_m**2 / 4 / area_m2, 1.0)
    return et_mm * kc * cover_factor(cover) * area_m2


@cites("costello2000")
def landscape_coefficient(species: float, density: float = 1.0, microclimate: float = 1.0) -> float:
    """Return KL for mixed plantings: species x density x microclimate."""
    return species * density * microclimate


def gross_mm(net_mm: float, efficiency: float, leaching: float = 0.0) -> float:
    """Return the depth to apply for a net need, with losses and salt to wash out."""
    if not 0 < efficiency <= 1 or not 0 <= leaching < 1:
        raise InputError(f"efficiency {efficiency} or leaching {leaching} out of range")
    return net_mm / (efficiency * (1 - leaching))


@cites("fao56")
def mulched(kc: float, kcb: float, cover: float, first_stage: bool = False) -> float:
    """Return a coefficient under organic mulch covering a share of the ground (chapter 10).

    Evaporation from soil falls by 5 % for each 10 % covered: by that share of the whole
    coefficient in the first stage, later only of what the soil adds to the plants' own.
    """
    saved = 0.5 * min(max(cover, 0.0), 1.0)
    return kc * (1 - saved) if first_stage else kc - saved * (kc - kcb)


@cites("fao56")
def kc_between(rows: list[tuple[float, float, float]]) -> float:
    """Return the coefficient of crops grown among each other (eq. 104).

    Each row: share of the ground, height [m], coefficient.
    """
    weight = sum(share * height for share, height, _ in rows)
    return sum(share * height * kc for share, height, kc in rows) / weight


# --- soil evaporation beside the plants (chapter 7) ---


@cites("fao56")
def kc_most(kcb: float, wind_ms: float, rh_min: float, height_m: float) -> float:
    """Return the most any wet, planted ground can evaporate (eq. 72)."""
    return max(1.2 + climate_term(wind_ms, rh_min, height_m), kcb + 0.05)


@cites("fao56")
def cover_of(kcb: float, most: float, height_m: float) -> float:
    """Return the share of ground covered, as the coefficients imply (eq. 76)."""
    share = max((kcb - KC_LEAST) / (most - KC_LEAST), 0.01)
    return float(min(share ** (1 + 0.5 * height_m), 0.99))


@cites("fao56")
def exposed_wet(cover: float, wetted: float, under_canopy_drip: bool = False) -> float:
    """Return the share of ground both wetted and open to the sun (eq. 75)."""
    if under_canopy_drip:
        wetted *= 1 - 2 / 3 * cover
    return min(1 - cover, wetted)


@cites("fao56")
def soil_ke(kcb: float, most: float, exposed: float, drying: float = 1.0) -> float:
    """Return the soil's evaporation coefficient (eq. 71); `drying` is 1 while its top is wet."""
    return min(drying * (most - kcb), exposed * most)


@cites("fao56")
def drying(depleted_mm: float, readily_mm: float, total_mm: float) -> float:
    """Return the soil's evaporation reduction by what its top has lost (eq. 74)."""
    if depleted_mm <= readily_mm:
        return 1.0
    return max((total_mm - depleted_mm) / (total_mm - readily_mm), 0.0)


# --- the store in the root zone (chapter 8) ---


@cites("fao56")
def total_water_mm(
    field_capacity: float, wilting_point: float, depth_m: float, stones: float = 0.0
) -> float:
    """Return what roots can draw from a depth of soil [mm] (eq. 82); stones hold none.

    Capacity and wilting point as water by volume.
    """
    return 1000 * (field_capacity - wilting_point) * depth_m * (1 - stones)


@cites("fao56")
def share_drawn(p: float, et_crop_mm: float) -> float:
    """Return the share drawn without stress on a day of this demand (Table 22, note 2)."""
    return min(max(p + 0.04 * (5 - et_crop_mm), 0.1), 0.8)


@cites("fao56")
def stress(depleted_mm: float, total_mm: float, readily_mm: float) -> float:
    """Return Ks: 1 with water enough, falling to 0 when all is drawn (eq. 84)."""
    if depleted_mm <= readily_mm:
        return 1.0
    return max((total_mm - depleted_mm) / (total_mm - readily_mm), 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class StoreDays:
    """A soil store followed day by day [mm]."""

    depleted: Floats
    used: Floats
    irrigated: Floats
    drained: Floats


@cites("fao56")
def soil_days(
    rain_mm: Floats,
    et_crop_mm: Floats,
    total_mm: float,
    p: float,
    start_mm: float = 0.0,
    irrigate_at_mm: float | None = None,
) -> StoreDays:
    """Follow the root zone's water day by day (eq. 85), rain in first, then the plants' use.

    With `irrigate_at_mm`, the store is filled on the morning of a day it is drawn down so far.
    What overfills drains. Rain, irrigation, use, drainage and the store balance.
    """
    n = rain_mm.size
    out = StoreDays(*(np.zeros(n) for _ in range(4)))
    d, ready = start_mm, p * total_mm
    for i in range(n):
        given = d if irrigate_at_mm is not None and d >= irrigate_at_mm else 0.0
        after = d - rain_mm[i] - given
        out.irrigated[i], out.drained[i] = given, max(-after, 0.0)
        d = max(after, 0.0)
        use = min(stress(d, total_mm, ready) * et_crop_mm[i], total_mm - d)
        d += use
        out.used[i], out.depleted[i] = use, d
    return out


@cites("fao56")
def salt_stress(ece: float, threshold: float, fall_percent: float, ky: float) -> float:
    """Return Ks of salt in the soil [dS/m] on a crop that loses `fall_percent` a dS/m (eq. 89)."""
    return 1 - fall_percent / (100 * ky) * max(ece - threshold, 0.0)


@cites("fao56")
def stress_of_yield(got: float, could: float, ky: float) -> float:
    """Return the mean Ks that a yield tells of (eq. 90 turned round)."""
    return 1 - (1 - got / could) / ky


@cites("fao29")
def leaching_share(ec_water: float, ec_soil: float) -> float:
    """Return the share of water that must run through to wash salt out (FAO-29 eq. 9)."""
    if not 5 * ec_soil > ec_water:
        raise InputError("this water is too salty for the soil wanted")
    return ec_water / (5 * ec_soil - ec_water)
