"""Windows of the year for planting, earthworks, burning: rules of thumb from monthly climate.

None of these rules has a source: they are what practitioners do, to be edited. All go by
temperature, rain and evapotranspiration, never by the names of months, so both hemispheres and
the tropics are served.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from canvas.base.grid import Floats
from canvas.base.sources import Mark
from canvas.sky.climate_record import Normals
from canvas.sky.fire_weather import CAUTION, dry_hot_months
from canvas.sky.frost import frost_days
from canvas.sky.radiation import DAYS_IN_MONTH
from canvas.sky.rain import DRY_SHARE, as_span, effective_scs, first_wet_month
from canvas.sky.sunhours import MONTHS


@dataclass(frozen=True, slots=True)
class Thresholds:
    """What the windows go by; all common practice, all to be edited."""

    #: Nights too cold for tender stock, and for tender plants altogether [°C].
    tender_night_c: float = 2.0
    warm_night_c: float = 10.0
    warm_mean_c: float = 15.0
    cool_mean_c: tuple[float, float] = (5.0, 18.0)
    dormant_mean_c: float = 10.0
    #: Rain over evapotranspiration when soil can be dug, and when clay packs best.
    dig: tuple[float, float] = (0.3, 1.0)
    pack: tuple[float, float] = (0.5, 1.0)
    concrete_mean_c: tuple[float, float] = (5.0, 30.0)
    #: Days too hot to move plants [°C].
    heat_c: float = 32.0
    #: Frost days that thirty nights may have and still count as frost-free.
    frost_days: float = 0.1


@dataclass(frozen=True, slots=True)
class Window:
    """When something is well done, or to be left."""

    key: str
    label: str
    months: tuple[int, ...]
    why: str
    #: Whether the months are those to avoid.
    avoid: bool = False
    mark: Mark = Mark.PRACTICE
    caution: str = ""

    @property
    def words(self) -> str:
        """The months as spans: "September to February"."""
        if not self.months:
            return "no month"
        if len(self.months) == 12:
            return "all year"
        spans = as_span(self.months)
        return ", ".join(
            MONTHS[a - 1] if a == b else f"{MONTHS[a - 1]} to {MONTHS[b - 1]}" for a, b in spans
        )


@dataclass(frozen=True, slots=True)
class Year:
    """A climate's year in windows."""

    #: First month of the wet season, and its last; None where the year has no wet season.
    onset: int | None
    last_wet: int | None
    windows: tuple[Window, ...]
    note: str = field(default="Rules of thumb without a source; edit them to what you know.")

    def window(self, key: str) -> Window:
        """Return a window by its key."""
        return next(w for w in self.windows if w.key == key)


def _months(flags: NDArray[np.bool_]) -> tuple[int, ...]:
    return tuple(int(m) + 1 for m in np.flatnonzero(flags))


def wet_season(rain_mm: Floats, et_mm: Floats) -> tuple[int | None, int | None]:
    """Return the wet season's first and last month (rain of half ET0 and more).

    Both None where all months are wet or none is.
    """
    wet = np.asarray(rain_mm) >= DRY_SHARE * np.asarray(et_mm)
    if wet.all() or not wet.any():
        return None, None
    first = first_wet_month(rain_mm, et_mm)
    last = first
    while wet[last % 12]:
        last = last % 12 + 1
    return first, last


def planting_months(
    first: int | None, last: int | None, night_c: Floats, tender_c: float | None = None
) -> tuple[int, ...]:
    """Return the months trees and shrubs go in: from the onset to two before the last wet month.

    So roots have wet soil for two months more. All months where there is no dry season; none
    where there is no wet one. With `tender_c`, months of colder nights are left out.
    """
    months = list(range(1, 13))
    if first is not None and last is not None:
        length = max((last - first) % 12 + 1 - 2, 1)
        months = [(first - 1 + n) % 12 + 1 for n in range(length)]
    if tender_c is not None:
        months = [m for m in months if night_c[m - 1] >= tender_c]
    return tuple(months)


def dig_months(
    rain_mm: Floats, et_mm: Floats, limits: tuple[float, float] = (0.3, 1.0)
) -> tuple[int, ...]:
    """Return the months for earthworks: soil moist, not wet; and the last dry one before rain."""
    ratio = np.asarray(rain_mm) / np.maximum(et_mm, 1e-9)
    flags = (ratio > limits[0]) & (ratio < limits[1])
    first, _ = wet_season(rain_mm, et_mm)
    if first is not None:
        flags[first - 2] = True
    return _months(flags)


