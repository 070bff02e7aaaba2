"""Hillshade: a published worked cell, and matplotlib's light source on real ground."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib import cbook
from matplotlib.colors import LightSource
from published.ref import Ref

from canvas.base.grid import Grid
from canvas.ground.surface import Method, hillshade


def test_the_manuals_cell() -> None:
    z = np.array([[2450.0, 2461.0, 2483.0], [2452.0, 2461.0, 2483.0], [2447.0, 2455.0, 2477.0]])
    got = hillshade(Grid(z, 0, 0, 5.0), 315.0, 45.0).z[1, 1]
    # Manuals print 153.82, worked with pi as 22/7; exact arithmetic gives 154.03. Both are 154.
    Ref(154.0, 0.5, "GIS manuals' worked example of hillshade").check(float(got))


@pytest.mark.parametrize("azimuth", [0.0, 45.0, 135.0, 225.0, 315.0])
@pytest.mark.parametrize("altitude", [30.0, 60.0])
def test_real_ground(azimuth: float, altitude: float) -> None:
    with cbook.get_sample_data("jacksboro_fault_dem.npz") as data:
        z = np.asarray(data["elevation"], dtype=np.float64)
    # matplotlib stretches brightness linearly to 0..1 and takes numpy's central differences,
    # which are the four-neighbour gradient.
    theirs = LightSource(azimuth, altitude).hillshade(z, dx=75.0, dy=75.0)
    grid = Grid(z, 0, 0, 75.0)
    ours = hillshade(grid, azimuth, altitude, method=Method.ZEVENBERGEN_THORNE).z
    inner = (slice(1, -1), slice(1, -1))
    lit = (ours[inner] > 0) & (theirs[inner] > 0) & (theirs[inner] < 1)
    slope, start = np.polyfit(theirs[inner][lit], ours[inner][lit], 1)
    rest = ours[inner][lit] - (slope * theirs[inner][lit] + start)
    assert slope > 0
    # The stretch is linear, so nothing but rounding may be left (on 0..255).
    Ref(0.0, 1e-6, "matplotlib.colors.LightSource").check(float(np.abs(rest).max()))
