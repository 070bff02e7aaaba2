"""Gauges: a staff with its graduations, and a line across the flow."""

from __future__ import annotations

from collections.abc import Sequence

import shapely

from canvas.drawing.entries import Fill
from canvas.drawing.pen import Drawn, Pen, along, paths_of
from canvas.drawing.styles import stroke_of
from canvas.drawing.symbols.marks import cross_out, name_line, name_point
from canvas.drawing.symbols.registry import symbol


@symbol("gauge", 62)
def draw_gauges(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw a graduated staff over its spot."""
    for drawn in items:
        item = drawn.item
        pen.stamps("gauge", shapely.get_coordinates(item.geometry), 3.0,
                   stroke_of(item, "water", 0.28), Fill("paper"), ids=(item.id,))  # fmt: skip
        cross_out(drawn, pen, "water")
        pen.keep_off(item.geometry, 7.5, 1.5)
        name_point(drawn, pen, item.name or "Gauge", "water", 1.5, size_mm=1.7, weight=5.0)


@symbol("gauge_line", 61)
def draw_gauge_lines(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw a dotted line with arrows through it, the way that counts as positive."""
    for drawn in items:
        item = drawn.item
        stroke = stroke_of(item, "water", 0.35, (0.4, 0.8), weigh=False)
        pen.lines(item.geometry, stroke, item.id, level=1)
        for path in paths_of(item.geometry):
            places = along(path, pen.m(14.0), pen.m(5.0))
            pen.stamps("flow", places.xy, 1.8, stroke_of(item, "water", 0.3),
                       turn_deg=places.bearing_deg + 90.0, level=2)  # fmt: skip
        cross_out(drawn, pen, "water")
        name_line(drawn, pen, item.name, "water", size_mm=1.7, weight=5.0, off_mm=1.6)
