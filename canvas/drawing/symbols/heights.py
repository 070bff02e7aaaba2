"""Measured heights: spots with their figure, lines a surface keeps to."""

from __future__ import annotations

from collections.abc import Sequence

import shapely

from canvas.base.quantity import show
from canvas.drawing.pen import Drawn, Pen
from canvas.drawing.styles import stroke_of
from canvas.drawing.symbols.marks import cross_out, name_line, name_point
from canvas.drawing.symbols.registry import symbol

SPOT_MM = 1.4


@symbol("spot_height", 61)
def draw_spots(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw spot heights as small crosses with their figure."""
    for drawn in items:
        item = drawn.item
        pen.stamps(
            "cross", shapely.get_coordinates(item.geometry), SPOT_MM,
            stroke_of(item, "contour_text", 0.25), ids=(item.id,), level=2,
        )  # fmt: skip
        cross_out(drawn, pen, "contour_text")
        height = getattr(item, "height_m", None)
        words = show(height, "m", pen.look.units, 2) if height is not None else "no height"
        name_point(drawn, pen, words, "contour_text", SPOT_MM / 2, size_mm=1.5, weight=1.2)


@symbol("survey_line", 60, "line")
def draw_lines(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw breaklines dashed and surveyed contours plain, a level one with its height."""
    for drawn in items:
        item = drawn.item
        contour = getattr(item, "line", "break") == "contour"
        dash = () if contour else (2.2, 0.8)
        pen.lines(item.geometry, stroke_of(item, "contour_index", 0.3, dash), item.id, level=1)
        cross_out(drawn, pen, "contour_index")
        level = getattr(item, "level_m", None)
        words = show(level, "m", pen.look.units, 2) if level is not None else ""
        name_line(drawn, pen, item.name or words, "contour_text", size_mm=1.5, weight=1.2)
