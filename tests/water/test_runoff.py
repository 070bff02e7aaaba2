"""Runoff, rain and storms: arithmetic, limits and messages."""

from __future__ import annotations

import numpy as np
import pytest

from canvas.base.errors import BadData, InputError
from canvas.water import concentration, hydrographs, peaks, rain, runoff, storms
from canvas.water.rain import RainTable
from canvas.water.runoff import Condition, Moisture, Patch, SoilGroup


@pytest.mark.parametrize(
    ("cn", "held", "loss"),
    [(61, 162.39, 32.48), (79, 67.52, 13.50), (85, 44.82, 8.96), (98, 5.18, 1.04)],
)
def test_retention_and_initial_loss(cn: float, held: float, loss: float) -> None:
    assert float(runoff.retention_mm(cn)) == pytest.approx(held, abs=0.005)
    assert float(runoff.initial_loss_mm(cn)) == pytest.approx(loss, abs=0.005)


@pytest.mark.parametrize(
    ("rain_mm", "cn", "depth"),
    [(80, 79, 32.99), (80, 74, 25.51), (80, 61, 10.76), (100, 79, 48.58), (150, 65, 57.99),
     (20, 70, 0.0)],
)  # fmt: skip
def test_runoff_by_the_equation(rain_mm: float, cn: float, depth: float) -> None:
    assert float(runoff.runoff_mm(rain_mm, cn)) == pytest.approx(depth, abs=0.01)


def test_runoffs_are_summed_not_averaged() -> None:
    patches = [Patch(7000.0, 61.0), Patch(3000.0, 98.0)]
    mean = runoff.composite_cn(patches)
    assert float(runoff.runoff_mm(50.0, mean)) == pytest.approx(7.16, abs=0.01)
    assert runoff.runoff_m3(patches, 50.0) / 10.0 == pytest.approx(14.48, abs=0.01)


def test_all_rain_on_water_runs() -> None:
    water = runoff.covers()["water"].number(SoilGroup.B)
    assert float(runoff.runoff_mm(37.0, water)) == pytest.approx(37.0)
    assert float(runoff.runoff_mm(0.0, water)) == 0.0


def test_moisture() -> None:
    # Chow, Maidment & Mays 1988, section 5.5, from memory.
    assert runoff.adjusted(75.0, Moisture.DRY) == pytest.approx(55.75, abs=0.01)
    assert runoff.adjusted(75.0, Moisture.WET) == pytest.approx(87.34, abs=0.01)
    assert runoff.adjusted(75.0, Moisture.AVERAGE) == 75.0


def test_covers_stand_in_for_missing_conditions() -> None:
    assert runoff.covers()["row_crop"].number(SoilGroup.B, Condition.POOR) == 78.0
    assert runoff.covers()["gravel_road"].conditions == ()
    with pytest.raises(InputError, match="dry_oak"):
        runoff.covers()["dry_oak"].number(SoilGroup.A)


def test_every_cover_gets_wetter_down_the_groups_and_the_conditions() -> None:
    for cover in runoff.covers().values():
        for row in cover.numbers.values():
            known = [n for n in row if n is not None]
            assert known == sorted(known), cover.key
        if len(cover.conditions) > 1:
            good, poor = cover.numbers[Condition.GOOD], cover.numbers[Condition.POOR]
            for better, worse in zip(good, poor, strict=True):
                assert better is None or worse is None or better <= worse


# Rain table  ------------------------------


@pytest.fixture
def table() -> RainTable:
    return RainTable.typed(
        [10, 60, 120, 1440],
        [2, 10, 100],
        [[60, 90, 130], [20, 30, 42], [13, 20, 29], [2.2, 3.3, 4.6]],
        intensity=True,
        source="made up",
    )


def test_straight_between_logarithms(table: RainTable) -> None:
    assert table.intensity(90, 10) == pytest.approx(23.67, abs=0.01)
    assert table.depth(90, 10) == pytest.approx(35.5, abs=0.02)
    assert table.depth(60, 10) == pytest.approx(30.0)
    assert 30.0 < table.depth(60, 25) < 42.0
    assert table.years_of(60, 30.0) == pytest.approx(10.0)


