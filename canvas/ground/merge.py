"""A denser survey laid into coarser ground: brought to its datum, its edge feathered in."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from canvas.base.errors import BadData
from canvas.base.grid import Floats, Grid
from canvas.ground.frames import like_cells

#: Merged ground of more cells than this is refused.
MOST_CELLS = 100_000_000
#: Width of the edge ring two grounds are compared on, in cells of the coarser one.
RING_CELLS = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Merged:
    """Ground made of two."""

    grid: Grid
    #: Added to the survey to bring it to the ground's datum.
    shift_m: float
    #: How the two differ where both are known, after the shift: spread about it, and at the edge.
    spread_m: float
    edge_step_m: float
    #: Cells taken from the survey alone, blended, and from the ground alone (shares of the known).
    survey_share: float
    blended_share: float
    #: What a careful reader should know.
    notes: tuple[str, ...]


def datum_shift_m(ground: Grid, survey: Grid) -> tuple[float, float]:
    """Return what brings a survey to the ground's datum, and the spread about it.

    The median of the differences where both are known: a new bank or a bush in one of them does
    not sway it. The spread is 1.4826 times the median of the distances from it.
    """
    known = ~np.isnan(survey.z)
    if not known.any():
        raise BadData("the survey holds no heights")
    rows, cols = np.nonzero(known)
    # A few hundred thousand differences say as much as all of them.
    step = max(len(rows) // 200_000, 1)
    x, y = survey.x_m()[cols[::step]], survey.y_m()[rows[::step]]
    apart = ground.sample(x, y) - survey.z[rows[::step], cols[::step]]
    apart = apart[~np.isnan(apart)]
    if not len(apart):
        raise BadData(
            "the survey and the ground have no place in common",
            remedy="Check the coordinate system of the survey.",
        )
    shift = float(np.median(apart))
    return shift, float(1.4826 * np.median(np.abs(apart - shift)))


def merge(
    ground: Grid,
    survey: Grid,
    feather_m: float,
    cell_m: float = 0.0,
    shift_m: float | None = None,
) -> Merged:
    """Return the ground with a survey laid over it, on cells of the finer of the two.

    The survey's weight grows from 0 at its edge to 1 at `feather_m` inside it, smoothly. Beyond
    the ground's own data the survey stands alone, unfeathered. `shift_m` None finds it; 0 leaves
    the survey's datum alone.
    """
    from scipy.ndimage import distance_transform_edt

    found, spread = datum_shift_m(ground, survey)
    shift = found if shift_m is None else shift_m
    cells = _cells(ground, cell_m or min(ground.cell_m, survey.cell_m))
    base = like_cells(ground, cells)
    over = _fitted(survey, cells)
    known = ~np.isnan(over)
    # A cell beyond the frame counts as unknown: the survey ends there too.
    inside = distance_transform_edt(np.pad(known, 1))[1:-1, 1:-1] * cells.cell_m
    t = np.clip((inside - cells.cell_m) / feather_m, 0.0, 1.0) if feather_m > 0 else known * 1.0
    weight = np.where(known, t * t * (3 - 2 * t), 0.0)
    lone = known & np.isnan(base.z)
    weight = np.where(lone, 1.0, weight)
    z = np.where(known, over + shift, 0.0) * weight + np.where(weight < 1, base.z, 0.0) * (
        1 - weight
    )
    ring = known & (inside <= RING_CELLS * ground.cell_m) & ~np.isnan(base.z)
    step = float(np.sqrt(np.mean((over[ring] + shift - base.z[ring]) ** 2))) if ring.any() else 0.0
    total = max(int((~np.isnan(z)).sum()), 1)
    return Merged(
        cells.like(z),
        shift,
        spread,
        step,
        float((weight == 1).sum()) / total,
        float(((weight > 0) & (weight < 1)).sum()) / total,
        _notes(shift, spread, step, found if shift_m is not None else None),
    )


def _cells(ground: Grid, cell_m: float) -> Grid:
    """Return cells over all of the ground, nested in its own where they can be."""
    parts = max(round(ground.cell_m / cell_m), 1)
    cell = ground.cell_m / parts
    rows, cols = ground.shape[0] * parts, ground.shape[1] * parts
    if rows * cols > MOST_CELLS:
        raise BadData(
            f"the merged ground would have {rows * cols / 1e6:.0f} million cells",
            remedy="Take larger cells, or cut the ground to the land first.",
        )
    return Grid(np.empty((rows, cols)), ground.west_m, ground.north_m, cell)


def _fitted(survey: Grid, cells: Grid) -> Floats:
    """Return a survey on other cells: the mean of those within each where it is finer."""
    if survey.cell_m > 0.75 * cells.cell_m:
        return like_cells(survey, cells).z
    rows, cols = np.nonzero(~np.isnan(survey.z))
    x, y = survey.x_m()[cols], survey.y_m()[rows]
    col = np.floor((x - cells.west_m) / cells.cell_m).astype(np.int64)
    row = np.floor((cells.north_m - y) / cells.cell_m).astype(np.int64)
    height, width = cells.shape
    here = (col >= 0) & (row >= 0) & (col < width) & (row < height)
    index = row[here] * width + col[here]
    total = np.bincount(index, survey.z[rows[here], cols[here]], minlength=height * width)
    count = np.bincount(index, minlength=height * width)
    full = (cells.cell_m / survey.cell_m) ** 2
    # Less than half a cell of survey is no survey of that cell.
    mean = np.where(count >= 0.5 * full, total / np.maximum(count, 1), np.nan)
    return np.asarray(mean.reshape(cells.shape), np.float64)


def _notes(shift: float, spread: float, step: float, found: float | None) -> tuple[str, ...]:
    """Return what is to be said of the fit."""
    notes = []
    if found is not None and math.isfinite(found) and abs(found - shift) > 3 * max(spread, 0.02):
        notes.append(
            f"The two differ by {found:+.2f} m on the whole, but a shift of {shift:+.2f} m was"
            " asked: the edge will show a step."
        )
    elif abs(shift) > 0.5:
        notes.append(
            f"The survey was moved by {shift:+.2f} m: check which of the two has the right datum."
        )
    if spread > 0.3:
        notes.append(
            f"Where both are known they differ by ±{spread:.2f} m about the shift: one of them is"
            " rough, or the ground has changed."
        )
    if step > 0.3:
        notes.append(f"Along the survey's edge the step is {step:.2f} m; it was feathered out.")
    return tuple(notes)
