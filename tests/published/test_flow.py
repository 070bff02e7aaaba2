"""Flow on real ground against two independent flow libraries: pyflwdir and fastscapelib."""

from __future__ import annotations

import fastscapelib as fs
import numpy as np
import pyflwdir
import pytest
from matplotlib import cbook
from published.ref import Ref

from canvas.base.grid import Grid
from canvas.ground.catchment import catchment_at
from canvas.ground.flood import COL_STEP, ROW_STEP
from canvas.ground.flow import LEAVES, VOID, Flow, flow
from canvas.ground.valleys import drainage_lines

#: pyflwdir's codes of our directions, of water that leaves and of no data.
CODES = np.array([64, 128, 1, 2, 4, 8, 16, 32, 0], np.uint8)
NO_CODE = 247


def _jacksboro() -> Grid:
    """SRTM heights in whole metres: full of level ground, ties and hollows."""
    with cbook.get_sample_data("jacksboro_fault_dem.npz") as data:
        return Grid(np.asarray(data["elevation"], dtype=np.float64), 0.0, 0.0, 75.0)


def _with_gaps(grid: Grid) -> Grid:
    z = grid.z.copy()
    z[100:140, 50:90] = np.nan
    z[:30] = np.nan
    z[200, 200] = np.nan
    return grid.like(z)


GROUNDS = {"whole": _jacksboro(), "with gaps": _with_gaps(_jacksboro())}


def _dome() -> Grid:
    """Ribbed and falling on all sides: no hollow, no level ground, no two equal falls."""
    x, y = np.meshgrid(np.arange(400.0), np.arange(400.0))
    far, turn = np.hypot(x - 199.7, y - 200.3), np.arctan2(y - 200.3, x - 199.7)
    z = 300 - 0.2 * far
    rng = np.random.default_rng(0)
    for ribs in rng.integers(2, 12, 12):
        z -= 0.9 * np.sin(turn * ribs + rng.uniform(0, 6)) * far / 200
    # As heights come: in single precision.
    return Grid(z.astype(np.float32).astype(np.float64), 0.0, 0.0, 1.0)


def _as_pyflwdir(found: Flow) -> pyflwdir.FlwdirRaster:
    codes = np.full(found.way.shape, NO_CODE, np.uint8)
    codes[found.way <= LEAVES] = CODES[found.way[found.way <= LEAVES]]
    return pyflwdir.from_array(codes, ftype="d8", check_ftype=False)


@pytest.mark.parametrize("name", GROUNDS)
def test_the_filled_surface_is_pyflwdirs_to_the_bit(name: str) -> None:
    ground = GROUNDS[name]
    theirs, _ = pyflwdir.dem.fill_depressions(ground.z, nodata=np.nan)
    differ = ~((theirs == flow(ground).filled.z) | np.isnan(ground.z))
    Ref(0, 0, "pyflwdir fill_depressions").check(int(differ.sum()))


@pytest.mark.parametrize("name", GROUNDS)
def test_pyflwdir_adds_up_our_directions_alike(name: str) -> None:
    found = flow(GROUNDS[name])
    theirs = _as_pyflwdir(found).upstream_area("cell")
    known = found.way != VOID
    Ref(0, 0, "pyflwdir upstream_area").check(int((theirs != found.count)[known].sum()))


def test_catchments_are_pyflwdirs_basins() -> None:
    found = flow(_jacksboro())
    theirs = _as_pyflwdir(found)
    # The busiest cells, and some anywhere.
    busy = np.argsort(-found.count.ravel())[[0, 50, 400, 3000]]
    anywhere = np.random.default_rng(2).integers(0, found.count.size, 8)
    for cell in np.concatenate((busy, anywhere)).tolist():
        row, col = divmod(cell, found.way.shape[1])
        mine = catchment_at(found, found.ground.x_m()[col], found.ground.y_m()[row])
        assert mine is not None
        basin = theirs.basins(idxs=np.array([cell])) == 1
        Ref(0, 0, "pyflwdir basins").check(int((basin != mine.mask()).sum()))


def test_orders_are_pyflwdirs() -> None:
    found = flow(_jacksboro())
    least = 60
    theirs = _as_pyflwdir(found)
    orders = theirs.stream_order(type="strahler", mask=found.count >= least)
    lines = drainage_lines(found, least * found.ground.cell_m**2)
    assert max(each.order for each in lines) >= 4
    for each in lines:
        # A reach has one order from its head to the cell before the confluence.
        x, y = each.line.coords[0]
        cell = found.ground.cell_at(x, y)
        assert cell is not None
        Ref(int(orders[cell]), 0, "pyflwdir stream_order").check(each.order)


def _as_fastscapelib(ground: Grid) -> tuple[np.ndarray, np.ndarray]:
    """Each cell's receiver (flat number) and count, all rim cells letting water out."""
    shape, cell = list(ground.shape), ground.cell_m
    grid = fs.RasterGrid(shape, [cell, cell], fs.NodeStatus.FIXED_VALUE)
    graph = fs.FlowGraph(grid, [fs.SingleFlowRouter()])
    graph.update_routes(ground.z)
    return graph.impl().receivers[:, 0].astype(np.int64), graph.accumulate(1.0) / cell**2


def test_accumulation_is_fastscapelibs_where_no_falls_are_equal() -> None:
    ground = _dome()
    found = flow(ground)
    assert len(found.hollows) == 0
    receivers, counts = _as_fastscapelib(ground)
    # Theirs lets water out of every rim cell; ours may run on along the rim. Compare all cells
    # that no rim cell drains through.
    inside = found.pass_down(ground.like(found.edge.astype(float))).z == 0
    assert inside.mean() > 0.95
    assert found.count[inside].max() > 5000
    Ref(0, 0, "fastscapelib accumulate").check(int((counts != found.count)[inside].sum()))
    rows, cols = ground.shape
    way = found.way[1:-1, 1:-1].astype(int)
    r, c = np.mgrid[1 : rows - 1, 1 : cols - 1]
    mine = (r + ROW_STEP[way]) * cols + c + COL_STEP[way]
    theirs = receivers.reshape(rows, cols)[1:-1, 1:-1]
    Ref(0, 0, "fastscapelib SingleFlowRouter").check(int((mine != theirs).sum()))


def test_on_real_ground_directions_differ_from_fastscapelibs_at_ties_only() -> None:
    ground = _jacksboro()
    found = flow(ground)
    receivers, _ = _as_fastscapelib(ground)
    cols, z, ties = ground.shape[1], ground.z, 0
    for r, c in np.argwhere(found.way < LEAVES).tolist():
        rr, cc = divmod(int(receivers[r * cols + c]), cols)
        if found.edge[r, c] or (rr, cc) == (r, c):
            # Theirs lets it out, or, without filling, has no lower neighbour.
            continue
        k = int(found.way[r, c])
        mine = r + int(ROW_STEP[k]), c + int(COL_STEP[k])
        if mine == (rr, cc) or found.hollows.number[r, c] or found.hollows.number[rr, cc]:
            continue
        if found.hollows.number[mine]:
            continue
        fall = (z[r, c] - z[mine]) / np.hypot(ROW_STEP[k], COL_STEP[k])
        other = (z[r, c] - z[rr, cc]) / np.hypot(rr - r, cc - c)
        assert fall == other
        ties += 1
    # There are ties, or the test would show nothing; and few.
    assert 0 < ties < 0.1 * z.size
