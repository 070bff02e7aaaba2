"""Earthworks that stand for themselves: platforms, terraces, heaps, borrow pits."""

from __future__ import annotations

from canvas.base import resources
from canvas.site.fields import choice, integer, number
from canvas.site.records import AreaElement, LineElement, element

GROUP = "Earthworks"

#: Kinds of earth by the keys of `resources/materials.toml`.
SOILS = tuple((key, str(row["label"])) for key, row in resources.toml("materials.toml").items())
SOIL_HELP = "Decides how it bulks, compacts and stands"
BY_SOIL = "Run for each metre of rise; empty: as the soil stands"


@element("platform", label="Platform", plural="Platforms", geometry="Polygon", group=GROUP)
class Platform(AreaElement):
    """A level or gently falling pad for a building, a yard or a tank, by its outline."""

    level: str = choice(
        "Level",
        (("balanced", "Where cut makes fill"), ("set", "As given")),
        default="balanced",
    )
    level_m: float | None = number(
        "Finished level", "m", default=None, low=-500, high=9000,
        help="At the middle of the outline, above the heights datum; used when given",
    )  # fmt: skip
    spare_m3: float = number(
        "Earth to spare", "m3", default=0.0, low=-1e6, high=1e6,
        help="Balanced level: cut to be left over for use elsewhere, in the bank; below 0 to bring",
    )  # fmt: skip
    fall: float = number(
        "Fall", "%", default=0.0, low=0, high=0.2, help="Of the surface, so that it drains"
    )
    fall_towards_deg: float | None = number(
        "Falls towards", "deg", default=None, low=0, high=360,
        help="Azimuth from grid north; empty: the way the ground falls",
    )  # fmt: skip
    soil: str = choice("Soil", SOILS, default="earth", help=SOIL_HELP)
    cut_batter: float | None = number(
        "Cut batter", "ratio", default=None, low=0, high=10, help=BY_SOIL
    )
    fill_batter: float | None = number(
        "Fill batter", "ratio", default=None, low=0.1, high=10, help=BY_SOIL
    )
    walls: str = choice(
        "Retaining walls",
        (
            ("none", "None"),
            ("uphill", "Uphill side"),
            ("downhill", "Downhill side"),
            ("all", "All round"),
        ),
        default="none",
        help="In place of the batter on those sides of the outline",
    )
    strip_m: float = number(
        "Topsoil stripped", "m", default=0.15, low=0, high=1.5, help="Wherever earth moves"
    )
    respread_m: float = number(
        "Topsoil put back", "m", default=0.10, low=0, high=1.5, help="On the batters"
    )
    surfacing_m: float = number(
        "Surfacing", "m", default=0.0, low=0, high=2,
        help="Gravel or slab laid on the pad, below the finished level",
    )  # fmt: skip
