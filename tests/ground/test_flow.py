"""Where water runs on grounds one can reckon by hand."""

from __future__ import annotations

import numpy as np
import pytest

from canvas.base.errors import InputError
from canvas.base.grid import Grid
from canvas.ground.faces import Faces, Held, HeldLine, hold
from canvas.ground.flow import LEAVES, VOID, flow

N, NE, E, SE, S, SW, W, NW = range(8)


def ground(rows: int, cols: int, cell: float = 1.0) -> tuple[Grid, np.ndarray, np.ndarray]:
    """A level ground and its cells' eastings and northings, the south-west corner at (0, 0)."""
    base = Grid(np.zeros((rows, cols)), 0.0, rows * cell, cell)
    x, y = np.meshgrid(base.x_m(), base.y_m())
    return base, x, y


def test_the_handbooks_steepest_neighbour() -> None:
    # Handbook C-T11 (computed there): drops E 0.2000, SE 0.2121, S 0.1000.
    z = np.full((5, 5), np.nan)
    z[1:4, 1:4] = [[10, 9, 8], [10, 8, 6], [9, 7, 5]]
    assert flow(Grid(z, 0, 0, 10.0)).way[2, 2] == SE


def test_the_handbooks_accumulation() -> None:
    # Handbook C-T13 (computed there by hand).
    z = np.array([[9, 8, 7, 8], [8, 6, 5, 7], [7, 5, 3, 5], [6, 4, 2, 1]], float)
    found = flow(Grid(z, 0, 0, 10.0))
    assert found.count.tolist() == [[1, 1, 1, 1], [1, 2, 4, 1], [1, 2, 8, 1], [1, 3, 6, 16]]
    assert found.area_m2().z[3, 3] == 1600.0


def test_the_handbooks_fill() -> None:
    # Handbook C-T14 (computed there): level 7, 20 cell-units; 80 m³ with cells of 2 m.
    z = np.full((5, 5), 9.0)
    z[1:4, 1:4] = 5
    z[2, 1] = 3
    z[0, 2] = 7
    found = flow(Grid(z, 0, 0, 2.0))
    assert np.all(found.filled.z[1:4, 1:4] == 7)
    assert len(found.hollows) == 1
    hollow = found.hollows[0]
    assert (hollow.level_m, hollow.depth_m, hollow.area_m2) == (7, 4, 36)
    assert hollow.volume_m3 == 80
    assert hollow.spill == (0, 2)
    assert hollow.deepest == (2, 1)
    assert hollow.at_edge


@pytest.mark.parametrize(
    ("east", "north", "way"), [(-1, 0, E), (1, 1, SW), (0, -2, N), (1, -1, NW)]
)
def test_a_plane_drains_its_own_way(east: float, north: float, way: int) -> None:
    base, x, y = ground(9, 12)
    found = flow(base.like(east * x + north * y))
    assert np.all(found.way[1:-1, 1:-1] == way)
    assert len(found.hollows) == 0
    if way == E:
        assert found.count[4].tolist() == list(range(1, 13))


def test_a_cone_drains_outwards_and_a_bowl_inwards() -> None:
    base, x, y = ground(41, 41)
    far = np.hypot(x - 20.5, y - 20.5)
    cone = flow(base.like(50 - far))
    assert cone.count[20, 20] == 1
    assert len(cone.hollows) == 0
    bowl = flow(base.like(far))
    hollow = bowl.hollows[int(bowl.hollows.worth()[0])]
    # It spills where the rim is lowest: in the middle of a side, 20 m from the centre.
    assert hollow.level_m == 20
    assert hollow.deepest == (20, 20)
    assert hollow.spill in {(0, 20), (20, 0), (40, 20), (20, 40)}
    # A cone of 20 m radius and depth, less what lies between cell centres.
    assert hollow.volume_m3 == pytest.approx(np.pi * 20**3 / 3, rel=0.01)
    assert hollow.area_m2 == pytest.approx(np.pi * 20**2, rel=0.01)
    # All of it drains to the bottom first.
    assert bowl.count[20, 20] >= (bowl.hollows.number > 0).sum() - 21


def test_a_valley_gathers_along_its_floor() -> None:
    base, x, y = ground(60, 41, 2.0)
    found = flow(base.like(0.3 * np.abs(x - 41) + 0.05 * y))
    assert np.all(found.way[:-1, 20] == S)
    assert found.way[59, 20] == LEAVES
    # Each row brings the cells of both its sides, less the few that leave over the lower rim.
    assert found.count[58, 20] > 0.9 * 59 * 41


def test_level_ground_drains_by_its_only_exit() -> None:
    z = np.full((9, 9), 5.0)
    z[0], z[-1], z[:, 0], z[:, -1] = 6, 6, 6, 6
    z[4, 8] = 4
    found = flow(Grid(z, 0, 0, 1.0))
    assert len(found.hollows) == 0
    assert found.count[4, 8] >= 49
    # In the middle, away from both rises, straight to the exit.
    assert np.all(found.way[4, 1:8] == E)


def test_a_hollow_drains_down_its_bed_and_out_by_the_lowest_way() -> None:
    # A trench falls to the right, then a sill: water goes down the trench, over the sill.
    z = np.full((5, 9), 9.0)
    z[2, 1:8] = [6, 5, 4, 3, 2, 1, 7]
    z[2, 8] = 0
    found = flow(Grid(z, 0, 0, 1.0))
    assert found.way[2, 1:8].tolist() == [E] * 7
    assert found.hollows[0].level_m == 7
    assert found.hollows[0].spill == (2, 7)
    # The other way round: from the trench's foot water has to climb back to the sill.
    z[2, 1:8] = [7, 1, 2, 3, 4, 5, 6]
    z[2, 0], z[2, 8] = 0, 9
    found = flow(Grid(z, 0, 0, 1.0))
    assert found.way[2, 1:8].tolist() == [W] * 7


