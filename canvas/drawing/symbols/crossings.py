"""Turning heads, passing bays, culverts, fords and water bars."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from canvas.base.quantity import show
from canvas.drawing.entries import Cap, Fill, Hatch, Path, Stroke
from canvas.drawing.pen import Drawn, Pen, paths_of
from canvas.drawing.styles import crossed, stroke_of, tint_of
from canvas.drawing.symbols.marks import cross_out, name_line, name_point
from canvas.drawing.symbols.pads import draw_batters
from canvas.drawing.symbols.registry import symbol

#: Bars across a pipe's ends, and beside a water bar's outlet [mm].
HEADWALL_MM = 2.4


@symbol("turning_head", 33, "shape")
def draw_turning_heads(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw turning heads as the track goes on, with a dashed ring a wheel follows."""
    for drawn in items:
        _widening(drawn, pen)
        edge = drawn.part("edge")
        inner = edge.buffer(-pen.m(0.9))
        if not inner.is_empty and not crossed(drawn.item):
            pen.lines(inner.boundary, Stroke("way_edge", 0.13, (1.4, 0.9), cap=Cap.FLAT), level=5)
        name_point(drawn, pen, drawn.item.name or "Turning head", "way_text", 0.8, size_mm=1.6,
                   weight=3.5)  # fmt: skip


@symbol("passing_bay", 31)
def draw_passing_bays(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw passing bays as a widening of their track."""
    for drawn in items:
        _widening(drawn, pen)
        name_point(drawn, pen, drawn.item.name or "Passing bay", "way_text", 0.8, size_mm=1.5,
                   weight=2.5)  # fmt: skip


def _widening(drawn: Drawn, pen: Pen) -> None:
    item, edge = drawn.item, drawn.part("edge")
    draw_batters(drawn, pen)
    stroke = stroke_of(item, "way_edge", 0.3)
    pen.lines(edge, Stroke(stroke.role, stroke.width_mm * 2, stroke.dash_mm), item.id, level=1)
    pen.areas(edge, tint_of(item, "way_fill"), ident=item.id, level=3)
    cross_out(drawn, pen, "way_edge")


@symbol("culvert", 34)
def draw_culverts(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw culverts as a broken double line under the track, bars at its ends, rock below it."""
    for drawn in items:
        item = drawn.item
        apron = drawn.parts.get("apron")
        if apron is not None and not apron.is_empty and not crossed(item):
            pen.areas(apron, Fill("earth", Hatch.DOTS, 0.9, 0.0, 0.9, 0.3), level=1)
        pen.lines(item.geometry, stroke_of(item, "water", 0.7, (1.4, 0.7), weigh=False), item.id,
                  level=3)  # fmt: skip
        for path in paths_of(item.geometry):
            pen.lines(_bars(pen, path), stroke_of(item, "water", 0.4), level=4)
            _arrow(pen, path, 4)
        over = drawn.parts.get("overflow")
        if over is not None and not crossed(item):
            pen.lines(over, Stroke("water", 0.35, (0.5, 1.0)), level=2)
        cross_out(drawn, pen, "water")
        bore = show(getattr(item, "bore_m", 0.45), "m", pen.look.units)
        name_line(drawn, pen, item.name or f"ø {bore}", "water", size_mm=1.6, weight=4.0,
                  off_mm=1.8)  # fmt: skip


def _arrow(pen: Pen, path: Path, level: int) -> None:
    """Set an arrow beyond a path's end, the way it leads."""
    step = path[-1] - path[-2]
    ahead = step / np.hypot(*step)
    turn = float(np.degrees(np.arctan2(step[0], step[1])))
    tip = (path[-1] + ahead * pen.m(0.9)).reshape(1, 2)
    pen.stamps("flow", tip, 1.5, Stroke("water", 0.3), turn_deg=turn, level=level)


def _bars(pen: Pen, path: Path) -> list[Path]:
    """Return bars square across both ends of a path."""
    half = pen.m(HEADWALL_MM) / 2
    found = []
    for end, before in ((path[0], path[1]), (path[-1], path[-2])):
        step = end - before
        aside = np.array([-step[1], step[0]]) / np.hypot(*step) * half
        found.append(np.array([end - aside, end + aside]))
    return found


@symbol("ford", 36, "floor")
def draw_fords(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw fords as a paved floor ruled across the way."""
    for drawn in items:
        item, edge = drawn.item, drawn.part("edge")
        draw_batters(drawn, pen)
        pen.areas(edge, tint_of(item, "water_fill"), ident=item.id, level=3)
        pen.lines(edge, stroke_of(item, "water", 0.35), item.id, level=4)
        if not crossed(item):
            gap = {"rock": 1.0, "gravel": 1.7, "concrete": 2.6}[getattr(item, "floor", "rock")]
            first, last = item.geometry.coords[0], item.geometry.coords[-1]
            turn = float(np.degrees(np.arctan2(last[1] - first[1], last[0] - first[0])))
            pen.areas(edge, Fill("water", Hatch.LINES, 0.8, turn + 90.0, gap, 0.16), level=5)
        cross_out(drawn, pen, "water")
        name_line(drawn, pen, item.name or "Ford", "water", size_mm=1.7, weight=4.5,
                  off_mm=pen.mm(getattr(item, "width_m", 4.0)) / 2 + 1.6)  # fmt: skip


@symbol("water_bar", 35)
def draw_water_bars(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw water bars as a heavy stroke across the track, an arrow at the outlet."""
    for drawn in items:
        item = drawn.item
        pen.lines(item.geometry, stroke_of(item, "earth", 0.7, weigh=False), item.id, level=6)
        for path in paths_of(item.geometry):
            _arrow(pen, path, 7)
        cross_out(drawn, pen, "earth")
        name_line(drawn, pen, item.name, "earth", size_mm=1.5, weight=2.0, off_mm=1.5)
