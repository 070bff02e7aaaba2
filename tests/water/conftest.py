"""Beds for water to run over."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from canvas.base.grid import Grid
from canvas.water.bed import EDGES, Bed

Make = Callable[..., Bed]


@pytest.fixture
def strip() -> Make:
    """A bed one cell wide (or `rows`), walled in, of given levels from west to east."""

    def make(
        z: np.ndarray, cell: float = 1.0, n: float = 1e-4, rows: int = 1, opened: str = ""
    ) -> Bed:
        levels = np.repeat(np.asarray(z, float)[None, :], rows, axis=0)
        shut = frozenset(EDGES) - ({opened} if opened else set())
        return Bed(Grid(levels, 0.0, rows * cell, cell), n, shut=shut)

    return make
