"""Lines drawn by hand or by water: evenly stepped, smoothed, and how far a place is from them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.spatial import cKDTree

from .frame import Floats, Window


@dataclass(frozen=True)
class Near:
    """Cells near a line: where they are, how far off, how far along, and on which side.

    `cells` indexes the flattened window; `across_m` is positive left of the line's direction.
    """

    cells: np.ndarray
    off_m: Floats
    along_m: Floats
    across_m: Floats


def even(points: Floats, step: float = 0.5) -> Floats:
    """Return points every `step` metres along a line (n, 2)."""
    points = np.asarray(points, dtype=float)
    s = chainage(points)
    at = np.linspace(0.0, s[-1], max(2, round(s[-1] / step) + 1))
    return np.column_stack([np.interp(at, s, points[:, k]) for k in (0, 1)])


def chainage(points: Floats) -> Floats:
    """Return the distance along a line at each of its points [m]."""
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])


def eased(points: Floats, reach: float, step: float = 0.5) -> Floats:
    """Return a line with its corners rounded over about `reach` metres; its ends stay."""
    line = even(points, step)
    # Mirrored about its own ends the line keeps them.
    pad = min(len(line) - 1, int(4 * reach / step))
    head, tail = 2 * line[0] - line[pad:0:-1], 2 * line[-1] - line[-2 : -pad - 2 : -1]
    whole = np.vstack([head, line, tail])
    smooth = gaussian_filter1d(whole, reach / step, axis=0)
    return even(smooth[pad : pad + len(line)], step)


def crossing(line: Floats, other: Floats) -> float:
    """Return how far along a line another comes nearest to it [m]."""
    off, _ = cKDTree(even(other, 0.25)).query(even(line, 0.25))
    fine = chainage(even(line, 0.25))
    return float(fine[int(np.argmin(off))])


def near(window: Window, line: Floats, reach: float) -> Near:
    """Find the cells of a window within `reach` metres of a line; empty if there are none."""
    fine = even(line, 0.25)
    west, south, east, north = window.bounds
    hit = (fine[:, 0] > west - reach) & (fine[:, 0] < east + reach)
    hit &= (fine[:, 1] > south - reach) & (fine[:, 1] < north + reach)
    nothing = np.empty(0)
    if not hit.any():
        return Near(np.empty(0, dtype=np.int64), nothing, nothing, nothing)
    mask = np.zeros(window.shape, dtype=bool)
    margin = int(np.ceil(reach / window.cell)) + 1
    # Blocks around every few points of the line hold all cells that can be near enough.
    jump = max(1, int(reach / 0.25 / 2))
    for u, v in fine[hit][::jump]:
        col = int((u - west) / window.cell)
        row = int((north - v) / window.cell)
        by = margin + int(np.ceil(jump * 0.25 / window.cell))
        mask[max(0, row - by) : max(0, row + by + 1), max(0, col - by) : max(0, col + by + 1)] = 1
    cells = np.flatnonzero(mask)
    row, col = np.divmod(cells, window.cols)
    place = np.column_stack([west + (col + 0.5) * window.cell, north - (row + 0.5) * window.cell])
    off, k = cKDTree(fine).query(place, distance_upper_bound=reach)
    keep = np.isfinite(off)
    cells, off, k, place = cells[keep], off[keep], k[keep], place[keep]
    ahead = np.gradient(fine, axis=0)
    ahead /= np.hypot(ahead[:, 0], ahead[:, 1])[:, None]
    gap = place - fine[k]
    across = ahead[k, 0] * gap[:, 1] - ahead[k, 1] * gap[:, 0]
    return Near(cells, off, chainage(fine)[k], np.where(across < 0, -off, off))


def smoothstep(low: float, high: float, x: Floats) -> Floats:
    """Return 0 below `low`, 1 above `high`, and an eased passage between (either order)."""
    t = np.clip((np.asarray(x, dtype=float) - low) / (high - low), 0.0, 1.0)
    return np.asarray(t * t * (3 - 2 * t))
