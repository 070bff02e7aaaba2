"""Platforms, terraces, heaps and borrow pits."""

from __future__ import annotations

from collections.abc import Sequence

import shapely

from canvas.base.quantity import show
from canvas.drawing.entries import Cap, Stroke
from canvas.drawing.pen import Drawn, Pen
from canvas.drawing.styles import crossed, stroke_of, tint_of
from canvas.drawing.symbols.marks import cross_out, name_area
from canvas.drawing.symbols.registry import symbol
from canvas.drawing.symbols.slopes import edge_along, slope_ticks

EMPTY = shapely.from_wkt("POLYGON EMPTY")


def draw_batters(drawn: Drawn, pen: Pen) -> None:
    """Draw where earth is moved: a fine line at its end, and ticks down cuts and fills."""
    toe = drawn.parts.get("toe")
    if toe is None or toe.is_empty:
        return
    edge = drawn.part("edge").boundary
    cut, fill = drawn.parts.get("cut", EMPTY), drawn.parts.get("fill", EMPTY)
    pen.lines(toe.boundary, Stroke("earth", 0.13, (1.6, 0.6), cap=Cap.FLAT), level=1)
    if crossed(drawn.item):
        return
    slope_ticks(pen, edge_along(toe.boundary, cut, fill), edge, "earth")
    slope_ticks(pen, edge_along(edge, fill, cut), toe.boundary, "earth")


def level_words(drawn: Drawn, pen: Pen, name: str) -> str:
    """Return a name with its finished level under it, and what it may be off by."""
    level = drawn.fact("level_m")
    if level is None or not isinstance(level.value, float) or pen.look.scale > 1500:
        return name
    figure = show(level.value, "m", pen.look.units)
    if level.plus_minus:
        figure += f" ± {show(level.plus_minus, 'm', pen.look.units)}"
    return f"{name}\n{figure}" if name else figure


@symbol("platform", 16)
def draw_platforms(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw platforms as a light pad with ticks down its batters, walls heavy, and its level."""
    for drawn in items:
        item = drawn.item
        pen.areas(item.geometry, tint_of(item, "earth_fill", 0.7), ident=item.id)
        draw_batters(drawn, pen)
        pen.lines(item.geometry.boundary, stroke_of(item, "earth", 0.35), item.id, level=3)
        wall = drawn.parts.get("wall")
        if wall is not None:
            pen.lines(wall, stroke_of(item, "brick", 0.9), item.id, level=4)
            pen.lines(wall, Stroke("paper", 0.3, cap=Cap.FLAT), level=5)
        cross_out(drawn, pen, "earth", item.geometry.boundary)
        words = level_words(drawn, pen, item.name or "Platform")
        name_area(drawn, pen, words, "earth", size_mm=1.8, weight=5.5)
