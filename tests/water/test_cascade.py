"""Storage tables and routing through stores: exact cases, books, rings."""

from __future__ import annotations

import math

import numpy as np
import pytest

from canvas.base.errors import BadData, Cancelled, InputError
from canvas.water.cascade import AWAY, Outlet, Store, cascade, fills_at, order
from canvas.water.hydrographs import Hydrograph, storm_runoff
from canvas.water.runoff import Patch
from canvas.water.sections import Trapezoid
from canvas.water.storage import StageStorage, simpson_m3
from canvas.water.storms import synthetic
from canvas.water.weirs import weir_flow


def weir(length: float, c: float = 1.7):  # type: ignore[no-untyped-def]
    return lambda head: weir_flow(head, length, c)


def triangle(peak: float, to_peak_s: float, base_s: float, step_s: float = 60.0) -> Hydrograph:
    time = np.arange(0.0, base_s + step_s, step_s)
    return Hydrograph(step_s, np.interp(time, [0.0, to_peak_s, base_s], [0.0, peak, 0.0]))


# Storage ------------------------------------------------------------------------------------------


def test_storage_of_a_section() -> None:
    table = StageStorage.of_section(Trapezoid.even(0.6, 2.0), 50.0, 100.0, 0.4)
    assert float(table.volume(100.4)) == pytest.approx(28.0)
    assert float(table.volume(100.2)) == pytest.approx(50.0 * 0.2, rel=1e-3)
    assert float(table.level(table.volume(100.33))) == pytest.approx(100.33)
    # Above its top it goes on straight up.
    assert float(table.volume(100.5)) == pytest.approx(28.0 + 0.1 * 2.2 * 50)
    assert float(table.level(28.0 + 0.1 * 2.2 * 50)) == pytest.approx(100.5)
    assert float(table.area(99.0)) == 0.0


def test_storage_of_the_ground_is_exact() -> None:
    # A cone, 1 in 5: volume pi r² h / 3.
    x = np.arange(-40, 40.5, 0.5)
    z = 0.2 * np.hypot(*np.meshgrid(x, x))
    table = StageStorage.of_ground(z, 0.25, 4.0)
    cells = np.maximum(4.0 - z, 0.0).sum() * 0.25
    assert table.volume_m3[-1] == pytest.approx(cells, rel=1e-12)
    assert table.volume_m3[-1] == pytest.approx(math.pi * 20.0**2 * 4.0 / 3.0, rel=2e-3)
    assert table.area_m2[-1] == pytest.approx(math.pi * 20.0**2, rel=5e-3)


def test_simpson() -> None:
    area = [0, 120, 330, 620, 980, 1400, 1900]
    assert simpson_m3(area, 0.5) == pytest.approx(2180.0)
    with pytest.raises(InputError):
        simpson_m3(area[:-1], 0.5)


def test_tables_that_are_none() -> None:
    with pytest.raises(InputError):
        StageStorage(np.array([1.0, 0.0]), np.ones(2), np.array([0.0, 1.0]))
    with pytest.raises(InputError):
        StageStorage.of_ground(np.array([5.0]), 1.0, 4.0)


# One store ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("area", "length", "head", "flow"), [(1500, 2, 0.251, 0.427), (500, 3, 0.219, 0.524)]
)
def test_level_pool(area: float, length: float, head: float, flow: float) -> None:
    pond = Store(
        "pond", "Pond", StageStorage.tank(area, 2.0, 10.0), (Outlet("w", 10.0, weir(length)),),
        triangle(0.55, 1800.0, 4800.0), start_m=10.0,
    )  # fmt: skip
    got = cascade([pond], 60.0).routed["pond"]
    assert got.peak_m is not None
    assert got.peak_m - 10.0 == pytest.approx(head, abs=0.001)
    assert got.passed[0].peak_m3s == pytest.approx(flow, abs=0.001)
    # The peak of the outflow lies on the falling limb of the inflow.
    at = got.passed[0].flow.peak_s
    assert got.passed[0].peak_m3s == pytest.approx(0.55 * (4800 - at) / 3000, abs=0.01)


def test_linear_reservoir_against_its_exact_solution() -> None:
    # A O = k V: V(t) = I / k (1 - exp(-k t)).
    k, inflow = 1.0 / 1800.0, 0.2
    tank = Store(
        "t", "Tank", StageStorage.tank(100.0, 50.0), (Outlet("o", 0.0, lambda h: k * 100.0 * h),),
        Hydrograph(60.0, np.full(201, inflow)),
    )  # fmt: skip
    got = cascade([tank], 60.0, 6000.0).routed["t"]
    time = np.arange(101) * 60.0
    exact = inflow / k * (1 - np.exp(-k * time))
    assert got.level_m * 100.0 == pytest.approx(exact, abs=0.2)


def test_a_small_store_with_a_large_sill_does_not_swing() -> None:
    inflow = triangle(0.5, 600.0, 1800.0)
    box = Store(
        "b", "Box", StageStorage.tank(1.0, 3.0), (Outlet("w", 0.5, weir(5.0)),), inflow
    )  # fmt: skip
    got = cascade([box], 60.0, 3600.0).routed["b"]
    out = got.passed[0].flow.flow_m3s
    # One rise, one fall; steps' means of the inflow pass with next to no delay.
    assert (np.diff(np.sign(np.diff(out[out > 1e-3]))) > 0).sum() == 0
    means = 0.5 * (inflow.flow_m3s[1:] + inflow.flow_m3s[:-1])
    assert got.passed[0].peak_m3s == pytest.approx(means.max(), rel=1e-3)


