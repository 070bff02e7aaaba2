"""Ways: tracks, public roads and paths."""

from __future__ import annotations

from canvas.site.fields import choice, flag, number
from canvas.site.records import LineElement, element

GROUP = "Access"

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
