"""Shared flow: directions on planes, areas on cones, the wetness index."""

from __future__ import annotations

import numpy as np
import pytest

from canvas.base.errors import InputError
from canvas.base.grid import Grid
from canvas.ground.faces import Held, HeldLine, hold
from canvas.ground.flow import flow
from canvas.ground.spread import share_down, spread, wetness, wetness_index


def test_the_handbooks_facet() -> None:
    # Handbook C-T12 (computed there): 26.565° clockwise from east; east 0.4097, south-east 0.5903.
    z = np.full((5, 5), np.nan)
    z[1:4, 1:4] = [[10, 9, 8], [10, 8, 6], [9, 7, 5]]
    found = spread(flow(Grid(z, 0, 0, 10.0)))
    assert found.azimuth_deg.z[2, 2] == pytest.approx(116.565, abs=1e-3)
    one = Grid(np.zeros((5, 5)), 0, 0, 10.0)
    one.z[2, 2] = 1.0
    passed = share_down(found, one).z
    # Of the centre's water the east cell gets its share before passing it on.
    assert passed[2, 3] == pytest.approx(0.4097, abs=1e-4)
    assert passed[3, 3] == pytest.approx(1.0)


@pytest.mark.parametrize("azimuth", [0, 17, 45, 101.3, 180, 222.2, 270, 359])
def test_planes_fall_their_true_way(azimuth: float) -> None:
    base = Grid(np.zeros((12, 15)), 0.0, 0.0, 2.0)
    x, y = np.meshgrid(base.x_m(), base.y_m())
    angle = np.radians(azimuth)
    found = spread(flow(base.like(-0.2 * (x * np.sin(angle) + y * np.cos(angle)))))
    turn = found.azimuth_deg.z[1:-1, 1:-1] - azimuth
    # Heights are held to 2^-32 of the range: under 1e-6 degrees here.
    assert np.abs((turn + 180) % 360 - 180).max() < 1e-5


def test_a_cone_sheds_evenly() -> None:
    base = Grid(np.zeros((101, 101)), 0.0, 101.0, 1.0)
    x, y = np.meshgrid(base.x_m(), base.y_m())
    far = np.hypot(x - 50.5, y - 50.5)
    found = spread(flow(base.like(100 - far)))
    # Area per metre of contour at distance R from the top is R / 2. A cell stands for one cell's
    # width of contour, whichever way it faces: on the diagonals up to 1 / sqrt(2) too little.
    ring = (far > 20) & (far < 40)
    ratio = found.specific_m().z[ring] / (far[ring] / 2)
    assert 0.5**0.5 - 0.02 < np.percentile(ratio, 2) < np.percentile(ratio, 95) < 1.02
    eight = flow(base.like(100 - far)).area_m2().z[ring] / (far[ring] / 2)
    # One direction for each cell gathers water in streaks; shared flow does not.
    assert ratio.std() < 0.1
    assert eight.std() > 0.4


def test_all_water_leaves() -> None:
    rng = np.random.default_rng(3)
    z = rng.normal(size=(60, 50))
    z[20:25, 30:40] = np.nan
    found = spread(flow(Grid(z, 0, 0, 3.0)))
    known = ~np.isnan(z)
    out = np.isnan(found.azimuth_deg.z) & known
    assert found.area_m2.z[out].sum() == pytest.approx(known.sum() * 9.0, rel=1e-12)
    assert np.array_equal(np.isnan(found.area_m2.z), ~known)


def test_shared_flow_heeds_banks() -> None:
    base = Grid(np.zeros((40, 40)), 0.0, 40.0, 1.0)
    x, y = np.meshgrid(base.x_m(), base.y_m())
    bank = HeldLine(Held.CREST, np.array([[-5.0, 8.0, 99.0], [45.0, 25.0, 99.0]]))
    found = spread(flow(base.like(0.1 * y + 0.01 * x), hold(base, [bank])))
    above = y > 8 + (x + 5) * 17 / 50
    rain = share_down(found, base.like(above.astype(float))).z
    assert np.all(rain[~above] == 0)


def test_wetness() -> None:
    # Handbook C-T15 (computed there): a 1000, tan b 0.1 and a 500, tan b 0.25.
    assert wetness_index(1000.0, 0.1) == pytest.approx(9.2103, abs=1e-4)
    assert wetness_index(500.0, 0.25) == pytest.approx(7.6009, abs=1e-4)
    assert wetness_index(10.0, 0.0) == pytest.approx(np.log(10 / 0.001))
    base = Grid(np.zeros((20, 30)), 0.0, 0.0, 5.0)
    x, _ = np.meshgrid(base.x_m(), base.y_m())
    found = wetness(flow(base.like(-0.1 * x)))
    # On a plane falling east the area per metre is the distance from the west rim.
    assert found.z[10, 20] == pytest.approx(np.log(21 * 5 / 0.1), abs=1e-6)
    with pytest.raises(InputError):
        wetness_index(1.0, 1.0, 0.0)
    with pytest.raises(InputError):
        share_down(spread(flow(base)), Grid(np.zeros((2, 2)), 0, 0, 1.0))
