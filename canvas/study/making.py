"""Ground made from measured heights, surveys laid into it, and level books reduced."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from canvas.base.errors import BadData
from canvas.base.fact import Fact
from canvas.base.grid import Floats, Grid
from canvas.base.progress import Progress, part, silent
from canvas.base.quantity import show
from canvas.ground.levelbook import Book, Reading, Reduce, reduce
from canvas.ground.merge import Merged, merge
from canvas.ground.tin import Heights, Surface, Tin, cells_over, on_cells, triangulate
from canvas.site.elements.heights import VERTICES, SpotHeight, SurveyLine
from canvas.site.elements.land import SurveyMark
from canvas.site.levelling import READINGS, LevelBook
from canvas.site.plan import Plan
from canvas.site.records import Element, Record, changed
from canvas.site.tabular import parse

if TYPE_CHECKING:
    from canvas.study.study import Study

#: Share of a surface that may be flat for want of heights before it is said.
FLAT_SHARE = 0.05


@dataclass(frozen=True, slots=True)
class Wish:
    """How a surface is to be made from the heights there are."""

    cell_m: float = 1.0
    surface: Surface = Surface.STRAIGHT
    #: Triangles with longer edges at the outline are no ground [m]: heights of marks far apart
    #: must not stretch a flat sheet over what lies between. Common practice, no source.
    longest_edge_m: float = 60.0
    #: Width over which the new surface gives way to the ground around it [m].
    feather_m: float = 5.0
    #: Lay it into the present ground; otherwise it stands alone.
    into_ground: bool = True


@dataclass(frozen=True, slots=True, eq=False)
class NewGround:
    """Ground ready to be taken over, and what a careful reader should know of it."""

    grid: Grid
    facts: tuple[Fact, ...]
    notes: tuple[str, ...]


def heights_of(plan: Plan) -> Heights:
    """Return every measured height of a plan; `BadData` names a line that can't be used.

    Spot heights, marks with a height, contours and breaklines.
    """
    spots: list[SpotHeight | SurveyMark] = [*plan.of(SpotHeight), *plan.of(SurveyMark)]
    points = [
        (item.geometry.x, item.geometry.y, item.height_m)
        for item in spots
        if item.height_m is not None and item.status in ("existing", "built")
    ]
    contours: list[Floats] = []
    breaks: list[Floats] = []
    for item in plan.of(SurveyLine):
        into = contours if item.line == "contour" else breaks
        into.append(line_heights(item))
    xyz = np.array(points, np.float64).reshape(-1, 3)
    return Heights(xyz, tuple(contours), tuple(breaks))


def line_heights(item: SurveyLine) -> Floats:
    """Return a survey line's corners with their heights, (n, 3)."""
    xy = shapely.get_coordinates(item.geometry)
    levels = [row[0] for row in parse(item.levels, VERTICES)]
    where = f"survey line {item.name or item.id}"
    if levels and item.line != "contour":
        if len(levels) != len(xy):
            raise BadData(
                f"{len(levels)} heights for {len(xy)} corners", where=where,
                remedy="Give one for each corner, in drawing order, or one height all along.",
            )  # fmt: skip
        return np.column_stack((xy, np.array(levels, np.float64)))
    level = item.level_m if item.level_m is not None else (levels[0] if levels else None)
    if level is None:
        raise BadData("it has no height", where=where, remedy="Type its height on the card.")
    return np.column_stack((xy, np.full(len(xy), float(level))))


def make_ground(study: Study, wish: Wish, progress: Progress = silent) -> NewGround:
    """Return ground made from the plan's heights, alone or laid into the present ground.

    Nothing is guessed beyond the outermost heights. Raises `BadData` for too few heights.
    """
    if not wish.cell_m > 0:
        raise BadData("cells need a size above 0", remedy="Give it in metres.")
    heights = heights_of(study.plan)
    tin = triangulate(heights, wish.longest_edge_m, part(progress, 0.0, 0.5))
    progress(0.5, "Making cells")
    alone = on_cells(tin, cells_over(tin, wish.cell_m), wish.surface)
    notes = _tin_notes(tin)
    facts = [
        Fact("heights", "Heights used", float(len(tin.z_m)), "count"),
        Fact("area_m2", "Ground covered", float(tin.areas_m2()[tin.used].sum()), "m2"),
        Fact("flat_share", "Flat for want of heights", tin.flat_share, "%"),
    ]
    base = study.land.grid
    if base is None or not wish.into_ground:
        return NewGround(alone, tuple(facts), notes)
    progress(0.7, "Laying it into the ground")
    joined = merge(base, alone, wish.feather_m, shift_m=0.0)
    return NewGround(joined.grid, (*facts, *_merge_facts(joined)), (*notes, *joined.notes))


