"""What must hold for the flow over any ground: nothing lost, no way round a bank, no north."""

from __future__ import annotations

import heapq
import itertools

import numpy as np
from hypothesis import example, given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from shapely import LineString, contains_xy

from canvas.base.grid import Grid
from canvas.ground.catchment import catchment, cells_outline, cells_under, drop_path
from canvas.ground.faces import Faces
from canvas.ground.flood import COL_STEP, ROW_STEP
from canvas.ground.flow import LEAVES, VOID, Flow, flow
from canvas.ground.spread import share_down, spread

#: Few different heights, so that level ground and equal spills are common.
coarse = hnp.arrays(
    np.float64,
    hnp.array_shapes(min_dims=2, max_dims=2, min_side=1, max_side=9),
    elements=st.one_of(
        st.integers(0, 5).map(float), st.integers(0, 5).map(float), st.just(float("nan"))
    ),
)
#: All heights different: one steepest way everywhere but for the odd tie of two equal falls.
seeds = st.integers(0, 2**32 - 1)


def rough(seed: int, rows: int = 12, cols: int = 15) -> np.ndarray:
    """Whole numbers, no two alike and no two differences that make a tie likely."""
    rng = np.random.default_rng(seed)
    return (
        np.cumsum(rng.integers(1, 2**20, rows * cols))
        .astype(float)[rng.permutation(rows * cols)]
        .reshape(rows, cols)
    )


@st.composite
def held_grounds(draw: st.DrawFn) -> tuple[np.ndarray, Faces]:
    """A ground with crests on some of its links."""
    z = draw(coarse)
    rows, cols = z.shape
    level = st.one_of(st.just(-np.inf), st.just(-np.inf), st.integers(0, 8).map(lambda n: n + 0.5))
    east = draw(hnp.arrays(np.float64, (rows, cols - 1), elements=level))
    south = draw(hnp.arrays(np.float64, (rows - 1, cols), elements=level))
    return z, Faces(east, south)


def link_m(faces: Faces | None, r: int, c: int, k: int) -> float:
    """What is held between a cell and its neighbour."""
    if faces is None:
        return -np.inf
    dr, dc = int(ROW_STEP[k]), int(COL_STEP[k])
    r0, c0 = min(r, r + dr), min(c, c + dc)
    if dr == 0:
        return float(faces.east_m[r, c0])
    if dc == 0:
        return float(faces.south_m[r0, c])
    falling, rising = faces.diagonal_m()
    return float((falling if dr == dc else rising)[r0, c0])


def is_edge(z: np.ndarray) -> np.ndarray:
    """Cells with data beside the rim or a cell without."""
    wide = np.pad(z, 1, constant_values=np.nan)
    rows, cols = z.shape
    beside = [
        np.isnan(wide[1 + dr : 1 + dr + rows, 1 + dc : 1 + dc + cols])
        for dr, dc in zip(ROW_STEP, COL_STEP, strict=True)
    ]
    return np.any(beside, axis=0) & ~np.isnan(z)


def lowest_ways_out(z: np.ndarray, faces: Faces | None) -> np.ndarray:
    """The lowest highest point on any way from each cell to the data's edge, step by step."""
    level = np.where(is_edge(z), z, np.inf)
    heap = [(level[r, c], r, c) for r, c in np.argwhere(is_edge(z)).tolist()]
    heapq.heapify(heap)
    while heap:
        here, r, c = heapq.heappop(heap)
        if here > level[r, c]:
            continue
        for k in range(8):
            rr, cc = r + int(ROW_STEP[k]), c + int(COL_STEP[k])
            if not (0 <= rr < z.shape[0] and 0 <= cc < z.shape[1]) or np.isnan(z[rr, cc]):
                continue
            there = max(here, float(z[rr, cc]), link_m(faces, r, c, k))
            if there < level[rr, cc]:
                level[rr, cc] = there
                heapq.heappush(heap, (there, rr, cc))
    return np.where(np.isnan(z), np.nan, level)


