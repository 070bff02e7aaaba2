"""Test pits as the soil they found, and the one whose word counts at a place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from shapely.geometry.base import BaseGeometry

from canvas.base.errors import UserError
from canvas.site.elements.pits import HORIZONS, READINGS, TestPit
from canvas.site.tabular import parse
from canvas.water.soils import Layer, Pit, Soaked, percolation, texture_named

if TYPE_CHECKING:
    from canvas.study.scene import Scene

#: A pit speaks for places no further off than this [m]; common practice, no source.
REACH_M = 100.0


@dataclass(frozen=True, slots=True, eq=False)
class NearPit:
    """A pit, what it found, and how far off it is."""

    item: TestPit
    pit: Pit
    away_m: float

    @property
    def basis(self) -> str:
        """Return whose word a figure is."""
        name = self.item.name or "test pit"
        return name if self.away_m < 0.5 else f"{name}, {self.away_m:.0f} m off"


def pit_of(item: TestPit) -> Pit:
    """Return what a test pit found; raises `BadData` for readings that make no sense."""
    rows = parse(item.horizons, HORIZONS)
    layers = tuple(
        Layer(
            float(row[0] or 0.0),
            float(row[1] or 0.0),
            texture_named(str(row[2])),
            None if row[4] is None else float(row[4]) / 100,
        )
        for row in rows
    )
    jar = (item.jar_sand_mm, item.jar_silt_mm, item.jar_clay_mm)
    given = [each or 0.0 for each in jar]
    shares = (given[0], given[1], given[2]) if None not in jar and sum(given) > 0 else None
    return Pit(
        item.depth_m,
        layers,
        item.rock_depth_m,
        item.water_depth_m,
        shares,
        item.ribbon_mm,
        soaked_of(item),
        int(item.crumb) if item.crumb else None,
    )


def soaked_of(item: TestPit) -> Soaked | None:
    """Return the percolation test reduced; None when none was made."""
    rows = parse(item.percolation, READINGS)
    if not rows:
        return None
    return percolation([(float(a or 0.0), float(b or 0.0)) for a, b in rows], item.hole_mm)


def nearest_pit(place: BaseGeometry, scene: Scene, within_m: float = REACH_M) -> NearPit | None:
    """Return the nearest pit no further off than `within_m`; pits at one distance, as drawn.

    For facts that declare `reads=("test_pit",)`. A pit whose readings make no sense is passed
    over: its own card says so.
    """
    near = [
        (place.distance(item.geometry), nth, item)
        for nth, item in enumerate(scene.of_kind("test_pit"))
        if isinstance(item, TestPit)
    ]
    for away, _, item in sorted(near, key=lambda row: row[:2]):
        if away > within_m:
            return None
        try:
            return NearPit(item, pit_of(item), away)
        except UserError:
            continue
    return None
