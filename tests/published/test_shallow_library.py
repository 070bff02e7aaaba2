"""The two-dimensional run beside a general finite-volume library, run here on the same water.

flowdyn 1.4 (MIT licence): second-order reconstruction, HLL flux, third-order steps, one row of
cells. It knows nothing of dry ground, so these cases are wet all over.
"""

from __future__ import annotations

import numpy as np
import pytest
from flowdyn.integration import rk3ssp
from flowdyn.mesh import mesh1d
from flowdyn.modeldisc import fvm1d
from flowdyn.modelphy.shallowwater import shallowwater1d
from flowdyn.xnum import muscl
from published.ref import Ref

from canvas.base.grid import Grid
from canvas.water.bed import EDGES, Bed
from canvas.water.kernels import GRAVITY as G
from canvas.water.shallow import Water

LIBRARY = "flowdyn 1.4.0, MUSCL and HLL, run beside"
WALLED = frozenset(EDGES)


def library(h: np.ndarray, cell: float, time: float, slope: float, n: float) -> np.ndarray:
    """Depths after `time` of water let go at rest: a plane, walled in (open below on a slope)."""

    def pushed(_x: np.ndarray, q: list[np.ndarray]) -> np.ndarray:
        return G * slope * q[0] - G * n * n * q[1] * np.abs(q[1]) / q[0] ** (7 / 3)

    source = [lambda x, _q: np.zeros_like(x), pushed]
    model, mesh = shallowwater1d(g=G, source=source), mesh1d(len(h), len(h) * cell)
    below = {"type": "inf" if slope else "sym"}
    scheme = fvm1d(model, mesh, muscl(), numflux="hll", bcL={"type": "sym"}, bcR=below)
    start = scheme.fdata_fromprim([h.copy(), np.zeros_like(h)])
    return np.asarray(rk3ssp(mesh, scheme).solve(start, 0.4, [time])[-1].data[0])


def ours(h: np.ndarray, cell: float, time: float, slope: float, n: float) -> np.ndarray:
    z = -slope * cell * (np.arange(len(h)) + 0.5)
    shut = WALLED - {"east"} if slope else WALLED
    water = Water(Bed(Grid(z[None, :], 0.0, cell, cell), n, shut=shut), h[None, :])
    water.advance(time)
    return water.depth()[0]


def coarse(values: np.ndarray, by: int) -> np.ndarray:
    return values.reshape(-1, by).mean(axis=1)


def test_a_bore_that_comes_back_from_the_wall() -> None:
    def start(dx: float) -> np.ndarray:
        return np.where((np.arange(round(200 / dx)) + 0.5) * dx < 100.0, 1.0, 0.3)

    fine = library(start(0.125), 0.125, 60.0, 0.0, 0.0)
    for cell, within in ((0.5, 0.02), (0.25, 0.01)):
        want = coarse(fine, round(cell / 0.125))
        got = ours(start(cell), cell, 60.0, 0.0, 1e-4)
        Ref(0.0, within, LIBRARY).check(float(np.abs(got - want).mean() / want.mean()))


#: Slope, roughness, and the mean error allowed at 0.5 and 0.25 m. The steepest bores run at six
#: times the speed of their waves; a first-order one is blunt, and the error falls with the cell.
WAVES = [(0.05, 0.03, 0.02, 0.01), (0.4, 0.05, 0.06, 0.03), (0.2, 0.02, 0.12, 0.06)]


@pytest.mark.parametrize(("slope", "n", "half", "quarter"), WAVES)
def test_a_wave_runs_down_a_slope(slope: float, n: float, half: float, quarter: float) -> None:
    def start(dx: float) -> np.ndarray:
        x = (np.arange(round(152 / dx)) + 0.5) * dx
        return 0.05 + 0.4 * np.exp(-(((x - 25.0) / 8.0) ** 2))

    fine = library(start(0.125), 0.125, 10.0, slope, n)
    for cell, within in ((0.5, half), (0.25, quarter)):
        want = coarse(fine, round(cell / 0.125))
        got = ours(start(cell), cell, 10.0, slope, n)
        # Away from the wall above and the free edge below.
        inner = slice(round(5 / cell), round(140 / cell))
        off = float(np.abs(got - want)[inner].mean() / want[inner].mean())
        Ref(0.0, within, LIBRARY).check(off)
        front = [float(cell * np.argmax(depth[inner])) for depth in (got, want)]
        if slope >= 0.2:
            assert front[0] == pytest.approx(front[1], abs=1.0)
