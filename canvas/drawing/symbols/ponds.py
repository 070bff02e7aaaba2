"""Dams, the water behind them, dug ponds and test pits."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from canvas.base.quantity import show
from canvas.drawing.entries import Cap, Fill, Hatch, Stroke
from canvas.drawing.pen import Drawn, Pen, along, paths_of
from canvas.drawing.styles import crossed, stroke_of, tint_of
from canvas.drawing.symbols.marks import cross_out, name_area, name_line, name_point
from canvas.drawing.symbols.registry import symbol
from canvas.drawing.symbols.slopes import edge_along, slope_ticks
from canvas.drawing.typeface import width_mm
from canvas.site.records import Status

#: Levels are written at this scale and larger.
LEVELS_AT = 2500
EMPTY = shapely.from_wkt("POLYGON EMPTY")


def draw_water(drawn: Drawn, pen: Pen) -> None:
    """Draw the full water: its tint, its edge, and lines of equal depth."""
    water = drawn.parts.get("water")
    if water is None or water.is_empty:
        return
    item = drawn.item
    if not pen.look.shows_rain:
        pen.areas(water, tint_of(item, "water_fill", 1.0), ident=item.id)
        if item.status == Status.PROPOSED:
            pen.areas(water, Fill("water", Hatch.LINES, 0.55, 0.0, 1.6, 0.13), level=1)
    pen.lines(water, stroke_of(item, "water", 0.45), item.id, level=2)
    depths = drawn.parts.get("depth_lines")
    if depths is not None and not crossed(item):
        pen.lines(depths, Stroke("water", 0.13, alpha=0.85), level=1)


def draw_spillway(drawn: Drawn, pen: Pen) -> None:
    """Draw a spillway: its cut, its sill across it, and an arrow down the flow."""
    cut, line = drawn.parts.get("spillway"), drawn.parts.get("spillway_line")
    if line is None or crossed(drawn.item):
        return
    if cut is not None:
        if not pen.look.shows_rain:
            pen.areas(cut, Fill("water_fill", alpha=0.5), level=3)
        pen.lines(cut.boundary, Stroke("earth", 0.18, (1.2, 0.5), cap=Cap.FLAT), level=3)
    sill = drawn.parts.get("sill")
    if sill is not None:
        pen.lines(sill, Stroke("water", 0.5, cap=Cap.FLAT), level=5)
    for path in paths_of(line):
        pen.lines([path], Stroke("water", 0.25), level=4)
        arrows = along(path, pen.m(9.0), None)
        pen.stamps("flow", arrows.xy, 1.6, Stroke("water", 0.3), turn_deg=arrows.bearing_deg,
                   level=5)  # fmt: skip


def _bank(drawn: Drawn, pen: Pen) -> None:
    """Draw a bank: its foot, ticks down both faces, and its crest as a strip."""
    bank, top = drawn.parts.get("bank"), drawn.parts.get("crest_top")
    crest = drawn.part("crest")
    item = drawn.item
    if bank is None or top is None:
        pen.lines(crest, stroke_of(item, "earth", 0.5, (2.4, 0.8)), item.id, level=4)
        return
    # Under the water, which stands on its wet face.
    pen.areas(bank, tint_of(item, "earth_fill", 0.8), ident=item.id, level=-1)
    pen.lines(bank.boundary, Stroke("earth", 0.13, (1.6, 0.6), cap=Cap.FLAT), level=3)
    if not crossed(item):
        slope_ticks(pen, _sides(top), bank.boundary, "earth", level=3)
    pen.areas(top, Fill("paper", alpha=0.9), level=4)
    pen.lines(top, stroke_of(item, "earth", 0.3), item.id, level=5)


#: Written along the strip below a dam, which is no watercourse.
BREACH = "way of a breach"


def _sides(top: BaseGeometry) -> BaseGeometry:
    """Return the two long edges of a crest, without its ends."""
    edge = top.boundary
    return edge if edge.is_empty else shapely.line_merge(edge)


def _below(drawn: Drawn, pen: Pen) -> None:
    """Draw the strip along the way below the dam, faint: something to look into, not a flood."""
    strip = drawn.parts.get("breach_path")
    if strip is None or crossed(drawn.item):
        return
    pen.areas(strip, Fill("water", Hatch.LINES, 0.35, 45.0, 2.6, 0.13), level=-2)
    pen.lines(strip, Stroke("water", 0.13, (2.0, 1.2), alpha=0.6, cap=Cap.FLAT), level=-2)
    way = drawn.parts.get("breach_line")
    if way is None or way.is_empty:
        return
    path = max(paths_of(way), key=len)
    length = float(np.hypot(*np.diff(path, axis=0).T).sum())
    if width_mm(BREACH, 1.6) > pen.mm(length) / 2:
        return
    place = along(path, length, 0.3 * length)
    x, y = float(place.xy[0, 0]), float(place.xy[0, 1])
    pen.write(
        x, y, BREACH, 1.6, "water", weight=3.5, ident=drawn.item.id,
        turn_deg=float(place.reading_deg[0]), italic=True,
    )  # fmt: skip


def _figures(drawn: Drawn, pen: Pen, *wanted: tuple[str, str]) -> str:
    """Return figures of an element by key, each with the word before it, a line each."""
    if pen.look.scale > LEVELS_AT or not pen.look.labels:
        return ""
    lines = []
    for key, word in wanted:
        fact = drawn.fact(key)
        if fact is not None and isinstance(fact.value, float):
            shown = show(fact.value, fact.unit, pen.look.units, 0 if fact.unit == "m3" else None)
            lines.append(f"{word} {shown}".strip())
    return "\n".join(lines)


def _label_water(drawn: Drawn, pen: Pen, name: str) -> None:
    water = drawn.parts.get("water")
    words = _figures(drawn, pen, ("full_m", "full"), ("holds_m3", ""))
    words = "\n".join(each for each in (name, words) if each)
    if water is None or water.is_empty or not words:
        return
    biggest = max(shapely.get_parts(water), key=lambda part: part.area)
    spot = shapely.get_coordinates(biggest.representative_point())[0]
    pen.write(
        float(spot[0]), float(spot[1]), words, 1.9, "water", weight=6.0, ident=drawn.item.id,
        italic=True,
    )  # fmt: skip


@symbol("dam", 26)
def draw_dams(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw dams: water with its depths, the bank with ticks, the spillway, the way below."""
    for drawn in items:
        item = drawn.item
        _below(drawn, pen)
        draw_water(drawn, pen)
        _bank(drawn, pen)
        draw_spillway(drawn, pen)
        cross_out(drawn, pen, "earth")
        _label_water(drawn, pen, item.name or "Dam")
        words = _figures(drawn, pen, ("crest_m", "crest"))
        name_line(drawn, pen, words, "earth", size_mm=1.7, weight=5.0, off_mm=1.8)