def test_says_where_it_was_drawn_on(table: RainTable) -> None:
    assert table.beyond(60, 10) == ""
    assert "table 10 to 1440 min" in table.beyond(5, 10)
    assert "return period 500" in table.beyond(60, 500)
    assert table.depth(5, 10) < table.depth(10, 10)


@pytest.mark.parametrize(
    ("minutes", "years", "values", "words"),
    [
        ([60, 30], [10], [[20], [30]], "durations"),
        ([30, 60], [10], [[30], [20]], "60 min, 10 years is less"),
        ([30], [10, 5], [[30, 40]], "return periods"),
        ([30], [5, 10], [[40, 30]], "less for 10 than for 5"),
        ([30], [5], [[0]], "above nought"),
    ],
)
def test_typed_tables_are_looked_over(
    minutes: list[float], years: list[float], values: list[list[float]], words: str
) -> None:
    with pytest.raises(BadData, match=words):
        RainTable.typed(minutes, years, values)


def test_risk() -> None:
    """The return period for a chance of a tenth in 25 years: 237.8 years."""
    assert rain.risk(237.8, 25.0) == pytest.approx(0.10, abs=1e-4)


# Storms  ------------------------------


@pytest.mark.parametrize("kind", storms.TYPES)
def test_synthetic_storms(kind: str) -> None:
    day = storms.synthetic(110.0, 24.0, kind)
    assert day.depth_mm == pytest.approx(110.0)
    assert day.steps(600.0).sum() == pytest.approx(110.0)
    short = storms.synthetic(60.0, 2.0, kind)
    assert short.length_s == 7200.0
    assert short.depth_mm == pytest.approx(60.0)
    # The stretch with the most rain: no other two hours of the day hold more.
    most = max(float(np.diff(day.at([t, t + 7200.0]))[0]) for t in np.arange(0, 79200, 300.0))
    t, share = day.time_s, day.fallen_mm
    start = float(t[np.argmax(np.diff(share) / np.diff(t))])
    assert float(np.diff(day.at([start - 7200, start + 7200]))[0]) >= most - 1e-9


def test_milder_types_have_lower_peaks() -> None:
    rates = [storms.synthetic(100.0, 24.0, kind).peak_mm_h for kind in ("IA", "I", "II")]
    assert rates == sorted(rates)


def test_triangle() -> None:
    storm = storms.triangular(60.0, 2.0, 0.375)
    assert storm.depth_mm == pytest.approx(60.0)
    # Its peak rate is twice the mean.
    assert storm.peak_mm_h == pytest.approx(60.0, rel=0.01)
    assert float(storm.at(0.375 * 7200)) == pytest.approx(60.0 * 0.375)


@pytest.mark.parametrize("peak_at", [0.0, 0.3, 0.5, 1.0])
def test_alternating_blocks_hold_the_table(table: RainTable, peak_at: float) -> None:
    storm = storms.alternating(table, 10.0, 2.0, 10.0, peak_at)
    assert storm.depth_mm == pytest.approx(table.depth(120.0, 10.0))
    steps = storm.steps(600.0)
    for count in (1, 2, 6):
        best = max(steps[i : i + count].sum() for i in range(len(steps) - count + 1))
        assert best == pytest.approx(table.depth(10.0 * count, 10.0))


def test_own_record() -> None:
    storm = storms.own([30, 60, 90], [5.0, 12.0, 3.0])
    assert float(storm.at(3600.0)) == pytest.approx(17.0)
    for minutes, depths in (([30, 20], [1, 1]), ([30], [-1]), ([30], [1, 2]), ([0, 30], [2, 1])):
        with pytest.raises(BadData):
            storms.own(minutes, depths)
    with pytest.raises(BadData, match="up to 24 hours"):
        storms.synthetic(10.0, 30.0)


# Times, peaks, hydrographs  ------------------------------


