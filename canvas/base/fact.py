"""A fact: one figure about an element or a site, with everything needed to trust it."""

from __future__ import annotations

from dataclasses import dataclass

from canvas.base.quantity import UnitSystem, show


@dataclass(frozen=True, slots=True)
class Fact:
    """One named figure or statement, shown alike on the desk, the sheet and the command line."""

    #: Stable name for other programs ("area_grid"); unique within its element.
    key: str
    #: Name for people.
    label: str
    #: SI number, or text for a statement, or None where it is unknown.
    value: float | str | None
    #: A key of `base.quantity.UNITS`; "" for text.
    unit: str = ""
    #: What the figure rests on: "on the grid", "on the ellipsoid", "along the ground" …
    basis: str = ""
    #: Standard uncertainty from the ground's accuracy, same unit; None when it does not apply.
    plus_minus: float | None = None
    #: What the reader must know to use it ("indicative: level on site").
    remark: str = ""
    #: Key in the sources table, "" for plain geometry.
    source: str = ""
    #: Decimals to show; None for the unit's own.
    decimals: int | None = None

    def shown(self, system: UnitSystem = UnitSystem.METRIC) -> str:
        """Return the figure as people read it, with its unit and its ±."""
        if isinstance(self.value, str):
            return self.value
        text = show(self.value, self.unit or "ratio", system, self.decimals)
        if self.plus_minus and self.value is not None:
            text += f" ± {show(self.plus_minus, self.unit, system, self.decimals)}"
        return text
