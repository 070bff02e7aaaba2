"""A cross-section in millimetres: ground, works and water at true scale, with dimensions."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from canvas.base.grid import Floats
from canvas.base.quantity import UnitSystem, show
from canvas.drawing.details.registry import Detail
from canvas.drawing.entries import Anchor, Areas, Cap, Entry, Fill, Hatch, Lines, Path, Stroke, Text
from canvas.drawing.typeface import width_mm

SCALES = (5, 10, 20, 25, 50, 75, 100, 150, 200, 250, 500, 1000, 2000)
LETTERS_MM = 1.8
#: Room round the drawing for figures: left and right, below, above [mm].
SIDE_MM, FOOT_MM, HEAD_MM = 6.0, 22.0, 9.0
EXISTING = Stroke("earth", 0.25, (1.6, 0.7), cap=Cap.FLAT)
BUILT = Stroke("ink", 0.45)
WATER = Stroke("water", 0.3)
DIMENSION = Stroke("dimension", 0.15)

Pairs = Sequence[tuple[float, float]] | Floats


class CrossCut:
    """Draws in metres, across and up, at one scale both ways; `detail` hands it over."""

    def __init__(
        self,
        across_m: tuple[float, float],
        up_m: tuple[float, float],
        units: UnitSystem,
        room_mm: tuple[float, float] = (150.0, 70.0),
        right_mm: float = 0.0,
    ) -> None:
        wide, high = across_m[1] - across_m[0], max(up_m[1] - up_m[0], 0.1)
        fits = (
            s for s in SCALES if 1000 * wide / s <= room_mm[0] and 1000 * high / s <= room_mm[1]
        )
        self.scale = next(fits, SCALES[-1])
        self._left, self._foot = across_m[0], up_m[0]
        self._units = units
        self.width_mm = self.mm(wide) + 2 * SIDE_MM + right_mm
        self.height_mm = self.mm(high) + FOOT_MM + HEAD_MM
        self._below: list[Entry] = []
        self._above: list[Entry] = []

    def mm(self, metres: float) -> float:
        """Return millimetres on paper."""
        return 1000.0 * metres / self.scale

    def at(self, points: Pairs) -> Path:
        """Return places in millimetres, (n, 2), for (across, up) in metres."""
        found = np.asarray(points, float).reshape(-1, 2)
        return np.column_stack(
            (SIDE_MM + (found[:, 0] - self._left) * 1000 / self.scale,
             FOOT_MM + (found[:, 1] - self._foot) * 1000 / self.scale)
        )  # fmt: skip

    # -- what is drawn -----------------------------------------------------------------------------

    def line(self, points: Pairs, stroke: Stroke) -> None:
        """Draw a line."""
        self._above.append(Lines([self.at(points)], stroke))

    def area(self, points: Pairs, fill: Fill) -> None:
        """Fill an outline, below all lines."""
        self._below.append(Areas([[self.at(points)]], fill))

    def moved(self, u: Floats, existing: Floats, built: Floats) -> None:
        """Hatch what is cut and what is filled between two surfaces, each its own way."""
        for sign, fill in (
            (1.0, Fill("earth", Hatch.LINES, 0.7, 45.0, 1.1, 0.13)),
            (-1.0, Fill("earth", Hatch.DOTS, 0.7, gap_mm=1.1, line_mm=0.25)),
        ):
            gap = np.maximum(sign * (built - existing), 0.0)
            for first, last in _runs(gap > 1e-3):
                a, b = max(first - 1, 0), min(last + 1, len(u))
                part = u[a:b]
                top, foot = (existing + sign * gap)[a:b], existing[a:b]
                ring = np.vstack(
                    (np.column_stack((part, top)), np.column_stack((part, foot))[::-1])
                )
                self.area(ring, fill)

    def water(self, u: Floats, bed: Floats, level: float) -> None:
        """Fill with water up to a level, where the bed lies below it."""
        for first, last in _runs(bed < level - 1e-4):
            a, b = max(first - 1, 0), min(last + 1, len(u))
            part, low = u[a:b], np.minimum(bed[a:b], level)
            ring = np.vstack(
                (np.column_stack((part, np.full(len(part), level))),
                 np.column_stack((part, low))[::-1])
            )  # fmt: skip
            self.area(ring, Fill("water_fill", alpha=0.9))
            wet = part[bed[a:b] < level]
            self.line([(wet[0], level), (wet[-1], level)], WATER)

    def across(
        self, start: float, end: float, up: float, words: str = "", off_mm: float = 0
    ) -> None:
        """Dimension a width, its line at a height; `off_mm` moves it up on paper."""
        (a, b), (c, _) = self.at([(start, up), (end, up)])
        y = b + off_mm
        self._dimension((a, y), (c, y))
        self._write((a + c) / 2, y + 1.6, words or self.length(abs(end - start)))

    def upward(
        self, low: float, high: float, at: float, words: str = "", off_mm: float = 0
    ) -> None:
        """Dimension a height, its line at a place; `off_mm` moves it aside on paper."""
        (a, b), (_, d) = self.at([(at, low), (at, high)])
        x = a + off_mm
        self._dimension((x, b), (x, d))
        side = Anchor.RIGHT if off_mm < 0 else Anchor.LEFT
        self._write(x + (-1.0 if off_mm < 0 else 1.0), (b + d) / 2,
                    words or self.length(high - low), side)  # fmt: skip

    def aside(
        self, low: float, high: float, at: float, words: str, off_mm: float, reach: float
    ) -> None:
        """Dimension a height away from what it measures, with leaders from `reach`."""
        (a, b), (_, d) = self.at([(at, low), (at, high)])
        x = a + off_mm
        start = self.at([(reach, low)])[0][0]
        leads: list[Path] = [np.array([(start, y), (x + 1.0, y)]) for y in (b, d)]
        self._above.append(Lines(leads, Stroke("dimension", 0.1, (0.5, 0.5), cap=Cap.FLAT)))
        self._dimension((x, b), (x, d))
        self._write(x + 1.2, (b + d) / 2, words, Anchor.LEFT)

    def level(self, at: float, up: float, words: str, role: str = "ink") -> None:
        """Mark a level: a little triangle standing on it, and words over it."""
        x, y = self.at([(at, up)])[0]
        mark = np.array([(x, y), (x - 0.9, y + 1.6), (x + 0.9, y + 1.6), (x, y)])
        self._above.append(Lines([mark], Stroke(role, 0.2)))
        self._write(x, y + 3.2, words, role=role)

    def note(self, at: float, up: float, words: str, off: tuple[float, float] = (0, 0),
             anchor: Anchor = Anchor.CENTRE, role: str = "ink") -> None:  # fmt: skip
        """Write words at a place, moved by millimetres."""
        x, y = self.at([(at, up)])[0]
        self._write(x + off[0], y + off[1], words, anchor, role)

    def slope(self, at: float, up: float, run: float, words: str = "") -> None:
        """Write how a face runs, "2 : 1", beside it."""
        self.note(at, up, words or f"{run:g} : 1", role="dimension")

    def length(self, metres: float) -> str:
        """Return a length as people read it."""
        return show(metres, "m", self._units)

    def _dimension(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        a, b = np.array(start), np.array(end)
        slash = np.array((0.6, 0.6))
        paths: list[Path] = [np.array([a, b])]
        paths += [np.array([spot - slash, spot + slash]) for spot in (a, b)]
        self._above.append(Lines(paths, DIMENSION))

    def _write(
        self, x: float, y: float, words: str, anchor: Anchor = Anchor.CENTRE,
        role: str = "dimension",
    ) -> None:  # fmt: skip
        long = width_mm(words, LETTERS_MM)
        left = {Anchor.CENTRE: x - long / 2, Anchor.LEFT: x, Anchor.RIGHT: x - long}[anchor]
        shift = max(1.0 - left, 0.0) - max(left + long - (self.width_mm - 1.0), 0.0)
        self._above.append(Text(x + shift, y, words, LETTERS_MM, role, anchor, halo="halo"))

    def detail(self, title: str, notes: Iterable[str] = ()) -> Detail:
        """Return the drawing; notes stand under it."""
        foot = [
            Text(SIDE_MM, 7.5 - 3.2 * k, words, LETTERS_MM, "ink_soft", Anchor.LEFT)
            for k, words in enumerate(notes)
        ]
        entries = (*self._below, *self._above, *foot)
        longest = max((width_mm(t.words, LETTERS_MM) for t in foot), default=0.0)
        wide = max(self.width_mm, longest + 2 * SIDE_MM)
        return Detail(title, entries, wide, self.height_mm, f"1:{self.scale}")


def _runs(flags: np.ndarray) -> list[tuple[int, int]]:
    """Return the stretches that are so, as (first, last + 1)."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(int), [0]))))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