def assert_sound(found: Flow, faces: Faces | None = None) -> None:
    """Levels are the lowest ways out; every step is open and never up; nothing is lost."""
    z, way, filled = found.ground.z, found.way, found.filled.z
    known = ~np.isnan(z)
    assert np.array_equal(filled, lowest_ways_out(z, faces), equal_nan=True)
    assert np.array_equal(way == VOID, ~known)
    assert np.array_equal(found.edge, is_edge(z))
    assert np.all(found.edge[way == LEAVES])
    assert found.count[way == LEAVES].sum() == known.sum()
    inflow = np.where(known, 1, 0)
    for r, c in np.argwhere(way < LEAVES).tolist():
        k = int(way[r, c])
        rr, cc = r + int(ROW_STEP[k]), c + int(COL_STEP[k])
        assert filled[rr, cc] <= filled[r, c]
        assert link_m(faces, r, c, k) <= filled[r, c]
        inflow[rr, cc] += found.count[r, c]
    # Each cell's count is its own and its inflows': with the outlets' sum, there are no loops.
    assert np.array_equal(inflow, found.count)


def assert_steepest(found: Flow, faces: Faces | None = None) -> None:
    """Wherever the filled surface falls, water takes the steepest open fall."""
    filled, way = found.filled.z, found.way
    rows, cols = filled.shape
    for r, c in np.argwhere(way != VOID).tolist():
        falls = np.full(8, -np.inf)
        for k in range(8):
            rr, cc = r + int(ROW_STEP[k]), c + int(COL_STEP[k])
            inside = 0 <= rr < rows and 0 <= cc < cols
            if inside and filled[rr, cc] < filled[r, c] >= link_m(faces, r, c, k):
                falls[k] = (filled[r, c] - filled[rr, cc]) / np.hypot(ROW_STEP[k], COL_STEP[k])
        if falls.max() > 0:
            assert way[r, c] < LEAVES
            assert falls[way[r, c]] == falls.max()


@given(coarse)
@settings(max_examples=120, deadline=None)
def test_any_ground(z: np.ndarray) -> None:
    found = flow(Grid(z, 0, 0, 1.0))
    assert_sound(found)
    assert_steepest(found)
    stretch = np.sort(found.order)
    assert np.array_equal(stretch, np.flatnonzero(~np.isnan(z)))


@given(held_grounds())
@settings(max_examples=120, deadline=None)
def test_any_ground_with_banks(held: tuple[np.ndarray, Faces]) -> None:
    z, faces = held
    found = flow(Grid(z, 0, 0, 1.0), faces)
    assert_sound(found, faces)
    assert_steepest(found, faces)


@given(coarse)
@settings(max_examples=60, deadline=None)
def test_links_below_the_ground_change_nothing(z: np.ndarray) -> None:
    rows, cols = z.shape
    low = Faces(np.full((rows, cols - 1), -3.0), np.full((rows - 1, cols), -3.0))
    plain, held = flow(Grid(z, 0, 0, 1.0)), flow(Grid(z, 0, 0, 1.0), low)
    assert np.array_equal(plain.filled.z, held.filled.z, equal_nan=True)
    assert np.array_equal(plain.way, held.way)
    assert np.array_equal(plain.order, held.order)


@given(coarse)
@settings(max_examples=80, deadline=None)
def test_hollows_hold_what_the_fill_adds(z: np.ndarray) -> None:
    cell = 2.0
    found = flow(Grid(z, 0, 0, cell))
    hollows, depth = found.hollows, found.depth_m().z
    assert np.array_equal(hollows.number > 0, depth > 0)
    for i, hollow in enumerate(hollows):
        mine = hollows.number == i + 1
        assert hollow.area_m2 == mine.sum() * cell**2
        assert hollow.volume_m3 == depth[mine].sum() * cell**2
        assert hollow.depth_m == depth[mine].max()
        assert np.all(found.filled.z[mine] == hollow.level_m)
        assert z[hollow.deepest] == z[mine].min()
        assert hollows.number[hollow.spill] != i + 1
        assert found.filled.z[hollow.spill] <= hollow.level_m
        # Water from anywhere in it comes by the spill.
        r, c = hollow.spill
        stretch = found.order[found.place[r, c] : found.place[r, c] + found.count[r, c]]
        assert np.isin(np.flatnonzero(mine), stretch).all()


