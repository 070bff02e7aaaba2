"""Shared by the tests of the sample site: its package on the path, its ground opened once."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import rasterio
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from sample_sites.kestrel_rise.make import landscape


@dataclass(frozen=True)
class Dem:
    """Levels (rows, cols) [m] with the affine transform of their cells."""

    z: NDArray[np.float64]
    transform: rasterio.Affine

    def level(self, x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the level of the cell under each point [m]."""
        col, row = ~self.transform @ (np.asarray(x), np.asarray(y))
        rows, cols = self.z.shape
        return self.z[np.clip(row.astype(int), 0, rows - 1), np.clip(col.astype(int), 0, cols - 1)]


@pytest.fixture(scope="session")
def dem() -> Dem:
    with rasterio.open(landscape.GROUND_TIF) as source:
        return Dem(source.read(1).astype(np.float64), source.transform)


@pytest.fixture(scope="session")
def land() -> landscape.Landscape:
    return landscape.load()