@symbol("dug_pond", 25)
def draw_dug_ponds(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw dug ponds: water with its depths, the rim's middle, where earth is moved."""
    for drawn in items:
        item = drawn.item
        toe, rim = drawn.parts.get("toe"), drawn.parts.get("rim")
        if toe is not None:
            pen.areas(toe, tint_of(item, "earth_fill", 0.7), level=-1)
            pen.lines(toe.boundary, Stroke("earth", 0.13, (1.6, 0.6), cap=Cap.FLAT), level=0)
        draw_water(drawn, pen)
        pen.lines(item.geometry, stroke_of(item, "water", 0.45), item.id, level=3)
        if rim is not None and not crossed(item):
            pen.lines(rim, stroke_of(item, "earth", 0.25), level=3)
            if toe is not None:
                _rim_ticks(drawn, pen, rim, toe.boundary)
        draw_spillway(drawn, pen)
        cross_out(drawn, pen, "water", item.geometry.boundary)
        figures = _figures(drawn, pen, ("full_m", "full"), ("holds_m3", ""))
        words = "\n".join(each for each in (item.name or "Pond", figures) if each)
        name_area(drawn, pen, words, "water", size_mm=1.9, weight=6.0, italic=True)


def _rim_ticks(drawn: Drawn, pen: Pen, rim: BaseGeometry, toe: BaseGeometry) -> None:
    """Draw ticks down to the rim where the hill is cut back, and down from it where it is fill."""
    cut, fill = drawn.parts.get("cut", EMPTY), drawn.parts.get("fill", EMPTY)
    slope_ticks(pen, edge_along(toe, cut, fill), rim, "earth")
    slope_ticks(pen, edge_along(rim, fill, cut), toe, "earth")


@symbol("test_pit", 62)
def draw_test_pits(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw test pits as a square half filled, with the soil's group beside the name."""
    for drawn in items:
        item = drawn.item
        pen.stamps("test_pit", shapely.get_coordinates(item.geometry), 2.2,
                   stroke_of(item, "earth", 0.3), Fill("paper"), ids=(item.id,))  # fmt: skip
        cross_out(drawn, pen, "earth")
        pen.keep_off(item.geometry, 7.5, 1.2)
        words = item.name or "Pit"
        group = drawn.fact("soil_group") if pen.look.scale <= LEVELS_AT else None
        if group is not None:
            words = f"{words}\nsoil {group.value}"
        name_point(drawn, pen, words, "earth", 1.2, size_mm=1.7, weight=4.5)
