"""Fixtures for the tools: a hand over made-up elements."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hands import Hand

from canvas.site.records import Element
from canvas.tools.world import ToolWorld
from made import study_of


@pytest.fixture
def hand() -> Callable[..., Hand]:
    def made(*records: object, grid=None, selected: tuple[Element, ...] = ()) -> Hand:
        study = study_of(*records, grid=grid)
        world = ToolWorld(study.plan, study)
        if grid is not None:
            world.heights = grid.sample

        def choose(ids: frozenset[str], how: str) -> None:
            old = world.selection
            world.selection = {"replace": ids, "add": old | ids, "toggle": old ^ ids}[how]

        world.choose = choose
        world.selection = frozenset(item.id for item in selected)
        return Hand(world)

    return made


@pytest.fixture
def empty(hand) -> Hand:
    found: Hand = hand()
    return found
