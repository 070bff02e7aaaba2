"""Overhead lines, buried services, firebreaks."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
import shapely.ops

from canvas.base.quantity import show
from canvas.drawing.entries import Cap, Fill, Hatch, Path, Stroke
from canvas.drawing.pen import Drawn, Pen, along, paths_of
from canvas.drawing.styles import crossed, stroke_of
from canvas.drawing.symbols.marks import cross_out, name_line
from canvas.drawing.symbols.registry import symbol
from canvas.site.elements.services import SERVICES

#: Letter in the gap of each service's line.
LETTERS = {"power": "E", "water": "W", "gas": "G", "telecom": "T", "sewer": "S", "unknown": "?"}
LETTER_EVERY_MM = 18.0
LETTER_GAP_MM = 3.0


@symbol("overhead_line", 70)
def draw_overhead(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw overhead lines with poles, the swath of their wires, and the voltage."""
    for drawn in items:
        item = drawn.item
        strip = drawn.parts.get("strip")
        if strip is not None and strip.area > 0 and not crossed(item):
            swath = Fill("service", Hatch.LINES, 0.5, angle_deg=135.0, gap_mm=1.6, line_mm=0.1)
            pen.areas(strip, swath, Stroke("service", 0.13, (0.4, 0.7)), item.id, level=-1)
        line = drawn.part("centre_line")
        pen.lines(line, stroke_of(item, "service", 0.4, (5.0, 0.9)), item.id)
        poles = shapely.get_coordinates(drawn.part("poles"))
        pen.stamps("pole", poles, 1.3, Stroke("service", 0.2), Fill("service"), level=2)
        for path in paths_of(line):
            spans = (path[:-1] + path[1:]) / 2
            step = np.diff(path, axis=0)
            long = np.hypot(step[:, 0], step[:, 1]) > pen.m(14.0)
            pen.stamps("bolt", spans[long], 2.6, Stroke("service", 0.2), level=3)
        cross_out(drawn, pen, "service")
        volts = show(getattr(item, "voltage_kv", 0.0), "kV", pen.look.units, None)
        if volts.endswith(".0\N{NO-BREAK SPACE}kV"):
            volts = volts.replace(".0", "")
        words = f"{item.name or 'Overhead line'} · {volts}"
        name_line(drawn, pen, words, "service", size_mm=1.8, weight=7.0, off_mm=2.2)


@symbol("buried_service", 26, "service")
def draw_buried(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw buried services as dashes with the service's letter in the gaps."""
    names = dict(SERVICES)
    for drawn in items:
        item = drawn.item
        service = getattr(item, "service", "unknown")
        letter = LETTERS[service]
        stroke = stroke_of(item, "service", 0.38, (2.6, 0.9))
        for path in paths_of(item.geometry):
            places = along(path, pen.m(LETTER_EVERY_MM))
            pen.lines(_gapped(path, pen.m(LETTER_EVERY_MM), pen.m(LETTER_GAP_MM)), stroke, item.id)
            for (x, y), turn in zip(places.xy, places.reading_deg, strict=True):
                pen.write(float(x), float(y), letter, 1.6, "service", must=True, bold=True,
                          turn_deg=float(turn), ident=item.id, weight=1.0)  # fmt: skip
        cross_out(drawn, pen, "service")
        depth = getattr(item, "depth_m", None)
        words = item.name or names[service]
        if depth is not None:
            words += f", {show(depth, 'm', pen.look.units)} deep"
        name_line(drawn, pen, words, "service", size_mm=1.6, weight=4.0, off_mm=1.9)


def _gapped(path: Path, every_m: float, gap_m: float) -> list[Path]:
    """Return a path's pieces between the letters that `along` places on it."""
    line = shapely.LineString(path)
    total = line.length
    start = (total - int(total / every_m) * every_m) / 2 or every_m / 2
    at = np.arange(start, total, every_m)
    if not len(at):
        at = np.array([total / 2])
    cuts = np.concatenate([[0.0], np.ravel(np.column_stack([at - gap_m / 2, at + gap_m / 2])),
                           [total]])  # fmt: skip
    pieces = []
    for a, b in cuts.reshape(-1, 2):
        if b - a > gap_m / 4:
            pieces.append(shapely.get_coordinates(shapely.ops.substring(line, max(a, 0.0), b)))
    return [piece for piece in pieces if len(piece) > 1]


#: How a belt is kept: hatch, angle [deg], gap [mm], weight [mm].
BELT_HATCH = {
    "mineral": (Hatch.DOTS, 0.0, 1.5, 0.32),
    "mown": (Hatch.LINES, 60.0, 1.4, 0.13),
    "grazed": (Hatch.LINES, 60.0, 2.6, 0.13),
    "gravel": (Hatch.CROSS, 30.0, 1.8, 0.1),
}


@symbol("firebreak", 18, "surface")
def draw_firebreaks(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw firebreaks as a belt textured by how it is kept, between ruled edges."""
    for drawn in items:
        item = drawn.item
        belt = drawn.part("belt")
        if not crossed(item):
            pen.areas(belt, Fill("fire_fill", alpha=0.65), ident=item.id)
            hatch, angle, gap, weight = BELT_HATCH[getattr(item, "surface", "mineral")]
            pen.areas(belt, Fill("fire", hatch, 0.7, angle, gap, weight), level=1)
        stroke = stroke_of(item, "fire", 0.3, (3.4, 1.1))
        pen.lines(belt, Stroke(stroke.role, stroke.width_mm, stroke.dash_mm, cap=Cap.FLAT),
                  item.id, level=2)  # fmt: skip
        cross_out(drawn, pen, "fire")
        width = show(getattr(item, "width_m", None), "m", pen.look.units, 1)
        words = f"{item.name or 'Firebreak'} · {width}"
        name_line(drawn, pen, words, "fire", size_mm=1.7, weight=5.0,
                  off_mm=pen.mm(getattr(item, "width_m", 4.0)) / 2 + 1.6)  # fmt: skip
