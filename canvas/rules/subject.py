"""What a rule looks at: an element with its parts and facts, and the ground beneath it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry.base import BaseGeometry

from canvas.planting import species
from canvas.site.records import Element, kind_of

Floats = NDArray[np.float64]
Value = float | str | bool | None

#: Parts that stand for a plant's stem: no crown is added to it.
STEM_PARTS = ("stem", "plants", "shape")

#: Kinds that are plants: thousands of them are told of together.
PLANT_KINDS = ("tree", "tree_row", "hedge")

#: Columns of the species library that stand in where an element leaves its field empty.
FROM_LIBRARY = {
    "mature_height_m": "height_m",
    "mature_crown_m": "crown_m",
    "years_to_mature": "years_to_mature",
}


class GroundSampler(Protocol):
    """The ground as rules ask for it; slopes are rise over run, NaN or None where unknown."""

    def slope_ratio_at(self, x_m: ArrayLike, y_m: ArrayLike) -> Floats:
        """Return the steepest slope at points, shapes as given."""

    def height_at(self, x_m: ArrayLike, y_m: ArrayLike) -> Floats:
        """Return the height at points [m], shapes as given."""

    def mean_slope(self, geometry: BaseGeometry) -> float | None:
        """Return the mean slope under a geometry."""

    def max_slope(self, geometry: BaseGeometry) -> float | None:
        """Return the steepest slope under a geometry."""


@dataclass(frozen=True, slots=True, eq=False)
class Subject:
    """One element with the named geometries and the facts the study worked out for it."""

    element: Element
    parts: Mapping[str, BaseGeometry]
    facts: Mapping[str, float | str | None]

    @property
    def id(self) -> str:
        """Identity of the element."""
        return self.element.id

    @property
    def kind(self) -> str:
        """Key of the element's kind."""
        return kind_of(self.element).key

    @property
    def ours(self) -> bool:
        """Whether the element is ours to change."""
        return self.element.owner == "ours"

    @property
    def name(self) -> str:
        """The element's own name in quotes, or what it is."""
        label, own = kind_of(self.element).label, self.element.name.strip()
        return label if own.casefold() in ("", label.casefold()) else f"{label} “{own}”"

    def part(self, names: tuple[str, ...]) -> BaseGeometry | None:
        """Return the first of these parts that is there and not empty."""
        for name in names:
            found = self.parts.get(name)
            if found is not None and not found.is_empty:
                return found
        return None

    def value(self, name: str) -> Value:
        """Return a field, else what the species library says, else a fact; None when unknown.

        `flammability` comes from the element's species. The library is asked before the facts
        because facts cost far more to work out.
        """
        if name == "flammability":
            known = species.find(self._species)
            return known.flammability if known else None
        found = getattr(self.element, name, None)
        if found is None or found == "":
            found = self._library_number(name) if name in FROM_LIBRARY else None
        if found is None:
            found = self.facts.get(name)
        return found if isinstance(found, (str, bool)) or found is None else float(found)

    def number(self, name: str) -> float | None:
        """Return a field or fact as a number; None when unknown."""
        found = self.value(name)
        return float(found) if isinstance(found, (int, float)) else None

    @property
    def _species(self) -> str:
        return str(getattr(self.element, "species", "") or "")

    def belongs_to(self, taxa: tuple[str | bool, ...]) -> bool:
        """Return whether the element's species is, or belongs to, one of these taxa."""
        known = species.find(self._species)
        botanical = (known.botanical if known else self._species).casefold() + " "
        return any(botanical.startswith(f"{taxon} ".casefold()) for taxon in taxa)

    def _library_number(self, name: str) -> float | None:
        known = species.find(self._species)
        if known is None:
            return None
        mature = float(getattr(known, FROM_LIBRARY[name]))
        now = getattr(self.element, name.removeprefix("mature_"), None)
        return max(mature, float(now)) if isinstance(now, (int, float)) else mature


def plants_of(subject: Subject, part: str) -> tuple[Floats, Floats]:
    """Return where a subject's plants stand, (n, 2), and the radius of `part` round each, (n,).

    `part` is a crown part, or one of `STEM_PARTS` for a radius of nought. The radius comes from
    the drawn crowns where each is a disc of its own, else from the crown's diameter as a fact
    (`crown_m`, `crown_mature_m`) or as the mature crown of the element.
    """
    places = subject.parts.get("plants") or subject.parts["shape"]
    xy = shapely.get_coordinates(places)
    crowns = None if part in STEM_PARTS else subject.parts.get(part)
    if crowns is None or crowns.is_empty:
        return xy, np.zeros(len(xy))
    pieces = shapely.get_parts(crowns)
    if len(pieces) == len(xy):
        west, _, east, _ = shapely.bounds(pieces).T
        each: Floats = (east - west) / 2
        centre = (east + west) / 2
        # Pieces of merged crowns can be as many as the plants by chance: then they don't match.
        if np.allclose(centre, xy[:, 0], atol=1e-3):
            return xy, each
    across = subject.number(f"{part}_m") or subject.number("mature_crown_m") or 0.0
    return xy, np.full(len(xy), across / 2)
