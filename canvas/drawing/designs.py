"""Designs of the small symbols: one definition each, drawn as vectors or as cached sprites.

A design lives in a square of side 1 around (0, 0), y up; anything stamped with size 5 is 5 units
across. Areas take the stamp's fill, lines its stroke; a part filled "stroke" takes the stroke's
ink, so that black dots stay black whatever the fill.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from canvas.base.errors import InputError
from canvas.drawing.entries import Path


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """One part of a design: a polyline or, when `radius` is above 0, a disc about its one point."""

    points: Path
    closed: bool = True
    #: "" for no fill, "fill" or "stroke" for the ink it is filled with.
    fill: str = "fill"
    outline: bool = True
    radius: float = 0.0


Design = tuple[Shape, ...]


def _path(points: Iterable[tuple[float, float]]) -> Path:
    return np.array(list(points), float)


def disc(
    radius: float, x: float = 0.0, y: float = 0.0, fill: str = "fill", outline: bool = True
) -> Shape:
    """Return a disc or, unfilled, a ring."""
    return Shape(_path([(x, y)]), True, fill, outline, radius)


def line(*points: tuple[float, float]) -> Shape:
    """Return an open polyline."""
    return Shape(_path(points), closed=False, fill="")


def area(*points: tuple[float, float], fill: str = "fill", outline: bool = True) -> Shape:
    """Return a closed outline."""
    return Shape(_path(points), True, fill, outline)


def _around(count: int, radius: float, turn_deg: float = 0.0) -> list[tuple[float, float]]:
    angle = np.radians(turn_deg + np.arange(count) * 360.0 / count)
    return [(float(radius * np.sin(a)), float(radius * np.cos(a))) for a in angle]


def _lobed(lobes: int, depth: float, uneven: float = 0.0) -> Shape:
    """Return a crown edge of round lobes, touching the circle of radius 0.5."""
    phase = np.linspace(0, 2 * np.pi, lobes * 8, endpoint=False)
    swing = np.abs(np.sin(phase * lobes / 2)) ** 0.7
    radius = 0.5 - depth * (1 - swing)
    radius -= uneven * (0.5 + 0.5 * np.sin(2 * phase + 0.8)) * depth
    radius *= 0.5 / radius.max()
    return Shape(np.column_stack([radius * np.sin(phase), radius * np.cos(phase)]))


def _spiked(spikes: int, inner: float) -> Shape:
    outer, notch = _around(spikes, 0.5), _around(spikes, inner, 180.0 / spikes)
    return area(*(point for pair in zip(outer, notch, strict=True) for point in pair))


def _rays(count: int, start: float, end: float, turn_deg: float = 0.0) -> list[Shape]:
    inner, outer = _around(count, start, turn_deg), _around(count, end, turn_deg)
    return [line(a, b) for a, b in zip(inner, outer, strict=True)]


def _leafs(count: int, radius: float, size: float) -> list[Shape]:
    """Return little arcs strewn inside a crown, as a pencil would put them."""
    marks = []
    for k in range(count):
        turn = k * 137.5
        (x, y) = _around(1, radius * (0.45 + 0.55 * (k % 3) / 2), turn)[0]
        arc = np.radians(turn + np.linspace(-70, 70, 6))
        marks.append(line(*((x + size * np.sin(a), y + size * np.cos(a)) for a in arc)))
    return marks


def _fronds(count: int) -> list[Shape]:
    shapes = []
    for k in range(count):
        turn = np.radians(k * 360.0 / count)
        along = np.array([0.0, 0.18, 0.36, 0.5])
        side = np.array([0.0, 0.075, 0.055, 0.0])
        right = np.column_stack([side, along])
        left = np.column_stack([-side[::-1], along[::-1]])
        spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
        shapes.append(Shape(np.vstack([right, left[1:-1]]) @ spin))
    return shapes


_CROSS = (line((-0.5, -0.5), (0.5, 0.5)), line((-0.5, 0.5), (0.5, -0.5)))
_PLUS = (line((-0.5, 0.0), (0.5, 0.0)), line((0.0, -0.5), (0.0, 0.5)))
_TRIANGLE = [(0.0, 0.5), (0.5, -0.366), (-0.5, -0.366)]
_BOX = [(-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)]


def _box(half_x: float, half_y: float, fill: str = "fill") -> Shape:
    corners = ((-half_x, -half_y), (half_x, -half_y), (half_x, half_y), (-half_x, half_y))
    return area(*corners, fill=fill)


def _arc(start_deg: float, end_deg: float, radius: float, x: float = 0, y: float = 0) -> Shape:
    angle = np.radians(np.linspace(start_deg, end_deg, 13))
    return line(*((x + radius * np.sin(a), y + radius * np.cos(a)) for a in angle))


DESIGNS: dict[str, Design] = {
    # Crowns by habit: true diameter.
    "crown_plain": (disc(0.5),),
    "crown_broad": (_lobed(11, 0.07), *_leafs(6, 0.33, 0.075)),
    "crown_small": (_lobed(7, 0.075), *_leafs(3, 0.26, 0.1)),
    "crown_shrub": (_lobed(5, 0.11, 0.5), *_leafs(2, 0.2, 0.12)),
    "crown_conifer": (_spiked(16, 0.41), *_rays(8, 0.12, 0.36, 22.5)),
    "crown_palm": tuple(_fronds(9)),
    "crown_ring": (disc(0.5, fill=""),),
    # Marks of status.
    "dot": (disc(0.5, fill="stroke", outline=False),),
    "ring": (disc(0.5),),
    "plus": _PLUS,
    "cross": _CROSS,
    # Survey.
    "benchmark": (area(*_TRIANGLE), disc(0.1, 0, -0.08, fill="stroke", outline=False)),
    "control": (disc(0.36), *_PLUS),
    "peg": (area(*_BOX), disc(0.14, fill="stroke", outline=False)),
    "corner": (disc(0.5),),
    "test_pit": (
        area(*_BOX), area((-0.5, -0.5), (0.5, -0.5), (0.5, 0.0), (-0.5, 0.0), fill="stroke"),
    ),
    # Water and waste.
    "well": (disc(0.5), disc(0.3), disc(0.12, fill="stroke", outline=False)),
    "tank": (disc(0.5), disc(0.38, fill=""), line((-0.27, 0.27), (0.27, -0.27))),
    "septic_tank": (_box(0.5, 0.28), line((0.12, -0.28), (0.12, 0.28)), disc(0.09, -0.2)),
    "gauge": (
        area((-0.2, -0.5), (0.2, -0.5), (0.2, 0.5), (-0.2, 0.5)),
        line((-0.2, 0.25), (0.06, 0.25)), line((-0.2, 0.0), (0.06, 0.0)),
        line((-0.2, -0.25), (0.06, -0.25)),
    ),
    "flow": (line((-0.3, -0.5), (0.0, 0.5), (0.3, -0.5)),),
    "reed": (
        line((-0.5, -0.35), (0.5, -0.35)),
        line((0.0, -0.35), (0.0, 0.5)),
        line((-0.2, -0.35), (-0.36, 0.28)),
        line((0.2, -0.35), (0.36, 0.28)),
    ),
    # Ground cover, strewn.
    "tuft": (
        line((-0.1, -0.4), (-0.42, 0.3)),
        line((0.0, -0.4), (0.0, 0.5)),
        line((0.1, -0.4), (0.42, 0.3)),
    ),
    "bush": (_arc(-120, 120, 0.27, -0.2, 0), _arc(-100, 120, 0.22, 0.26, -0.06)),
    "wood": (_lobed(6, 0.09),),
    "pebble": (area((-0.5, -0.3), (-0.1, 0.4), (0.5, -0.2), fill=""),),
    # Structures and services.
    "pole": (disc(0.5, fill="stroke"),),
    "gate": (
        line((-0.5, 0.0), (0.5, 0.0)),
        _arc(90, 20, 1.0, -0.5, 0.0),
        disc(0.07, -0.5, 0, fill="stroke"),
        disc(0.07, 0.5, 0, fill="stroke"),
    ),
    "bolt": (
        area(
            (0.1, 0.5), (-0.3, -0.05), (-0.02, -0.05), (-0.12, -0.5), (0.3, 0.1), (0.03, 0.1),
            fill="stroke", outline=False,
        ),
    ),
    "tick": (line((0.0, 0.0), (0.0, 0.5)),),
    "bar": (line((0.0, -0.5), (0.0, 0.5)),),
    "slash": (line((-0.5, -0.5), (0.5, 0.5)),),
    "post": (area(*_BOX, fill="stroke"),),
    "wire": (disc(0.32),),
    # Findings: one mark for each severity.
    "mark_error": (
        area(*_TRIANGLE, fill="stroke"),
        area((-0.065, 0.2), (0.065, 0.2), (0.035, -0.1), (-0.035, -0.1), outline=False),
        disc(0.058, 0, -0.21, outline=False),
    ),
    "mark_warning": (
        area(*_TRIANGLE),
        area(
            (-0.05, 0.17), (0.05, 0.17), (0.03, -0.1), (-0.03, -0.1), fill="stroke", outline=False
        ),
        disc(0.055, 0, -0.21, fill="stroke", outline=False),
    ),
    "mark_advice": (
        disc(0.46),
        disc(0.06, 0, 0.2, fill="stroke", outline=False),
        area(
            (-0.05, 0.08), (0.05, 0.08), (0.05, -0.26), (-0.05, -0.26),
            fill="stroke", outline=False,
        ),
    ),
}  # fmt: skip


def design(name: str) -> Design:
    """Return the design called `name`."""
    try:
        return DESIGNS[name]
    except KeyError:
        raise InputError(f"no symbol design called {name!r}") from None
