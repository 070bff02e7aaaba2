"""Water and waste water: streams, ponds, wells, tanks and septic systems."""

from __future__ import annotations

from canvas.site.fields import choice, flag, integer, number, text
from canvas.site.records import AreaElement, LineElement, PointElement, element

GROUP = "Water"

FLOWS = (
    ("permanent", "All year"),
    ("seasonal", "In the wet season"),
    ("storm", "After storms only"),
)


@element(
    "watercourse", label="Watercourse", plural="Watercourses", geometry="LineString", group=GROUP
)
class Watercourse(LineElement):
    """A stream or gully by its middle line, drawn downstream."""

    status: str = "existing"
    flow: str = choice("Flows", FLOWS, default="seasonal")
    width_m: float = number("Bank to bank", "m", default=1.5, low=0.1, high=200)


BODIES = (
    ("pond", "Pond"),
    ("dam", "Water behind a dam"),
    ("lake", "Lake"),
    ("wetland", "Wetland"),
)


@element("water_body", label="Water body", plural="Water bodies", geometry="Polygon", group=GROUP)
class WaterBody(AreaElement):
    """Standing water by its edge when full."""

    status: str = "existing"
    body: str = choice("Kind of water", BODIES, default="pond")
    depth_m: float | None = number("Deepest", "m", default=None, low=0, high=100)
    drinking: bool = flag("Drinking water is drawn from it", default=False)


WELL_USES = (("drinking", "Drinking"), ("irrigation", "Irrigation"), ("stock", "Stock"))


@element("well", label="Well", plural="Wells", geometry="Point", group=GROUP)
class Well(PointElement):
    """A dug or drilled well."""

    use: str = choice("Use", WELL_USES, default="drinking")
    depth_m: float | None = number("Depth", "m", default=None, low=0, high=1000)
    water_level_m: float | None = number(
        "Standing water below ground", "m", default=None, low=0, high=1000
    )
    yield_l_s: float | None = number("Yield", "L/s", default=None, low=0, high=200)


@element("tank", label="Tank", plural="Tanks", geometry="Point", group=GROUP)
class Tank(PointElement):
    """A round water tank by its centre."""

    volume_l: float = number("Volume", "L", default=22500.0, low=50, high=5e6)
    diameter_m: float = number("Diameter", "m", default=3.5, low=0.3, high=50)
    height_m: float = number("Height", "m", default=2.4, low=0.3, high=15)
    fire_reserve_l: float = number("Kept for fire", "L", default=0.0, low=0, high=5e6)
    material: str = text("Material", default="")


@element("septic_tank", label="Septic tank", plural="Septic tanks", geometry="Point", group=GROUP)
class SepticTank(PointElement):
    """The settling tank of a septic system."""

    volume_l: float = number("Volume", "L", default=3500.0, low=200, high=1e5)
    people: int = integer("People served", unit="people", default=5, low=1, high=200)


FIELDS = (("trench", "Trenches"), ("bed", "Bed"), ("mound", "Mound"), ("drip", "Drip"))


@element(
    "septic_field", label="Septic field", plural="Septic fields", geometry="Polygon", group=GROUP
)
class SepticField(AreaElement):
    """Where treated waste water soaks away, by its outline."""

    layout: str = choice("Layout", FIELDS, default="trench")
    reserve: bool = flag(
        "Reserve field", default=False, help="Kept free for when the first one tires"
    )
