"""Details of tracks and crossings: levels at scale, tables that say what the study says."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString

from canvas.base.grid import Grid
from canvas.drawing.details.crosscut import BUILT, EXISTING
from canvas.drawing.details.registry import Detail, details
from canvas.drawing.details.ways import cross_section
from canvas.drawing.entries import Lines, Stroke, Text
from canvas.drawing.profile import between, grade_words
from canvas.site.elements.access import Track
from canvas.site.elements.crossings import Culvert, Ford, WaterBar
from canvas.study.study import Study
from made import EAST, NORTH, plane, study_of


def line(*points: tuple[float, float]) -> LineString:
    return LineString([(EAST + x, NORTH + y) for x, y in points])


def valley() -> Grid:
    """A valley that falls 5 % to the south, its sides 15 %."""
    grid = plane(slope_north=0.05)
    return grid.like(grid.z + 0.15 * abs(grid.x_m()[None, :] - EAST - 100))


def words(detail: Detail) -> str:
    told = " | ".join(e.words for e in detail.entries if isinstance(e, Text))
    return told.replace("\xa0", " ").replace("\u202f", " ")


def drawn(detail: Detail, stroke: Stroke) -> np.ndarray:
    return next(e.paths[0] for e in detail.entries if isinstance(e, Lines) and e.stroke == stroke)


@pytest.fixture(scope="module")
def study() -> Study:
    track = Track(
        id="way", name="Drive", geometry=line((20, 50), (60, 70), (160, 60)), forming="out",
        profile="0;114;\n40;110;15\n84;105.2;20\n144;112;",
    )  # fmt: skip
    return study_of(
        track,
        Culvert(id="pipe", geometry=line((100, 72), (100, 58)), inlet_m=103.4, outlet_m=102.7,
                bore_m=0.6, design_flow_m3s=0.5),
        WaterBar(geometry=line((131, 64), (127, 60))),
        Ford(id="ford", geometry=line((85, 120), (115, 120)), design_flow_m3s=0.5),
        grid=valley(),
    )  # fmt: skip


def test_the_long_section_stands_at_the_scales_it_names(study: Study) -> None:
    long, *_ = details(study.plan.element("way"), study)
    assert long.scale == "1:1000 along, 1:250 up"
    ground = drawn(long, EXISTING)
    made = study.work("way").thing
    assert np.ptp(ground[:, 0]) == pytest.approx(made.centre.line.length, abs=0.01)
    # 1:250: 4 mm for each metre of height.
    assert np.ptp(ground[:, 1]) == pytest.approx(4 * np.ptp(made.stations.ground_m), abs=0.01)
    built = drawn(long, Stroke("ink", 0.45))
    assert np.ptp(built[:, 1]) == pytest.approx(4 * np.ptp(made.stations.level_m), rel=0.02)


def test_the_long_section_tells_levels_grades_curves_and_crossings(study: Study) -> None:
    long, *_ = details(study.plan.element("way"), study)
    told = words(long)
    for part in ("114.00", "-10.0 %", "-10.9 %", "L 15 m", "L 20 m", "R 15 m", "Culvert 0.60 m",
                 "Water bar", "datum 102.00 m", "84.0"):  # fmt: skip
        assert part in told, part


def test_every_word_of_the_details_lies_within_them(study: Study) -> None:
    for ident in ("way", "pipe", "ford"):
        for detail in details(study.plan.element(ident), study):
            for entry in detail.entries:
                if isinstance(entry, Text):
                    assert 0 <= entry.x <= detail.width_mm
                    assert 0 <= entry.y <= detail.height_mm


def test_a_cross_section_is_the_carriageway_at_scale(study: Study) -> None:
    item, work = study.plan.element("way"), study.work("way")
    made = cross_section(item, study, work, 110.0)
    told = words(made)
    assert "carriageway 3.50 m" in told
    assert "1.5 : 1" in told
    assert "4 %" in told
    level = float(work.thing.grade_line.level_m(110.0))
    assert f"{level:.2f} m" in told
    mm = 1000 / float(made.scale.removeprefix("1:"))
    top = drawn(made, BUILT)
    # It falls 4 % over its 3.5 m, 0.14 m; beyond the upper edge the batter has come down as far
    # after 1.5 x 0.14 m. Read from the patch: to one of its cells.
    cell = work.patches[0].levels.cell_m
    high = top[top[:, 1] > top[:, 1].max() - 0.14 * mm]
    assert np.ptp(high[:, 0]) == pytest.approx((3.5 + 1.5 * 0.14) * mm, abs=cell * mm)


def test_culvert_and_ford_show_their_levels_and_the_water(study: Study) -> None:
    (pipe,) = details(study.plan.element("pipe"), study)
    told = words(pipe)
    for part in ("invert 103.40 m", "invert 102.70 m", "pipe 14.00 m, falls 5.0 %", "rock 2.40 m",
                 "design flow 0.500 m³/s"):  # fmt: skip
        assert part in told, part
    (ford,) = details(study.plan.element("ford"), study)
    assert "floor 4.00 m" in words(ford)
    assert "Floods kill" in words(ford)


def test_a_track_along_the_ground_has_no_details() -> None:
    track = Track(geometry=line((20, 50), (160, 60)))
    assert details(track, study_of(track, grid=valley())) == []


def test_areas_between_two_lines_are_cut_at_their_crossing() -> None:
    run = np.array([0.0, 10.0])
    cut, fill = between(run, np.array([1.0, 0.0]), np.array([0.0, 1.0]))
    (dug,), (filled,) = cut, fill
    assert dug[:, 0].max() == pytest.approx(5.0)
    assert filled[:, 0].min() == pytest.approx(5.0)
    assert grade_words(0.1).replace("\xa0", " ") == "+10.0 %"
