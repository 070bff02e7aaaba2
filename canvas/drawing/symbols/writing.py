"""Notes and dimension lines."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely

from canvas.base.quantity import show
from canvas.drawing.entries import Anchor, Cap, Stroke
from canvas.drawing.labels import around
from canvas.drawing.pen import MARK_LETTERS_MM, Drawn, Pen
from canvas.drawing.styles import stroke_of
from canvas.drawing.symbols.marks import cross_out
from canvas.drawing.symbols.registry import symbol
from canvas.drawing.typeface import width_mm, wrap

#: Letters of a dimension's figure [mm].
FIGURE_MM = 1.9


@symbol("dimension", 92)
def draw_dimensions(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw dimension lines with ticks and the study's length, reading from below or right."""
    for drawn in items:
        item = drawn.item
        path = shapely.get_coordinates(item.geometry)
        offset = pen.m(getattr(item, "offset_mm", 3.0))
        fine = Stroke("dimension", 0.18, cap=Cap.FLAT)
        stroke = stroke_of(item, "dimension", 0.22, weigh=False)
        for a, b in pairwise(path):
            step = b - a
            length = float(np.hypot(*step))
            if not length:
                continue
            normal = np.array([-step[1], step[0]]) / length
            p, q = a + normal * offset, b + normal * offset
            over = normal * np.sign(offset or 1.0) * pen.m(1.0)
            pen.lines([np.array([p, q])], stroke, item.id)
            pen.lines([np.array([a, p + over]), np.array([b, q + over])], fine, item.id)
            bearing = float(np.degrees(np.arctan2(step[0], step[1])))
            pen.stamps("slash", np.array([p, q]), 1.7, Stroke("dimension", 0.35, cap=Cap.FLAT),
                       turn_deg=bearing - 90.0, level=1)  # fmt: skip
            _figure(drawn, pen, (p + q) / 2, bearing, length, len(path) > 2)
        cross_out(drawn, pen, "dimension")


def _figure(
    drawn: Drawn, pen: Pen, at: np.ndarray, bearing: float, length_m: float, legs: bool
) -> None:
    """Write a dimension's figure over its line; a line of several legs is figured leg by leg.

    One longer than its line is written only where there is room.
    """
    fact = drawn.fact("written_m")
    if legs:
        words = show(length_m, "m", pen.look.units)
    elif fact is not None and isinstance(fact.value, float):
        words = show(fact.value, "m", pen.look.units)
    else:
        return
    if fact is not None and "ground" in fact.basis and not legs:
        words += " on the slope"
    turn = (bearing + 180.0) % 180.0 - 90.0
    up = np.radians(turn)
    lift = pen.m(1.5)
    pen.write(float(at[0] + lift * np.sin(up)), float(at[1] + lift * np.cos(up)), words, FIGURE_MM,
              "dimension", must=pen.mm(length_m) >= width_mm(words, FIGURE_MM), turn_deg=turn,
              ident=drawn.item.id, weight=9.0)  # fmt: skip


#: Notes are written as tall as was set up to this scale, then smaller, down to a height [mm].
FULL_SIZE_AT, LEAST_MM = 1000.0, 1.6
#: Beyond 1:n for each millimetre of a note's letters it shows by its mark alone.
WORDS_TO = 3000.0
#: Longest line, in letter heights, where there is room and where there is little.
LONG, SHORT, SHORT_BEYOND = 26.0, 15.0, 2000.0


def note_mm(size_mm: float, scale: float) -> float:
    """Return a note's letter height at 1:scale: never larger than set, never too small to read."""
    return max(size_mm * min(1.0, math.sqrt(FULL_SIZE_AT / scale)), min(size_mm, LEAST_MM))


def note_lines(words: str, size_mm: float, scale: float) -> str:
    """Return a note's words in lines short enough for the scale, the writer's own breaks kept."""
    room = size_mm * (LONG if scale <= SHORT_BEYOND else SHORT)
    return "\n".join(wrap(words, size_mm, room))


@symbol("note", 94)
def draw_notes(items: Sequence[Drawn], pen: Pen) -> None:
    """Write notes beside a small dot that says which place is meant.

    One without room shows by a mark: its number on paper, where the words are listed beside the
    map, and dots on a screen, where one can come closer. Taller letters go before smaller ones.
    """
    look = pen.look
    for number, drawn in enumerate(items, 1):
        item = drawn.item
        xy = shapely.get_coordinates(item.geometry)
        x, y = float(xy[0, 0]), float(xy[0, 1])
        pen.stamps("dot", xy, 0.8, Stroke("note", 0.2), ids=(item.id,))
        cross_out(drawn, pen, "note")
        words = getattr(item, "words", "") or item.name
        own = getattr(item, "size_mm", 2.5)
        size, weight = note_mm(own, look.scale), 5.0 + own
        mark = "…" if look.thin else note_mark(number)
        if look.scale > WORDS_TO * own:
            pen.write(x, y, mark, MARK_LETTERS_MM, "note", must=True, bold=True, weight=weight,
                      tries=around(1.0), ident=item.id)  # fmt: skip
            continue
        lines = note_lines(words, size, look.scale)
        pen.write(x, y, lines, size, "note", weight=weight, tries=_about(size), ident=item.id,
                  instead=mark)  # fmt: skip


def note_mark(number: int) -> str:
    """Return what stands on a sheet for the note of this number among those on it."""
    return f"N{number}"


def _about(size_mm: float) -> tuple[tuple[float, float, Anchor], ...]:
    """Return places about a note's dot, near ones first."""
    return around(1.4) + around(1.4 + size_mm)
