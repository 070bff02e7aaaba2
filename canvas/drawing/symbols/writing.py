"""Notes and dimension lines."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely

from canvas.base.quantity import show
from canvas.drawing.entries import Cap, Stroke
from canvas.drawing.labels import around
from canvas.drawing.pen import Drawn, Pen
from canvas.drawing.styles import stroke_of
from canvas.drawing.symbols.marks import cross_out
from canvas.drawing.symbols.registry import symbol


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
            _figure(drawn, pen, (p + q) / 2, bearing, length if len(path) > 2 else None)
        cross_out(drawn, pen, "dimension")


def _figure(drawn: Drawn, pen: Pen, at: np.ndarray, bearing: float, leg_m: float | None) -> None:
    """Write a dimension's figure over its line; a line of several legs is figured leg by leg."""
    fact = drawn.fact("written_m")
    if leg_m is not None:
        words = show(leg_m, "m", pen.look.units)
    elif fact is not None and isinstance(fact.value, float):
        words = show(fact.value, "m", pen.look.units)
    else:
        return
    if fact is not None and "ground" in fact.basis and leg_m is None:
        words += " on the slope"
    turn = (bearing + 180.0) % 180.0 - 90.0
    up = np.radians(turn)
    lift = pen.m(1.5)
    pen.write(float(at[0] + lift * np.sin(up)), float(at[1] + lift * np.cos(up)), words, 1.9,
              "dimension", must=True, turn_deg=turn, ident=drawn.item.id, weight=9.0)  # fmt: skip


@symbol("note", 94)
def draw_notes(items: Sequence[Drawn], pen: Pen) -> None:
    """Write notes beside a small dot that says which place is meant."""
    for drawn in items:
        item = drawn.item
        xy = shapely.get_coordinates(item.geometry)
        pen.stamps("dot", xy, 0.8, Stroke("note", 0.2), ids=(item.id,))
        cross_out(drawn, pen, "note")
        words = getattr(item, "words", "") or item.name
        pen.write(float(xy[0, 0]), float(xy[0, 1]), words, getattr(item, "size_mm", 2.5), "note",
                  must=True, weight=10.0, tries=around(1.4), ident=item.id)  # fmt: skip
