"""Water kept on the hill: swales that spill one into the next, drain, sill, checks, two ponds."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from canvas.site.elements.gauges import Gauge, GaugeLine
from canvas.site.elements.ponds import Dam, DugPond
from canvas.site.elements.swales import CheckDam, Drain, LevelSill, Swale
from canvas.site.records import Element

from .landscape import Landscape
from .local import across, line, place, traced

#: Name, spot the level line goes through, metres on and back, bottom, depth, sill's place, length.
SWALES = (
    ("Top swale", (-52.0, -97.0), 24.0, 22.0, "end", 9.5),
    ("Middle swale", (-54.0, -83.0), 28.0, 18.0, "start", 10.5),
    ("Lower swale", (-56.0, -71.0), 22.0, 22.0, "middle", 13.0),
)
#: Stations along the east gully [m] of the rock checks.
CHECKS = (36.0, 39.2, 42.4)


def elements(land: Landscape, ground: Any) -> Iterator[Element]:
    """Yield the water works and their gauges; `ground` is the survey's grid."""
    yield from swales(ground)
    yield from above_the_house(ground)
    gully = land.named("east gully").geometry
    for number, station in enumerate(CHECKS, start=1):
        yield CheckDam(
            id=f"check_{number}", name=f"Rock check {number}",
            geometry=across(gully, station, 6.4), made_of="rock", height_m=0.4,
            notch_m=4.0, notch_deep_m=0.3, phase="p3",
        )  # fmt: skip
    yield from ponds()
    yield from gauges()


def swales(ground: Any) -> Iterator[Element]:
    """Yield the swales, the highest first."""
    for name, spot, on_m, back_m, sill, sill_m in SWALES:
        found = traced(ground, spot, on_m, back_m)
        yield Swale(
            id=name.lower().replace(" ", "_"), name=name, geometry=found.line,
            lip_m=round(float(found.level_m.mean()), 3), bottom_m=0.8, depth_m=0.4, bank_m=0.35,
            sill=sill, sill_m=sill_m, texture="loam", soaks_mm_h=26.0, phase="p2",
        )  # fmt: skip


def above_the_house(ground: Any) -> Iterator[Element]:
    """Yield the drain that turns the hill's water past the house, and the sill it ends in."""
    found = traced(ground, (-6.0, -52.5), 16.0, 13.0, grade=0.008)
    yield Drain(
        id="house_drain", name="Drain above the house", geometry=found.line,
        lip_m=round(float(found.level_m[0]), 3), grade=0.008, phase="p2",
    )  # fmt: skip
    x, y = found.line.coords[-1]
    east, north = place(0.0, 0.0).coords[0]
    sill = traced(ground, (x - east - 5.5, y - north - 0.6), 4.5, 4.5)
    yield LevelSill(
        id="level_sill", name="Level sill", geometry=sill.line,
        lip_m=round(float(sill.level_m.mean()), 3), phase="p2",
    )  # fmt: skip


def ponds() -> Iterator[Element]:
    """Yield the dam in the hollow and the frog pond."""
    yield Dam(
        id="hollow_dam", name="Hollow dam", geometry=line((-98.0, 16.0), (-64.0, 30.0)),
        rise_m=2.9, sill_below_m=1.0, width_m=3.0, upstream=3.0, downstream=2.5, soil="clay",
        spillway="start", spill_width_m=4.0, spill_level_m=3.0, spill_grade=0.08, phase="p1",
    )  # fmt: skip
    yield DugPond(
        id="frog_pond", name="Frog pond", geometry=place(134.0, 62.0).buffer(4.2, quad_segs=6),
        depth_m=1.1, phase="p4",
    )  # fmt: skip


def gauges() -> Iterator[Element]:
    """Yield where a storm over the land is watched."""
    yield Gauge(id="gauge_pond", name="Pond staff", geometry=place(-77.0, 14.0))
    yield Gauge(id="gauge_creek", name="Creek staff", geometry=place(12.0, 91.0))
    yield GaugeLine(
        id="gauge_outlet", name="Creek at the road", geometry=line((148.0, 104.0), (149.0, 124.0))
    )
