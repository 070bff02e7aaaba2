"""Swales, drains, level sills and checks in gullies: channel, bank, and the way the water runs."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
import shapely.ops
from shapely import LineString, MultiLineString
from shapely.geometry.base import BaseGeometry

from canvas.base.quantity import show
from canvas.drawing.entries import Cap, Fill, Path, Stroke
from canvas.drawing.pen import Drawn, Pen, along, paths_of
from canvas.drawing.styles import crossed, stroke_of, tint_of
from canvas.drawing.symbols.marks import cross_out, name_line
from canvas.drawing.symbols.registry import symbol
from canvas.drawing.symbols.slopes import slope_ticks
from canvas.site.records import Status

#: Levels are written at this scale and larger.
LEVELS_AT = 2500
#: Between arrows of flow [mm on paper].
ARROW_EVERY_MM = 16.0
ARROW_MM = 1.5
#: A channel narrower than this on paper is drawn as a line alone [mm].
NARROW_MM = 0.8


@symbol("swale", 25)
def draw_swales(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw the full water, the bank with ticks, the sill open, arrows to it, the lip's level."""
    for drawn in items:
        _channel(drawn, pen)
        for path in paths_of(drawn.item.geometry):
            for piece in _to_spill(drawn, path):
                _arrows(drawn, pen, piece)
        cross_out(drawn, pen, "water")
        _name(drawn, pen, "Swale")


