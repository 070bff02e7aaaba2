"""The world a tool lives in: plan, study, selection, snaps. Never files, never Qt."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike
from shapely.geometry.base import BaseGeometry

from canvas.base.grid import Floats
from canvas.base.quantity import UnitSystem, area_unit, show
from canvas.site.plan import Plan
from canvas.site.records import Element
from canvas.tools.index import MapIndex, everything
from canvas.tools.snap import SNAPS, Snapper
from canvas.tools.typed import Entry, read_entry, read_length

if TYPE_CHECKING:
    from canvas.study.study import Study

Heights = Callable[[Floats, Floats], Floats]
#: Ids and how they change the selection: "replace", "add", "toggle".
Choose = Callable[[frozenset[str], str], None]


@dataclass
class ToolWorld:
    """Kept up to date by whoever shows the map; tools read it afresh at every step."""

    plan: Plan
    study: Study | None = None
    selection: frozenset[str] = frozenset()
    #: Kinds of snap in force, keys of `snap.SNAPS`.
    snaps: frozenset[str] = frozenset(SNAPS)
    #: Level lines that can be caught.
    contours: tuple[BaseGeometry, ...] = ()
    #: Heights of the existing ground at eastings and northings [m]; NaN where unknown.
    heights: Heights | None = None
    shown: Callable[[Element], bool] = everything
    choose: Choose = lambda ids, how: None
    #: Whether "12,5" means twelve and a half.
    decimal_comma: bool = False
    #: Field values new elements of a kind start with.
    new_values: dict[str, Mapping[str, object]] = field(default_factory=dict)
    _index: MapIndex | None = field(default=None, repr=False)
    _snapper: Snapper | None = field(default=None, repr=False)

    @property
    def units(self) -> UnitSystem:
        """How numbers are shown and typed."""
        return self.plan.site.unit_system()

    @property
    def index(self) -> MapIndex:
        """Search trees over the plan as it is now."""
        if self._index is None or self._index.plan is not self.plan:
            self._index = MapIndex(self.plan, self.shown)
        return self._index

    @property
    def snapper(self) -> Snapper:
        """Finder of snaps over the plan as it is now."""
        made = self._snapper
        if made is None or made.index is not self.index or made.contours is not self.contours:
            self._snapper = made = Snapper(self.index, self.contours)
        return made

    def refresh(self) -> None:
        """Forget the search trees: what is shown has changed."""
        self._index = None

    def selected(self) -> list[Element]:
        """Return the selected elements, in the plan's order."""
        found = (self.plan.get(ident) for ident in self.selection)
        rank = {item.id: k for k, item in enumerate(self.plan)}
        chosen = [item for item in found if isinstance(item, Element)]
        return sorted(chosen, key=lambda item: rank[item.id])

    def height_at(self, x_m: ArrayLike, y_m: ArrayLike) -> Floats:
        """Return heights of the existing ground, NaN where there is none; shape as given."""
        x, y = np.asarray(x_m, np.float64), np.asarray(y_m, np.float64)
        return self.heights(x, y) if self.heights is not None else np.full(x.shape, np.nan)

    def read(self, words: str) -> Entry:
        """Read a typed value the way this site writes numbers."""
        return read_entry(words, self.units, decimal_comma=self.decimal_comma)

    def read_length(self, words: str) -> float:
        """Read a typed length [m] the way this site writes numbers."""
        return read_length(words, self.units, decimal_comma=self.decimal_comma)

    def length(self, value_m: float) -> str:
        """Return a length as people read it."""
        return show(value_m, "m", self.units)

    def area(self, value_m2: float) -> str:
        """Return an area as people read it."""
        return show(value_m2, area_unit(value_m2), self.units)
