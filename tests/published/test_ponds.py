"""Ponds, dams and spillways against published rules and worked examples."""

from __future__ import annotations

import pytest
from published.ref import Ref

from canvas.study.kinds.pond_safety import Outlet
from canvas.water import ponds, weirs
from canvas.water.storage import StageStorage, conic_m3, prismoid_m3

ACRE_FOOT = 1233.48184


def test_farm_rule() -> None:
    Ref(4800.0, 0.0, "Dept of Primary Industries WA: 60 x 40 m, 5 m deep").check(
        ponds.quick_volume_m3(60.0 * 40.0, 5.0)
    )


def test_basin_size() -> None:
    # The manual's own table of basin volumes uses a wrong last term; this example does not.
    Ref(25.2, 0.1, "HEC-22 (2009) eq. 8-8").check(ponds.basin_length_m(850.0, 2.0, 1.6, 3.0))


@pytest.mark.parametrize(
    ("head", "flow"),
    [(0.1, 0.21), (0.2, 0.60), (0.3, 1.17), (0.4, 1.90)],
)
def test_emergency_spillway_example(head: float, flow: float) -> None:
    # HEC-22 example 8-8 and its table 8-2 differ by up to 0.02 for the same spillway.
    got = weirs.spillway_flow(head, 5.0)
    Ref(flow, 0.02, "HEC-22 (2009) example 8-8").check(got)


@pytest.mark.parametrize(
    ("head", "width", "flow"), [(0.5, 4, 2.30), (0.3, 2, 0.53), (0.6, 8, 5.85), (0.2, 6, 0.69)]
)
def test_spillway_table(head: float, width: float, flow: float) -> None:
    Ref(flow, 0.0005, "HEC-22 (2009) table 8-2").check(weirs.spillway_flow(head, width))


def test_spillway_speeds() -> None:
    got = weirs.spillway_run(1.17, 5.0, 0.05)
    # The table prints one speed for all widths: about 1.33.
    Ref(1.33, 0.02, "HEC-22 (2009) table 8-2, head 0.3 m").check(got.critical_speed_m_s)
    Ref(0.028, 0.0005, "HEC-22 (2009) table 8-2, head 0.3 m").check(got.critical_slope)


@pytest.mark.parametrize(("head", "breadth", "c"), [(0.2, 2.0, 1.49), (0.1, 3.0, 1.40)])
def test_broad_crest(head: float, breadth: float, c: float) -> None:
    Ref(c, 0.0005, "HEC-22 (2009) table 8-1").check(weirs.broad_coefficient(head, breadth))


def test_weir_head() -> None:
    got = weirs.weir_head(0.1614, 3.658, 1.380)
    Ref(0.1006, 0.001, "a state mine-permit calculation: 0.33 ft").check(got)


def test_drawdown_pipe() -> None:
    got = 1000 * ponds.drawdown_flow_m3s(3000.0)
    Ref(2.23, 0.01, "Kansas Admin. Regs 5-40-44: 90 % in 14 days").check(got)


@pytest.mark.parametrize(
    ("height", "volume", "flagged"),
    [
        (8.0, 20_000, True),
        (8.0, 10_000, False),
        (1.8, 70_000, False),
        (5.0, 70_000, True),
        (5.0, 30_000, False),
    ],
)
def test_california(height: float, volume: float, flagged: bool) -> None:
    # California Water Code 6002-6003.
    assert ponds.california_dam(height, volume) is flagged


def test_crest_width() -> None:
    source = "NRCS 378, older Colorado edition, p. 378-2: 8 ft for 10 to 15 ft"
    Ref(2.4, 0.0, source).check(ponds.crest_width_m(4.0))
    Ref(3.7, 0.0, "Kansas Admin. Regs 5-40-53").check(ponds.crest_width_m(7.0, "kansas"))


@pytest.mark.parametrize(("wind", "height"), [(20.0, 1.45), (25.0, 1.88), (30.0, 2.32)])
def test_waves(wind: float, height: float) -> None:
    got = ponds.wave_height_m(10_000.0, wind)
    Ref(height, 0.005, "SANCOLD freeboard example, Saville, fetch 10 km").check(got)


def test_slices() -> None:
    # Formulas read (HEC-22 8-15, 8-16, 8-9); numbers worked from them.
    Ref(644.15, 0.01, "HEC-22 (2009) eq. 8-16").check(float(conic_m3(500.0, 800.0, 1.0)))
    Ref(1286.67, 0.01, "HEC-22 (2009) eq. 8-9").check(prismoid_m3(500.0, 640.0, 800.0, 2.0))
    stage = [0, 0.5, 1, 1.5, 2, 2.5, 3]
    area = [0, 120, 330, 620, 980, 1400, 1900]
    Ref(2200.0, 1e-9, "HEC-22 (2009) eq. 8-15").check(
        float(StageStorage.of_areas(stage, area).volume_m3[-1])
    )
    Ref(2172.2, 0.1, "HEC-22 (2009) eq. 8-16").check(
        float(StageStorage.of_areas(stage, area, "conic").volume_m3[-1])
    )


@pytest.mark.parametrize(
    ("width", "head", "flow"), [(5.0, 0.3, 1.18), (4.0, 0.5, 2.30), (2.0, 0.3, 0.53)]
)
def test_a_dams_spillway_with_its_freeboard(width: float, head: float, flow: float) -> None:
    # What a dam's spillway passes with 0.3 m of its freeboard left dry.
    outlet = Outlet(width, head + 0.3, 0.3, 0.03, 3.0)
    source = "HEC-22 (2009) table 8-2"
    Ref(flow, 0.0005, source).check(outlet.capacity_m3s)
    Ref(head, 0.002, source).check(outlet.head_m(flow))