@given(seeds)
@settings(max_examples=80, deadline=None)
def test_turning_the_ground_turns_the_flow(seed: int) -> None:
    z = rough(seed)
    found, turned = flow(Grid(z, 0, 0, 1.0)), flow(Grid(np.rot90(z).copy(), 0, 0, 1.0))
    assert np.array_equal(turned.filled.z, np.rot90(found.filled.z))
    assert len(found.hollows) == len(turned.hollows)
    assert sorted(found.hollows.volume_m3) == sorted(turned.hollows.volume_m3)
    # A quarter turn counter-clockwise takes two directions off. A full hollow is level: to which
    # of its cells water falls is a tie, and so is the count within it, but nowhere else.
    was = np.rot90(found.way).astype(int)
    was = np.where(was < LEAVES, (was - 2) % 8, was)
    for r, c in np.argwhere(was != turned.way).tolist():
        ways = [int(was[r, c]), int(turned.way[r, c])]
        to = [(r + int(ROW_STEP[k]), c + int(COL_STEP[k])) for k in ways]
        assert turned.filled.z[to[0]] == turned.filled.z[to[1]]
        assert any(turned.hollows.number[cell] > 0 for cell in to)
    outside = turned.hollows.number == 0
    assert np.array_equal(np.rot90(found.count)[outside], turned.count[outside])


@given(seeds, st.floats(-500, 500), st.sampled_from([0.25, 1.0, 8.0]))
@settings(max_examples=40, deadline=None)
def test_neither_datum_nor_units_matter(seed: int, lift: float, times: float) -> None:
    z = rough(seed)
    one, other = flow(Grid(z, 0, 0, 1.0)), flow(Grid(z * times + round(lift), 0, 0, 1.0))
    assert np.array_equal(one.way, other.way)
    assert np.array_equal(one.filled.z * times + round(lift), other.filled.z)


@given(coarse, seeds)
@settings(max_examples=60, deadline=None)
def test_amounts_pass_down_whole(z: np.ndarray, seed: int) -> None:
    grid = Grid(z, 0, 0, 1.0)
    found = flow(grid)
    amount = np.random.default_rng(seed).integers(0, 100, z.shape).astype(float)
    passed = found.pass_down(grid.like(amount)).z
    known = ~np.isnan(z)
    assert passed[found.way == LEAVES].sum() == amount[known].sum()
    assert np.array_equal(found.pass_down(grid.like(np.ones(z.shape))).z[known], found.count[known])


def drains_to(found: Flow, targets: set[int]) -> np.ndarray:
    """Which cells' water comes through one of the targets, by following each."""
    rows, cols = found.way.shape
    reaches = np.zeros((rows, cols), bool)
    for start in np.argwhere(found.way != VOID).tolist():
        r, c = start
        while r * cols + c not in targets and found.way[r, c] < LEAVES:
            k = int(found.way[r, c])
            r, c = r + int(ROW_STEP[k]), c + int(COL_STEP[k])
        reaches[start[0], start[1]] = r * cols + c in targets
    return reaches


spots = st.tuples(st.floats(-1, 10), st.floats(-10, 1))


@given(held_grounds(), st.lists(spots, min_size=2, max_size=4, unique=True))
@settings(max_examples=80, deadline=None)
def test_a_lines_catchment_is_all_that_comes_to_it(
    held: tuple[np.ndarray, Faces], points: list[tuple[float, float]]
) -> None:
    z, faces = held
    found = flow(Grid(z, 0, 0, 1.0), faces)
    line = LineString(points)
    cells = set(cells_under(found.ground, line).tolist()) & set(found.order.tolist())
    mine = catchment(found, line)
    if mine is None:
        assert not cells
        return
    assert len(np.unique(mine.cells)) == len(mine.cells)
    assert np.array_equal(mine.mask(), drains_to(found, cells))
    assert mine.at_least == bool(found.edge[mine.mask()].any())


