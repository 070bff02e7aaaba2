"""Every sort of sheet that can be printed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from canvas.base.errors import BadData
from canvas.drawing.entries import Page
from canvas.sheets.details_sheet import details_sheet
from canvas.sheets.plan_sheet import plan_sheet
from canvas.sheets.prepared import SheetOptions
from canvas.site.records import element_kinds
from canvas.study.rains import answers as rains
from canvas.study.rains.wording import summary
from canvas.study.study import Study

#: (study, options, the site's folder) → pages.
Make = Callable[[Study, SheetOptions, Path | None], tuple[Page, ...]]
#: What an earthworks plan leaves away: what grows, and what is written over the land.
NOT_EARTH = ("Plants", "Writing")
LEVELS_NOTE = (
    "At crosses: the designed level, and in brackets the existing one. Dashed contours lie where "
    "the ground was before it is moved."
)
NOT_EARTH_KINDS = ("zone", "parcel", "ground_cover")


@dataclass(frozen=True, slots=True)
class SheetSort:
    """One sort of sheet."""

    key: str
    label: str
    help: str
    make: Make


def _plan(study: Study, options: SheetOptions, folder: Path | None) -> tuple[Page, ...]:
    return plan_sheet(study, options, folder=folder)


def _earthworks(study: Study, options: SheetOptions, folder: Path | None) -> tuple[Page, ...]:
    """Return the plan with both grounds' contours, what is dug and filled, and spot levels."""
    if not study.works():
        raise BadData(
            "the plan has no earthworks", remedy="Draw a platform, a track, a swale or a dam first."
        )
    hidden = {key for key, kind in element_kinds().items() if kind.group in NOT_EARTH}
    look = replace(
        options.look, ground="designed", shading="cutfill", shading_opacity=0.55, spot_levels=True,
        finding_places=False,
        hidden_kinds=options.look.hidden_kinds | hidden | set(NOT_EARTH_KINDS),
        hidden_layers=options.look.hidden_layers | {"pictures"},
    )  # fmt: skip
    notes = (*options.notes, LEVELS_NOTE)
    return plan_sheet(study, replace(options, look=look, notes=notes), folder=folder)


def _rain(study: Study, options: SheetOptions, folder: Path | None) -> tuple[Page, ...]:
    """Return the plan shaded with the greatest depth of the storm run last, and what it is."""
    run = rains.needed(study.rains(), options.look.rain_run)
    stale = rains.stale_words(rains.changed_since(study, run))
    units = study.plan.site.unit_system()
    hidden = {key for key, kind in element_kinds().items() if kind.group == "Plants"}
    look = replace(
        options.look, ground="designed", shading="rain_depth", shading_opacity=0.85,
        finding_places=False,
        hidden_kinds=options.look.hidden_kinds | hidden | set(NOT_EARTH_KINDS),
        hidden_layers=options.look.hidden_layers | {"pictures"},
    )  # fmt: skip
    told = "; ".join(summary(run, units, stale)[:-1])
    notes = (*options.notes, *([f"{stale}: run the storm again."] if stale else []),
             f"Rain on the land: {told}.", str(run.told["caution"]))  # fmt: skip
    return plan_sheet(study, replace(options, look=look, notes=notes), folder=folder)


def _details(study: Study, options: SheetOptions, folder: Path | None) -> tuple[Page, ...]:
    return details_sheet(study, options)


SORTS: dict[str, SheetSort] = {
    sort.key: sort
    for sort in (
        SheetSort("plan", "Plan", "Everything drawn, at true scale", _plan),
        SheetSort("earthworks", "Earthworks plan", "Contours before and after, spot levels",
                  _earthworks),
        SheetSort("details", "Details", "Sections and curves of the works", _details),
        SheetSort("rain", "Rain on the land", "Greatest depth of water in the last storm run",
                  _rain),
    )
}  # fmt: skip


def make_sheet(
    key: str, study: Study, options: SheetOptions, folder: Path | None = None
) -> tuple[Page, ...]:
    """Return the pages of a sort of sheet; `BadData` names the sorts there are."""
    sort = SORTS.get(key)
    if sort is None:
        raise BadData(f"there is no sheet called “{key}”", remedy=f"Sheets: {', '.join(SORTS)}.")
    return sort.make(study, options, folder)
