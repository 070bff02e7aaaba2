"""Platforms, terraces, heaps and borrow pits."""

from __future__ import annotations

from collections.abc import Sequence

import shapely

from canvas.base.quantity import show
from canvas.drawing.entries import Cap, Fill, Hatch, Stroke
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
    slope_ticks(pen, edge, edge_along(toe.boundary, fill, cut), "earth", from_lower=True)


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


@symbol("terraces", 15)
def draw_terraces(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw terraces bench by bench, ticks down every riser, with the highest level."""
    for drawn in items:
        item = drawn.item
        benches = drawn.parts.get("edge")
        if benches is not None:
            pen.areas(benches, tint_of(item, "earth_fill", 0.7), ident=item.id)
            draw_batters(drawn, pen)
            pen.lines(benches, stroke_of(item, "earth", 0.25), item.id, level=3)
            _risers(drawn, pen)
        pen.lines(item.geometry, stroke_of(item, "earth", 0.5), item.id, level=4)
        cross_out(drawn, pen, "earth")
        words = level_words(drawn, pen, item.name or "Terraces")
        spot = drawn.part("edge").representative_point()
        pen.write(spot.x, spot.y, words, 1.8, "earth", weight=5.5, ident=item.id)


def _risers(drawn: Drawn, pen: Pen) -> None:
    """Tick the risers: from each bench down to the upper edge of the next."""
    edges = drawn.parts.get("upper_edge")
    if edges is None or crossed(drawn.item):
        return
    benches = shapely.get_parts(drawn.part("edge"))
    for upper, lower in zip(benches[:-1], shapely.get_parts(edges)[1:], strict=True):
        slope_ticks(pen, upper.boundary, lower, "earth", from_lower=True)


HEAP_HATCH = {
    "topsoil": (Hatch.DOTS, 1.5, 0.28),
    "spoil": (Hatch.DOTS, 2.4, 0.28),
    "stone": (Hatch.CROSS, 2.2, 0.13),
}


@symbol("heap", 18, "what")
def draw_heaps(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw heaps with ticks down from their top, and a texture for what lies there."""
    for drawn in items:
        item = drawn.item
        pen.areas(item.geometry, tint_of(item, "earth_fill", 0.9), ident=item.id)
        if not crossed(item):
            hatch, gap, line = HEAP_HATCH[getattr(item, "what", "spoil")]
            pen.areas(item.geometry, Fill("earth", hatch, 0.6, gap_mm=gap, line_mm=line), level=1)
            top = drawn.parts.get("level_part")
            inner = top.boundary if top is not None else item.geometry.centroid
            slope_ticks(pen, inner, item.geometry.boundary, "earth", from_lower=True)
        pen.lines(item.geometry.boundary, stroke_of(item, "earth", 0.25), item.id, level=3)
        cross_out(drawn, pen, "earth", item.geometry.boundary)
        name_area(drawn, pen, _holding(drawn, pen, "holds_m3", "Heap"), "earth", size_mm=1.7)


@symbol("borrow_pit", 17)
def draw_pits(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw borrow pits with ticks down from their upper edge to the floor."""
    for drawn in items:
        item = drawn.item
        pen.areas(item.geometry, tint_of(item, "earth_fill", 0.5), ident=item.id)
        floor = drawn.parts.get("level_part")
        if not crossed(item):
            inner = floor.boundary if floor is not None else item.geometry.centroid
            slope_ticks(pen, item.geometry.boundary, inner, "earth")
        if floor is not None:
            pen.lines(floor.boundary, Stroke("earth", 0.13, (1.6, 0.6), cap=Cap.FLAT), level=1)
        pen.lines(item.geometry.boundary, stroke_of(item, "earth", 0.35), item.id, level=3)
        cross_out(drawn, pen, "earth", item.geometry.boundary)
        name_area(drawn, pen, _holding(drawn, pen, "gives_m3", "Borrow pit"), "earth", size_mm=1.7)


def _holding(drawn: Drawn, pen: Pen, key: str, otherwise: str) -> str:
    """Return a name with the volume under it."""
    name = drawn.item.name or otherwise
    fact = drawn.fact(key)
    if fact is None or not isinstance(fact.value, float) or pen.look.scale > 2500:
        return name
    return f"{name}\n{show(fact.value, 'm3', pen.look.units, 0)}"
