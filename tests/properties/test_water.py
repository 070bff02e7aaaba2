"""What must hold for any rain, store and land."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from canvas.base.grid import Grid
from canvas.ground.faces import Faces
from canvas.water.bed import EDGES, Bed
from canvas.water.cascade import AWAY, Outlet, Store, cascade
from canvas.water.culverts import Culvert, capacity_m3s, inlets
from canvas.water.hydrographs import Hydrograph, storm_runoff
from canvas.water.rain import RainTable
from canvas.water.runoff import Patch, runoff_m3, runoff_mm
from canvas.water.sections import Trapezoid, manning_flow, normal_depth
from canvas.water.shallow import Water
from canvas.water.storage import StageStorage
from canvas.water.storms import TYPES, alternating, synthetic
from canvas.water.weirs import spillway_flow, weir_flow

WALLED = frozenset(EDGES)


@given(st.floats(0, 500), st.floats(0, 500), st.floats(30, 100), st.floats(30, 100))
def test_more_rain_or_less_cover_never_runs_off_less(
    rain: float, more: float, cn: float, other: float
) -> None:
    low, high = sorted((rain, rain + more))
    a, b = sorted((cn, other))
    assert runoff_mm(low, a) <= runoff_mm(high, a) + 1e-12
    assert runoff_mm(low, a) <= runoff_mm(low, b) + 1e-12
    assert 0.0 <= runoff_mm(low, a) <= low


@given(
    st.lists(st.tuples(st.floats(100, 1e5), st.floats(40, 100)), min_size=1, max_size=5),
    st.floats(5, 300),
    st.sampled_from(TYPES),
    st.floats(0.1, 3),
    st.sampled_from([60.0, 300.0]),
)
@settings(max_examples=40, deadline=None)
def test_hydrographs_keep_their_volume(
    parts: list[tuple[float, float]], depth: float, kind: str, tc: float, step: float
) -> None:
    patches = [Patch(a, cn) for a, cn in parts]
    flow = storm_runoff(patches, synthetic(depth, 24.0, kind), tc, step)
    assert flow.volume_m3 == pytest.approx(runoff_m3(patches, depth), rel=1e-9, abs=1e-9)


@given(
    st.lists(st.floats(1.0, 3.0), min_size=2, max_size=5),
    st.lists(st.floats(1.0, 2.0), min_size=1, max_size=4),
    st.floats(5, 1440),
    st.floats(1, 200),
)
@settings(max_examples=60, deadline=None)
def test_rain_tables_rise(
    steps: list[float], rarer: list[float], minutes: float, years: float
) -> None:
    t = 10.0 * np.cumprod(np.array(steps) + 0.2)
    y = 2.0 * np.cumprod(np.array(rarer) + 0.5)
    depth = 10.0 * np.cumprod(steps)[:, None] ** 0.5 * np.cumprod(rarer)[None, :]
    table = RainTable.typed(t, y, depth)
    assert table.depth(minutes, years) <= table.depth(minutes * 1.1, years) + 1e-9
    assert table.depth(minutes, years) <= table.depth(minutes, years * 1.1) + 1e-9
    storm = alternating(table, 10.0, 1.0, 10.0)
    assert storm.depth_mm == pytest.approx(table.depth(60.0, 10.0))


@given(st.floats(0, 5), st.floats(0, 5), st.floats(0.001, 0.4), st.floats(0.01, 0.2),
       st.floats(0.001, 20))  # fmt: skip
@example(0.0, 0.0, 0.125, 0.125, 16.0)
@settings(max_examples=60, deadline=None)
def test_even_flow_finds_its_depth(
    bottom: float, z: float, slope: float, n: float, flow: float
) -> None:
    section = Trapezoid.even(bottom + 0.05, z)
    got = normal_depth(section, flow, slope, n)
    if got.flow_m3s < flow * (1 - 1e-6):
        # A slot of a few centimetres: no depth in reason carries it.
        assert got.depth_m >= 1000.0
        return
    assert manning_flow(section, got.depth_m, slope, n).flow_m3s == pytest.approx(flow, rel=1e-6)


@given(st.floats(0, 2), st.floats(0, 1), st.floats(1, 12))
@example(0.05244033263376481, 0.05244033263376481, 1.0)
def test_more_head_never_passes_less(head: float, more: float, width: float) -> None:
    assert spillway_flow(head, width) <= spillway_flow(head + more, width) + 1e-12
    pipe = Culvert(0.6, 10.0, 0.02, inlets()["corrugated_headwall"])
    assert capacity_m3s(pipe, head) <= capacity_m3s(pipe, head + more + 1e-3) + 1e-9


def chain(areas: list[float], sills: list[float], soak: float, inflow: Hydrograph) -> list[Store]:
    last = len(areas) - 1
    stores = []
    for i, (area, level) in enumerate(zip(areas, sills, strict=True)):
        below = AWAY if i == last else f"s{i + 1}"
        sill = Outlet("sill", level, lambda h: weir_flow(h, 2.0), to=below)
        own = inflow if i in (0, last) else None
        tank = StageStorage.tank(area, 3.0)
        stores.append(Store(f"s{i}", f"Store {i}", tank, (sill,), own, soak_m_s=soak))
    return stores


@given(
    st.lists(st.tuples(st.floats(1, 5000), st.floats(0.05, 2.0)), min_size=1, max_size=5),
    st.floats(0, 1e-4),
    hnp.arrays(np.float64, st.integers(3, 60), elements=st.floats(0, 3)),
    st.floats(1.01, 3.0),
)
@settings(max_examples=60, deadline=None)
def test_cascades_balance_and_more_rain_never_spills_less(
    stores: list[tuple[float, float]], soak: float, flow: np.ndarray, factor: float
) -> None:
    areas, sills = [a for a, _ in stores], [s for _, s in stores]
    runs = [
        cascade(chain(areas, sills, soak, Hydrograph(60.0, flow * f)), 60.0, 7200.0)
        for f in (1.0, factor)
    ]
    for run in runs:
        assert run.error < 1e-9
        for routed in run.routed.values():
            assert routed.end_m3 >= 0.0
            assert abs(routed.error_m3) <= 1e-9 * max(routed.inflow_m3, 1.0)
    for ident, routed in runs[0].routed.items():
        less, more = routed.spilled_m3, runs[1].routed[ident].spilled_m3
        assert more >= less - 1e-6 * max(less, 1.0)


grounds = hnp.arrays(
    np.float64,
    st.tuples(st.integers(3, 20), st.integers(3, 36)),
    elements=st.floats(0, 4, width=16),
)


@given(grounds, st.floats(0, 5), st.sampled_from([0.5, 1.0, 2.0]))
@settings(max_examples=25, deadline=None)
def test_any_lake_stays_at_rest(z: np.ndarray, level: float, cell: float) -> None:
    water = Water(Bed(Grid(z + 300.0, 0, 0, cell), 0.03, shut=WALLED), np.maximum(level - z, 0.0))
    before = water.depth()
    water.advance(120.0)
    # Levels differ only by the rounding of their sum.
    assert np.abs(water.depth() - before).max() < 1e-9
    assert water.speed().max() < 1e-9


@given(
    grounds, st.floats(0, 200), st.floats(0, 100), st.floats(0, 0.2), st.sampled_from([1.0, 2.0]),
    st.sampled_from([0.02, 0.1]), st.integers(0, 2**31),
)  # fmt: skip
@settings(max_examples=25, deadline=None)
def test_any_storm_balances(
    z: np.ndarray, rain: float, soak: float, suction: float, cell: float, n: float, seed: int
) -> None:
    rng = np.random.default_rng(seed)
    faces = Faces.none(z.shape)
    held = rng.random(faces.east_m.shape) < 0.1
    faces.east_m[held] = rng.uniform(0, 5, held.sum())
    depth = np.where(rng.random(z.shape) < 0.2, rng.uniform(0, 1.5, z.shape), 0.0)
    water = Water(Bed(Grid(z, 0, 0, cell), n, faces, shut=frozenset({"north", "west"})), depth)
    water.rain[0] = rain / 3.6e6, soak / 3.6e6, suction
    water.advance(60.0)
    water.rain[0, 0] = 0.0
    water.advance(180.0)
    came = water.start_m3 + water.rained_m3
    assert abs(water.mass_error_m3) <= 1e-9 * max(came, 1.0)
    raw = water.tiling.grid(water._water[:, :, 1])
    assert raw.min() >= -1e-9
    assert np.isfinite(water.speed()).all()


@given(grounds, st.integers(0, 3))
@settings(max_examples=20, deadline=None)
def test_turning_the_land_turns_the_water(z: np.ndarray, turns: int) -> None:
    def run(levels: np.ndarray) -> np.ndarray:
        water = Water(Bed(Grid(levels, 0, 0, 2.0), 0.05), 0.05)
        # One pace for all, so that turning does not change which tiles step together.
        for _ in range(40):
            water.beat(0.05)
        return water.depth()

    turned = run(np.ascontiguousarray(np.rot90(z, turns)))
    assert turned == pytest.approx(np.rot90(run(z), turns), abs=2e-4)
