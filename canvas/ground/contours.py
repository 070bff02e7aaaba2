"""Contour lines of a grid, all levels at once, stitched; and where their labels go."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from canvas.base.errors import InputError
from canvas.base.grid import Floats, Grid
from canvas.ground import kernels

#: Every fifth line is drawn heavier and labelled.
INDEX_EVERY = 5
#: More crossings than this (about 2 GB of work space) means the interval is far too fine.
MOST_POINTS = 40_000_000


@dataclass(frozen=True, slots=True, eq=False)
class Contours:
    """Lines of equal height. Higher ground is on the left of each line's direction.

    `xy_m` (points, 2) holds all lines one after the other: line i is rows
    `start[i]:start[i + 1]`. A closed line repeats its first point at its end. Lines break where
    data are missing.
    """

    interval_m: float
    xy_m: Floats
    start: NDArray[np.int64]
    level_m: Floats
    closed: NDArray[np.bool_]
    #: Whether the line is an index line (every fifth level counted from `base`).
    index: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.level_m)

    def line(self, i: int) -> Floats:
        """Return the points of line `i`, shape (points, 2); a view."""
        return self.xy_m[self.start[i] : self.start[i + 1]]

    def __iter__(self) -> Iterator[tuple[float, Floats]]:
        """Yield each line's level and points."""
        for i in range(len(self)):
            yield float(self.level_m[i]), self.line(i)

    def lengths_m(self) -> Floats:
        """Return each line's plan length."""
        steps = np.hypot(*np.diff(self.xy_m, axis=0).T) if len(self.xy_m) else np.zeros(0)
        run = np.concatenate(([0.0], np.cumsum(steps)))
        if not len(self):
            return np.zeros(0)
        return run[self.start[1:] - 1] - run[self.start[:-1]]


def contours(grid: Grid, interval_m: float, base_m: float = 0.0) -> Contours:
    """Return all lines at `base_m` + whole multiples of `interval_m`.

    Heights between cell centres run in straight lines along the cell links; where four corners
    leave two ways to join them, the mean of the four decides. A cell exactly on a level counts
    as above it. Raises `InputError` when the interval would give more than `MOST_POINTS` points.
    """
    if not interval_m > 0:
        raise InputError(f"contour interval must be above 0, got {interval_m}")
    z = np.ascontiguousarray(grid.z, dtype=np.float64)
    known = z[np.isfinite(z)] if not np.isfinite(z).all() else z
    if known.size and max(abs(known.max() - base_m), abs(known.min() - base_m)) / interval_m > 1e9:
        raise InputError(f"contour interval {interval_m} m is too fine for these heights")
    if known is not z:
        z = np.where(np.isfinite(z), z, np.nan)
    band = np.empty(z.shape, np.int32)
    count = kernels.count_crossings(z, base_m, interval_m, band) if z.size else 0
    if count > MOST_POINTS:
        raise InputError(f"contour interval {interval_m} m would give {count} points")
    xy, level = np.empty((count, 2)), np.empty(count, np.int32)
    follows, entered = np.full(count, -1, np.int32), np.zeros(count, np.uint8)
    if count:
        kernels.cross_and_link(z, band, base_m, interval_m, xy, level, follows, entered)
    # A closed line has one point more than crossings, and at least three of them.
    out = np.empty((count + count // 3 + 1, 2))
    start, of = np.zeros(count // 2 + 2, np.int64), np.empty(count // 2 + 1, np.int32)
    closed = np.empty(count // 2 + 1, np.uint8)
    lines = kernels.walk_lines(
        xy, level, follows, entered, grid.west_m, grid.north_m, grid.cell_m, out, start, of, closed
    )
    start = start[: lines + 1].copy()
    return Contours(
        interval_m,
        out[: start[-1]].copy(),
        start,
        base_m + of[:lines] * interval_m,
        closed[:lines] == 1,
        of[:lines] % INDEX_EVERY == 0,
    )


@dataclass(frozen=True, slots=True)
class LabelPlace:
    """Where a label sits on a line, and its turn: degrees counter-clockwise from east."""

    x_m: float
    y_m: float
    rotation_deg: float


def label_points(line: Floats, spacing_m: float, room_m: float = 0.0) -> list[LabelPlace]:
    """Return places for labels about `spacing_m` apart along a contour line.

    With higher ground on the line's left, the tops of labels turned as given point uphill. Of
    the places around each due one, the one where the line is straightest over `room_m` (the
    label's own length; by default a tenth of the spacing) is taken. A line shorter than half the
    spacing gets none.
    """
    run = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))))
    length, room = run[-1], room_m or spacing_m / 10
    if not spacing_m > 0 or length < max(spacing_m / 2, room):
        return []
    count = max(int(length // spacing_m), 1)
    due = (np.arange(count) + 0.5) * length / count
    tries = due[:, None] + np.linspace(-0.25, 0.25, 11) * length / count
    tries = np.clip(tries, room / 2, length - room / 2)

    def at(along: Floats) -> Floats:
        return np.stack(
            [np.interp(along, run, line[:, 0]), np.interp(along, run, line[:, 1])], axis=-1
        )

    before, middle, after = at(tries - room / 2), at(tries), at(tries + room / 2)
    chord = after - before
    best = np.argmax(np.hypot(chord[..., 0], chord[..., 1]), axis=1)
    places = []
    for i, k in enumerate(best):
        turn = float(np.degrees(np.arctan2(chord[i, k, 1], chord[i, k, 0])))
        places.append(LabelPlace(float(middle[i, k, 0]), float(middle[i, k, 1]), turn))
    return places


def chaikin(line: Floats, passes: int = 2) -> Floats:
    """Return a line with its corners cut at a quarter and three quarters of each segment.

    For drawing only: compute from the raw line. Open ends stay where they are; a closed line
    (last point equal to the first) stays closed.
    """
    for _ in range(passes):
        if len(line) < 3:
            break
        closed = bool(np.array_equal(line[0], line[-1]))
        near, far = 0.75 * line[:-1] + 0.25 * line[1:], 0.25 * line[:-1] + 0.75 * line[1:]
        cut = np.empty((2 * len(near), 2))
        cut[0::2], cut[1::2] = near, far
        first, middle, last = (
            (cut[:1], cut[1:], cut[:1]) if closed else (line[:1], cut[1:-1], line[-1:])
        )
        line = np.vstack((first, middle, last))
    return line
