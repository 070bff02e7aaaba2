"""How tall and wide a plant is by its age, and when crowns close.

Chapman–Richards: y(t) = Y (1 - exp(-k t))^p, fitted by one number, the age at which a plant has
reached nine tenths of its mature size. Treat every date as ± 30–50 % (no source: caution).
"""

from __future__ import annotations

import math

from canvas.base.errors import InputError
from canvas.base.sources import cites

#: Shape p of the curves: inside the ranges trade writing works with (common practice, no source).
HEIGHT_SHAPE = 1.75
CROWN_SHAPE = 1.35
HERB_SHAPE = 1.0

#: Share of the mature size reached at "years to maturity".
GROWN = 0.9

#: Where neither the owner nor the species library says (common practice, no source).
DEFAULT_YEARS = 15.0


@cites("chapman_richards")
def growth_rate(years_to_mature: float, shape: float) -> float:
    """Return k [1/year] of the curve that reaches 0.9 at `years_to_mature`."""
    if not (years_to_mature > 0 and shape > 0):
        raise InputError(f"need years and shape above 0, got {years_to_mature}, {shape}")
    return float(-math.log(1.0 - GROWN ** (1.0 / shape)) / years_to_mature)


@cites("chapman_richards")
def grown_share(age_years: float, years_to_mature: float, shape: float) -> float:
    """Return the share (0 to 1) of the mature size reached at an age."""
    if age_years <= 0:
        return 0.0
    k = growth_rate(years_to_mature, shape)
    return float((1.0 - math.exp(-k * age_years)) ** shape)


@cites("chapman_richards")
def age_at(share: float, years_to_mature: float, shape: float) -> float:
    """Return the age [years] at which a share (0 to below 1) of the mature size is reached."""
    if not 0.0 <= share < 1.0:
        raise InputError(f"a share lies between 0 and below 1, got {share}")
    k = growth_rate(years_to_mature, shape)
    return float(-math.log(1.0 - share ** (1.0 / shape)) / k)


def size_after(
    years: float, mature: float, years_to_mature: float, shape: float, *, now: float | None = None
) -> float:
    """Return a height or crown diameter `years` from now, in the unit of `mature`.

    `now` is its size today; None for a plant that is planted at year 0 with nothing to speak of.
    A plant already at or past its mature size keeps the size it has.
    """
    if now is None or now <= 0:
        return mature * grown_share(years, years_to_mature, shape)
    if now >= mature or years <= 0:
        return now
    age = age_at(now / mature, years_to_mature, shape)
    return mature * grown_share(age + years, years_to_mature, shape)


def closure_years(
    spacing_m: float, mature_crown_m: float, years_to_mature: float, shape: float = CROWN_SHAPE
) -> float | None:
    """Return the age at which crowns this far apart touch; None when they never do."""
    if spacing_m >= mature_crown_m:
        return None
    return age_at(spacing_m / mature_crown_m, years_to_mature, shape)
