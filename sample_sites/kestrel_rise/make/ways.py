"""The drive with all that belongs to it, and the pads, terraces, heap and pit."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from shapely import LineString
from shapely.ops import substring

from canvas.site.elements.access import Track
from canvas.site.elements.crossings import Culvert, Ford, PassingBay, TurningHead, WaterBar
from canvas.site.elements.earthworks import BorrowPit, Heap, Platform, Terraces
from canvas.site.records import Element

from . import spots
from .local import across, box, line, place, table, traced

#: Stations and levels of the drive's design profile, with the lengths of its vertical curves [m].
DRIVE = (
    (0.0, 247.85, None),
    (22.0, 249.15, 8.0),
    (36.0, 249.40, 8.0),
    (57.0, 251.85, 8.0),
    (68.0, 251.60, 8.0),
    (106.0, 255.75, 12.0),
    (120.0, 256.90, 10.0),
    (134.0, 257.05, None),
)
#: Stations of the water bars [m].
BARS_M = (40.0, 82.0, 94.0, 107.0)


def elements(ground: Any) -> Iterator[Element]:
    """Yield ways and pads; `ground` is the survey's grid."""
    yield from drive()
    yield from crossings()
    yield from pads(ground)


def drive() -> Iterator[Element]:
    """Yield the drive to its turning head, shaped, and the track on to the shed."""
    yield Track(
        id="drive", name="Drive", geometry=spots.TRACK, width_m=3.5, forming="out",
        profile=table(*DRIVE), radius_m=16.0, crossfall=0.04, aggregate_m=0.15,
        strip_m=0.10, respread_m=0.10, cross_drains="water_bars", erodible=True, phase="p1",
    )  # fmt: skip
    yield TurningHead(
        id="turning_head", name="Turning head", geometry=place(36.0, -50.0), shape="circle",
        radius_m=8.2, phase="p1",
    )  # fmt: skip
    yield PassingBay(
        id="passing_bay", name="Passing bay", geometry=place(107.5, -56.3), length_m=20.0,
        width_m=2.6, taper_m=7.6, phase="p1",
    )  # fmt: skip
    yield Track(
        id="shed_track", name="Shed track", geometry=spots.SHED_TRACK, width_m=3.0,
        clear_width_m=4.0, fire_access=False, forming="in", ditch_m=0.25, radius_m=10.0,
        aggregate_m=0.12, phase="p2",
    )  # fmt: skip


def crossings() -> Iterator[Element]:
    """Yield what leads water across the drive: a dip by the gate, a culvert, bars on the climb."""
    yield Ford(
        id="gate_ford", name="Gate dip", geometry=substring(spots.TRACK, 22.5, 36.5), width_m=4.5,
        floor_m=4.0, floor="rock", phase="p1",
    )  # fmt: skip
    yield Culvert(
        id="gully_culvert", name="Gully culvert", geometry=line((89.6, -64.6), (94.0, -54.0)),
        bore_m=0.5, inlet_m=250.9, outlet_m=249.95, phase="p1",
    )  # fmt: skip
    bars = [(spots.TRACK, station, "p1") for station in BARS_M]
    for number, (way, station, phase) in enumerate([*bars, (spots.SHED_TRACK, 18.0, "p2")], 1):
        yield WaterBar(
            id=f"water_bar_{number}", name=f"Water bar {number}", geometry=slanting(way, station),
            phase=phase,
        )  # fmt: skip


def slanting(way: LineString, station_m: float) -> LineString:
    """Return a water bar's line: down across a climbing track, from its hill to its valley side."""
    hill = across(way, station_m + 2.6, 2.6).coords[0]
    valley = across(way, station_m - 4.0, 4.6).coords[-1]
    return LineString([hill, valley])


def pads(ground: Any) -> Iterator[Element]:
    """Yield the house platform, the garden's terraces, the topsoil heap and the clay pit."""
    yield Platform(
        id="house_platform", name="House platform", geometry=box(14.0, -36.0, 23.0, 15.0, -6.0),
        level="balanced", fall=0.015, fall_towards_deg=6.0, soil="earth", cut_batter=2.0,
        strip_m=0.15,        respread_m=0.10, surfacing_m=0.10, phase="p2",
    )  # fmt: skip
    top = traced(ground, (13.0, -15.5), 11.0, 11.0)
    yield Terraces(
        id="garden_terraces", name="Garden terraces", geometry=top.line, benches=3, bench_m=2.4,
        riser=1.0, outward_fall=-0.01, phase="p2",
    )  # fmt: skip
    yield Heap(
        id="topsoil_heap", name="Topsoil heap", geometry=box(20.0, -74.0, 14.0, 9.0, -10.0),
        what="topsoil", height_m=1.4, phase="p1",
    )  # fmt: skip
    yield BorrowPit(
        id="clay_pit", name="Clay pit", geometry=box(-62.0, 52.0, 20.0, 13.0, 6.0), depth_m=1.5,
        soil="clay", strip_m=0.2, respread_m=0.2, phase="p1",
    )  # fmt: skip
