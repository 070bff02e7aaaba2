"""What earth does when it is dug, carried and placed, and how steep it stands."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Any

from canvas.base import resources
from canvas.base.errors import InputError
from canvas.base.sources import Mark
from canvas.ground.crosssection import Batters


@dataclass(frozen=True, slots=True)
class Material:
    """One kind of earth. Volumes are ratios to the bank's: the ground before it is dug."""

    key: str
    label: str
    loose_per_bank: float
    compacted_per_bank: float
    #: Run per rise.
    cut_batter: float
    fill_batter: float
    #: As it lies loose or dry, for loads.
    density_kg_m3: float
    #: How well "volume", "batter" and "density" are known, and their source keys.
    marks: dict[str, Mark]
    sources: dict[str, str]

    @property
    def batters(self) -> Batters:
        """The slopes it stands at, cut and filled."""
        return Batters(self.cut_batter, self.fill_batter)

    def loose_m3(self, bank_m3: float) -> float:
        """Return what a volume dug from the bank measures on the lorry."""
        return bank_m3 * self.loose_per_bank

    def compacted_m3(self, bank_m3: float) -> float:
        """Return what a volume dug from the bank measures once placed and compacted."""
        return bank_m3 * self.compacted_per_bank

    def bank_for_m3(self, compacted_m3: float) -> float:
        """Return what must be dug to fill a volume, compacted."""
        return compacted_m3 / self.compacted_per_bank

    def loose_for_m3(self, compacted_m3: float) -> float:
        """Return what must be carried to fill a volume, compacted."""
        return self.loose_m3(self.bank_for_m3(compacted_m3))


def loads(loose_m3: float, load_m3: float) -> int:
    """Return how many full loads carry a loose volume."""
    if not load_m3 > 0:
        raise InputError(f"a load needs a volume, got {load_m3}")
    return math.ceil(loose_m3 / load_m3 - 1e-9)


@cache
def materials() -> dict[str, Material]:
    """Return the table of materials by key."""
    return {key: _material(key, row) for key, row in resources.toml("materials.toml").items()}


def _material(key: str, row: dict[str, Any]) -> Material:
    return Material(
        key,
        str(row["label"]),
        float(row["loose_per_bank"]),
        float(row["compacted_per_bank"]),
        float(row["cut_batter"]),
        float(row["fill_batter"]),
        float(row["density_kg_m3"]),
        {what: Mark(mark) for what, mark in row["marks"].items()},
        {what: str(source) for what, source in row.get("sources", {}).items()},
    )


def material(key: str) -> Material:
    """Return one material."""
    try:
        return materials()[key]
    except KeyError:
        raise InputError(f"no material {key!r}; there are {', '.join(materials())}") from None
