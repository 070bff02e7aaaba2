"""The two-dimensional run against an independent open library.

ANUGA 4.1.0 (Apache licence), flow algorithm DE1 (second order, unstructured triangles), run once on
the case below with 25 600 triangles of half a metre ("rectangular_cross_domain(160, 80)"); levels
are means of the four nearest centroids. Between its run at one metre and this one its own levels
differ by 0.02 m at most.
"""

from __future__ import annotations

import numpy as np
import pytest
from published.ref import Ref

from canvas.base.grid import Grid
from canvas.water.bed import EDGES, Bed
from canvas.water.shallow import Water

#: Levels [m] every 5 s from 0 to 40 s at places (x, y) in metres.
LEVELS = {
    (10.5, 20.5): (0.235, 0.235, 0.235, 0.725, 0.801, 1.414, 1.442, 1.470, 1.439),
    (25.5, 28.5): (1.027, 1.027, 1.342, 1.455, 1.380, 1.308, 1.508, 1.605, 1.557),
    (45.5, 20.5): (0.937, 1.672, 1.922, 1.818, 1.780, 1.750, 1.647, 1.650, 1.590),
    (70.5, 20.5): (3.200, 2.711, 2.398, 2.174, 1.942, 1.839, 1.734, 1.664, 1.602),
}


@pytest.mark.parametrize(("cell", "mean", "most"), [(1.0, 0.025, 0.17), (0.5, 0.016, 0.15)])
def test_water_let_go_in_a_valley_with_a_hump(cell: float, mean: float, most: float) -> None:
    # Walls all round, n 0.03; water stands at 3.2 m east of x = 60 m and is let go at once. It
    # runs round a dry hump, over dry ground, against the wall and back. The bore that comes back
    # passes one gauge within a second of the record's 30 s: there a first-order front, or one on
    # other cells, may be a step early or late; hence the wide limit on single readings.
    base = Grid(np.zeros((round(40 / cell), round(80 / cell))), 0.0, 40.0, cell)
    x, y = np.meshgrid(base.x_m(), base.y_m())
    z = 0.02 * x + 0.05 * np.abs(y - 20) + np.exp(-((x - 30) ** 2 + (y - 20) ** 2) / 40)
    bed = Bed(base.like(z), 0.03, shut=frozenset(EDGES))
    water = Water(bed, np.where(x > 60, np.maximum(3.2 - z, 0.0), 0.0))
    off = []
    for i in range(9):
        if i:
            water.advance(5.0 * i)
        level = base.like(z + water.depth())
        for (gx, gy), record in LEVELS.items():
            got = float(level.sample(gx, gy))
            Ref(record[i], most, f"ANUGA 4.1.0 at ({gx}, {gy}), {5 * i} s").check(got)
            off.append(abs(got - record[i]))
    Ref(0.0, mean, "ANUGA 4.1.0, mean of all gauges and times").check(float(np.mean(off)))
    assert abs(water.mass_error_m3) < 1e-9
