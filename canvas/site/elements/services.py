"""Lines that can kill or be cut: overhead and buried. And the belts kept bare against fire."""

from __future__ import annotations

from canvas.site.fields import choice, number
from canvas.site.records import LineElement, element

GROUP = "Services"


@element(
    "overhead_line",
    label="Overhead line",
    plural="Overhead lines",
    geometry="LineString",
    group=GROUP,
)
class OverheadLine(LineElement):
    """A power or telephone line on poles; a pole stands at every point of the line."""

    status: str = "existing"
    owner: str = "public"
    voltage_kv: float = number("Voltage", "kV", default=22.0, low=0, high=1200)
    spread_m: float = number("Outer conductors apart", "m", default=2.0, low=0, high=60)
    height_m: float = number("Lowest wire above ground", "m", default=6.5, low=2, high=80)


SERVICES = (
    ("power", "Power cable"),
    ("water", "Water pipe"),
    ("gas", "Gas pipe"),
    ("telecom", "Telephone or data"),
    ("sewer", "Sewer"),
    ("unknown", "Unknown"),
)


@element(
    "buried_service",
    label="Buried service",
    plural="Buried services",
    geometry="LineString",
    group=GROUP,
)
class BuriedService(LineElement):
    """A cable or pipe in the ground."""

    status: str = "existing"
    service: str = choice("Service", SERVICES, default="unknown")
    depth_m: float | None = number(
        "Cover", "m", default=None, low=0, high=10, help="Ground to top of it"
    )


SURFACES = (
    ("mineral", "Bare mineral soil"),
    ("mown", "Mown grass"),
    ("grazed", "Grazed"),
    ("gravel", "Gravel"),
)


@element("firebreak", label="Firebreak", plural="Firebreaks", geometry="LineString", group="Fire")
class Firebreak(LineElement):
    """A belt kept free of fuel, by its middle line; close the line to ring something."""

    width_m: float = number("Width", "m", default=4.0, low=0.5, high=100)
    surface: str = choice("Kept as", SURFACES, default="mineral")