def season_windows(
    normals: Normals, et_mm: Floats, kc: float = 1.0, limits: Thresholds | None = None
) -> Year:
    """Return the year's windows from mean months and their evapotranspiration."""
    use = limits or Thresholds()
    first, last = wet_season(normals.need("rain_mm"), et_mm)
    windows = (
        *_planting(normals, et_mm, use, first, last),
        *_works(normals, et_mm, use),
        *_water_and_fire(normals, et_mm, kc),
    )
    return Year(first, last, windows)


def _planting(
    normals: Normals, et_mm: Floats, use: Thresholds, first: int | None, last: int | None
) -> tuple[Window, ...]:
    rain, cold, mean = normals.need("rain_mm"), normals.need("tmin_c"), normals.mean_c
    wet = bool((rain >= DRY_SHARE * et_mm).any())
    trees = planting_months(first, last, cold) if wet else ()
    tender = planting_months(first, last, cold, use.tender_night_c) if wet else ()
    dormant = (mean < use.dormant_mean_c) & (mean > 0)
    # By the night, not by the calendar: February is no milder for being the shortest month.
    frosty = frost_days(normals).days / np.array(DAYS_IN_MONTH)
    mild = 30.0 * frosty <= use.frost_days
    warm = (cold >= use.warm_night_c) & (mean >= use.warm_mean_c)
    cool = (mean >= use.cool_mean_c[0]) & (mean <= use.cool_mean_c[1])
    hot = normals.need("tmax_c") >= use.heat_c
    return (
        Window("trees", "Plant trees and shrubs", trees, "soil stays wet two months more"),
        Window("tender", "Plant tender stock", tender, "and nights are not cold"),
        Window(
            "bare_root",
            "Plant bare-rooted trees",
            _months(dormant),
            "dormant, ground not frozen; before buds swell",
        ),
        Window(
            "frost_free",
            "Frost unlikely",
            _months(mild),
            "estimated from monthly means; hollows are colder",
        ),
        Window("warm_crops", "Grow warm vegetables", _months(warm), "warm nights and days"),
        Window("cool_crops", "Grow cool vegetables", _months(cool), "neither cold nor hot"),
        Window(
            "heat",
            "Too hot to move plants",
            _months(hot),
            f"{use.heat_c:.0f} °C and more by day",
            avoid=True,
        ),
    )


def _works(normals: Normals, et_mm: Floats, use: Thresholds) -> tuple[Window, ...]:
    rain, mean = normals.need("rain_mm"), normals.mean_c
    ratio = rain / np.maximum(et_mm, 1e-9)
    pack = (ratio >= use.pack[0]) & (ratio <= use.pack[1])
    pour = (mean >= use.concrete_mean_c[0]) & (mean <= use.concrete_mean_c[1])
    return (
        Window(
            "earthworks",
            "Swales, ponds, terraces, tracks",
            dig_months(rain, et_mm, use.dig),
            "soil moist, not wet; stop when rain exceeds evaporation",
        ),
        Window("pack_clay", "Pack pond clay", _months(pack), "near the moisture it packs best at"),
        Window("concrete", "Concrete and lime", _months(pour), "neither frost nor heat"),
    )


def _water_and_fire(normals: Normals, et_mm: Floats, kc: float) -> tuple[Window, ...]:
    rain, hot = normals.need("rain_mm"), normals.need("tmax_c")
    flagged = dry_hot_months(rain, et_mm, hot)
    wet = (rain > et_mm) & ~np.isin(np.arange(1, 13), flagged)
    return (
        Window(
            "irrigate",
            "Irrigation season",
            _months(kc * et_mm > effective_scs(rain)),
            "plants use more than the rain they get",
            mark=Mark.COMPUTED,
        ),
        Window(
            "no_sparks",
            "No mowing, grinding, burning",
            flagged,
            "dry and hot: expect restrictions",
            avoid=True,
            caution=CAUTION,
        ),
        Window(
            "burn",
            "Burn heaps, with a permit",
            _months(wet),
            "rain exceeds evaporation",
            caution=CAUTION,
        ),
    )


def fuel_deadline(flagged: tuple[int, ...]) -> int | None:
    """Return the month by whose end fuel should be reduced: the one before the first flagged."""
    return None if not flagged or len(flagged) == 12 else (as_span(flagged)[0][0] - 2) % 12 + 1
