"""Water led or held along the hill: swales, diversion drains, level sills, checks in gullies."""

from __future__ import annotations

from canvas.base import resources
from canvas.site.elements.earthworks import BY_SOIL, SOIL_HELP, SOILS
from canvas.site.elements.water import GROUP
from canvas.site.fields import choice, flag, number
from canvas.site.records import LineElement, element

_HYDRAULICS = resources.toml("hydraulics.toml")
TEXTURES = tuple((key, str(row["label"])) for key, row in _HYDRAULICS["soils"]["texture"].items())
LININGS = tuple(
    (key, str(row["label"]))
    for key, row in _HYDRAULICS["velocity"].items()
    if isinstance(row, dict)
)
SHAPES = (("trapezoid", "Flat bottom, straight sides"), ("parabola", "Rounded"))
BELOW = (
    ("rule", "Not said"),
    ("grass", "Dense grass"),
    ("forest", "Woodland litter"),
)
LIP_HELP = "At the line’s start, above the heights datum; empty: the ground’s mean along the line"
GRADE_HELP = "In the line’s direction; below 0 it falls to its start; 0 is level"
RUN = "Run for each metre of rise"
FLOW_HELP = "What it must pass; empty: the peak of the design storm"


@element("swale", label="Swale", plural="Swales", geometry="LineString", group=GROUP)
class Swale(LineElement):
    """A channel on the level with a bank below it, that holds water until it soaks in."""

    lip_m: float | None = number("Lip level", "m", default=None, low=-500, high=9000, help=LIP_HELP)
    grade: float = number("Fall along it", "%", default=0.0, low=-0.05, high=0.05, help=GRADE_HELP)
    shape: str = choice("Channel", SHAPES, default="trapezoid")
    bottom_m: float = number(
        "Bottom width", "m", default=1.0, low=0, high=20, help="Of a flat bottom"
    )
    side: float = number(
        "Side slope", "ratio", default=2.0, low=0, high=10, help=f"Of straight sides: {RUN.lower()}"
    )
    top_m: float = number(
        "Width at the lip", "m", default=3.0, low=0.2, high=30, help="Of a rounded channel"
    )
    depth_m: float = number("Depth below the lip", "m", default=0.5, low=0.05, high=3)
    berm_m: float = number(
        "Berm", "m", default=0.0, low=0, high=10, help="Level ground between channel and bank"
    )
    bank_m: float = number(
        "Bank above the lip", "m", default=0.3, low=0.05, high=2, help="Once settled"
    )
    bank_top_m: float = number("Bank’s top width", "m", default=0.5, low=0.2, high=10)
    inner: float = number("Bank’s wet face", "ratio", default=2.0, low=0.5, high=10, help=RUN)
    outer: float = number("Bank’s dry face", "ratio", default=2.0, low=0.5, high=10, help=RUN)
    settlement: float = number(
        "Settlement", "%", default=0.10, low=0, high=0.5, help="The bank is built higher by this"
    )
    sill: str = choice(
        "Sill",
        (
            ("start", "At the line’s start"),
            ("end", "At the line’s end"),
            ("middle", "In the middle"),
            ("station", "At a distance along it"),
            ("none", "None: over the bank"),
        ),
        default="end",
        help="A lowered, level stretch of the bank where it overflows",
    )
    sill_at_m: float | None = number(
        "Sill’s middle", "m", default=None, low=0, high=5000, help="From the line’s start"
    )
    sill_m: float = number("Sill length", "m", default=6.0, low=0.5, high=200)
    sill_above_m: float = number(
        "Sill above the lip", "m", default=0.15, low=0, high=2, help="Lower than the bank"
    )
    below: str = choice(
        "Below the sill", BELOW, default="grass", help="Decides how long a sill a flow needs"
    )
    block_start: bool = flag(
        "End block at the start", default=True, help="The bank is carried round and on uphill"
    )
    block_end: bool = flag("End block at the end", default=True)
    soil: str = choice("Soil", SOILS, default="earth", help=SOIL_HELP)
    cut_batter: float | None = number(
        "Uphill cut",
        "ratio",
        default=None,
        low=0,
        high=10,
        help=BY_SOIL,
    )
    texture: str = choice(
        "Soil texture", TEXTURES, default="loam", help="Decides how fast water soaks in"
    )
    soaks_mm_h: float | None = number(
        "Measured soaking rate", "mm/h", default=None, low=0, high=2000,
        help="From a hole or ring test; half of it is used",
    )  # fmt: skip
    strip_m: float = number(
        "Topsoil stripped", "m", default=0.10, low=0, high=1.5, help="Wherever earth moves"
    )
    design_flow_m3s: float | None = number(
        "Design flow", "m3/s", default=None, low=0, high=500, help=FLOW_HELP
    )


@element("drain", label="Diversion drain", plural="Diversion drains", geometry="LineString",
         group=GROUP)  # fmt: skip