def lay_in(
    study: Study, survey: Grid, *, feather_m: float = 5.0, keep_datum: bool = False
) -> NewGround:
    """Return the present ground with a denser survey laid in, its datum shifted unless kept."""
    base = study.land.grid
    if base is None:
        raise BadData("there is no ground to lay it into", remedy="Bring it in as the ground.")
    joined = merge(base, survey, feather_m, shift_m=0.0 if keep_datum else None)
    return NewGround(joined.grid, _merge_facts(joined), joined.notes)


def _tin_notes(tin: Tin) -> tuple[str, ...]:
    notes = [
        f"Two heights {show(each.apart_m, 'm')} apart stand at one place,"
        f" E {each.x_m:.1f} m, N {each.y_m:.1f} m: one of them is wrong."
        for each in tin.doubts[:5]
    ]
    if len(tin.doubts) > 5:
        notes.append(f"So it is at {len(tin.doubts) - 5} more places.")
    if tin.lost_edges:
        notes.append(f"{tin.lost_edges} stretches of lines cross others and could not be kept.")
    if tin.flat_share > FLAT_SHARE:
        notes.append(
            f"{tin.flat_share:.0%} of it is flat only because no height stands between contours:"
            " add spot heights on tops, ridges and in hollows."
        )
    return tuple(notes)


def _merge_facts(joined: Merged) -> tuple[Fact, ...]:
    return (
        Fact("shift_m", "Survey raised by", joined.shift_m, "m"),
        Fact("spread_m", "Differs from the ground by", joined.spread_m, "m", basis="about that"),
        Fact("edge_step_m", "Step at its edge", joined.edge_step_m, "m", basis="before blending"),
        Fact("survey_share", "Taken from the survey alone", joined.survey_share, "%"),
        Fact("blended_share", "Blended", joined.blended_share, "%"),
    )


def reduced(book: LevelBook) -> Book:
    """Return a level book reduced, checked and closed; `BadData` names the line that is wrong."""
    lines = [Reading(str(row[0]), *row[1:]) for row in parse(book.readings, READINGS)]  # type: ignore[arg-type]
    return reduce(lines, Reduce(book.way), book.allowed_mm)


def book_facts(book: Book) -> tuple[Fact, ...]:
    """Return the sums and the misclosure of a book."""
    closes = {None: "not checked: no second known height", True: "yes", False: "no: level it again"}
    return (
        Fact("back_m", "Sum of backsights", book.sum_back_m, "m", decimals=3),
        Fact("fore_m", "Sum of foresights", book.sum_fore_m, "m", decimals=3),
        Fact("arithmetic_m", "Sums disagree by", book.arithmetic_error_m, "m", decimals=3),
        Fact("setups", "Set-ups", float(book.setups), "count"),
        Fact("levelled_m", "Levelled", book.length_m, "m"),
        Fact("misclosure_m", "Misclosure", book.misclosure_m, "m", decimals=3),
        Fact("allowed_m", "Misclosure allowed", book.allowed_m, "m", decimals=3),
        Fact("closes", "Closes", closes[book.closes]),
    )


def carried(plan: Plan, book: Book) -> list[tuple[Record, Record]]:
    """Return (before, after) of marks and spot heights that a book's points of that name set."""
    levels = {level.point.casefold(): level.adjusted_m for level in book.levels}
    pairs: list[tuple[Record, Record]] = []
    for item in _named(plan):
        found = levels.get(item.name.strip().casefold())
        if found is not None:
            pairs.append((item, changed(item, height_m=round(found, 4))))
    return pairs


def _named(plan: Plan) -> Sequence[Element]:
    return [item for cls in (SpotHeight, SurveyMark) for item in plan.of(cls) if item.name.strip()]
