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
            ("both", "Uphill and downhill"),
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


@element("terraces", label="Terraces", plural="Terraces", geometry="LineString", group=GROUP)
class Terraces(LineElement):
    """A flight of benches down a slope, by the upper edge of the highest, drawn along the slope."""

    benches: int = integer("Benches", default=3, low=1, high=40)
    bench_m: float = number("Bench width", "m", default=4.0, low=0.5, high=50)
    riser: float = number(
        "Riser batter", "ratio", default=1.0, low=0.05, high=5,
        help="Run for each metre of rise; walls of stone below 0.3",
    )  # fmt: skip
    outward_fall: float = number(
        "Outward fall", "%", default=0.0, low=-0.1, high=0.1,
        help="Of the benches, out of the hill; below 0 back into it",
    )  # fmt: skip
    soil: str = choice("Soil", SOILS, default="earth", help=SOIL_HELP)
    strip_m: float = number(
        "Topsoil stripped", "m", default=0.15, low=0, high=1.5, help="Wherever earth moves"
    )
    respread_m: float = number(
        "Topsoil on the risers", "m", default=0.10, low=0, high=1.5, help="Put back there"
    )
    bench_topsoil_m: float = number(
        "Topsoil on the benches", "m", default=0.15, low=0, high=1.5, help="Put back there"
    )


HEAPS = (("topsoil", "Topsoil"), ("spoil", "Spoil"), ("stone", "Stone"))


@element("heap", label="Heap", plural="Heaps", geometry="Polygon", group=GROUP)
class Heap(AreaElement):
    """A heap of topsoil, spoil or stone by the ground it may cover."""

    what: str = choice("Heap of", HEAPS, default="topsoil")
    height_m: float = number("Height", "m", default=1.5, low=0.1, high=15, help="Above the ground")
    batter: float = number(
        "Side batter", "ratio", default=1.5, low=0.5, high=10, help="Run for each metre of rise"
    )
    strip_m: float = number(
        "Topsoil stripped", "m", default=0.0, low=0, high=1.5, help="Under it, before it is heaped"
    )


@element("borrow_pit", label="Borrow pit", plural="Borrow pits", geometry="Polygon", group=GROUP)
class BorrowPit(AreaElement):
    """A place earth is taken from, by the upper edge of the pit."""

    depth_m: float = number(
        "Depth", "m", default=1.5, low=0.1, high=20, help="Below the ground, topsoil included"
    )
    batter: float | None = number(
        "Side batter", "ratio", default=None, low=0, high=10, help=BY_SOIL
    )
    soil: str = choice("Soil", SOILS, default="earth", help=SOIL_HELP)
    strip_m: float = number(
        "Topsoil stripped", "m", default=0.15, low=0, high=1.5, help="Kept apart first"
    )
    respread_m: float = number(
        "Topsoil put back", "m", default=0.10, low=0, high=1.5, help="On floor and sides"
    )
