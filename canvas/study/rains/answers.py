"""What a kept run says: maps of it, whether it still holds, its parts in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from canvas.base.errors import BadData, UserError
from canvas.base.grid import Grid
from canvas.study.rains.keep import SavedRun, Shelf

if TYPE_CHECKING:
    from canvas.study.rains.setup import RainChoice
    from canvas.study.study import Study

#: Water thinner than this is not shown [m].
SHOWN_M = 0.005
GREATEST = "the greatest at each place"
MODEL = "a model, not a flood study"


def choice_of(run: SavedRun) -> RainChoice:
    """Return how a run was wanted."""
    from canvas.study.rains.setup import RainChoice

    return RainChoice(**run.told["choice"])


def changed_since(study: Study, run: SavedRun) -> tuple[str, ...]:
    """Return what the run rests on that is another today, in words; empty when it still holds."""
    from canvas.study.rains.setup import setup

    try:
        now = setup(study, choice_of(run)).parts
    except (UserError, TypeError):
        return ("the ground or the storm",)
    then = run.told["parts"]
    return tuple(f"the {name}" for name, print_ in now.items() if then.get(name) != print_)


def stale_words(changed: tuple[str, ...]) -> str:
    """Return what to say of a run by what has changed since; "" when nothing has."""
    if not changed:
        return ""
    words = changed[0] if len(changed) == 1 else f"{', '.join(changed[:-1])} and {changed[-1]}"
    have = "has" if len(changed) == 1 and not words.endswith("s") else "have"
    return f"STALE: {words} {have} changed since"


def needed(shelf: Shelf, token: str = "") -> SavedRun:
    """Return a kept run; `BadData` when there is none."""
    found = shelf.run(token)
    if found is None:
        raise BadData(
            "no storm has been run over this land yet",
            remedy="Run one: hillwright storm SITE --2d, or on the page “Rain on the land”.",
        )
    return found


def depth_map(run: SavedRun, moment: int | None = None) -> Grid:
    """Return depths [m] at a moment, or the greatest; NaN where there is hardly any."""
    grid = run.map("peak_depth") if moment is None else run.moment(moment)[0]
    return grid.like(np.where(grid.z >= SHOWN_M, grid.z, np.nan))


def speed_map(run: SavedRun, moment: int | None = None) -> Grid:
    """Return speeds [m/s] at a moment, or the greatest, where there is water to be seen."""
    if moment is None:
        depth, speed = run.map("peak_depth"), run.map("peak_speed")
    else:
        depth, speed = run.moment(moment)
    return speed.like(np.where(depth.z >= SHOWN_M, speed.z, np.nan))