class Drain(LineElement):
    """A graded channel with a bank below it, that leads water across the hill to a safe outlet."""

    lip_m: float | None = number("Lip level", "m", default=None, low=-500, high=9000, help=LIP_HELP)
    grade: float = number("Fall along it", "%", default=0.005, low=-0.2, high=0.2, help=GRADE_HELP)
    shape: str = choice("Channel", SHAPES, default="trapezoid")
    bottom_m: float = number(
        "Bottom width", "m", default=0.5, low=0, high=20, help="Of a flat bottom"
    )
    side: float = number(
        "Side slope", "ratio", default=2.0, low=0, high=10, help=f"Of straight sides: {RUN.lower()}"
    )
    top_m: float = number(
        "Width at the lip", "m", default=2.0, low=0.2, high=30, help="Of a rounded channel"
    )
    depth_m: float = number("Depth below the lip", "m", default=0.3, low=0.05, high=3)
    berm_m: float = number(
        "Berm", "m", default=0.0, low=0, high=10, help="Level ground between channel and bank"
    )
    bank_m: float = number(
        "Bank above the lip", "m", default=0.3, low=0.05, high=2, help="Once settled"
    )
    bank_top_m: float = number("Bank’s top width", "m", default=0.5, low=0.2, high=10)
    inner: float = number("Bank’s wet face", "ratio", default=2.0, low=0.5, high=10, help=RUN)
    outer: float = number("Bank’s dry face", "ratio", default=2.0, low=0.5, high=10, help=RUN)
    settlement: float = number(
        "Settlement", "%", default=0.10, low=0, high=0.5, help="The bank is built higher by this"
    )
    freeboard_m: float = number(
        "Freeboard", "m", default=0.15, low=0, high=1, help="Of the bank over the flow it carries"
    )
    lining: str = choice("Lining", LININGS, default="grass_mixture")
    washes: bool = flag(
        "The soil washes easily", default=False, help="Sand and silt do; firm clay loam does not"
    )
    roughness: float | None = number(
        "Manning’s n", "ratio", default=None, low=0.01, high=0.4, help="Empty: by the lining"
    )
    soil: str = choice("Soil", SOILS, default="earth", help=SOIL_HELP)
    cut_batter: float | None = number(
        "Uphill cut",
        "ratio",
        default=None,
        low=0,
        high=10,
        help=BY_SOIL,
    )
    strip_m: float = number(
        "Topsoil stripped", "m", default=0.10, low=0, high=1.5, help="Wherever earth moves"
    )
    design_flow_m3s: float | None = number(
        "Design flow", "m3/s", default=None, low=0, high=500, help=FLOW_HELP
    )


@element("level_sill", label="Level sill", plural="Level sills", geometry="LineString",
         group=GROUP)  # fmt: skip
class LevelSill(LineElement):
    """A level edge that spreads water from a drain or pipe over the grass below it."""

    lip_m: float | None = number(
        "Sill level", "m", default=None, low=-500, high=9000,
        help="Above the heights datum; empty: the ground’s mean along the line",
    )  # fmt: skip
    edge: str = choice(
        "Edge",
        (
            ("grass", "Undisturbed turf"),
            ("timber", "Timber"),
            ("concrete", "Concrete"),
            ("stone", "Stone"),
        ),
        default="grass",
    )
    bottom_m: float = number("Trench bottom width", "m", default=0.6, low=0, high=10)
    side: float = number("Trench side slope", "ratio", default=2.0, low=0, high=10, help=RUN)
    depth_m: float = number("Trench depth", "m", default=0.3, low=0.05, high=2)
    head_m: float = number(
        "Room for water over it", "m", default=0.15, low=0.02, high=1,
        help="Height of its ends above the sill",
    )  # fmt: skip
    below: str = choice(
        "Below the sill", BELOW, default="grass", help="Decides how long a sill a flow needs"
    )
    soil: str = choice("Soil", SOILS, default="earth", help=SOIL_HELP)
    strip_m: float = number(
        "Topsoil stripped", "m", default=0.10, low=0, high=1.5, help="Wherever earth moves"
    )
    design_flow_m3s: float | None = number(
        "Design flow", "m3/s", default=None, low=0, high=500, help=FLOW_HELP
    )


@element("check_dam", label="Check in a gully", plural="Checks in gullies", geometry="LineString",
         group=GROUP)  # fmt: skip
class CheckDam(LineElement):
    """A low porous wall across a gully, from bank to bank, that slows water and holds soil."""

    made_of: str = choice("Made of", (("rock", "Loose rock"), ("log", "Logs")), default="rock")
    height_m: float = number(
        "Height of the notch", "m", default=0.6, low=0.1, high=1.5, help="Above the gully's bed"
    )
    notch_m: float = number(
        "Notch width", "m", default=1.2, low=0.2, high=30, help="Where the water goes over"
    )
    notch_deep_m: float = number(
        "Notch depth", "m", default=0.3, low=0.05, high=1.5,
        help="The ends stand higher than the notch by this",
    )  # fmt: skip
    crest_m: float = number("Thickness at the top", "m", default=0.6, low=0.15, high=3)
    upstream: float = number("Upstream face", "ratio", default=1.5, low=0.05, high=6, help=RUN)
    downstream: float = number("Downstream face", "ratio", default=2.0, low=0.05, high=8, help=RUN)
    key_m: float = number(
        "Keyed in", "m", default=0.3, low=0, high=1.5, help="Dug into bed and banks along its line"
    )
    apron_m: float = number(
        "Apron length", "m", default=1.2, low=0, high=10, help="Rock laid below it against scour"
    )
    design_flow_m3s: float | None = number(
        "Design flow", "m3/s", default=None, low=0, high=500, help=FLOW_HELP
    )