def test_times_of_concentration() -> None:
    # TR-55 example 3-1 and NEH-630 chapter 15, results from memory; the rest by the formulas.
    assert 60 * concentration.kirpich_h(400.0, 0.12) == pytest.approx(4.45, rel=0.02)
    assert concentration.lag_h(400.0, 79.0, 0.12) == pytest.approx(0.1176, abs=0.0005)
    assert concentration.from_lag_h(400.0, 79.0, 0.12) == pytest.approx(0.196, abs=0.001)
    # 100 ft of dense grass, 1 %, 3.6 in.
    got = concentration.sheet_by_day_h(0.24, 30.48, 0.01, 91.44)
    assert got == pytest.approx(0.296, abs=0.004)


def test_sheet_time_agrees_with_its_own_rain(table: RainTable) -> None:
    hours = concentration.sheet_by_table_h(0.24, 60.0, 0.08, lambda t: table.intensity(t, 10.0))
    again = concentration.sheet_h(0.24, 60.0, 0.08, table.intensity(60 * hours, 10.0))
    assert again == pytest.approx(hours, rel=1e-6)


def test_peaks_and_their_range() -> None:
    found = [peaks.graphical_peak(60_000.0, 100.0, 79.0, 0.25, kind) for kind in storms.TYPES]
    got = peaks.PeakRange((*found, peaks.rational_peak(0.42, 45.0, 60_000.0, 10.0)))
    by_method = {p.method: p.flow_m3s for p in got.peaks}
    assert by_method["graphical, storm type IA"] == pytest.approx(0.171, abs=0.002)
    assert by_method["graphical, storm type I"] == pytest.approx(0.445, abs=0.002)
    assert by_method["graphical, storm type II"] == pytest.approx(0.894, abs=0.002)
    assert by_method["rational"] == pytest.approx(0.315, abs=0.001)
    assert (got.low_m3s, got.high_m3s) == (min(by_method.values()), max(by_method.values()))


def test_peaks_say_where_the_method_ends() -> None:
    assert "below 40" in peaks.graphical_peak(1e5, 60.0, 35.0, 0.5, "II").remark
    assert "0.1 to 10 h" in peaks.graphical_peak(1e5, 90.0, 80.0, 0.02, "II").remark
    assert "80 ha" in peaks.rational_peak(0.3, 30.0, 1e6).remark
    # Rare storms raise the coefficient, never above 1.
    assert peaks.rational_peak(0.9, 36.0, 1e5, 100.0).flow_m3s == pytest.approx(1.0)


def test_triangle_farm() -> None:
    to_peak = hydrographs.to_peak_h(0.25)
    assert hydrographs.triangle_peak(6e4, 1.0, to_peak) == pytest.approx(0.0750, abs=2e-4)


@pytest.mark.parametrize("triangle", [False, True])
@pytest.mark.parametrize("step", [10.0, 60.0, 300.0])
def test_hydrographs_hold_the_runoff(triangle: bool, step: float) -> None:
    patches = [Patch(40_000.0, 79.0), Patch(2_000.0, 98.0)]
    storm = storms.synthetic(100.0, 24.0, "II")
    flow = hydrographs.storm_runoff(patches, storm, 0.25, step, triangle=triangle)
    assert flow.volume_m3 == pytest.approx(runoff.runoff_m3(patches, 100.0), rel=1e-9)
    # The burst of rain ends at 12 h: the peak follows within the time of concentration.
    assert 11.75 * 3600 <= flow.peak_s <= 12.5 * 3600


def test_adding_hydrographs() -> None:
    one = hydrographs.Hydrograph(60.0, np.array([0.0, 1.0]))
    two = hydrographs.Hydrograph(60.0, np.array([0.0, 0.5, 0.25]))
    both = one.plus(two)
    assert both.flow_m3s == pytest.approx([0.0, 1.5, 0.25])
    assert both.volume_m3 == pytest.approx(one.volume_m3 + two.volume_m3)
    with pytest.raises(InputError):
        one.plus(hydrographs.Hydrograph(30.0, np.ones(2)))
