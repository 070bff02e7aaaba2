"""The chain of stores on made-up hills: nothing is lost, more rain spills no less, turns turn."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely import LineString, affinity

from canvas.base.grid import Grid
from canvas.site.elements.swales import Swale
from canvas.site.records import changed
from canvas.site.storms import DesignStorm
from canvas.study.storm.chain import Chain
from canvas.study.study import Study
from made import EAST, NORTH, study_of

SIDE = 160
CALM = settings(
    max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


def hill(slope: float, bend: float) -> Grid:
    """Return a hill that falls south, with a ridge up its middle."""
    row, col = np.mgrid[0:SIDE, 0:SIDE]
    z = 100 + slope * (SIDE - row - 0.5) - bend * np.abs(col - SIDE / 2 + 0.5)
    return Grid(z, EAST, NORTH + SIDE, 1.0)


def swales(heights: list[int], soaks: float) -> list[Swale]:
    """Return level swales on the west side of the ridge, whose levels follow their lines' mean."""
    found = []
    for n, y in enumerate(heights):
        line = LineString([(EAST + 30, NORTH + y), (EAST + 70, NORTH + y)])
        found.append(Swale(id=f"s{n}", name=f"Swale {n}", geometry=line, soaks_mm_h=soaks))
    return found


storms = st.builds(
    DesignStorm,
    depth_mm=st.floats(20.0, 250.0),
    hours=st.sampled_from([1.0, 6.0, 24.0]),
    pattern=st.sampled_from(["uniform", "triangular", "IA", "II"]),
    group=st.sampled_from(["B", "C", "D"]),
    moisture=st.sampled_from(["dry", "average", "wet"]),
)
places = st.lists(st.integers(1, 6), min_size=1, max_size=3, unique=True).map(
    lambda rows: [20 * row for row in rows]
)


def run(study: Study) -> Chain:
    found = study.chain()
    assert found.run is not None, found.trouble
    return found


@CALM
@given(places, storms, st.floats(0.05, 0.2), st.floats(0.0, 60.0))
def test_nothing_is_lost(
    heights: list[int], storm: DesignStorm, slope: float, soaks: float
) -> None:
    chain = run(study_of(storm, *swales(heights, soaks), grid=hill(slope, 0.0)))
    assert chain.run is not None
    assert chain.run.error <= 0.001
    own = sum(
        patch.area_m2 for each in chain.network.own.values() for patch in each.patches
    )  # fmt: skip
    # No ground feeds two stores.
    assert own <= SIDE**2
    for found in chain.run.routed.values():
        assert abs(found.error_m3) <= 1e-6 * max(found.inflow_m3, 1.0)
        for passed in found.passed:
            assert passed.volume_m3 >= -1e-9
            if passed.outlet.to:
                assert chain.network.nodes[passed.outlet.to].high_m < found.store.outlets[0].level_m


@CALM
@given(places, storms, st.floats(1.05, 3.0))
def test_more_rain_never_spills_less(heights: list[int], storm: DesignStorm, factor: float) -> None:
    study = study_of(storm, *swales(heights, 10.0), grid=hill(0.1, 0.0))
    depth = storm.depth_mm
    assert depth is not None
    less = run(study)
    more = run(study.moved(study.plan.with_(changed(storm, depth_mm=min(depth * factor, 700.0)))))
    for ident in less.order:
        before, after = less.routed(ident), more.routed(ident)
        assert before is not None
        assert after is not None
        assert after.spilled_m3 >= before.spilled_m3 - 1e-6
        assert after.inflow_m3 >= before.inflow_m3 - 1e-6


@CALM
@given(places, storms, st.sampled_from([90, 180, 270]))
def test_turned_ground_gives_turned_answers(
    heights: list[int], storm: DesignStorm, turn: int
) -> None:
    grid, drawn = hill(0.1, 0.02), swales(heights, 10.0)
    plain = run(study_of(storm, *drawn, grid=grid))
    middle = (EAST + SIDE / 2, NORTH + SIDE / 2)
    turned = grid.like(np.rot90(grid.z, turn // 90).copy())
    lines = [changed(each, geometry=affinity.rotate(each.geometry, turn, origin=middle))
             for each in drawn]  # fmt: skip
    found = run(study_of(storm, *lines, grid=turned))
    for ident in plain.order:
        mine, theirs = plain.routed(ident), found.routed(ident)
        assert mine is not None
        assert theirs is not None
        # Cells on a rim may fall to either side; the ends' banks round to whole cells.
        assert theirs.inflow_m3 == pytest.approx(mine.inflow_m3, rel=0.05, abs=1.0)
        one, other = plain.spill_line(ident), found.spill_line(ident)
        assert one is not None
        assert other is not None
        back = affinity.rotate(other, -turn, origin=middle)
        assert shapely.hausdorff_distance(one, back) < 6.0
