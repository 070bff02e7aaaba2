"""Units: SI inside, the owner's choice on screen and paper.

A unit is one of the short names in `UNITS`; every stored or shown number carries one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from canvas.base.errors import BadData, InputError


class UnitSystem(StrEnum):
    """How numbers are shown. Files and computing stay SI."""

    METRIC = "metric"
    US = "us"


@dataclass(frozen=True, slots=True)
class Shown:
    """One way to write a unit: shown number = SI number x factor."""

    symbol: str
    factor: float
    decimals: int


@dataclass(frozen=True, slots=True)
class Unit:
    """An SI unit and how each system writes it."""

    key: str
    metric: Shown
    us: Shown


FT = 0.3048
ACRE_M2 = 4046.8564224
GALLON_M3 = 0.003785411784


def _same(key: str, symbol: str, decimals: int, factor: float = 1.0) -> Unit:
    shown = Shown(symbol, factor, decimals)
    return Unit(key, shown, shown)


#: International foot, acre and US gallon (NIST SP 811, appendix B).
UNITS: dict[str, Unit] = {
    unit.key: unit
    for unit in (
        Unit("m", Shown("m", 1.0, 2), Shown("ft", 1 / FT, 1)),
        Unit("mm", Shown("mm", 1.0, 0), Shown("in", 1 / 25.4, 2)),
        Unit("cm", Shown("cm", 1.0, 0), Shown("in", 1 / 2.54, 1)),
        Unit("m2", Shown("m²", 1.0, 0), Shown("ft²", 1 / FT**2, 0)),
        Unit("ha", Shown("ha", 1e-4, 3), Shown("ac", 1 / ACRE_M2, 3)),
        Unit("m3", Shown("m³", 1.0, 1), Shown("yd³", 1 / 0.9144**3, 1)),
        Unit("L", Shown("L", 1.0, 0), Shown("gal", 0.001 / GALLON_M3, 0)),
        Unit("L/s", Shown("L/s", 1.0, 2), Shown("gal/min", 0.06 / GALLON_M3, 1)),
        Unit("m3/s", Shown("m³/s", 1.0, 3), Shown("ft³/s", 1 / FT**3, 2)),
        Unit("m/s", Shown("m/s", 1.0, 2), Shown("ft/s", 1 / FT, 1)),
        Unit("mm/h", Shown("mm/h", 1.0, 1), Shown("in/h", 1 / 25.4, 2)),
        Unit("kPa", Shown("kPa", 1.0, 0), Shown("psi", 1 / 6.894757293168, 1)),
        Unit("MJ/m2/day", Shown("MJ/m²/day", 1.0, 1), Shown("kWh/m²/day", 1 / 3.6, 2)),
        # Grid coordinates stay in the metres of their CRS: in feet they fit no other program.
        _same("m_grid", "m", 2),
        _same("%", "%", 1, 100.0),
        _same("ratio", "", 2),
        _same("deg", "°", 1),
        _same("count", "", 0),
        _same("years", "years", 0),
        _same("hours", "h", 1),
        _same("kV", "kV", 1),
        _same("people", "people", 0),
        _same("1/ha", "per ha", 0),
        _same("ppm", "ppm", 1),
    )
}
# "%" holds a fraction (0.08 is shown "8.0 %"); "ha" holds square metres.


def unit(key: str) -> Unit:
    """Return the unit called `key`."""
    try:
        return UNITS[key]
    except KeyError:
        raise InputError(f"no unit called {key!r}; see UNITS") from None


def shown(key: str, system: UnitSystem) -> Shown:
    """Return how `system` writes the unit called `key`."""
    found = unit(key)
    return found.us if system is UnitSystem.US else found.metric


def show(
    value: float | None,
    key: str,
    system: UnitSystem = UnitSystem.METRIC,
    decimals: int | None = None,
) -> str:
    """Return a number with its unit as people read it; "–" where it is unknown."""
    if value is None or not math.isfinite(value):
        return "–"
    how = shown(key, system)
    places = how.decimals if decimals is None else decimals
    number = f"{value * how.factor:,.{places}f}".replace(",", "\N{NARROW NO-BREAK SPACE}")
    if number.lstrip("-").strip("0.") == "":
        number = number.lstrip("-")
    gap = "" if how.symbol in ("", "°") else "\N{NO-BREAK SPACE}"
    return f"{number}{gap}{how.symbol}"


def area_unit(value_m2: float) -> str:
    """Return the unit an area of this size reads best in: "m2" below 1000 m², else "ha"."""
    return "m2" if abs(value_m2) < 1000 else "ha"


def read_number(text: str) -> float:
    """Return a typed number, with a decimal point or comma; raise `BadData` naming it."""
    tidy = text.strip()
    for space in (
        " ",
        "\N{NO-BREAK SPACE}",
        "\N{NARROW NO-BREAK SPACE}",
        "'",
        "\N{RIGHT SINGLE QUOTATION MARK}",
    ):
        tidy = tidy.replace(space, "")
    if "," in tidy and "." in tidy:
        thousands = "," if tidy.rfind(".") > tidy.rfind(",") else "."
        tidy = tidy.replace(thousands, "")
    tidy = tidy.replace(",", ".").replace("\N{MINUS SIGN}", "-")
    try:
        value = float(tidy)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise BadData(f"“{text}” is not a number", remedy="Type digits, such as 12.5 or 12,5.")
    return value


#: Units a person may type after a number, each with the base unit it means and its size there.
TYPED: dict[str, tuple[str, float]] = {
    "m": ("m", 1.0),
    "mm": ("m", 0.001),
    "cm": ("m", 0.01),
    "km": ("m", 1000.0),
    "ft": ("m", FT),
    "in": ("m", 0.0254),
    "yd": ("m", 0.9144),
    "ha": ("m2", 1e4),
    "ac": ("m2", ACRE_M2),
    "m2": ("m2", 1.0),
    "ft2": ("m2", FT**2),
    "L": ("L", 1.0),
    "gal": ("L", GALLON_M3 * 1000),
}


def to_si(value: float, key: str, system: UnitSystem) -> float:
    """Return the SI number for a number typed in the way `system` shows the unit `key`."""
    return value / shown(key, system).factor
