"""What stands round a map, in millimetres of paper: north arrow, scale bar, ticks, frame."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from canvas.base.quantity import FT, UnitSystem
from canvas.drawing.entries import Anchor, Areas, Cap, Entry, Fill, Frame, Lines, Path, Stroke, Text
from canvas.drawing.typeface import width_mm

THIN = Stroke("ink", 0.18, cap=Cap.FLAT)
FRAME = Stroke("ink", 0.5, cap=Cap.FLAT)
#: Least distance of coordinate ticks on paper.
TICK_APART_MM = 42.0
TICK_MM = 2.2
CROSS_MM = 2.4


def ring(*points: tuple[float, float]) -> Path:
    """Return a path from points."""
    return np.array(points, float)


def rule(x0: float, y0: float, x1: float, y1: float, stroke: Stroke = THIN) -> Lines:
    """Return one straight line."""
    return Lines([ring((x0, y0), (x1, y1))], stroke)


def box(
    x: float, y: float, width: float, height: float, stroke: Stroke | None, fill: Fill | None = None
) -> Areas:
    """Return a rectangle by its lower left corner."""
    corners = ring((x, y), (x + width, y), (x + width, y + height), (x, y + height))
    return Areas([(corners,)], fill, stroke)


def nice_step(least: float) -> float:
    """Return the smallest of 1, 2, 5 × 10ⁿ that is at least `least`."""
    power = 10.0 ** math.floor(math.log10(least))
    for digit in (1.0, 2.0, 5.0, 10.0):
        if digit * power >= least * (1 - 1e-9):
            return digit * power
    return 10.0 * power


def ratio_text(scale: float, units: UnitSystem = UnitSystem.METRIC) -> str:
    """Return "1:500"; in US units the inch to feet as well."""
    plain = f"1:{scale:,.0f}".replace(",", "\N{NARROW NO-BREAK SPACE}")
    if scale != round(scale):
        plain = f"1:{scale:g}"
    if units is UnitSystem.US:
        feet = scale / 12
        shown = f"{feet:.0f}" if abs(feet - round(feet)) < 1e-6 else f"{feet:.2f}"
        return f"1″ = {shown}′ ({plain})"
    return plain


@dataclass(frozen=True, slots=True)
class ScaleBar:
    """A scale bar and the room it takes."""

    entries: tuple[Entry, ...]
    width_mm: float
    #: Ground length of the whole bar [m].
    length_m: float


def scale_bar(
    x: float, y: float, scale: float, most_mm: float, units: UnitSystem, size_mm: float = 1.7
) -> ScaleBar:
    """Return a bar of four parts, the first cut in fifths, with its figures above.

    `(x, y)` is the lower left of the bar; figures stand up to 2.2 letter heights above it.
    """
    unit_m, name = (FT, "ft") if units is UnitSystem.US else (1.0, "m")
    most_units = most_mm * scale / 1000 / unit_m
    part = nice_step(most_units / 4)
    while part * 4 > most_units * (1 + 1e-9):
        part = _next_smaller(part)
    part_mm = part * unit_m * 1000 / scale
    high = 1.3
    dark: list[tuple[Path, ...]] = []
    for i in range(5):
        if i % 2 == 0:
            left, right = x + part_mm * i / 5, x + part_mm * (i + 1) / 5
            dark.append((ring((left, y), (right, y), (right, y + high), (left, y + high)),))
    left, right = x + 2 * part_mm, x + 3 * part_mm
    dark.append((ring((left, y), (right, y), (right, y + high), (left, y + high)),))
    entries: list[Entry] = [
        box(x, y, 4 * part_mm, high, THIN, Fill("paper")),
        Areas(dark, Fill("ink")),
        Lines(
            [ring((x + k * part_mm, y), (x + k * part_mm, y + high + 0.8)) for k in range(5)],
            THIN,
        ),
    ]
    for k in range(5):
        words = f"{k * part:,.6g}".replace(",", "\N{NARROW NO-BREAK SPACE}")
        if k == 4:
            words = f"{words} {name}"
        shift = width_mm(f" {name}", size_mm) / 2 if k == 4 else 0.0
        entries.append(Text(x + k * part_mm + shift, y + high + 1.2 + size_mm / 2, words, size_mm))
    return ScaleBar(tuple(entries), 4 * part_mm, 4 * part * unit_m)


def _next_smaller(step: float) -> float:
    power = 10.0 ** math.floor(math.log10(step) + 1e-9)
    digit = round(step / power)
    return {1: 0.5, 2: 1.0, 5: 2.0}.get(digit, 0.5) * power


def north_arrow(
    x: float, y: float, size: float, convergence_deg: float | None, letter_mm: float = 2.6
) -> tuple[Entry, ...]:
    """Return an arrow to grid north, straight up, and a fine line to true north beside it.

    `(x, y)` is the middle of the foot, `size` the arrow's length. `convergence_deg` is what is
    added to a grid bearing for the true one: true north lies that much to the left of grid north.
    """
    tip, notch = y + size, y + size * 0.18
    half = size * 0.19
    entries: list[Entry] = [
        Areas([(ring((x, tip), (x - half, y), (x, notch)),)], Fill("ink"), THIN),
        Areas([(ring((x, tip), (x + half, y), (x, notch)),)], Fill("paper"), THIN),
        Text(x, tip + letter_mm * 0.85, "N", letter_mm, bold=True),
    ]
    if convergence_deg is not None:
        turn = math.radians(-convergence_deg)
        long = size * 1.12
        start = notch
        reach = long - size * 0.18
        tx, ty = x + math.sin(turn) * reach, start + math.cos(turn) * reach
        entries.append(Lines([ring((x, start), (tx, ty))], Stroke("ink", 0.13, (1.2, 0.7))))
    return tuple(entries)


def north_words(convergence_deg: float | None) -> tuple[str, ...]:
    """Return what the arrow says in words."""
    if convergence_deg is None:
        return ("Grid north",)
    side = "west" if convergence_deg > 0 else "east"
    if abs(convergence_deg) < 0.005:
        return ("Grid north is true north",)
    return ("Arrow: grid north", f"True north {abs(convergence_deg):.2f}° {side} of it")


def ticks(frame: Frame, size_mm: float = 1.5, apart_mm: float = TICK_APART_MM) -> tuple[Entry, ...]:
    """Return coordinate ticks on the frame with their figures, and crosses where lines would meet.

    Figures stand outside the frame: room of two letter heights is needed there.
    """
    step = nice_step(apart_mm * frame.scale / 1000)
    half_x, half_y = frame.width_mm / 2, frame.height_mm / 2
    per = 1000 / frame.scale
    left, bottom = frame.left_mm, frame.bottom_mm
    right, top = left + frame.width_mm, bottom + frame.height_mm

    def places(centre: float, half_mm: float) -> list[float]:
        low, high = centre - half_mm / per, centre + half_mm / per
        return [k * step for k in range(math.ceil(low / step), math.floor(high / step) + 1)]

    marks: list[Path] = []
    texts: list[Entry] = []
    columns = [
        (e, left + half_x + (e - frame.centre_x) * per) for e in places(frame.centre_x, half_x)
    ]
    rows = [
        (n, bottom + half_y + (n - frame.centre_y) * per) for n in places(frame.centre_y, half_y)
    ]
    off = size_mm * 0.5 + 0.9
    for east, x in columns:
        marks += [ring((x, top), (x, top - TICK_MM)), ring((x, bottom), (x, bottom + TICK_MM))]
        if left + 9 < x < right - 9:
            for y in (top + off, bottom - off):
                texts.append(Text(x, y, f"{_metres(east)} E", size_mm, "ink_soft"))
    for north, y in rows:
        marks += [ring((left, y), (left + TICK_MM, y)), ring((right, y), (right - TICK_MM, y))]
        if bottom + 10 < y < top - 10:
            for x, turn in ((left - off, -90.0), (right + off, 90.0)):
                texts.append(Text(x, y, f"{_metres(north)} N", size_mm, "ink_soft", turn_deg=turn))
    arm = CROSS_MM / 2
    for _, x in columns:
        for _, y in rows:
            if left + 4 < x < right - 4 and bottom + 4 < y < top - 4:
                marks += [ring((x - arm, y), (x + arm, y)), ring((x, y - arm), (x, y + arm))]
    return (Lines(marks, THIN), *texts)


def _metres(value: float) -> str:
    return f"{value:,.0f}".replace(",", "\N{NARROW NO-BREAK SPACE}")


def left_text(
    x: float, y: float, words: str, size_mm: float, role: str = "ink", *, bold: bool = False,
    italic: bool = False,
) -> Text:  # fmt: skip
    """Return writing that starts at x, its middle at y."""
    return Text(x, y, words, size_mm, role, Anchor.LEFT, bold=bold, italic=italic)
