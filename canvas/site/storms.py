"""Records of rain: the local table of depths, and the storm the site is designed for."""

from __future__ import annotations

from canvas.site.fields import choice, date, flag, number, rows, text
from canvas.site.records import Record, record
from canvas.site.tabular import Column

#: The one design storm of a site.
STORM_ID = "design_storm"

RAIN_COLUMNS = (
    Column("hours", "Duration", "hours", low=0.01, high=240),
    Column("years", "Return period", "years", low=1, high=10000),
    Column("depth_mm", "Depth", "mm", low=0.1, high=3000),
)

MARKS = (
    ("read", "Copied from the source named"),
    ("remembered", "From memory"),
    ("practice", "A guess, or from a place nearby"),
)


@record("rain_table", label="Rain table", plural="Rain tables")
class RainRows(Record):
    """Depths of heavy rain by duration and return period, from the local weather service."""

    name: str = text("Name", default="Design rain")
    depths: str = rows(
        "Depths of rain",
        RAIN_COLUMNS,
        help="A row for each duration and return period, as the weather service gives them",
    )
    source: str = text(
        "Source", default="", help="Who gives the figures, for which place, and where to read them"
    )
    dated: str = date("Read on", default="", help="Tables are revised: note the day")
    mark: str = choice("How well known", MARKS, default="read")
    #: The first that is in use is the site's.
    in_use: bool = flag("In use", default=True)


GROUPS = (
    ("A", "A · sand, sandy loam: soaks fast"),
    ("B", "B · loam, silt loam"),
    ("C", "C · sandy clay loam"),
    ("D", "D · clay, shallow rock or wet ground: soaks slowly"),
)
CONDITIONS = (("poor", "Poor"), ("fair", "Fair"), ("good", "Good"))
MOISTURES = (("dry", "Dry"), ("average", "Average"), ("wet", "Wet"))
PATTERNS = (
    ("uniform", "Even"),
    ("triangular", "Triangular"),
    ("IA", "Synthetic, type IA (mildest)"),
    ("I", "Synthetic, type I"),
    ("III", "Synthetic, type III"),
    ("II", "Synthetic, type II (most violent)"),
    ("alternating", "Alternating blocks from the rain table"),
)
PONDS = (("full", "Full"), ("half", "Half full"), ("empty", "Empty"))

#: Covers a person may choose, and their keys in the table of curve numbers.
COVERS = (
    ("pasture", "Pasture, grazed"),
    ("meadow", "Meadow, mown, not grazed"),
    ("brush", "Brush with weeds and grass"),
    ("woods", "Woods"),
    ("orchard", "Trees over grass: orchard, tree farm"),
    ("lawn", "Lawn and open space"),
    ("bare", "Bare or newly graded soil"),
    ("row_crop", "Row crop, straight rows"),
    ("row_crop_contour", "Row crop along the contour"),
    ("row_crop_terraced", "Row crop along the contour, terraced"),
    ("small_grain_contour", "Small grain along the contour"),
    ("farmstead", "Farmstead: buildings, lanes, yards"),
    ("paved", "Roof or paving"),
    ("gravel_road", "Gravel track, verges counted"),
    ("dirt_road", "Earth track, verges counted"),
    ("paved_road", "Paved road with open ditches, verges counted"),
    ("water", "Open water"),
    ("lot_half_acre", "House lots of 0.2 ha (25 % sealed)"),
    ("lot_acre", "House lots of 0.4 ha (20 % sealed)"),
    ("lot_two_acres", "House lots of 0.8 ha (12 % sealed)"),
    ("dry_herbs", "Dry country: herbs and grass, little brush"),
    ("dry_oak", "Dry country: oak and aspen brush"),
    ("dry_juniper", "Dry country: pinyon and juniper"),
    ("dry_sage", "Dry country: sagebrush with grass"),
    ("desert_shrub", "Dry country: desert shrub"),
)


@record("design_storm", label="Design storm", plural="Design storms")
class DesignStorm(Record):
    """The storm the site's water works are designed for, and what the land is like meanwhile."""

    id: str = STORM_ID
    years: float = number(
        "Return period",
        "years",
        default=20.0,
        low=1,
        high=10000,
        help="It is reached or passed once in so many years on average, in any year by chance",
    )
    hours: float = number("Duration", "hours", default=24.0, low=0.08, high=240)
    pattern: str = choice(
        "Pattern",
        PATTERNS,
        default="triangular",
        help="How the rain falls over the storm. Synthetic types were made for the United States",
    )
    depth_mm: float | None = number(
        "Depth",
        "mm",
        default=None,
        low=0.1,
        high=3000,
        help="Typed here it stands for the rain table; empty: from the rain table",
    )
    moisture: str = choice("Soil before the storm", MOISTURES, default="average")
    ponds: str = choice(
        "Ponds at the start",
        PONDS,
        default="full",
        help="Spillways are looked at with full ponds; swales always start empty",
    )
    cover: str = choice(
        "Cover where none is drawn", COVERS, default="pasture", help="Of land no cover is drawn on"
    )
    group: str = choice(
        "Soil group where none is drawn",
        GROUPS,
        default="C",
        help="By texture or by a measured rate of soaking; shallow rock or water makes it D",
    )
    condition: str = choice("Condition where none is drawn", CONDITIONS, default="fair")
