"""Beside and across tracks: turning heads, passing bays, culverts, fords, water bars."""

from __future__ import annotations

from canvas.base import resources
from canvas.site.elements.access import GROUP
from canvas.site.elements.earthworks import BY_SOIL, SOIL_HELP, SOILS
from canvas.site.elements.swales import FLOW_HELP
from canvas.site.fields import choice, integer, number
from canvas.site.records import LineElement, PointElement, element

INLETS = tuple(
    (key, str(row["label"]))
    for key, row in resources.toml("hydraulics.toml")["culvert"].items()
    if isinstance(row, dict)
)
FLOORS = (("rock", "Rock"), ("gravel", "Gravel"), ("concrete", "Concrete"))


@element(
    "turning_head", label="Turning head", plural="Turning heads", geometry="Point", group=GROUP
)
class TurningHead(PointElement):
    """A place to turn at the end of a track, by a point near that end."""

    shape: str = choice(
        "Shape", (("circle", "Circle"), ("hammerhead", "Hammerhead")), default="circle"
    )
    radius_m: float = number("Radius of the circle", "m", default=12.2, low=3, high=40)
    arm_m: float = number(
        "Hammerhead, tip to tip", "m", default=18.3, low=6, high=60,
        help="Of the bar across the track's end",
    )  # fmt: skip
    width_m: float = number("Hammerhead, width", "m", default=4.0, low=2, high=15)
    aggregate_m: float = number(
        "Aggregate", "m", default=0.15, low=0, high=1, help="Compacted stone on the formation"
    )
    soil: str = choice("Soil", SOILS, default="earth", help=SOIL_HELP)
    cut_batter: float | None = number(
        "Cut batter", "ratio", default=None, low=0, high=10, help=BY_SOIL
    )
    fill_batter: float | None = number(
        "Fill batter", "ratio", default=None, low=0.1, high=10, help=BY_SOIL
    )
    strip_m: float = number(
        "Topsoil stripped", "m", default=0.10, low=0, high=1.5, help="Wherever earth moves"
    )
    respread_m: float = number(
        "Topsoil put back", "m", default=0.10, low=0, high=1.5, help="On the batters"
    )


@element("passing_bay", label="Passing bay", plural="Passing bays", geometry="Point", group=GROUP)
class PassingBay(PointElement):
    """A widening beside a track where one vehicle waits for another, by a point on its side."""

    length_m: float = number("Length", "m", default=9.1, low=3, high=60, help="At full width")
    width_m: float = number(
        "Extra width", "m", default=3.7, low=1, high=10, help="Beside the carriageway"
    )
    taper_m: float = number("Tapers", "m", default=7.6, low=0, high=30, help="Length of either")


@element("culvert", label="Culvert", plural="Culverts", geometry="LineString", group=GROUP)
class Culvert(LineElement):
    """A pipe that leads water under a track, drawn from its inlet to its outlet."""

    bore_m: float = number("Bore", "m", default=0.45, low=0.1, high=4)
    barrels: int = integer("Pipes side by side", default=1, low=1, high=12)
    inlet: str = choice("Pipe and inlet", INLETS, default="corrugated_projecting")
    inlet_m: float | None = number(
        "Inlet invert", "m", default=None, low=-500, high=9000,
        help="Inside bottom, above the heights datum; empty: the ground at the line's start",
    )  # fmt: skip
    outlet_m: float | None = number(
        "Outlet invert", "m", default=None, low=-500, high=9000,
        help="Inside bottom, above the heights datum; empty: the ground at the line's end",
    )  # fmt: skip
    apron_m: float | None = number(
        "Rock apron", "m", default=None, low=0, high=50,
        help="Length of the rock below the outlet; empty: four bores, common practice",
    )  # fmt: skip
    design_flow_m3s: float | None = number(
        "Design flow", "m3/s", default=None, low=0, high=500, help=FLOW_HELP
    )


@element("ford", label="Ford", plural="Fords", geometry="LineString", group=GROUP)
class Ford(LineElement):
    """A paved dip where a track crosses water, drawn along the track from bank to bank."""

    width_m: float = number("Width", "m", default=4.0, low=2, high=15, help="Along the water")
    bed_m: float | None = number(
        "Floor level", "m", default=None, low=-500, high=9000,
        help="Above the heights datum; empty: the lowest ground along the line",
    )  # fmt: skip
    floor_m: float = number(
        "Level floor", "m", default=4.0, low=0.5, high=60, help="Length along the track"
    )
    floor: str = choice("Floor of", FLOORS, default="rock")
    floor_thick_m: float = number("Floor thickness", "m", default=0.3, low=0.05, high=1.5)
    soil: str = choice("Soil", SOILS, default="earth", help=SOIL_HELP)
    cut_batter: float | None = number(
        "Cut batter", "ratio", default=None, low=0, high=10, help=BY_SOIL
    )
    fill_batter: float | None = number(
        "Fill batter", "ratio", default=None, low=0.1, high=10, help=BY_SOIL
    )
    design_flow_m3s: float | None = number(
        "Design flow", "m3/s", default=None, low=0, high=500, help=FLOW_HELP
    )


@element("water_bar", label="Water bar", plural="Water bars", geometry="LineString", group=GROUP)
class WaterBar(LineElement):
    """A low bank and trough that turns water off a track, drawn across it to its outlet."""

    bar_m: float = number(
        "Bank above the track", "m", default=0.31, low=0.05, high=1.0, help="Once trodden down"
    )
    trough_m: float = number(
        "Trough below the track", "m", default=0.15, low=0.02, high=1.0, help="On the uphill side"
    )
    side: float = number(
        "Side slopes", "ratio", default=3.0, low=1, high=10, help="Run for each metre of rise"
    )
    fall: float = number(
        "Least fall along it", "%", default=0.03, low=0.005, high=0.2, help="Towards its outlet"
    )
    soil: str = choice("Soil", SOILS, default="earth", help=SOIL_HELP)
    design_flow_m3s: float | None = number(
        "Design flow", "m3/s", default=None, low=0, high=500, help=FLOW_HELP
    )