@symbol("drain", 26)
def draw_drains(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw the channel with its bank and arrows the way it falls, to its open end."""
    for drawn in items:
        _channel(drawn, pen)
        falls = float(getattr(drawn.item, "grade", 0.0)) >= 0
        for path in paths_of(drawn.item.geometry):
            _arrows(drawn, pen, path if falls else path[::-1])
        cross_out(drawn, pen, "water")
        _name(drawn, pen, "Drain")


@symbol("level_sill", 27)
def draw_level_sills(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw the trench, the level edge as a double line, and arrows over it down the hill."""
    for drawn in items:
        item = drawn.item
        _water(drawn, pen)
        pen.lines(drawn.part("lip", "shape"), stroke_of(item, "water", 0.7), item.id, level=4)
        pen.lines(drawn.part("shape"), Stroke("water", 0.18), level=4)
        if not crossed(item):
            _over(drawn, pen, drawn.part("sill"))
        cross_out(drawn, pen, "water")
        _name(drawn, pen, "Level sill", "lip_m")


@symbol("check_dam", 28, "made_of")
def draw_checks(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw the wall across the gully, as stones or as logs, open at its notch."""
    for drawn in items:
        item = drawn.item
        line: BaseGeometry = item.geometry
        notch = drawn.parts.get("sill")
        wall = line if notch is None else shapely.difference(line, notch.buffer(1e-6))
        logs = getattr(item, "made_of", "rock") == "log"
        edge = drawn.parts.get("edge")
        if edge is not None:
            pen.areas(edge, tint_of(item, "earth_fill", 0.7), ident=item.id)
        apron = drawn.parts.get("apron")
        if apron is not None and not crossed(item):
            pen.lines(apron, Stroke("earth", 0.15, (0.3, 0.5)), level=2)
        if logs:
            for off in (-0.35, 0.35):
                beside = [_beside(path, pen.m(off)) for path in paths_of(wall)]
                pen.lines(beside, stroke_of(item, "earth", 0.35), item.id, level=4)
        else:
            pen.lines(wall, stroke_of(item, "earth", 0.35), item.id, level=4)
            for path in paths_of(wall):
                stones = along(path, pen.m(1.5))
                pen.stamps("ring", stones.xy, 1.2, Stroke("earth", 0.2), Fill("paper"), level=5)
        if notch is not None and not crossed(item):
            pen.lines(notch, Stroke("water", 0.3, (0.6, 0.4), cap=Cap.FLAT), level=4)
            _over(drawn, pen, notch)
        cross_out(drawn, pen, "earth")
        name_line(drawn, pen, item.name, "water", size_mm=1.7, weight=4.5, off_mm=2.0)


# -- what they share -------------------------------------------------------------------------------


def _water(drawn: Drawn, pen: Pen) -> None:
    item = drawn.item
    water = drawn.parts.get("water")
    if water is None or water.is_empty:
        return
    faint = 0.55 if item.status == Status.PROPOSED else 0.85
    if not pen.look.shows_rain:
        pen.areas(water, tint_of(item, "water_fill", faint), ident=item.id)
    pen.lines(water, Stroke("water", 0.13, (0.9, 0.5), cap=Cap.FLAT), level=1)


def _channel(drawn: Drawn, pen: Pen) -> None:
    """Draw the water, the channel's line, and the bank with its ticks and its open sill."""
    item = drawn.item
    _water(drawn, pen)
    wide = 0.5 if pen.mm(_width_m(drawn)) < NARROW_MM else 0.35
    pen.lines(item.geometry, stroke_of(item, "water", wide), item.id, level=3)
    bank, sill = drawn.parts.get("bank"), drawn.parts.get("sill")
    if bank is None or bank.is_empty:
        return
    closed = bank
    if sill is not None and not sill.is_empty:
        closed = shapely.difference(bank, sill.buffer(max(_width_m(drawn) / 4, 0.3)))
    pen.lines(closed, stroke_of(item, "earth", 0.4), item.id, level=4)
    toe = drawn.parts.get("toe")
    if toe is not None and not crossed(item):
        slope_ticks(pen, closed, _far_side(toe, item.geometry, bank), "earth", level=3)
    if sill is not None and not sill.is_empty and not crossed(item):
        pen.lines(sill, Stroke("water", 0.6, cap=Cap.FLAT), level=5)
        _over(drawn, pen, sill)


def _far_side(toe: BaseGeometry, line: BaseGeometry, bank: BaseGeometry) -> BaseGeometry:
    """Return the stretches of a work's edge beyond its bank, as seen from its line."""
    edge = shapely.segmentize(toe.boundary, 1.0)
    legs = [np.stack((path[:-1], path[1:]), axis=1) for path in paths_of(edge)]
    if not legs:
        return edge
    pieces = np.asarray(shapely.linestrings(np.concatenate(legs)))
    middles = np.asarray(shapely.line_interpolate_point(pieces, 0.5, normalized=True))
    beyond = shapely.distance(middles, bank) < shapely.distance(middles, line)
    return MultiLineString(list(pieces[beyond]))


def _width_m(drawn: Drawn) -> float:
    item = drawn.item
    if getattr(item, "shape", "trapezoid") == "parabola":
        return float(getattr(item, "top_m", 2.0))
    bottom, side = getattr(item, "bottom_m", 1.0), getattr(item, "side", 2.0)
    return float(bottom + 2 * side * getattr(item, "depth_m", 0.4))


def _to_spill(drawn: Drawn, path: Path) -> list[Path]:
    """Return a line parted at its spill, each part running towards it."""
    spill = drawn.parts.get("sill")
    if spill is None or spill.is_empty:
        return []
    line = LineString(path)
    at = line.project(spill.centroid)
    parts: list[Path] = []
    for start, end in ((0.0, at), (line.length, at)):
        piece = shapely.ops.substring(line, min(start, end), max(start, end))
        if piece.geom_type == "LineString" and piece.length > 0:
            xy = shapely.get_coordinates(piece)
            parts.append(xy if start <= end else xy[::-1])
    return parts


def _arrows(drawn: Drawn, pen: Pen, path: Path) -> None:
    if crossed(drawn.item):
        return
    length = float(np.hypot(*np.diff(path, axis=0).T).sum())
    if pen.mm(length) < 2 * ARROW_MM:
        return
    places = along(path, pen.m(ARROW_EVERY_MM), None)
    pen.stamps("flow", places.xy, ARROW_MM, Stroke("water", 0.28), turn_deg=places.bearing_deg,
               level=5)  # fmt: skip


def _over(drawn: Drawn, pen: Pen, sill: BaseGeometry) -> None:
    """Draw arrows square over a sill, away from the channel's middle line."""
    base = drawn.item.geometry
    assert isinstance(base, LineString)
    for path in paths_of(sill):
        places = along(path, pen.m(3.0))
        if not len(places):
            continue
        at = np.asarray(shapely.line_locate_point(base, np.asarray(shapely.points(places.xy))))
        near = shapely.get_coordinates(np.asarray(shapely.line_interpolate_point(base, at)))
        off = places.xy - near
        if np.hypot(*off.T).max() > 1e-3:
            turn = np.degrees(np.arctan2(off[:, 0], off[:, 1]))
        else:
            turn = places.bearing_deg + _downhill(drawn)
        ahead = np.column_stack((np.sin(np.radians(turn)), np.cos(np.radians(turn))))
        pen.stamps("flow", places.xy + ahead * pen.m(1.1), 1.2, Stroke("water", 0.25),
                   turn_deg=turn, level=6)  # fmt: skip


def _downhill(drawn: Drawn) -> float:
    """Return the turn from a check's line to the way the water goes: by its apron."""
    apron, line = drawn.parts.get("apron"), drawn.item.geometry
    if apron is None:
        return 90.0
    a, b = np.asarray(line.coords[0][:2]), np.asarray(line.coords[-1][:2])
    c = shapely.get_coordinates(apron.centroid)[0]
    right = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]) < 0
    return 90.0 if right else -90.0


def _beside(path: Path, off_m: float) -> Path:
    return shapely.get_coordinates(LineString(path).offset_curve(off_m))


def _name(drawn: Drawn, pen: Pen, plain: str, level: str = "lip_m") -> None:
    """Write the name, and the lip's level with the fall where the scale leaves room."""
    item = drawn.item
    words = item.name
    if pen.look.scale <= LEVELS_AT:
        fact = drawn.fact(level)
        if fact is not None and isinstance(fact.value, float):
            figure = show(fact.value, "m", pen.look.units)
            fall = drawn.fact("fall")
            if fall is not None and isinstance(fall.value, float) and fall.value > 0:
                figure += f", 1:{1 / fall.value:.0f}"
            words = f"{words or plain} {figure}"
    name_line(drawn, pen, words, "water", size_mm=1.7, weight=4.6,
              off_mm=pen.mm(_width_m(drawn)) / 2 + 1.5)  # fmt: skip
