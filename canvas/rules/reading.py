"""Reading rule tables strictly: every key is known, present and of its type, or `BadData`."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, TypeVar

from canvas.base.errors import BadData
from canvas.base.quantity import ACRE_M2, FT, GALLON_M3
from canvas.rules.model import Amount

T = TypeVar("T")
NEEDED: Any = object()

#: Units a rule may print: the unit findings are shown in, and SI = printed x factor.
PRINTED: dict[str, tuple[str, float]] = {
    "m": ("m", 1.0),
    "km": ("m", 1000.0),
    "cm": ("m", 0.01),
    "mm": ("m", 0.001),
    "ft": ("m", FT),
    "in": ("m", FT / 12),
    "L": ("L", 1.0),
    "m3": ("m3", 1.0),
    "acre-ft": ("m3", ACRE_M2 * FT),
    "gal": ("L", GALLON_M3 * 1000),
    "m2": ("m2", 1.0),
    "ft2": ("m2", FT**2),
    "%": ("%", 0.01),
    "ratio": ("ratio", 1.0),
    "kV": ("kV", 1.0),
    "count": ("count", 1.0),
    "m3/s": ("m3/s", 1.0),
    "m/s": ("m/s", 1.0),
    "hours": ("hours", 1.0),
    "degrees": ("deg", 1.0),
}


class Table:
    """One TOML table, read key by key; `done` refuses what nobody asked for."""

    def __init__(self, values: object, where: str) -> None:
        if not isinstance(values, Mapping):
            raise trouble(where, f"a table is needed, this is {values!r}")
        self._values = dict(values)
        self.where = where

    def take(self, key: str, kind: type[T] | tuple[type, ...], default: Any = NEEDED) -> Any:
        """Return and strike off a value; a missing one is `default`, or refused without any."""
        if key not in self._values:
            if default is NEEDED:
                raise trouble(self.where, f"“{key}” is missing")
            return default
        value = self._values.pop(key)
        if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
            raise trouble(self.where, f"“{key}” cannot be {value!r}")
        return value

    def words(self, key: str, default: tuple[str, ...] | None = None) -> tuple[str, ...]:
        """Return one word or a list of words."""
        value = self.take(key, (str, list), NEEDED if default is None else default)
        found = (value,) if isinstance(value, str) else tuple(value)
        if not all(isinstance(word, str) for word in found):
            raise trouble(self.where, f"“{key}” must hold words")
        return found

    def table(self, key: str) -> Table | None:
        """Return a table inside this one, or None."""
        value = self.take(key, dict, None)
        return None if value is None else Table(value, f"{self.where}, {key}")

    def rest(self) -> dict[str, Any]:
        """Return and strike off everything not yet taken."""
        left, self._values = self._values, {}
        return left

    def done(self) -> None:
        """Refuse keys nobody knows."""
        if self._values:
            raise trouble(self.where, f"unknown: {', '.join(sorted(self._values))}")


def trouble(where: str, what: str) -> BadData:
    """Return the refusal of a rule, naming it."""
    return BadData(
        f"the rule cannot be used: {what}",
        where=where,
        remedy="Correct the rules file, or put it back as it came.",
    )


def amount(table: Table, family: str = "") -> tuple[str, Amount]:
    """Return the unit a figure is shown in, and the figure; `family` is the unit it must have."""
    printed = float(table.take("value", (int, float)))
    unit = str(table.take("unit", str))
    times = str(table.take("times", str, ""))
    if unit == "deg":
        shown, value = "%", math.tan(math.radians(printed))
    elif unit in PRINTED:
        shown, factor = PRINTED[unit]
        value = printed * factor
    else:
        raise trouble(table.where, f"no unit called “{unit}”")
    if family and shown != family:
        raise trouble(table.where, f"a figure in {family} is needed, not in {unit}")
    return shown, Amount(value, printed, unit, times)


def length_m(table: Table, key: str, default: float | None = None) -> float:
    """Return a length such as `{ value = 30, unit = "ft" }` in metres."""
    inner = table.table(key)
    if inner is None:
        if default is None:
            raise trouble(table.where, f"“{key}” is missing")
        return default
    _, found = amount(inner, "m")
    inner.done()
    return found.value
