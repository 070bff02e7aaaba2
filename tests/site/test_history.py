"""The undo list as values: which steps join, what is left to redo."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from canvas.base.errors import InputError
from canvas.site.history import History, Step

AT = datetime(2026, 3, 31, tzinfo=UTC)


def step(number: int) -> Step:
    return Step(f"step {number}", AT, number)


def test_steps_go_back_and_forth_in_order() -> None:
    history = History().recorded(step(1), None).recorded(step(2), None)
    back = history.undid()
    assert (back.position, back.undone) == (1, (step(2),))
    assert back.undid().position == 0
    assert back.undid().redid().redid() == history
    assert back.recorded(step(3), None) == History((step(1), step(3)))


def test_only_the_same_open_key_melts() -> None:
    history = History().recorded(step(1), "nudge:a")
    assert history.melts("nudge:a")
    assert not history.melts("nudge:b")
    assert not history.melts(None)
    assert not history.released().melts("nudge:a")
    assert not history.recorded(step(2), None).melts("nudge:a")
    assert not history.recorded(step(2), "x").undid().redid().melts("x")
    assert not History().melts("nudge:a")


def test_a_step_of_which_nothing_is_left_goes() -> None:
    history = History().recorded(step(1), None).recorded(step(2), "nudge:a")
    assert history.melted(None, "nudge:a") == History((step(1),))
    joined = history.melted(step(2), "nudge:a")
    assert joined.done == history.done
    assert joined.melts("nudge:a")


def test_trimming_drops_the_oldest() -> None:
    history = History((step(1), step(2), step(5)), (step(9),))
    assert history.trimmed(2) == History((step(2), step(5)), (step(9),))


def test_nothing_to_do_is_a_fault_of_the_caller() -> None:
    for act in (History().undid, History().redid, lambda: History().melted(None, None)):
        with pytest.raises(InputError):
            act()
