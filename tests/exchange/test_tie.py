"""Control points: the fit, its residuals, and the point that is off."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import least_squares

from canvas.base.errors import BadData
from canvas.exchange.tie import fit_picture

Floats = NDArray[np.float64]
PX = np.array([[20, 30], [950, 40], [930, 700], [40, 680], [480, 360], [300, 600], [700, 120.0]])
ORIGIN = np.array([632_600.0, 5_848_600.0])


def similar(px: Floats, size: float = 0.25, turn: float = 25.0) -> Floats:
    a = math.radians(turn)
    right, down = np.array([math.cos(a), math.sin(a)]), np.array([math.sin(a), -math.cos(a)])
    return np.asarray(ORIGIN + size * (px[:, :1] * right + px[:, 1:] * down))


def test_two_points_make_a_similarity_and_nothing_checks_it() -> None:
    fit = fit_picture(PX[:2], similar(PX[:2]))
    assert fit.on_ground(PX) == pytest.approx(similar(PX), abs=1e-6)
    assert fit.pixel_m == pytest.approx(0.25)
    assert (fit.spare, fit.suspects) == (0, ())
    assert "Nothing checks" in fit.advice


def test_a_picture_is_never_mirrored() -> None:
    assert np.linalg.det(fit_picture(PX[:2], similar(PX[:2])).matrix[:, :2]) < 0


@pytest.mark.parametrize("model", ["similarity", "affine"])
def test_the_fit_is_the_least_squares_one(model: str) -> None:
    rng = np.random.default_rng(7)
    ground = similar(PX) + rng.normal(0, 0.4, PX.shape)
    fit = fit_picture(PX, ground, model)  # type: ignore[arg-type]

    def off(unknowns: Floats) -> Floats:
        if model == "similarity":
            a, b, e, n = unknowns
            turn = np.array([[a, b], [b, -a]])
        else:
            turn, (e, n) = unknowns[:4].reshape(2, 2), unknowns[4:]
        return np.asarray((ground - ORIGIN - PX @ turn.T - [e, n]).ravel())

    start = np.array([0.2, 0.1, 0, 0] if model == "similarity" else [0.2, 0.1, 0.1, -0.2, 0, 0])
    # Reference: scipy's own solver on the same sum of squares.
    best = least_squares(off, start, xtol=1e-14, ftol=1e-14, gtol=1e-14)
    want = np.hypot(*off(best.x).reshape(-1, 2).T)
    assert fit.residuals_m == pytest.approx(want, abs=1e-5)
    assert fit.rms_m == pytest.approx(math.sqrt(np.mean(want**2)), abs=1e-5)


def test_an_affine_fit_takes_shear_that_a_similarity_cannot() -> None:
    ground = ORIGIN + PX @ np.array([[0.25, 0.05], [0.02, -0.31]]).T
    assert fit_picture(PX, ground, "affine").rms_m < 1e-6
    assert fit_picture(PX, ground, "similarity").rms_m > 5


@pytest.mark.parametrize("count", [4, 5, 7])
@pytest.mark.parametrize("bad", [0, 2, 3])
def test_the_point_that_is_off_is_named(count: int, bad: int) -> None:
    rng = np.random.default_rng(count * 10 + bad)
    ground = similar(PX[:count]) + rng.normal(0, 0.08, (count, 2))
    ground[bad] += [14, -9]
    fit = fit_picture(PX[:count], ground)
    assert fit.suspects == (bad,)
    assert f"Point {bad + 1} " in fit.advice


def test_two_wrong_points_of_seven_are_both_named() -> None:
    ground = similar(PX) + np.random.default_rng(5).normal(0, 0.05, PX.shape)
    ground[1] += [20, 0]
    ground[5] += [0, 12]
    assert set(fit_picture(PX, ground).suspects) == {1, 5}


def test_three_points_cannot_tell_which_is_wrong_and_say_so() -> None:
    ground = similar(PX[:3])
    ground[1] += [30, 0]
    fit = fit_picture(PX[:3], ground)
    assert fit.suspects == ()
    assert fit.rms_m > 5
    assert "add one more" in fit.advice


def test_good_points_are_seldom_suspected() -> None:
    rng = np.random.default_rng(11)
    wrong = 0
    for _ in range(300):
        count = int(rng.integers(4, 8))
        ground = similar(PX[:count]) + rng.normal(0, 0.3, (count, 2))
        wrong += bool(fit_picture(PX[:count], ground).suspects)
    # One in a hundred by the test's own design; three times that leaves room for chance.
    assert wrong <= 9


def test_points_that_agree_exactly_are_not_suspected() -> None:
    ground = similar(PX)
    ground[3] += [0.03, 0]  # a tenth of a pixel
    assert fit_picture(PX, ground).suspects == ()


@pytest.mark.parametrize(
    ("px", "model", "said"),
    [
        (PX[:1], "similarity", "too few"),
        (PX[:2], "affine", "too few"),
        (np.array([[5, 5], [5, 5.0]]), "similarity", "one place"),
        (np.array([[0, 0], [10, 10], [20, 20.0]]), "affine", "one line"),
        (np.array([[0, 0], [math.nan, 1]]), "similarity", "needs a place"),
    ],
)
def test_points_that_tie_nothing_are_refused(px: Floats, model: str, said: str) -> None:
    with pytest.raises(BadData, match=said):
        fit_picture(px, similar(np.nan_to_num(px)), model)  # type: ignore[arg-type]
    with pytest.raises(BadData, match="needs a place"):
        fit_picture(PX, similar(PX)[:3])
