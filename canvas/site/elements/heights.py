"""Heights the family measured itself: spot heights, and lines of known height."""

from __future__ import annotations

from canvas.site.elements.pits import GROUP
from canvas.site.fields import choice, number, rows
from canvas.site.records import LineElement, PointElement, element
from canvas.site.tabular import Column

LINES = (
    ("break", "Breakline: the ground bends along it"),
    ("contour", "Contour: one height all along"),
)
VERTICES = (Column("level_m", "Height", "m", -500, 9000, help="One row for each corner, in order"),)


@element("spot_height", label="Spot height", plural="Spot heights", geometry="Point", group=GROUP)
class SpotHeight(PointElement):
    """A place on the ground whose height was measured."""

    status: str = "existing"
    height_m: float | None = number(
        "Height", "m", default=None, low=-500, high=9000, help="Above the heights datum"
    )


@element(
    "survey_line", label="Survey line", plural="Survey lines", geometry="LineString", group=GROUP
)
class SurveyLine(LineElement):
    """A line of measured heights that a surface made from heights must keep to."""

    status: str = "existing"
    line: str = choice("Line", LINES, default="break")
    level_m: float | None = number(
        "Height all along", "m", default=None, low=-500, high=9000,
        help="Of a contour, or of a breakline on the level",
    )  # fmt: skip
    levels: str = rows(
        "Heights of its corners", VERTICES, default="",
        help="One for each corner in drawing order; used before the height all along",
    )  # fmt: skip
