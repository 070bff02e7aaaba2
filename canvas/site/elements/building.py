"""Buildings, whoever owns them."""

from __future__ import annotations

from canvas.site.fields import choice, number
from canvas.site.records import AreaElement, LineElement, PointElement, element

GROUP = "Structures"

USES = (
    ("dwelling", "Dwelling"),
    ("shed", "Shed"),
    ("animal_house", "Animal house"),
    ("glasshouse", "Glasshouse"),
    ("garage", "Garage or carport"),
    ("other", "Other"),
)


@element("building", label="Building", plural="Buildings", geometry="Polygon", group=GROUP)
class Building(AreaElement):
    """A building by the outline of its outer walls."""

    use: str = choice("Use", USES, default="dwelling")
    wall_height_m: float = number("Wall height", "m", default=2.7, low=0.5, high=40)
    ridge_height_m: float = number(
        "Ridge height", "m", default=4.2, low=0.5, high=60, help="Above the floor"
    )
    floor_level_m: float | None = number(
        "Floor level", "m", default=None, low=-500, high=9000, help="Above the heights datum"
    )
    eaves_m: float = number("Eaves overhang", "m", default=0.45, low=0, high=5)


FENCES = (
    ("stock", "Stock fence"),
    ("netting", "Netting"),
    ("deer", "High game fence"),
    ("electric", "Electric"),
    ("post_rail", "Post and rail"),
    ("wall", "Wall"),
)


@element("fence", label="Fence", plural="Fences", geometry="LineString", group=GROUP)
class Fence(LineElement):
    """A fence or wall along a line."""

    fence: str = choice("Fence", FENCES, default="stock")
    height_m: float = number("Height", "m", default=1.2, low=0.2, high=6)
    post_spacing_m: float = number("Between posts", "m", default=4.0, low=0.5, high=30)


@element("gate", label="Gate", plural="Gates", geometry="Point", group=GROUP)
class Gate(PointElement):
    """A gate in a fence or across a track."""

    width_m: float = number("Clear width", "m", default=3.6, low=0.6, high=12)
    bearing_deg: float | None = number(
        "Bearing of the gate",
        "deg",
        default=None,
        low=0,
        high=360,
        help="Unknown: along the fence it stands in",
    )
