"""Dams with the water behind them, and ponds dug into the ground."""

from __future__ import annotations

from canvas.site.elements.earthworks import BY_SOIL, SOIL_HELP, SOILS
from canvas.site.fields import choice, flag, number
from canvas.site.records import AreaElement, LineElement, element

GROUP = "Water"

CREST_BY = (
    ("height", "Height over the lowest ground on the line"),
    ("level", "Level"),
    ("volume", "Volume of water to hold"),
)
WATER_ON = (
    ("found", "Where the valley rises"),
    ("left", "Left of the line"),
    ("right", "Right of the line"),
)
SPILLWAYS = (
    ("start", "Beside the line's start"),
    ("end", "Beside the line's end"),
    ("none", "None"),
)
POND_LEVEL = (
    ("balanced", "Where what is dug makes the rim"),
    ("set", "Level"),
)


@element("dam", label="Dam and pond", plural="Dams and ponds", geometry="LineString", group=GROUP)
class Dam(LineElement):
    """An earth dam across a hollow, by the middle of its crest, and the water behind it."""

    crest_by: str = choice("Crest set by", CREST_BY, default="height")
    rise_m: float = number(
        "Height over the lowest ground", "m", default=3.0, low=0.3, high=30,
        help="From the lowest ground on the line up to the settled crest",
    )  # fmt: skip
    level_m: float | None = number(
        "Crest level", "m", default=None, low=-500, high=9000, help="Once settled"
    )
    hold_m3: float | None = number(
        "Water to hold", "m3", default=None, low=1, high=1e7,
        help="The lowest crest whose pond holds so much up to the spillway's sill",
    )  # fmt: skip
    sill_below_m: float = number(
        "Sill below the crest", "m", default=1.0, low=0.1, high=10,
        help="From the settled crest down to the spillway's sill: the freeboard",
    )  # fmt: skip
    width_m: float = number("Crest width", "m", default=3.0, low=0.5, high=30)
    upstream: float = number(
        "Wet face, run per rise", "ratio", default=3.0, low=0.5, high=10,
        help="3 is three out for one up",
    )  # fmt: skip
    downstream: float = number("Dry face, run per rise", "ratio", default=2.5, low=0.5, high=10)
    water_on: str = choice("Water lies", WATER_ON, default="found")
    soil: str = choice("Earth it is built of", SOILS, default="clay", help=SOIL_HELP)
    settlement: float = number(
        "Built higher for settlement", "%", default=0.05, low=0, high=0.3,
        help="Share of the height: 5 % when compacted by machine in thin lifts, else 10 %",
    )  # fmt: skip
    strip_m: float = number("Topsoil taken off under it", "m", default=0.15, low=0, high=2)
    trench_bottom_m: float = number("Cut-off trench, bottom", "m", default=2.4, low=0, high=10)
    trench_depth_m: float = number(
        "Cut-off trench, depth", "m", default=0.9, low=0, high=10,
        help="Into firm, tight ground; 0 for none",
    )  # fmt: skip
    trench_side: float = number("Cut-off trench, run per rise", "ratio", default=1.0, low=0, high=4)
    spillway: str = choice("Spillway", SPILLWAYS, default="end")
    spill_width_m: float = number("Spillway, width", "m", default=4.0, low=0.5, high=60)
    spill_level_m: float = number(
        "Spillway, level stretch", "m", default=5.0, low=0, high=60,
        help="Length of the sill along the flow, before the channel falls",
    )  # fmt: skip
    spill_grade: float = number(
        "Spillway, grade of the exit", "%", default=0.03, low=0.002, high=0.3
    )
    spill_side: float = number(
        "Spillway, sides, run per rise", "ratio", default=3.0, low=0.3, high=10
    )
    design_flow_m3s: float | None = number(
        "Design flood", "m3/s", default=None, low=0, high=1000,
        help="Peak the spillway must pass; empty to take it from the storms of the site",
    )  # fmt: skip
    breach_width_m: float = number(
        "Width looked at below it", "m", default=40.0, low=5, high=500,
        help="Strip along the way water would take from its dry toe: not a flood map",
    )  # fmt: skip


@element("dug_pond", label="Dug pond", plural="Dug ponds", geometry="Polygon", group=GROUP)
class DugPond(AreaElement):
    """A pond dug into the ground, by its water's edge when full."""

    level: str = choice("Full water set by", POND_LEVEL, default="balanced")
    water_m: float | None = number("Full water level", "m", default=None, low=-500, high=9000)
    depth_m: float = number("Depth", "m", default=2.5, low=0.3, high=15)
    side: float = number(
        "Sides, run per rise", "ratio", default=3.0, low=0.5, high=10,
        help="Below the water, and the rim's wet face above it",
    )  # fmt: skip
    freeboard_m: float = number("Rim above the full water", "m", default=0.3, low=0, high=3)
    rim_m: float = number("Rim, width of its top", "m", default=1.5, low=0, high=10)
    outer: float = number("Rim, outer slope, run per rise", "ratio", default=2.0, low=0.5, high=10)
    cut_batter: float | None = number(
        "Cut above it, run per rise", "ratio", default=None, low=0.2, high=10, help=BY_SOIL
    )
    soil: str = choice("Soil", SOILS, default="clay", help=SOIL_HELP)
    strip_m: float = number("Topsoil taken off first", "m", default=0.15, low=0, high=2)
    outlet: bool = flag(
        "Outlet through the rim", default=True,
        help="A level sill at the full water where the ground outside is lowest",
    )  # fmt: skip
    outlet_width_m: float = number("Outlet, width", "m", default=2.0, low=0.3, high=60)
    design_flow_m3s: float | None = number(
        "Design flood", "m3/s", default=None, low=0, high=1000,
        help="Peak the outlet must pass; empty to take it from the storms of the site",
    )  # fmt: skip
