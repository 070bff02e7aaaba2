"""Ways: tracks, public roads and paths."""

from __future__ import annotations

from canvas.site.elements.earthworks import BY_SOIL, SOIL_HELP, SOILS
from canvas.site.fields import choice, flag, number, rows
from canvas.site.records import LineElement, element
from canvas.site.tabular import Column

GROUP = "Access"

#: Where straight grades of a track's design profile meet.
PROFILE = (
    Column("station_m", "Station", "m", low=0, high=100_000,
           help="Along the centre line from its start, on the plan"),
    Column("level_m", "Level", "m", low=-500, high=9000,
           help="Finished, middle of the carriageway, above the heights datum"),
    Column("curve_m", "Curve length", "m", low=0, high=2000, may_be_empty=True,
           help="Of the vertical curve that eases the two grades; empty: none"),
)  # fmt: skip
FORMINGS = (
    ("none", "Along the ground as it is"),
    ("out", "Shaped, sheds to the valley side"),
    ("in", "Shaped, sheds to the hill side"),
    ("crown", "Shaped, sheds to both sides"),
    ("level", "Shaped, level across"),
)
CROSS_DRAINS = (("water_bars", "Water bars"), ("rolling_dips", "Rolling dips"))

SURFACES = (
    ("earth", "Earth"),
    ("gravel", "Gravel"),
    ("sealed", "Sealed"),
    ("grass", "Grass"),
)


@element("track", label="Track", plural="Tracks", geometry="LineString", group=GROUP)
class Track(LineElement):
    """A private way for vehicles, by its centre line."""

    width_m: float = number("Running width", "m", default=3.5, low=1.5, high=15)
    surface: str = choice("Surface", SURFACES, default="gravel")
    clear_width_m: float = number("Clear width", "m", default=4.5, low=1.5, high=20)
    clear_height_m: float = number("Clear height", "m", default=4.5, low=1.5, high=12)
    fire_access: bool = flag(
        "Fire vehicles use it", default=True, help="Checked against the fire-access rules"
    )
    forming: str = choice(
        "Earthwork", FORMINGS, default="none",
        help="Shaped: cut and filled to a design profile, which the section page edits",
    )  # fmt: skip
    profile: str = rows(
        "Design profile", PROFILE, default="",
        help="Where grades meet; empty: it follows the ground within the steepest design grade",
    )  # fmt: skip
    design_grade: float = number(
        "Steepest design grade", "%", default=0.12, low=0.01, high=0.4,
        help="What a profile that follows the ground keeps to",
    )  # fmt: skip
    curve_m: float = number(
        "Vertical curves", "m", default=10.0, low=0, high=300,
        help="Length of those of a profile that follows the ground",
    )  # fmt: skip
    radius_m: float = number(
        "Radius of bends", "m", default=15.0, low=0, high=500,
        help="Corners of the drawn line are rounded to it where the track is shaped",
    )  # fmt: skip
    crossfall: float = number(
        "Crossfall", "%", default=0.04, low=0, high=0.15, help="Of the carriageway"
    )
    soil: str = choice("Soil", SOILS, default="earth", help=SOIL_HELP)
    cut_batter: float | None = number(
        "Cut batter", "ratio", default=None, low=0, high=10, help=BY_SOIL
    )
    fill_batter: float | None = number(
        "Fill batter", "ratio", default=None, low=0.1, high=10, help=BY_SOIL
    )
    full_bench: bool = flag(
        "Full bench", default=False, help="The whole width rests on cut; nothing is filled below it"
    )
    ditch_m: float = number(
        "Ditch depth", "m", default=0.0, low=0, high=1.5,
        help="Along the hill side, flat-bottomed, sides one to one; 0 for none",
    )  # fmt: skip
    ditch_bottom_m: float = number("Ditch bottom", "m", default=0.3, low=0, high=3)
    aggregate_m: float = number(
        "Aggregate", "m", default=0.15, low=0, high=1, help="Compacted stone on the formation"
    )
    strip_m: float = number(
        "Topsoil stripped", "m", default=0.10, low=0, high=1.5, help="Wherever earth moves"
    )
    respread_m: float = number(
        "Topsoil put back", "m", default=0.10, low=0, high=1.5, help="On the batters"
    )
    cross_drains: str = choice("Cross-drains", CROSS_DRAINS, default="water_bars")
    erodible: bool = flag(
        "Soil washes out easily", default=True, help="Cross-drains then stand closer"
    )


@element(
    "public_road", label="Public road", plural="Public roads", geometry="LineString", group=GROUP
)
class PublicRoad(LineElement):
    """A road that is not ours, by its centre line."""

    status: str = "existing"
    owner: str = "public"
    width_m: float = number("Carriageway width", "m", default=6.0, low=2, high=40)
    surface: str = choice("Surface", SURFACES, default="sealed")


@element("path", label="Path", plural="Paths", geometry="LineString", group=GROUP)
class Path(LineElement):
    """A way for feet and barrows, by its centre line."""

    width_m: float = number("Width", "m", default=1.2, low=0.3, high=5)
    surface: str = choice("Surface", SURFACES, default="gravel")
