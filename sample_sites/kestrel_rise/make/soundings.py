"""What the family measured itself, and the rain it counts on: pits, heights, levels, covers."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Any

from canvas.site.elements.cover import GroundCover
from canvas.site.elements.heights import SpotHeight, SurveyLine
from canvas.site.elements.pits import TestPit
from canvas.site.levelling import LevelBook
from canvas.site.records import Element, Record
from canvas.site.storms import DesignStorm, RainRows

from . import plan, spots
from .frame import ORIGIN_E, ORIGIN_N
from .local import area, line, place, table

#: Depth [mm] by hours (rows) and return period [years]: invented for the sample.
YEARS = (2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
RAIN = (
    (0.5, (13.5, 18.5, 22.5, 27.0, 33.5, 39.0)),
    (1.0, (17.0, 23.0, 28.0, 33.5, 41.5, 48.5)),
    (2.0, (21.5, 29.0, 35.0, 41.5, 51.5, 60.0)),
    (6.0, (31.5, 41.5, 49.5, 58.5, 72.0, 83.5)),
    (12.0, (39.5, 52.0, 61.5, 72.5, 89.0, 103.0)),
    (24.0, (48.5, 63.5, 75.0, 88.0, 108.0, 125.0)),
)

#: Paddock, cover, soil group, condition, owner.
COVERS = (
    ("hill paddock", "pasture", "pit", "fair", "ours"),
    ("creek paddock", "pasture", "D", "fair", "ours"),
    ("north-west paddock", "pasture", "C", "poor", "neighbour"),
    ("homestead paddock", "pasture", "C", "fair", "neighbour"),
    ("bush", "woods", "C", "good", "neighbour"),
    ("south-west bush", "woods", "C", "fair", "neighbour"),
    ("south paddock", "pasture", "C", "poor", "neighbour"),
)
#: Spot heights: by the house from the level book, at the dam's ends by satellite.
SPOTS = (
    ("S 1", (27.0, -31.0)), ("S 2", (4.0, -27.0)), ("S 3", (-1.0, -48.0)), ("S 4", (36.0, -50.0)),
    ("S 5", (-64.0, 30.0)), ("S 6", (-98.0, 16.0)),
)  # fmt: skip


def elements(ground: Any) -> Iterator[Element]:
    """Yield pits, heights and covers; `ground` gives the levels."""
    yield from pits()
    yield from heights(ground)
    yield from covers()


def records(ground: Any) -> Iterator[Record]:
    """Yield the rain, the storm it is all designed for, and the level book."""
    depths = [
        (hours, years, depth)
        for hours, row in RAIN
        for years, depth in zip(YEARS, row, strict=True)
    ]
    yield RainRows(
        id="rain", name="Design rain (invented)", depths=table(*depths), mark="practice",
        source="Invented for the sample: no weather service gives these depths",
        dated="2026-06-01",
    )  # fmt: skip
    yield DesignStorm(
        years=20.0, hours=24.0, pattern="alternating", moisture="average", ponds="full",
        cover="pasture", group="C", condition="fair",
    )  # fmt: skip
    yield level_book(ground)


def pits() -> Iterator[TestPit]:
    """Yield four pits: good clay at the dam, dispersive clay lower down, loam on the hill."""
    yield TestPit(
        id="pit_dam", name="TP 1, dam", geometry=place(-76.0, 19.0), dug="2026-03-14", depth_m=2.4,
        horizons=table((0, 0.2, "clay loam", "dark brown", 2), (0.2, 0.7, "light clay", "brown", 3),
                       (0.7, 2.4, "medium clay", "yellow-brown", 4)),
        ribbon_mm=75.0, jar_sand_mm=34.0, jar_silt_mm=26.0, jar_clay_mm=40.0, crumb="1",
    )  # fmt: skip
    yield TestPit(
        id="pit_flat", name="TP 2, flat", geometry=place(141.0, 60.0), dug="2026-03-14",
        depth_m=1.8, water_depth_m=1.7,
        horizons=table((0, 0.15, "sandy loam", "grey", 5),
                       (0.15, 1.8, "medium clay", "mottled", 1)),
        ribbon_mm=70.0, jar_sand_mm=38.0, jar_silt_mm=24.0, jar_clay_mm=38.0, crumb="4",
    )  # fmt: skip
    yield TestPit(
        id="pit_hill", name="TP 3, swales", geometry=place(-52.0, -84.0), dug="2026-03-15",
        depth_m=1.6, rock_depth_m=1.5,
        horizons=table((0, 0.25, "loam", "dark brown", 8),
                       (0.25, 0.8, "clay loam", "red-brown", 15),
                       (0.8, 1.5, "sandy clay loam", "red-brown", 30)),
        percolation=table((0, 300), (15, 286), (30, 273), (45, 261), (60, 250)),
        ribbon_mm=35.0, jar_sand_mm=52.0, jar_silt_mm=28.0, jar_clay_mm=20.0, crumb="1",
    )  # fmt: skip
    yield TestPit(
        id="pit_house", name="TP 4, house", geometry=place(38.0, -13.0), dug="2026-03-15",
        depth_m=1.8,
        horizons=table((0, 0.2, "loam", "brown", 5), (0.2, 0.9, "clay loam", "brown", 8),
                       (0.9, 1.8, "light clay", "yellow-brown", 5)),
        percolation=table((0, 300), (20, 288), (40, 277), (60, 267)),
        ribbon_mm=45.0, jar_sand_mm=42.0, jar_silt_mm=30.0, jar_clay_mm=28.0, crumb="2",
    )  # fmt: skip


def at(ground: Any, u: float, v: float) -> float:
    """Return the survey's level at a place to the centimetre [m]."""
    return round(float(ground.sample(ORIGIN_E + u, ORIGIN_N + v)), 2)


