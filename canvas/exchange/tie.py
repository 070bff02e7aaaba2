"""Ties a plain picture to the ground by control points, and finds the points that are off."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from canvas.base.errors import BadData
from canvas.base.sources import cites

Floats = NDArray[np.float64]
Model = Literal["similarity", "affine"]

#: Unknowns of each model: scale, turn and two shifts; or six free coefficients.
UNKNOWNS = {"similarity": 4, "affine": 6}
#: A point is suspect when chance alone would put any point that far off once in a hundred fits.
CHANCE = 0.01
#: Nobody points more finely than this [pixels].
POINTING_PX = 0.5
#: Largest group of points judged together, and how many groups are tried.
MOST_AT_ONCE = 3
MOST_GROUPS = 3000


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """How a picture lies on the ground."""

    model: Model
    #: (2, 3): east, north [m] = matrix @ (column, row, 1); pixel (0, 0)'s outer corner is (0, 0).
    matrix: Floats
    #: Distance on the ground between each point and where the fit puts it [m], (n,).
    residuals_m: Floats
    #: Root mean square of the residuals [m]; nought says nothing when `spare` is nought.
    rms_m: float
    #: Indices of the points that are likely wrong, worst first.
    suspects: tuple[int, ...]
    #: Coordinates measured beyond those needed: what the residuals can be judged by.
    spare: int

    @property
    def pixel_m(self) -> float:
        """Mean side of a pixel on the ground [m]."""
        return float(np.sqrt(abs(np.linalg.det(self.matrix[:, :2]))))

    @property
    def advice(self) -> str:
        """What to do for a better tie; "" when all is well."""
        if self.suspects:
            named = ", ".join(str(index + 1) for index in self.suspects)
            return f"Point {named} is likely wrong: check where it was put, or leave it out."
        if self.spare == 0:
            return "Nothing checks these points: add one more, far from the others."
        if self.spare < UNKNOWNS[self.model]:
            return "A wrong point can't be told from the others yet: add one more."
        return ""

    def on_ground(self, pixels: ArrayLike) -> Floats:
        """Return where pixels (n, 2) lie, east and north [m]."""
        return _apply(self.matrix, np.asarray(pixels, np.float64))


@cites("wolf_ghilani", "belsley1980")
def fit_picture(pixels: ArrayLike, ground: ArrayLike, model: Model = "similarity") -> Fit:
    """Return the least-squares fit of a picture to control points.

    Parameters
    ----------
    pixels : array (n, 2)
        Column and row of each point in the picture, from its upper left corner [pixels].
    ground : array (n, 2)
        East and north of the same points in the site's CRS [m].
    model : "similarity" or "affine"
        Similarity (two points or more) turns, shifts and scales; affine (three or more) also
        stretches and shears, for scans and oblique prints.

    Raises
    ------
    BadData
        Too few points, points that are not numbers, in one place or (affine) on one line.
    """
    px, en = np.atleast_2d(np.asarray(pixels, float)), np.atleast_2d(np.asarray(ground, float))
    least = UNKNOWNS[model] // 2
    if px.shape != en.shape or px.shape[1] != 2 or not np.isfinite([px, en]).all():
        raise BadData("every control point needs a place in the picture and one on the ground")
    if len(px) < least:
        raise BadData(
            f"{len(px)} control points are too few",
            remedy=f"Give at least {least}, spread over the picture.",
        )
    matrix = _solve(px, en, model)
    off = _distances(matrix, px, en)
    return Fit(
        model,
        matrix,
        off,
        float(np.sqrt(np.mean(off**2))),
        _suspects(px, en, model),
        2 * len(px) - UNKNOWNS[model],
    )


def _solve(px: Floats, en: Floats, model: Model) -> Floats:
    """Return the matrix (2, 3) of the least-squares fit."""
    # About the middles: eastings and northings of millions would drown the differences.
    px_mid, en_mid = px.mean(axis=0), en.mean(axis=0)
    c, r = (px - px_mid).T
    e, n = (en - en_mid).T
    spread = np.linalg.svd(np.column_stack((c, r)), compute_uv=False)
    thin = spread[-1] < 1e-3 * spread[0]
    if spread[0] < 1 or np.hypot(e, n).max() <= 0 or (model == "affine" and thin):
        raise BadData(
            "the control points lie in one place" if spread[0] < 1 else
            "the control points lie on one line",
            remedy="Spread them over the picture.",
        )  # fmt: skip
    if model == "similarity":
        # Rows run down: with (c, -r) the picture is seen as the ground is, never mirrored.
        size = np.sum(c**2 + r**2)
        a, b = np.sum(c * e - r * n) / size, np.sum(c * n + r * e) / size
        turn = np.array([[a, b], [b, -a]])
    else:
        turn = np.linalg.lstsq(np.column_stack((c, r)), np.column_stack((e, n)), rcond=None)[0].T
    if not abs(np.linalg.det(turn)) > 0:
        raise BadData("the control points make a picture without size", remedy="Check them.")
    shift = en_mid - turn @ px_mid
    return np.column_stack((turn, shift))


def _apply(matrix: Floats, px: Floats) -> Floats:
    return np.asarray(px @ matrix[:, :2].T + matrix[:, 2], np.float64)


def _distances(matrix: Floats, px: Floats, en: Floats) -> Floats:
    return np.asarray(np.hypot(*(en - _apply(matrix, px)).T), np.float64)


def _suspects(px: Floats, en: Floats, model: Model) -> tuple[int, ...]:
    """Return points that don't agree with the rest: the clearest out first, then look again.

    Two wrong points can hide each other from a look at one at a time, so pairs and triples are
    tried where single points say nothing.
    """
    left = np.arange(len(px))
    most = max(len(px) // 3, 1)
    found: list[int] = []
    while len(found) < most:
        sizes = range(1, min(most - len(found), MOST_AT_ONCE) + 1)
        for size in sizes:
            group = _least_likely(px[left], en[left], model, size, CHANCE / len(sizes))
            if group:
                break
        else:
            break
        found += [int(left[index]) for index in group]
        left = np.delete(left, group)
    return tuple(found)


def _least_likely(
    px: Floats, en: Floats, model: Model, size: int, chance: float
) -> list[int] | None:
    """Return the group of `size` points whose going betters the fit most, if beyond chance.

    The mean-shift outlier test: with the group given free places, the drop of the sum of squares
    over what is left is F with 2·size and ν degrees of freedom.
    """
    free = 2 * (len(px) - size) - UNKNOWNS[model]
    groups = math.comb(len(px), size)
    if free < 2 or groups > MOST_GROUPS:
        return None
    whole = float(np.sum(_distances(_solve(px, en, model), px, en) ** 2))
    best, best_chance = None, chance / groups
    for group in itertools.combinations(range(len(px)), size):
        rest = np.delete(np.arange(len(px)), group)
        try:
            matrix = _solve(px[rest], en[rest], model)
        except BadData:
            continue  # the others lie on one line without it: it can't be judged
        pixel_m = float(np.sqrt(abs(np.linalg.det(matrix[:, :2]))))
        part = float(np.sum(_distances(matrix, px[rest], en[rest]) ** 2))
        spread = max(part / free, (POINTING_PX * pixel_m) ** 2)
        p = _tail(max(whole - part, 0.0) / (2 * size) / spread, size, free)
        if p < best_chance:
            off = _distances(matrix, px[list(group)], en[list(group)])
            best, best_chance = [group[i] for i in np.argsort(-off)], p
    return best


def _tail(f: float, half: int, free: int) -> float:
    """Return the chance of an F with 2·half and `free` degrees of freedom above `f`.

    The incomplete beta function is a short sum when the first number of degrees is even.
    """
    x = free / (free + 2 * half * f)
    term = total = 1.0
    for step in range(1, half):
        term *= (free / 2 + step - 1) / step * (1 - x)
        total += term
    return float(x ** (free / 2) * total)