@given(hnp.arrays(np.bool_, hnp.array_shapes(min_dims=2, max_dims=2, min_side=1, max_side=9)))
@example(~np.isin(np.arange(49).reshape(7, 7), (17, 23, 25, 31)))
@settings(max_examples=200, deadline=None)
def test_outlines_hold_their_cells_and_no_others(inside: np.ndarray) -> None:
    grid = Grid(np.zeros(inside.shape), 30.0, -20.0, 2.5)
    outline = cells_outline(grid, np.flatnonzero(inside).astype(np.int32))
    assert outline.is_valid
    assert outline.area == inside.sum() * 2.5**2
    x, y = np.meshgrid(grid.x_m(), grid.y_m())
    assert np.array_equal(contains_xy(outline, x, y), inside)


@given(held_grounds(), st.integers(0, 80))
@settings(max_examples=120, deadline=None)
def test_drops_run_down_and_out(held: tuple[np.ndarray, Faces], where: int) -> None:
    z, faces = held
    found = flow(Grid(z, 0, 0, 1.0), faces)
    row, col = divmod(where % z.size, z.shape[1])
    drop = drop_path(found, col + 0.5, -row - 0.5)
    if np.isnan(z[row, col]):
        assert drop is None
        return
    assert drop is not None
    cells = drop.cells.tolist()
    assert cells[0] == [row, col]
    assert found.way[tuple(cells[-1])] == LEAVES
    for (r, c), (rr, cc) in itertools.pairwise(cells):
        k = next(k for k in range(8) if (r + ROW_STEP[k], c + COL_STEP[k]) == (rr, cc))
        assert found.filled.z[rr, cc] <= found.filled.z[r, c]
        assert link_m(faces, r, c, k) <= found.filled.z[r, c]
    assert drop.line.is_valid
    assert drop.line.length > 0
    on_way = found.hollows.number[tuple(drop.cells.T)]
    assert set(drop.hollows) == set((on_way[on_way > 0] - 1).tolist())


@given(held_grounds())
@settings(max_examples=120, deadline=None)
def test_shared_flow_loses_nothing(held: tuple[np.ndarray, Faces]) -> None:
    z, faces = held
    grid = Grid(z, 0, 0, 1.0)
    found = flow(grid, faces)
    shared = spread(found)
    known = ~np.isnan(z)
    out = known & np.isnan(shared.azimuth_deg.z)
    assert np.array_equal(out, found.way == LEAVES)
    total = shared.area_m2.z[out].sum()
    assert abs(total - known.sum()) < 1e-9 * max(known.sum(), 1)
    twice = share_down(shared, grid.like(np.full(z.shape, 2.0))).z[known]
    assert np.allclose(twice, 2 * shared.area_m2.z[known], rtol=1e-12)


@given(seeds)
@settings(max_examples=60, deadline=None)
def test_turning_the_ground_turns_shared_flow(seed: int) -> None:
    z = rough(seed)
    found, turned = flow(Grid(z, 0, 0, 1.0)), flow(Grid(np.rot90(z).copy(), 0, 0, 1.0))
    was, now = spread(found), spread(turned)
    turn = now.azimuth_deg.z - np.rot90(was.azimuth_deg.z) + 90
    # Beside a full hollow, which is level, facets tie.
    beside = np.zeros(turned.way.shape, bool)
    wide = np.pad(turned.hollows.number > 0, 1)
    for dr, dc in [(0, 0), *zip(ROW_STEP, COL_STEP, strict=True)]:
        beside |= wide[1 + dr : wide.shape[0] - 1 + dr, 1 + dc : wide.shape[1] - 1 + dc]
    clear = ~beside & ~np.isnan(turn)
    assert np.all(np.abs((turn[clear] + 180) % 360 - 180) < 1e-9)
