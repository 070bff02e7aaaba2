"""Ties a plain picture to the ground by control points, and finds the points that are off."""

from __future__ import annotations

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
    """Return points that don't agree with the rest: worst out first, then look again."""
    left = np.arange(len(px))
    found: list[int] = []
    while len(found) < max(len(px) // 3, 1):
        chances = _chances(px[left], en[left], model)
        if chances is None or chances.min() * len(left) > CHANCE:
            break
        worst = int(np.argmin(chances))
        found.append(int(left[worst]))
        left = np.delete(left, worst)
    return tuple(found)


def _chances(px: Floats, en: Floats, model: Model) -> Floats | None:
    """Return for each point how likely chance puts it as far from the fit of all the others.

    The externally studentised deletion residual, in two dimensions: its square over two is F with
    2 and ν degrees of freedom, whose upper tail is (1 + 2 F / ν)^(−ν / 2). None where the
    others could not contradict each other either.
    """
    free = 2 * (len(px) - 1) - UNKNOWNS[model]
    if free < 2:
        return None
    chances = np.ones(len(px))
    for index in range(len(px)):
        rest = np.arange(len(px)) != index
        try:
            matrix = _solve(px[rest], en[rest], model)
        except BadData:
            continue  # the others lie on one line without it: it can't be judged
        pixel_m = float(np.sqrt(abs(np.linalg.det(matrix[:, :2]))))
        pooled = np.sum(_distances(matrix, px[rest], en[rest]) ** 2) / free
        spread = max(pooled, (POINTING_PX * pixel_m) ** 2)
        far = 1 + _leverage(px[index], px[rest], model)
        off = _distances(matrix, px[index : index + 1], en[index : index + 1])[0]
        f = off**2 / 2 / (spread * far)
        chances[index] = (1 + 2 * f / free) ** (-free / 2)
    return chances


def _leverage(point: Floats, rest: Floats, model: Model) -> float:
    """Return the variance of the fit at a point, over that of one coordinate."""
    away, spread = point - rest.mean(axis=0), rest - rest.mean(axis=0)
    if model == "similarity":
        return float(1 / len(rest) + away @ away / np.sum(spread**2))
    return float(1 / len(rest) + away @ np.linalg.solve(spread.T @ spread, away))
