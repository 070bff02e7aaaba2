"""A breach: one place where one rule isn't met, before it is worded."""

from __future__ import annotations

from dataclasses import dataclass

from shapely.geometry.base import BaseGeometry


@dataclass(frozen=True, slots=True, eq=False)
class Breach:
    """What is short, by how much, between whom and where."""

    #: Side a first, then b and c where they are known.
    elements: tuple[str, ...]
    measured: float | None
    required: float | None
    unit: str
    where: BaseGeometry
    #: How many places (pairs of plants, gaps, crossings) it stands for.
    count: int = 1
    #: What the reader must know besides ("slope unknown").
    note: str = ""

    @property
    def shortfall(self) -> float:
        """How far off the mark, the larger the worse."""
        if self.measured is None or self.required is None:
            return 0.0
        return abs(self.required - self.measured)
