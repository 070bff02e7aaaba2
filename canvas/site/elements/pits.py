"""Test pits: what a spade or a digger has shown of the soil."""

from __future__ import annotations

from canvas.site.fields import choice, date, number, rows
from canvas.site.records import PointElement, element
from canvas.site.tabular import Column

GROUP = "Survey"

CRUMBS = (
    ("", "Not tested"),
    ("1", "1 · crumb slakes, water stays clear"),
    ("2", "2 · slight haze at the crumb"),
    ("3", "3 · clear cloud round the crumb"),
    ("4", "4 · cloud spreads over the bottom"),
)

HORIZONS = (
    Column("from_m", "From", "m", 0, 30),
    Column("to_m", "To", "m", 0, 30),
    Column("texture", "Texture", None, help="Such as clay loam; a word the tables know"),
    Column("colour", "Colour", None, may_be_empty=True),
    Column("stones", "Stones [%]", "count", 0, 100, may_be_empty=True, help="By volume"),
)
READINGS = (
    Column("minute", "Minute", "count", 0, 20_000, help="Since the first reading"),
    Column("depth_mm", "Water over the bottom", "mm", 0, 5000),
)


@element("test_pit", label="Test pit", plural="Test pits", geometry="Point", group=GROUP)
class TestPit(PointElement):
    """A pit dug to look at the soil, with the tests made of it."""

    #: Not a test, whatever its name says to who collects tests.
    __test__ = False

    status: str = "existing"
    dug: str = date("Dug on", default="")
    depth_m: float = number("Depth", "m", default=1.5, low=0.1, high=30)
    rock_depth_m: float | None = number(
        "Depth to rock", "m", default=None, low=0, high=30, help="Empty when none was met"
    )
    water_depth_m: float | None = number(
        "Depth to water", "m", default=None, low=0, high=30, help="Empty when none stood in it"
    )
    horizons: str = rows("Horizons", HORIZONS, default="", help="Layers from the top down")
    percolation: str = rows(
        "Percolation readings", READINGS,
        help="A soaked hole filled once: minutes and the water's height over its bottom",
    )  # fmt: skip
    hole_mm: float = number("Percolation hole, diameter", "mm", default=300, low=30, high=2000)
    ribbon_mm: float | None = number(
        "Ribbon before it breaks", "mm", default=None, low=0, high=300,
        help="Moist soil pressed out between thumb and finger",
    )  # fmt: skip
    jar_sand_mm: float | None = number("Jar test, sand", "mm", default=None, low=0, high=1000)
    jar_silt_mm: float | None = number("Jar test, silt", "mm", default=None, low=0, high=1000)
    jar_clay_mm: float | None = number("Jar test, clay", "mm", default=None, low=0, high=1000)
    crumb: str = choice(
        "Crumb test", CRUMBS, default="",
        help="A dry crumb in still rain or distilled water, looked at after an hour",
    )  # fmt: skip
