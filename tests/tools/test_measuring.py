"""Measuring, spots, sections, tying. Grid figures by plane geometry; the ground is a made plane."""

from __future__ import annotations

import math

import pytest

from canvas.base.errors import BadData
from canvas.tools.measure import MeasureTool, SectionTool, SpotTool
from canvas.tools.tie import Ties
from made import EAST, NORTH, plane


def value(facts, key):
    return next(fact.value for fact in facts if fact.key == key)


def test_measure_a_length_on_grid_ellipsoid_and_ground(hand):
    made = hand(grid=plane(slope_north=0.10))
    told = []
    tool = MeasureTool(made.world, "LineString", told.append)
    made.click(tool, 50, 50)
    made.click(tool, 50, 150)
    assert made.key(tool, "enter") is None
    assert value(tool.facts, "length_m") == pytest.approx(100.0)
    assert value(tool.facts, "length_ground_m") == pytest.approx(math.hypot(100, 10), rel=1e-3)
    # The grid of this zone is scaled by 0.9996 to 1.0006: well within 1 part in 1000.
    assert value(tool.facts, "length_geodesic_m") == pytest.approx(100.0, rel=1e-3)
    assert told == [tool.facts]
    assert "100.00" in tool.ghost().labels[-1].words
    assert not made.edits
    made.click(tool, 0, 0)
    assert tool.facts == ()


def test_measure_an_area(hand):
    made = hand(grid=plane(slope_north=0.10))
    tool = MeasureTool(made.world, "Polygon")
    for x, y in ((50, 50), (80, 50), (80, 90), (50, 90)):
        made.click(tool, x, y)
    made.key(tool, "enter")
    assert value(tool.facts, "area_m2") == pytest.approx(1200.0)
    assert value(tool.facts, "area_ground_m2") == pytest.approx(1200 * math.hypot(1, 0.1), rel=2e-3)
    tool.key_press("escape")
    assert tool.facts == ()


def test_read_a_spot(hand):
    made = hand(grid=plane(slope_north=0.10))
    tool = SpotTool(made.world)
    made.click(tool, 40, 50)
    assert value(tool.facts, "ground_m") == pytest.approx(105.0, abs=1e-6)
    assert value(tool.facts, "slope") == pytest.approx(0.10, abs=1e-6)
    assert "Ground height" in tool.ghost().labels[0].words
    tool.typed(f"E {EAST + 40} N {NORTH + 60}")
    assert value(tool.facts, "ground_m") == pytest.approx(106.0, abs=1e-6)


def test_section_hands_its_line_over(empty):
    lines = []
    tool = SectionTool(empty.world, lines.append)
    empty.click(tool, 0, 0)
    empty.click(tool, 30, 40)
    empty.key(tool, "enter")
    assert lines[0].length == pytest.approx(50.0)
    assert tool.ghost().shapes[0].geometry is lines[0]


def test_tying_takes_picture_and_ground_in_turn():
    ties = Ties()
    with pytest.raises(BadData, match="in the picture"):
        ties.put_ground((EAST + 10, NORTH + 10))
    ties.put_pixel((100.0, 200.0))
    ties.put_pixel((101.0, 202.0))
    assert ties.wants_ground
    ties.put_ground((EAST + 10, NORTH + 10))
    ties.put_pixel((400.0, 200.0))
    ties.put_ground((EAST + 80, NORTH + 10), 0)
    assert ties.pairs() == (
        [(101.0, 202.0), (400.0, 200.0)],
        [(EAST + 10, NORTH + 10), (EAST + 80, NORTH + 10)],
    )
    ties.put_ground((EAST + 90, NORTH + 10), 1)
    assert ties.pairs()[1][1] == (EAST + 90, NORTH + 10)
    ties.remove(0)
    assert len(ties.pairs()[0]) == 1
