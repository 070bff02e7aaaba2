"""Plants: what grows there, trees, rows, hedges and beds."""

from __future__ import annotations

from canvas.site.fields import choice, flag, integer, number, text
from canvas.site.records import AreaElement, LineElement, PointElement, element

GROUP = "Plants"

COVERS = (
    ("grass", "Grass"),
    ("scrub", "Scrub"),
    ("woodland", "Woodland"),
    ("forest", "Forest"),
    ("reeds", "Reeds and wet ground"),
    ("crop", "Crop"),
    ("bare", "Bare or rock"),
)
SPECIES_HELP = "Botanical name"


@element(
    "vegetation",
    label="Existing vegetation",
    plural="Existing vegetation",
    geometry="Polygon",
    group=GROUP,
)
class Vegetation(AreaElement):
    """A patch of what grows there now."""

    status: str = "existing"
    cover: str = choice("Cover", COVERS, default="grass")
    height_m: float | None = number("Height", "m", default=None, low=0, high=100)
    crown_cover: float | None = number("Crown cover", "%", default=None, low=0, high=1)


@element("tree", label="Tree", plural="Trees", geometry="Point", group=GROUP)
class Tree(PointElement):
    """One tree: kept, to be removed, or proposed."""

    species: str = text("Species", default="", help=SPECIES_HELP)
    height_m: float | None = number("Height now", "m", default=None, low=0, high=130)
    crown_m: float | None = number("Crown diameter now", "m", default=None, low=0, high=60)
    stem_cm: float | None = number(
        "Stem diameter",
        "cm",
        default=None,
        low=0,
        high=1500,
        help="At 1.3 or 1.4 m above ground, as surveyed",
    )
    mature_height_m: float | None = number("Height at maturity", "m", default=None, low=0, high=130)
    mature_crown_m: float | None = number(
        "Crown diameter at maturity", "m", default=None, low=0, high=60
    )
    years_to_mature: float | None = number(
        "Years to maturity", "years", default=None, low=1, high=200
    )
    clear_stem_m: float | None = number(
        "Lowest branch above ground", "m", default=None, low=0, high=60, help="For fire rules"
    )


@element("tree_row", label="Tree row", plural="Tree rows", geometry="LineString", group=GROUP)
class TreeRow(LineElement):
    """Trees planted along a line at an even spacing."""

    species: str = text("Species", default="", help=SPECIES_HELP)
    spacing_m: float = number("Spacing", "m", default=5.0, low=0.2, high=60)
    mature_height_m: float = number("Height at maturity", "m", default=5.0, low=0.1, high=130)
    mature_crown_m: float = number("Crown diameter at maturity", "m", default=4.0, low=0.1, high=60)
    years_to_mature: float = number("Years to maturity", "years", default=15.0, low=1, high=200)


PURPOSES = (("hedge", "Hedge"), ("windbreak", "Windbreak"))


@element(
    "hedge", label="Hedge or windbreak", plural="Hedges and windbreaks",
    geometry="LineString", group=GROUP,
)  # fmt: skip
class Hedge(LineElement):
    """Shrubs or trees close together in one or more rows."""

    purpose: str = choice("Purpose", PURPOSES, default="hedge")
    species: str = text("Species", default="", help=SPECIES_HELP)
    rows: int = integer("Rows", default=1, low=1, high=12)
    row_gap_m: float = number("Between rows", "m", default=0.4, low=0.1, high=20)
    spacing_m: float = number("Between plants in a row", "m", default=0.5, low=0.1, high=20)
    staggered: bool = flag("Staggered", default=True)
    height_m: float = number("Height kept", "m", default=2.0, low=0.2, high=60)
    width_m: float = number("Width kept", "m", default=1.2, low=0.2, high=60)


BEDS = (
    ("vegetables", "Vegetables"),
    ("herbs", "Herbs"),
    ("flowers", "Flowers"),
    ("berries", "Berries"),
    ("nursery", "Nursery"),
    ("compost", "Compost"),
)


@element("garden_bed", label="Garden bed", plural="Garden beds", geometry="Polygon", group=GROUP)
class GardenBed(AreaElement):
    """A cultivated bed."""

    use: str = choice("Use", BEDS, default="vegetables")
    mulch_mm: float = number("Mulch", "mm", default=0.0, low=0, high=500)
    raised_m: float = number("Raised by", "m", default=0.0, low=0, high=3)
