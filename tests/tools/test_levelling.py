"""Level lines by a click: the trace under the pointer, what is typed, setting level again."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import LineString, Point, box

from canvas.base.errors import BadData
from canvas.base.grid import Grid
from canvas.ground.levelness import falling, level_errors
from canvas.site.elements.building import Building
from canvas.site.elements.earthworks import Platform
from canvas.site.elements.land import SiteBoundary
from canvas.site.elements.swales import Drain, LevelSill, Swale
from canvas.site.elements.vegetation import Tree
from canvas.site.records import changed
from canvas.tools.levelling import LevelLineTool, level_again
from canvas.tools.placings import placing, placings
from canvas.tools.pointer import Pointer
from canvas.tools.tracing import Tracing, read_tracing
from canvas.tools.typed import read_length
from canvas.tools.world import ToolWorld
from made import EAST, NORTH, plane, study_of


def hills() -> Grid:
    """A hillside in folds, 300 m across, with a survey's noise of a centimetre."""
    row, col = np.mgrid[0:300, 0:300]
    x, y = col + 0.5, 300 - row - 0.5
    noise = 0.01 * np.random.default_rng(2).standard_normal(x.shape)
    return Grid(200 + 0.12 * y + 5 * np.sin(x / 40) + noise, EAST, NORTH + 300, 1.0)


def world_of(*records: object, grid: Grid | None) -> ToolWorld:
    study = study_of(*records, grid=grid)
    return ToolWorld(study.plan, study)


def at(x: float, y: float) -> Pointer:
    return Pointer(EAST + x, NORTH + y, 0.2, alt=True)


def errors(world: ToolWorld, item: Swale | Drain) -> float:
    grid = world.study.land.grid
    level = falling(item.geometry, item.lip_m, item.grade)
    return level_errors(grid, item.geometry, level).worst_m


@pytest.mark.parametrize(
    ("words", "grade"),
    [("", 0.0), ("1:250 left", 0.004), ("1:250 right", -0.004), ("0.4% right", -0.004)],
)
def test_a_click_traces_the_line_both_ways(words: str, grade: float) -> None:
    world = world_of(grid=hills())
    tool = placing(world, "swale")
    assert isinstance(tool, LevelLineTool)
    if words:
        assert tool.typed(words) is None
    tool.move(at(110, 125))
    shown = tool.ghost()
    assert [shape.look for shape in shown.shapes][:2] == ["line", "hit"]
    assert "m, " in shown.labels[0].words
    (would_be,) = shown.elements
    edit = tool.press(at(110, 125))
    assert edit.label == "Trace swale"
    (change,) = edit.changes
    swale = change.after
    assert swale.geometry.equals_exact(would_be.geometry, 1e-9)
    assert swale.grade == pytest.approx(grade)
    assert swale.geometry.length == pytest.approx(200, abs=3)
    assert swale.geometry.distance(Point(EAST + 110, NORTH + 125)) < 0.3
    assert errors(world, swale) <= 0.02
    # The hill on the left: forward falls to the left of one who looks downhill.
    first, last = (swale.geometry.interpolate(k) for k in (0.0, swale.geometry.length))
    z = world.study.terrain.height_at([first.x, last.x], [first.y, last.y])
    assert z[0] - z[1] == pytest.approx(grade * swale.geometry.length, abs=0.04)


def test_it_ends_at_the_boundary_and_says_so() -> None:
    fence = SiteBoundary(geometry=box(EAST + 90, NORTH + 20, EAST + 150, NORTH + 260))
    tool = LevelLineTool(world_of(fence, grid=hills()), "swale")
    tool.move(at(110, 125))
    assert "ends: the boundary" in tool.ghost().labels[0].words
    line = tool.press(at(110, 125)).changes[0].after.geometry
    assert fence.geometry.buffer(1e-6).covers(line)
    # A neighbour's boundary, or a click outside ours, ends nothing.
    theirs = changed(fence, owner="neighbour")
    free = LevelLineTool(world_of(theirs, grid=hills()), "swale")
    assert free.press(at(110, 125)).changes[0].after.geometry.length > 190