def test_missing_cells_are_outlets_and_stay_missing() -> None:
    base, x, y = ground(20, 20)
    z = np.hypot(x - 10, y - 10)
    z[9:11, 9:11] = np.nan
    z[0, 0] = np.inf
    found = flow(base.like(z))
    assert found.way[9, 9] == VOID
    assert found.count[9, 9] == 0
    assert found.way[0, 0] == VOID
    assert np.isnan(found.area_m2().z[9, 9])
    # Nothing ponds: the bottom is open.
    assert len(found.hollows) == 0
    assert found.edge[8, 8]
    assert not found.edge[4, 4]


def test_no_data_at_all_and_level_ground() -> None:
    nothing = flow(Grid(np.full((3, 3), np.nan), 0, 0, 1.0))
    assert len(nothing.order) == 0
    level = flow(Grid(np.full((4, 5), 12.3), 0, 0, 1.0))
    assert level.count[level.way == LEAVES].sum() == 20
    assert np.all(level.filled.z == 12.3)


def test_what_flow_refuses() -> None:
    with pytest.raises(InputError):
        flow(Grid(np.zeros((0, 3)), 0, 0, 1.0))
    base, _, _ = ground(4, 4)
    with pytest.raises(InputError):
        flow(base, Faces.none((4, 5)))
    with pytest.raises(InputError):
        flow(base).pass_down(Grid(np.zeros((2, 2)), 0, 0, 1.0))


def dammed(cell: float, crest_m: float = 3.0) -> tuple[Grid, Faces]:
    """A valley 120 m long and 80 m wide that falls south, with a bank across it at y = 30."""
    rows, cols = round(120 / cell), round(80 / cell)
    base, x, y = ground(rows, cols, cell)
    z = 0.2 * np.abs(x - 40) + 0.04 * y
    bank = HeldLine(Held.CREST, np.array([[5.0, 30.3, crest_m], [75.0, 30.3, crest_m]]))
    return base.like(z), hold(base, [bank])


@pytest.mark.parametrize("cell", [0.5, 1.0, 2.0, 4.0])
def test_a_bank_holds_to_its_crest_at_any_cell_size(cell: float) -> None:
    grid, faces = dammed(cell)
    found = flow(grid, faces)
    pond = found.hollows[int(found.hollows.worth()[0])]
    assert pond.level_m == pytest.approx(3.0, abs=1e-6)
    assert not pond.at_edge
    # All cells above the bank lower than its crest hold water up to it.
    held = np.where((grid.y_m() > 30.3)[:, None], np.maximum(3.0 - grid.z, 0.0), 0.0)
    assert pond.volume_m3 == pytest.approx(held.sum() * cell**2, rel=1e-6)
    # On the ground itself, depth over the floor is h = 3 - 0.04 y and the section h² / 0.2, from
    # the bank to y = 75. Which side of it a row of cells counts to leaves half a row in doubt.
    whole, end = (3 - 0.04 * 30.3) ** 3 / (3 * 0.04 * 0.2), (3 - 0.04 * 30.3) ** 2 / 0.2
    assert abs(pond.volume_m3 - whole) < 0.5 * cell * end + 0.03 * cell / 2 * whole
    # Without the bank nothing ponds.
    assert len(flow(grid).hollows) == 0


@pytest.mark.parametrize("cell", [1.0, 2.0])
def test_a_pond_spills_by_its_sill(cell: float) -> None:
    grid, faces = dammed(cell)
    crest = HeldLine(Held.CREST, np.array([[5.0, 30.3, 3.0], [75.0, 30.3, 3.0]]))
    sill = HeldLine(Held.SILL, np.array([[42.0, 30.3, 2.5], [45.0, 30.3, 2.5]]))
    faces = hold(grid, [crest, sill])
    found = flow(grid, faces)
    pond = found.hollows[int(found.hollows.worth()[0])]
    assert pond.level_m == pytest.approx(2.5, abs=1e-6)
    row, col = pond.spill
    assert 41 <= grid.x_m()[col] <= 46
    assert 30.3 - cell <= grid.y_m()[row] <= 30.3
    # Of the valley's floor above the bank only the sill's links are crossed.
    above, inner = row - 1, (grid.x_m() > 6) & (grid.x_m() < 74)
    crossed = np.isin(found.way[above], (SE, S, SW)) & inner
    assert crossed.any()
    assert np.all(np.abs(grid.x_m()[crossed] - 43.5) <= 1.5 + cell)
    assert found.count[above, crossed].sum() > 0.8 * (above + 1) * grid.shape[1]


def test_a_slanting_bank_lets_nothing_through() -> None:
    base, x, y = ground(60, 60)
    bank = HeldLine(Held.CREST, np.array([[-5.0, 12.0, 90.0], [65.0, 47.0, 90.0]]))
    found = flow(base.like(0.1 * y + 0.001 * x), hold(base, [bank]))
    above = y > 12 + (x + 5) / 2
    # What falls above the bank leaves above it: the counts of outlets there make up all of it.
    outlets = found.way == LEAVES
    assert found.count[outlets & above].sum() == above.sum()


def test_amounts_gather_downhill() -> None:
    base, x, _ = ground(3, 5)
    found = flow(base.like(-x))
    rain = base.like(np.where(x < 2, 2.0, np.nan))
    assert found.pass_down(rain).z[1].tolist() == [2, 4, 4, 4, 4]
