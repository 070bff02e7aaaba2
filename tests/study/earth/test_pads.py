"""Platforms, terraces, heaps and pits the whole way: element to fact, against other reckonings."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely import LineString, Polygon, affinity, box

from canvas.base.fact import Fact
from canvas.base.grid import Grid
from canvas.base.quantity import UnitSystem
from canvas.ground.designed import Designed
from canvas.ground.materials import material
from canvas.ground.volumes import (
    bench_terrace,
    end_areas,
    even_slope_bench,
    grid_cut_fill,
    prismoidal_m3,
    rectangular_basin_m3,
)
from canvas.site.elements.earthworks import BorrowPit, Heap, Platform, Terraces
from canvas.site.records import Element, changed
from canvas.study.live import live_words
from canvas.study.study import Study
from made import EAST, NORTH, plane, study_of

X, Y = EAST + 100, NORTH + 100


def values(study: Study, item: Element) -> dict[str, float]:
    return {f.key: f.value for f in reversed(study.facts(item.id)) if isinstance(f.value, float)}


def fact(study: Study, item: Element, key: str) -> Fact:
    return next(f for f in study.facts(item.id) if f.key == key)


def pad(**values: object) -> Platform:
    """A pad 60 m along the slope and 12 m across it, without topsoil unless asked."""
    plain = {"strip_m": 0.0, "respread_m": 0.0, "geometry": box(X - 30, Y - 6, X + 30, Y + 6)}
    return Platform(**(plain | values))  # type: ignore[arg-type]


def test_a_balanced_platform_says_what_the_even_slope_says() -> None:
    """Handbook 5.4, first row: W 12, s 0.20, 1:1 cut, 2:1 fill, C 0.9 (arithmetic)."""
    item = pad(soil="clay")
    study = study_of(item, grid=plane(slope_north=0.2))
    found = values(study, item)
    form = even_slope_bench(12, 0.2, 1, 2, 0.9)
    assert found["level_m"] == pytest.approx(100 + 0.2 * (100 + 6 - form.cut_width_m), abs=0.02)
    assert found["cut_depth_m"] == pytest.approx(0.2 * form.cut_width_m, abs=0.06)
    assert found["fill_m3"] == pytest.approx(0.9 * found["cut_m3"], rel=0.01)
    # The middle 40 m, by sections across the line, must come to the form's areas.
    work = study.work(item.id)
    assert work is not None
    patch = work.patches[0]
    across = end_areas(
        patch.ground, patch.surface(), np.array([[X - 20, Y], [X + 20, Y]]), 4.0, 14.0
    )
    assert across.volumes().cut_m3 == pytest.approx(40 * form.cut_m2, rel=0.02)
    assert across.volumes().fill_m3 == pytest.approx(40 * form.fill_m2, rel=0.02)


def test_volumes_by_patch_agree_with_end_areas_over_the_whole_work() -> None:
    item = pad(level="set", level_m=120.0)
    study = study_of(item, grid=plane(slope_north=0.2))
    found, work = values(study, item), study.work(item.id)
    assert work is not None
    patch = work.patches[0]
    across = end_areas(
        patch.ground, patch.surface(), np.array([[X - 45, Y], [X + 45, Y]]), 0.5, 20.0
    )
    assert across.volumes().cut_m3 == pytest.approx(found["cut_m3"], rel=0.01)
    assert across.volumes().fill_m3 == pytest.approx(found["fill_m3"], rel=0.01)
    # Prismoids a metre long, every other section a middle one.
    for areas, key in ((across.cut_m2, "cut_m3"), (across.fill_m2, "fill_m3")):
        each = zip(areas[:-2:2], areas[1:-1:2], areas[2::2], strict=True)
        whole = sum(prismoidal_m3(1.0, *three) for three in each)
        assert whole == pytest.approx(found[key], rel=0.01)


def test_a_walled_pad_is_the_grid_of_its_levels() -> None:
    """Walls all round: the earth between two planes, by the grid method and by the prism."""
    item = pad(level="set", level_m=121.0, walls="all")
    study = study_of(item, grid=plane(slope_north=0.2))
    found = values(study, item)
    _, y = np.meshgrid(np.linspace(-30, 30, 61), np.linspace(-6, 6, 13))
    by_grid = grid_cut_fill(100 + 0.2 * (100 + y), 1.0, 121.0)
    assert found["cut_m3"] == pytest.approx(by_grid.cut_m3, rel=0.02, abs=0.5)
    assert found["fill_m3"] == pytest.approx(by_grid.fill_m3, rel=0.02, abs=0.5)
    # Ground 121.2 at the top, 118.8 at the foot: prisms with bases 1 m and 11 m wide.
    assert found["cut_m3"] == pytest.approx(60 * 0.2 * 1.0 / 2, rel=0.05)
    assert found["fill_m3"] == pytest.approx(60 * 2.2 * 11.0 / 2, rel=0.02)
    assert found["wall_height_m"] == pytest.approx(2.2, abs=0.01)
    # 60 m at the top (0.2) and the foot (2.2), and two ends of 12 m that taper through 0.
    ends = 2 * (0.2 * 1.0 / 2 + 2.2 * 11.0 / 2)
    assert found["wall_face_m2"] == pytest.approx(60 * 0.2 + 60 * 2.2 + ends, rel=0.02)


def test_walls_stand_on_the_sides_asked_for() -> None:
    item = pad(walls="uphill")
    study = study_of(item, grid=plane(slope_north=0.2))
    wall = study.parts(item.id)["wall"]
    assert wall.bounds == pytest.approx((X - 30, Y + 6, X + 30, Y + 6))
    low = changed(item, walls="downhill")
    wall = study.moved(study.plan.with_(low)).parts(item.id)["wall"]
    assert wall.bounds == pytest.approx((X - 30, Y - 6, X + 30, Y - 6))
    both = changed(item, walls="both")
    wall = study.moved(study.plan.with_(both)).parts(item.id)["wall"]
    assert len(wall.geoms) == 2
    assert wall.length == pytest.approx(120)
    flat = study_of(item, grid=plane(slope_north=0.0))
    assert "wall" not in flat.parts(item.id)


def test_a_pad_falls_downhill_unless_told() -> None:
    item = pad(fall=0.02)
    study = study_of(item, grid=plane(slope_north=0.2))
    found = values(study, item)
    assert found["fall_towards_deg"] == pytest.approx(180, abs=0.1)
    ground = study.designed()
    assert ground is not None
    high, low = ground.sample([X, X], [Y + 5, Y - 5])
    assert (high - low) / 10 == pytest.approx(0.02, abs=1e-6)


def test_topsoil_and_the_three_volumes() -> None:
    item = pad(soil="sand", strip_m=0.2, respread_m=0.1)
    found = values(study_of(item, grid=plane(slope_north=0.1)), item)
    sand = material("sand")
    assert found["cut_loose_m3"] == pytest.approx(1.11 * found["cut_m3"])
    assert found["fill_bank_m3"] == pytest.approx(found["fill_m3"] / 0.95)
    assert found["left_over_m3"] == pytest.approx(0.0, abs=0.01 * found["cut_m3"])
    assert found["topsoil_off_m3"] == pytest.approx(0.2 * found["moved_m2"])
    beside = found["moved_m2"] - 60 * 12
    assert found["topsoil_back_m3"] == pytest.approx(0.1 * beside, rel=0.02)
    assert found["cut_batter"] == sand.cut_batter


def test_spare_earth_is_what_is_left_over() -> None:
    item = pad(spare_m3=80.0, strip_m=0.15)
    found = values(study_of(item, grid=plane(slope_north=0.1)), item)
    assert found["left_over_m3"] == pytest.approx(80.0, rel=0.02)


def test_levels_and_volumes_carry_what_the_survey_may_be_off_by() -> None:
    item = pad()
    study = study_of(item, grid=plane(slope_north=0.2))
    level, cut = fact(study, item, "level_m"), fact(study, item, "cut_m3")
    assert level.plus_minus == 0.15
    assert "indicative" in level.remark
    # Raise the survey by its accuracy with the level held: the cut grows by about that much.
    held = changed(item, level="set", level_m=level.value)
    higher = study_of(held, grid=plane(slope_north=0.2).like(plane(slope_north=0.2).z + 0.15))
    more = values(higher, held)["cut_m3"] - float(cut.value or 0)  # type: ignore[arg-type]
    assert cut.plus_minus == pytest.approx(more, rel=0.2)


@pytest.mark.parametrize("turn", [23.0, 45.0, 71.0])
def test_turning_ground_and_outline_turns_the_answer(turn: float) -> None:
    """Within 2 cm of level and 3 % of earth: what cells of half a metre can tell of a wall."""
    straight = pad(geometry=box(X - 10, Y - 6, X + 10, Y + 6), strip_m=0.15, walls="downhill")
    east, north = math.sin(math.radians(turn)), math.cos(math.radians(turn))
    shape = affinity.rotate(straight.geometry, -turn, origin=(X, Y))
    assert isinstance(shape, Polygon)
    turned = changed(straight, geometry=shape)
    one = values(study_of(straight, grid=_tilted(0.0, 0.2)), straight)
    two = values(study_of(turned, grid=_tilted(0.2 * east, 0.2 * north)), turned)
    assert two["level_m"] == pytest.approx(one["level_m"], abs=0.02)
    for key in ("cut_m3", "fill_m3", "moved_m2", "topsoil_off_m3", "wall_face_m2"):
        assert two[key] == pytest.approx(one[key], rel=0.03), key


def _tilted(east: float, north: float) -> Grid:
    """Ground that stands at 120 m in the middle whichever way it leans."""
    base = plane(slope_east=east, slope_north=north)
    return base.like(base.z + 120.0 - float(base.sample(X, Y)))


@pytest.mark.parametrize(("strip_m", "respread_m"), [(0.0, 0.0), (0.15, 0.1)])
def test_raising_the_level_never_lessens_the_fill(strip_m: float, respread_m: float) -> None:
    item = pad(level="set", level_m=118.0, strip_m=strip_m, respread_m=respread_m)
    study = study_of(item, grid=plane(slope_north=0.13))
    fills = []
    for level in np.arange(110.0, 116.0, 0.5):
        raised = changed(item, level_m=float(level))
        fills.append(values(study.preview(study.plan.with_(raised)), raised)["fill_m3"])
    # Along the top of a cut (150 m) less topsoil goes back than came off: a sliver of fill a
    # hand or two wide, shorter with a shallower cut.
    sliver = (strip_m - respread_m) * 150 * 0.2
    assert np.diff(fills).min() >= -sliver
    assert fills[-1] > 100


def test_what_cannot_be_built_says_why() -> None:
    steep = pad()
    study = study_of(steep, grid=plane(slope_north=0.7))
    assert "runs away downhill" in str(fact(study, steep, "trouble").value)
    held = changed(steep, level="set", level_m=170.0)
    there = study_of(held, grid=plane(slope_north=0.7))
    assert "never meets" in str(fact(there, held, "trouble").value)
    assert "toe" not in study.parts(steep.id)
    unset = pad(level="set")
    study = study_of(unset, grid=plane())
    assert "none is given" in str(fact(study, unset, "trouble").value)
    nowhere = study_of(unset)
    assert "no ground" in str(fact(nowhere, unset, "trouble").value)


def test_terraces_step_down_as_the_even_slope_says() -> None:
    """Handbook-less arithmetic: drop = s W / (1 − s z), benches balanced each for itself."""
    item = Terraces(
        geometry=LineString([(X - 40, Y), (X + 40, Y)]), benches=3, bench_m=4.0, riser=1.0,
        strip_m=0.0, respread_m=0.0, bench_topsoil_m=0.0,
    )  # fmt: skip
    study = study_of(item, grid=plane(slope_north=0.25))
    found = values(study, item)
    form = bench_terrace(0.25, 4.0, 1.0)
    assert found["riser_m"] == pytest.approx(form.drop_m, abs=0.03)
    assert found["bench_m2"] == pytest.approx(3 * 4 * 80, rel=0.01)
    assert found["level_m"] - found["lowest_bench_m"] == pytest.approx(2 * form.drop_m, abs=0.05)
    # Per metre of bench the even slope's own balance; the ends of the flight add to it.
    even = even_slope_bench(4.0, 0.25, 1.0, 1.0, 0.9)
    assert found["cut_m3"] == pytest.approx(3 * 80 * even.cut_m2, rel=0.06)
    assert found["fill_m3"] == pytest.approx(0.9 * found["cut_m3"], rel=0.03)
    assert len(study.parts(item.id)["edge"].geoms) == 3


@pytest.mark.parametrize("askew_m", [0.0, 10.0, 20.0])
def test_a_flight_moves_what_the_ground_says_it_moves(askew_m: float) -> None:
    """Drawn off the level its batters reach over one another; no earth is counted twice."""
    item = Terraces(
        geometry=LineString([(X - 40, Y - askew_m / 2), (X + 40, Y + askew_m / 2)]), benches=4,
        strip_m=0.0, respread_m=0.0, bench_topsoil_m=0.0,
    )  # fmt: skip
    study = study_of(item, grid=plane(slope_north=0.25))
    found, work = values(study, item), study.work(item.id)
    assert work is not None
    assert work.ground is not None
    boxes = np.array([patch.levels.bounds for patch in work.patches])
    whole = (*boxes[:, :2].min(axis=0), *boxes[:, 2:].max(axis=0))
    cells = work.ground.cells(tuple(whole), 4)
    built = Designed(work.ground.base, work.patches).on(cells)
    change = (built.z - cells.z) * cells.cell_m**2
    assert found["cut_m3"] == pytest.approx(-change[change < 0].sum(), rel=1e-3)
    assert found["fill_m3"] == pytest.approx(change[change > 0].sum(), rel=1e-3)


def test_topsoil_laid_on_the_benches_is_topsoil_put_back() -> None:
    item = Terraces(geometry=LineString([(X - 30, Y), (X + 30, Y)]), benches=2, bench_m=5.0)
    found = values(study_of(item, grid=plane(slope_north=0.15)), item)
    assert "laid_m3" not in found
    assert found["topsoil_back_m3"] >= 0.15 * found["bench_m2"] * 0.98


def test_heaps_hold_and_pits_give() -> None:
    heap = Heap(geometry=box(X - 12, Y - 8, X + 12, Y + 8), height_m=2.0, batter=1.5)
    pit = BorrowPit(geometry=box(X - 12, Y + 30, X + 12, Y + 46), depth_m=1.5, batter=1.0)
    study = study_of(heap, pit, grid=plane(slope_north=0.1))
    held, given = values(study, heap), values(study, pit)
    assert held["holds_m3"] == pytest.approx(rectangular_basin_m3(18, 10, 2.0, 1.5), rel=0.005)
    dug = rectangular_basin_m3(21, 13, 1.5, 1.0)
    # The depth is the finished one: topsoil comes off first, and some is put back at the end.
    assert given["gives_m3"] == pytest.approx(dug - (0.15 - 0.10) * 24 * 16, rel=0.02)
    assert given["gives_loose_m3"] == pytest.approx(1.25 * given["gives_m3"])


def test_a_later_work_is_built_on_an_earlier_one() -> None:
    low = pad(level="set", level_m=119.0)
    heap = Heap(geometry=box(X - 5, Y - 3, X + 5, Y + 3), height_m=1.0)
    study = study_of(low, heap, grid=plane(slope_north=0.2))
    ground = study.designed()
    assert ground is not None
    assert float(ground.sample(X, Y)) == pytest.approx(120.0, abs=1e-6)


def test_what_stands_beside_the_pointer() -> None:
    item = pad(walls="downhill")
    study = study_of(item, grid=plane(slope_north=0.2))
    words = live_words("platform", study.facts(item.id), UnitSystem.METRIC)
    starts = ("Finished level 1", "Cut ", "Fill ", "Earth left over ", "Walls ")
    assert len(words) == len(starts)
    for line, start in zip(words, starts, strict=True):
        assert line.startswith(start), line
        assert "±" not in line
    bare = changed(item, walls="none")
    never = study_of(bare, grid=plane(slope_north=0.8))
    told = live_words("platform", never.facts(item.id), UnitSystem.METRIC)
    assert told[0].startswith("Cannot be built so")
