"""Rows are split so that each is worked on exactly once, whoever asks."""

from __future__ import annotations

import threading

import numpy as np
import pytest

from canvas.base.pool import LEAST_CELLS, over_rows


@pytest.mark.parametrize("shape", [(1, 1), (3, LEAST_CELLS), (1000, 1000), (7, 3 * LEAST_CELLS)])
def test_every_row_is_done_once(shape: tuple[int, int]) -> None:
    done = np.zeros(shape[0], int)
    lock = threading.Lock()

    def work(first: int, end: int) -> None:
        with lock:
            done[first:end] += 1

    over_rows(shape, work)
    assert (done == 1).all()


def test_work_within_work_stays_in_its_thread() -> None:
    seen: set[tuple[int, int]] = set()

    def inner(first: int, end: int) -> None:
        seen.add((first, end))

    over_rows((1000, 1000), lambda _first, _end: over_rows((500, 1000), inner))
    assert seen == {(0, 500)}


def test_trouble_in_any_share_is_told() -> None:
    def work(first: int, end: int) -> None:
        raise ValueError(f"rows {first} to {end}")

    with pytest.raises(ValueError, match="rows"):
        over_rows((1000, 1000), work)
