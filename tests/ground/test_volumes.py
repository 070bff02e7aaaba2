"""Volume formulas: the handbook's worked rows, which it computed from the same formulas."""

from __future__ import annotations

import math

import numpy as np
import pytest

from canvas.base.errors import BadData, InputError
from canvas.ground.materials import material
from canvas.ground.volumes import (
    average_end_area_m3,
    basin_length_m,
    bench_terrace,
    conic_m3,
    even_slope_bench,
    grid_balance_m,
    grid_cut_fill,
    grid_level_m,
    prismoidal_m3,
    rectangular_basin_m3,
)

STAGE = [0, 0.5, 1, 1.5, 2, 2.5, 3]
AREA = [0, 120, 330, 620, 980, 1400, 1900]
NODES = [[102.0, 102.6, 103.1], [101.2, 101.7, 102.3], [100.4, 100.9, 101.6]]


def test_stage_storage_of_a_table() -> None:
    """P4 and P5."""
    ends = [average_end_area_m3(STAGE[:k], AREA[:k]) for k in range(2, 8)]
    assert ends == pytest.approx([30.0, 142.5, 380.0, 780.0, 1375.0, 2200.0])
    cones = [conic_m3(STAGE[:k], AREA[:k]) for k in range(2, 8)]
    assert cones == pytest.approx([20.0, 128.2, 361.9, 758.5, 1350.4, 2172.2], abs=0.05)
    assert conic_m3([0, 1], [500, 800]) == pytest.approx(644.15, abs=0.005)
    assert average_end_area_m3([0, 1], [500, 800]) == pytest.approx(650)


def test_prismoids_are_exact_where_end_areas_are_not() -> None:
    """P6 and E6: 6 m bed, 1.5:1, 2 m deep to 1 m over 25 m."""
    assert prismoidal_m3(2, 500, 640, 800) == pytest.approx(1286.67, abs=0.005)

    def area(h: float) -> float:
        return 6 * h + 1.5 * h * h

    assert average_end_area_m3([0, 25], [area(2), area(1)]) == pytest.approx(318.75)
    assert prismoidal_m3(25, area(2), area(1.5), area(1)) == pytest.approx(312.5)


def test_a_bank_by_stations() -> None:
    """P7: crest 3, slopes 3:1 and 2.5:1, heights every 10 m."""
    h = np.array([0, 1.2, 2.8, 3.5, 1.6, 0])

    def area(height: np.ndarray) -> np.ndarray:
        return 3 * height + 2.75 * height**2

    s = np.arange(6) * 10.0
    assert area(h) == pytest.approx([0, 7.56, 29.96, 44.19, 11.84, 0], abs=0.005)
    assert average_end_area_m3(s, area(h)) == pytest.approx(935.5, abs=0.05)
    mid = area((h[:-1] + h[1:]) / 2)
    prisms = [
        prismoidal_m3(10, a, m, b) for a, m, b in zip(area(h)[:-1], mid, area(h)[1:], strict=True)
    ]
    assert sum(prisms) == pytest.approx(886.6, abs=0.05)
    assert average_end_area_m3(s, area(1.05 * h)) == pytest.approx(1017.0, abs=0.05)
    assert average_end_area_m3(s, area(1.10 * h)) == pytest.approx(1101.9, abs=0.05)


def test_rectangular_basins() -> None:
    """P2, by the formula; the source's own printed table is in error (5/3 for 4/3)."""
    got = [rectangular_basin_m3(26, 13, d, 3) for d in (0.2, 0.4, 0.8, 1.0, 1.6, 2.0)]
    assert got == pytest.approx([72.4, 154.7, 351.4, 467.0, 889.5, 1240.0], abs=0.05)
    length = basin_length_m(850, 1.6, 3, 0.5)
    assert rectangular_basin_m3(length, length / 2, 1.6, 3) == pytest.approx(850)
    with pytest.raises(BadData, match="no bottom"):
        basin_length_m(10, 2, 3, 0.5)


@pytest.mark.parametrize(
    ("given", "want"),
    [
        ((12, 0.20, 1, 2, 0.9), (6.588, 5.412, 1.647, 1.804, 5.425, 4.882, 17.26)),
        ((12, 0.20, 1, 2, 1.0), (6.431, 5.569, 1.608, 1.856, 5.169, 5.169, 17.32)),
        ((4, 0.30, 0.75, 1.5, 0.9), (2.223, 1.777, 0.861, 0.969, 0.957, 0.861, 6.10)),
        ((4, 0.20, 1, 1.5, 0.9), (2.119, 1.881, 0.530, 0.537, 0.561, 0.505, 5.34)),
    ],
)
def test_balanced_benches(given: tuple[float, ...], want: tuple[float, ...]) -> None:
    """The handbook's table, section 5.4."""
    b = even_slope_bench(*given)
    got = (
        *(b.cut_width_m, b.fill_width_m, b.cut_height_m, b.fill_depth_m),
        *(b.cut_m2, b.fill_m2, b.footprint_m),
    )
    assert got == pytest.approx(want, abs=0.006)


def test_bench_terraces() -> None:
    """S: 40 %, 4 m, 0.75; 30 %, 3.5 m, 1; 20 %, 3.5 m, 0.75."""
    t = bench_terrace(0.4, 4, 0.75)
    assert (t.drop_m, t.riser_run_m, t.spacing_m) == pytest.approx((2.286, 1.714, 5.714), abs=1e-3)
    assert (t.length_per_ha_m, t.bench_per_ha_m2) == pytest.approx((1750, 7000))
    assert (t.cut_per_m_m3, t.cut_per_ha_m3) == pytest.approx((1.143, 2000), abs=1e-3)
    assert bench_terrace(0.3, 3.5, 1).cut_per_ha_m3 == pytest.approx(1312.5)
    assert bench_terrace(0.2, 3.5, 0.75).drop_m == pytest.approx(0.824, abs=1e-3)


def test_the_grid_method() -> None:
    """E4: three by three nodes, 10 m apart."""
    assert grid_level_m(NODES) == pytest.approx(101.7438, abs=1e-4)
    level = grid_cut_fill(NODES, 10, grid_level_m(NODES))
    assert level.cut_m3 == pytest.approx(91.2, abs=0.05)
    assert level.net_m3 == pytest.approx(0, abs=1e-9)
    low = grid_cut_fill(NODES, 10, 101.5)
    assert (low.cut_m3, low.fill_m3, low.net_m3) == pytest.approx((149.32, 51.82, 97.5), abs=0.005)
    balance = grid_balance_m(NODES, 10, 0.9)
    assert balance == pytest.approx(101.7198, abs=1e-4)
    found = grid_cut_fill(NODES, 10, balance)
    assert (found.cut_m3, found.fill_m3) == pytest.approx((95.79, 86.21), abs=0.005)


def test_bulking_of_the_handbooks_earths() -> None:
    """E7: a hundred cubic metres compacted."""
    keys = ("sand", "earth", "clay", "rock")
    bank = [material(key).bank_for_m3(100) for key in keys]
    assert bank == pytest.approx([105.3, 111.1, 111.1, 76.9], abs=0.05)
    loose = [material(key).loose_for_m3(100) for key in keys]
    assert loose == pytest.approx([116.8, 138.9, 158.9, 115.4], abs=0.05)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(InputError):
        average_end_area_m3([0, 2, 1], [1, 1, 1])
    with pytest.raises(InputError):
        grid_level_m([[1.0, 2.0]])
    with pytest.raises(InputError):
        material("cheese")
    assert math.isclose(conic_m3([0, 3], [math.pi, 0]), math.pi)
