"""Crests and sills on the links between cells: nothing slips past, no sill is lost."""

from __future__ import annotations

import numpy as np
import pytest

from canvas.base.errors import InputError
from canvas.ground.faces import Faces, Held, HeldLine, hold
from made_ground import floods_to, ground


def ring(corners: int, turn: float, x: float, y: float, level: float) -> np.ndarray:
    at = np.linspace(0, 2 * np.pi, corners + 1) + turn
    xy = np.column_stack((x + 4 * np.cos(at), y + 4 * np.sin(at)))
    xy[-1] = xy[0]
    return np.column_stack((np.round(xy, 3), np.full(corners + 1, level)))


@pytest.mark.parametrize("corners", [4, 8, 16])
@pytest.mark.parametrize("middle", [(10.5, 9.5), (10.0, 10.0), (10.25, 9.75)])
def test_a_closed_crest_lets_nothing_out(corners: int, middle: tuple[float, float]) -> None:
    flat = ground(20, 1, lambda x, y: 0 * x)
    for turn in np.linspace(0, np.pi / 2, 19):
        line = HeldLine(Held.CREST, ring(corners, turn, *middle, 5.0))
        faces = hold(flat, [line])
        inside = floods_to(flat, faces, (9, 10), 4.9)
        assert not inside[0].any()
        assert 25 <= inside.sum() <= 60
        assert floods_to(flat, faces, (9, 10), 5.1).all()


def test_the_higher_crest_holds_where_two_cross() -> None:
    flat = ground(20, 1, lambda x, y: 0 * x)
    low = HeldLine(Held.CREST, np.array([[0.0, 10, 1], [20, 10, 1]]))
    high = HeldLine(Held.CREST, np.array([[0.0, 10, 3], [20, 10, 3]]))
    assert hold(flat, [low, high]).south_m.max() == 3
    assert hold(flat, [high, low]).south_m[9].min() == 3


def test_a_sill_lowers_its_stretch_of_the_crest() -> None:
    flat = ground(20, 1, lambda x, y: 0 * x)
    crest = HeldLine(Held.CREST, np.array([[0.0, 10, 3], [20, 10, 3]]))
    sill = HeldLine(Held.SILL, np.array([[5.0, 10, 1], [9, 10, 1]]))
    south = hold(flat, [sill, crest]).south_m[9]
    assert (south == 1).sum() == 4
    assert (south == 3).sum() == 16


@pytest.mark.parametrize("cell", [1.0, 2.0, 5.0])
def test_a_sill_shorter_than_a_cell_is_not_lost(cell: float) -> None:
    flat = ground(40, cell, lambda x, y: 0 * x)
    crest = HeldLine(Held.CREST, np.array([[0.0, 20.1, 3], [40, 20.1, 3]]))
    sill = HeldLine(Held.SILL, np.array([[20.2, 20.1, 1], [20.5, 20.1, 1]]))
    faces = hold(flat, [crest, sill])
    assert (faces.south_m == 1).sum() == 1
    assert floods_to(flat, faces, (0, 0), 1.1).all()
    assert not floods_to(flat, faces, (0, 0), 0.9)[-1].any()


def test_levels_run_straight_along_a_line() -> None:
    flat = ground(20, 1, lambda x, y: 0 * x)
    line = HeldLine(Held.CREST, np.array([[0.0, 10.2, 0], [20, 10.2, 2]]))
    south = hold(flat, [line]).south_m[9]
    assert south == pytest.approx((np.arange(20) + 0.5) / 10, abs=1e-3)
    assert not Faces.none((3, 4)).any


def test_what_is_no_line_is_refused() -> None:
    with pytest.raises(InputError):
        HeldLine(Held.CREST, np.zeros((1, 3)))
    with pytest.raises(InputError):
        HeldLine(Held.CREST, np.zeros((4, 2)))
