"""Grounds shared by the tests: planes, hills, and the real one in matplotlib's sample data."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib import cbook

from canvas.base.grid import Grid


@pytest.fixture(scope="session")
def jacksboro() -> Grid:
    """A real hill: SRTM heights [m] in matplotlib's sample data, laid on 75 m cells."""
    with cbook.get_sample_data("jacksboro_fault_dem.npz") as data:
        z = np.asarray(data["elevation"], dtype=np.float64)
    return Grid(z, 500_000.0, 4_000_000.0, 75.0)