def heights(ground: Any) -> Iterator[Element]:
    """Yield the spot heights of the level run and the edge of the house's shoulder."""
    for number, (name, (u, v)) in enumerate(SPOTS, start=1):
        yield SpotHeight(
            id=f"spot_{number}", name=name, geometry=place(u, v), height_m=at(ground, u, v)
        )
    edge = ((-2.0, -19.0), (8.0, -19.5), (18.0, -20.5), (27.0, -24.0))
    yield SurveyLine(
        id="shoulder_edge", name="Edge of the shoulder", geometry=line(*edge), line="break",
        levels=table(*((at(ground, u, v),) for u, v in edge)),
    )  # fmt: skip


#: Where the staff stood between benchmark and house, out and home again.
TURNS = (
    ("T 1", (116.0, -62.0)), ("T 2", (90.0, -66.0)), ("T 3", (68.0, -73.0)), ("S 4", (36.0, -50.0)),
    ("T 4", (67.0, -75.0)), ("T 5", (92.0, -68.0)), ("T 6", (117.0, -60.0)),
)  # fmt: skip
#: Seen from the first set-up by the house.
ASIDE = SPOTS[:3]
#: Found at the close [m].
MISCLOSURE_M = 0.004


def level_book(ground: Any) -> LevelBook:
    """Return the run from the benchmark to the house and home again, 4 mm out at its close."""
    start = round(at(ground, 143.0, -66.0) + 0.04, 2)
    stops = [("BM 1", start), *((name, at(ground, *spot)) for name, spot in TURNS)]
    stops.append(("BM 1", start + MISCLOSURE_M))
    rows: list[tuple[float | str | None, ...]] = []
    fore: float | None = None
    for number, ((name, low), (_, high)) in enumerate(itertools.pairwise(stops)):
        aside = [(each, at(ground, *spot)) for each, spot in ASIDE] if name == "S 4" else []
        eye = max(low, high, *(level for _, level in aside)) + 1.312 + 0.021 * number
        known = start if number == 0 else None
        rows.append((name, round(eye - low, 3), None, fore, 16.0, known))
        rows += [(each, None, round(eye - level, 3), None, None, None) for each, level in aside]
        fore = round(eye - high, 3)
    rows.append(("BM 1", None, None, fore, 16.0, start))
    return LevelBook(
        id="level_book", name="House run", levelled="2026-04-11", readings=table(*rows),
        remark="Dumpy level and a four-metre staff; BM 1 to the house and home.",
    )  # fmt: skip


def covers() -> Iterator[GroundCover]:
    """Yield what grows on the whole land that drains to ours, paddock by paddock."""
    for name, cover, group, condition, owner in COVERS:
        corners = plan.PADDOCKS[name][0]
        yield GroundCover(
            id="cover_" + name.replace(" ", "_").replace("-", "_"),
            name=name[:1].upper() + name[1:], geometry=area(*corners), cover=cover, group=group,
            condition=condition, owner=owner, status="existing",
        )  # fmt: skip
    yield GroundCover(
        id="cover_orchard", name="Orchard", geometry=spots.ORCHARD, cover="orchard", group="pit",
        condition="good", phase="p3",
    )  # fmt: skip
