"""Slope and aspect: analytic planes, scipy and numpy on real ground."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib import cbook
from published.ref import Ref
from scipy import ndimage

from canvas.base.grid import Grid
from canvas.ground.surface import SLOPE_CLASSES, Method, slope_aspect, slope_classes


def _jacksboro() -> np.ndarray:
    with cbook.get_sample_data("jacksboro_fault_dem.npz") as data:
        return np.asarray(data["elevation"], dtype=np.float64)


def _reference(z: np.ndarray, method: Method, cell: float) -> tuple[np.ndarray, np.ndarray]:
    """East and north gradients by scipy's Sobel operator or numpy's central differences."""
    if method is Method.HORN:
        return ndimage.sobel(z, 1) / (8 * cell), -ndimage.sobel(z, 0) / (8 * cell)
    south, east = np.gradient(z, cell)
    return east, -south


@pytest.mark.parametrize("method", Method)
def test_real_ground(method: Method) -> None:
    z = _jacksboro()
    slope, aspect = slope_aspect(Grid(z, 0, 0, 75.0), method)
    east, north = _reference(z, method, 75.0)
    inner = (slice(1, -1), slice(1, -1))
    theirs = np.degrees(np.arctan2(-east, -north))[inner]
    turn = (aspect.z[inner] - theirs + 180) % 360 - 180
    flat = np.isnan(turn)
    assert np.array_equal(flat, (np.hypot(east, north) == 0)[inner])
    who = "scipy.ndimage.sobel" if method is Method.HORN else "numpy.gradient"
    # Our own arctangent is good to 3.3e-7 degrees; slopes differ by rounding only.
    Ref(0.0, 1e-6, who).check(float(np.abs(turn[~flat]).max()))
    Ref(0.0, 1e-12, who).check(float(np.abs(slope.z - np.hypot(east, north))[inner].max()))


def test_slope_class_of_fifteen_percent() -> None:
    # AGI's classes: 12-18 % is D, strong.
    classes = slope_classes(Grid(np.array([[0.15]]), 0, 0, 1.0))
    found = SLOPE_CLASSES[int(classes.z[0, 0])]
    assert (found.letter, found.name) == ("D", "strong")
    Ref(0.18, 0.0, "AGI slope exercise").check(found.below)