def test_soaking_empties_a_swale() -> None:
    swale = StageStorage.of_section(Trapezoid.even(0.6, 2.0), 50.0, 100.0, 0.4)
    full = Store(
        "s", "Swale", swale, (Outlet("sill", 100.4, weir(5.0)),), soak_m_s=10 / 3.6e6, start_m=100.4
    )  # fmt: skip
    got = cascade([full], 600.0, 60 * 3600.0).routed["s"]
    assert got.soaked_m3 == pytest.approx(28.0, rel=1e-3)
    assert got.spilled_m3 == 0.0
    empty = float(np.flatnonzero(got.level_m < 100.005)[0]) * 600.0 / 3600.0
    # Bottom and water area at one rate: depth falls by 10 mm/h.
    assert empty == pytest.approx(40.0, abs=1.0)


# Networks -----------------------------------------------------------------------------------------


def network(depth_mm: float, upper_start: float | None = None) -> list[Store]:
    storm = synthetic(depth_mm, 24.0, "II")
    return [
        Store(
            "pond", "Pond", StageStorage.tank(800.0, 2.0, 90.0),
            (
                Outlet("weir", 91.5, weir(2.0), to="drain", capacity_m3s=0.4),
                Outlet("pipe", 90.2, lambda h: 0.01 * math.sqrt(h), spill=False),
            ),
            storm_runoff([Patch(40_000.0, 74.0)], storm, 0.3),
        ),
        Store(
            "swale", "Upper swale", StageStorage.tank(220.0, 0.6, 100.0),
            (Outlet("sill", 100.4, weir(8.0, 1.45), to="pond", capacity_m3s=0.12),),
            storm_runoff([Patch(15_000.0, 79.0)], storm, 0.2),
            soak_m_s=10 / 3.6e6, start_m=upper_start,
        ),
        Store("drain", "Drain", None, (Outlet("out", 0.0, lambda h: 0.0),)),
    ]  # fmt: skip


def test_the_order_water_takes() -> None:
    names = order(network(80.0))
    assert names.index("swale") < names.index("pond") < names.index("drain")


def test_books_close_to_the_last_digit() -> None:
    got = cascade(network(110.0))
    assert got.error < 1e-12
    for routed in got.routed.values():
        assert abs(routed.error_m3) < 1e-8 * max(routed.inflow_m3, 1.0)
    pond = got.routed["pond"]
    handed = got.routed["swale"].passed[0].volume_m3
    own = Hydrograph.none(60.0) if pond.store.runoff is None else pond.store.runoff
    assert pond.inflow_m3 == pytest.approx(own.volume_m3 + handed)
    assert got.routed["drain"].inflow_m3 == pytest.approx(pond.passed[0].volume_m3)
    assert got.routed["swale"].first_spill_s is not None
    assert pond.passed[1].outlet.to == AWAY
    assert pond.passed[0].load == pytest.approx(pond.passed[0].peak_m3s / 0.4)


def test_more_rain_never_spills_less() -> None:
    spilt = [cascade(network(mm)).routed["pond"].spilled_m3 for mm in range(20, 220, 20)]
    assert spilt == sorted(spilt)


def test_the_storm_that_fills_each() -> None:
    found = fills_at(network, 400.0, 0.5)
    assert found.keys() == {"swale", "pond", "drain"}
    for ident in ("swale", "pond"):
        depth = found[ident]
        assert depth is not None
        assert cascade(network(depth)).routed[ident].spilled_m3 > 0.0
        assert cascade(network(depth - 1.0)).routed[ident].spilled_m3 == 0.0
    assert fills_at(network, 15.0)["pond"] is None


def test_rings_are_named() -> None:
    tank = StageStorage.tank(10.0, 1.0)
    ring = [
        Store("a", "North swale", tank, (Outlet("x", 0.5, weir(1.0), to="b"),)),
        Store("b", "Pond", tank, (Outlet("x", 0.5, weir(1.0), to="c"),)),
        Store("c", "South swale", tank, (Outlet("x", 0.5, weir(1.0), to="b"),)),
    ]
    with pytest.raises(BadData, match="Pond → South swale → Pond"):
        cascade(ring)
    with pytest.raises(InputError, match="no store"):
        cascade([Store("a", "A", tank, (Outlet("x", 0.5, weir(1.0), to="nowhere"),))])


def test_a_drain_that_is_too_small_hands_on_the_rest() -> None:
    drain = Store(
        "d", "Drain", None,
        (
            Outlet("along", 0.0, lambda h: 0.0, capacity_m3s=0.1),
            Outlet("over", 0.0, lambda h: 0.0),
        ),
        triangle(0.3, 600.0, 1800.0),
    )  # fmt: skip
    along, over = cascade([drain]).routed["d"].passed
    assert along.peak_m3s == pytest.approx(0.1)
    assert over.peak_m3s == pytest.approx(0.2, abs=0.02)


def test_can_be_stopped() -> None:
    def stop(fraction: float, note: str = "") -> None:
        raise Cancelled

    with pytest.raises(Cancelled):
        cascade(network(50.0), progress=stop)