def test_it_goes_round_what_is_kept_and_keeps_to_its_level_behind() -> None:
    tree = Tree(geometry=Point(EAST + 140, NORTH + 110), status="existing", stem_cm=35)
    going = changed(tree, id="going", status="remove")
    tool = LevelLineTool(world_of(tree, grid=hills()), "swale")
    # Find a place on the line that passes the tree.
    z = float(hills().sample(EAST + 140, NORTH + 110))
    tool.typed(f"{z:.3f} high; 60")
    tool.move(at(110, 112))
    words = tool.ghost().labels[0].words
    assert "round what is kept" in words
    swale = tool.press(at(110, 112)).changes[0].after
    # Clear of the roots by the swale's own half width.
    assert swale.geometry.distance(tree.geometry) > 0.12 * 35 + 2.0
    study = study_of(tree, swale, grid=hills())
    found = {fact.key: fact.value for fact in study.facts(swale.id)}
    assert found["level_error_m"] <= 0.05
    assert found["snag_m"] > 5
    assert not {f.rule for f in study.findings()} & {"good_practice.swale_roots"}
    away = LevelLineTool(world_of(going, grid=hills()), "swale")
    away.typed(f"{z:.3f} high; 60")
    away.move(at(110, 112))
    assert "round" not in away.ghost().labels[0].words


def test_it_starts_nowhere_near_what_is_kept() -> None:
    house = Building(
        status="existing", geometry=box(EAST + 105, NORTH + 120, EAST + 115, NORTH + 130)
    )
    tool = LevelLineTool(world_of(house, grid=hills()), "swale")
    tool.move(at(110, 132))
    assert "too near to start" in tool.ghost().labels[0].words
    with pytest.raises(BadData, match="too near to start"):
        tool.press(at(110, 132))
    nothing = LevelLineTool(world_of(grid=None), "swale")
    nothing.move(at(110, 132))
    assert "no ground" in nothing.ghost().labels[0].words
    steep = LevelLineTool(world_of(grid=plane(slope_north=0.4)), "swale")
    steep.move(at(100, 100))
    assert "steeper than the limit" in steep.ghost().labels[0].words
    assert steep.typed("45% steepest") is None
    assert "level" in steep.ghost().labels[0].words


def test_it_lies_on_the_works_that_come_before() -> None:
    """A platform is built before swales: the line runs over its pad, not over the old hill."""
    pad = Platform(geometry=box(EAST + 80, NORTH + 90, EAST + 120, NORTH + 110))
    study = study_of(pad, grid=plane(slope_north=0.10))
    tool = LevelLineTool(ToolWorld(study.plan, study), "swale")
    tool.typed("0.3% left")
    tool.move(at(40, 100))
    line = tool.found.line
    z = study.designed().levels
    level = falling(line, float(tool.found.level_m[0]), 0.003)
    assert level_errors(z, line, level).worst_m <= 0.03
    assert level_errors(study.land.grid, line, level).worst_m > 0.1


def test_it_ends_at_other_water_works_and_does_not_start_in_them() -> None:
    """A swale across the way, up the hill: the line at its level ends short of it."""
    other = Swale(geometry=LineString([(EAST + 140, NORTH + 100), (EAST + 180, NORTH + 100)]))
    tool = LevelLineTool(world_of(other, grid=plane(slope_north=0.10, cells=240)), "swale")
    tool.move(at(100, 100))
    assert "ends: something to be kept is in the way" in tool.ghost().labels[0].words
    line = tool.found.line
    assert line.distance(other.geometry) > 3
    assert line.bounds[2] < EAST + 140
    tool.move(at(160, 100))
    assert "another water work lies here" in tool.ghost().labels[0].words


def test_drains_fall_and_level_sills_do_not() -> None:
    drain = LevelLineTool(world_of(grid=hills()), "drain")
    made = drain.press(at(110, 125)).changes[0].after
    assert isinstance(made, Drain)
    assert made.grade == pytest.approx(0.005)
    assert errors(drain.world, made) <= 0.02
    sill = LevelLineTool(world_of(grid=hills()), "level_sill")
    with pytest.raises(BadData, match="no fall"):
        sill.typed("1:200")
    made = sill.press(at(110, 125)).changes[0].after
    assert isinstance(made, LevelSill)
    assert made.geometry.length == pytest.approx(10, abs=0.2)
    assert [each.key for each in placings("swale")] == ["level_line", "draw"]
    assert [each.key for each in placings("check_dam")] == ["draw"]


def test_set_level_again_brings_a_moved_line_back() -> None:
    grid = hills()
    tool = LevelLineTool(world_of(grid=grid), "swale")
    tool.typed("1:300 left")
    swale = tool.press(at(110, 125)).changes[0].after
    xy = shapely.get_coordinates(swale.geometry)
    xy[len(xy) // 3] += (0.0, 4.0)
    bent = changed(swale, geometry=LineString(xy))
    world = world_of(bent, grid=grid)
    assert errors(world, bent) > 0.3
    edit = level_again(world.study, [bent])
    (change,) = edit.changes
    assert change.before is bent
    assert errors(world, change.after) <= 0.02
    assert change.after.grade == bent.grade
    assert change.after.geometry.length == pytest.approx(swale.geometry.length, rel=0.03)
    assert change.after.geometry.hausdorff_distance(swale.geometry) < 1.5
    # Drawn the other way round, it stays the other way round.
    turned = changed(bent, geometry=LineString(xy[::-1]), grade=-bent.grade,
                     lip_m=bent.lip_m - bent.grade * bent.geometry.length)  # fmt: skip
    again = level_again(world_of(turned, grid=grid).study, [turned]).changes[0].after
    start = Point(again.geometry.coords[0])
    assert start.distance(Point(turned.geometry.coords[0])) < 3
    assert errors(world, again) <= 0.02
    with pytest.raises(BadData, match="only swales"):
        level_again(world.study, [Tree(geometry=Point(EAST, NORTH))])


def test_another_lip_level_moves_the_line_up_the_hill() -> None:
    grid = plane(slope_north=0.10)
    swale = Swale(geometry=LineString([(EAST + 60, NORTH + 100), (EAST + 140, NORTH + 100)]),
                  lip_m=110.5)  # fmt: skip
    edit = level_again(study_of(swale, grid=grid), [swale])
    line = edit.changes[0].after.geometry
    # Half a metre higher on one in ten: five metres up.
    assert shapely.get_coordinates(line)[:, 1] == pytest.approx(NORTH + 105, abs=0.2)
    assert edit.label == "Set level again"


NOW = Tracing()


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("1:300", Tracing(grade=1 / 300)),
        ("1:300 r", Tracing(grade=-1 / 300)),
        ("0.5 % left", Tracing(grade=0.005)),
        ("0,5% left", Tracing(grade=0.005)),
        ("120", Tracing(length_m=120.0)),
        ("120 ft", Tracing(length_m=36.576)),
        ("30% steepest", Tracing(slope=0.30)),
        ("2 m clear", Tracing(clear_m=2.0)),
        ("251.2 high", Tracing(level_m=251.2)),
        ("1:200 right, 80 m; 20 % steepest", Tracing(grade=-0.005, length_m=80.0, slope=0.2)),
    ],
)
def test_typed_words_set_the_trace(words: str, wanted: Tracing) -> None:
    assert read_tracing(words, NOW, read_length) == wanted


@pytest.mark.parametrize(
    "words", ["", "1:0", "8% left", "0.2", "banana", "0% steepest", "-5 clear"]
)
def test_words_that_say_nothing_are_refused(words: str) -> None:
    with pytest.raises(BadData):
        read_tracing(words, NOW, read_length)


def test_level_takes_the_fall_back() -> None:
    graded = read_tracing("1:300 right", NOW, read_length)
    assert read_tracing("level", graded, read_length) == NOW
    assert read_tracing("0", graded, read_length) == NOW
    # A fall without a side keeps the side it had.
    assert read_tracing("1:200", graded, read_length).grade == pytest.approx(-0.005)
