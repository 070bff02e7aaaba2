"""Details of elements: what stands on the card and on the details sheet, by kind."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeVar

from canvas.drawing.entries import Entry
from canvas.site.records import Element, kind_of
from canvas.study.study import Study


@dataclass(frozen=True, slots=True, eq=False)
class Detail:
    """A small drawing of its own: a section, a long section, a curve."""

    title: str
    #: Entries from (0, 0) at the lower left [mm].
    entries: tuple[Entry, ...]
    width_mm: float
    height_mm: float
    #: What it is drawn at, such as "1:50" or "1:500 across, 1:100 up"; "" for a chart.
    scale: str = ""


#: (element, study) → its details; none when it can't be built as drawn.
DetailsOf = Callable[[Any, Study], list[Detail]]
D = TypeVar("D", bound=DetailsOf)

_DETAILS: dict[str, DetailsOf] = {}


def details_of(*keys: str) -> Callable[[D], D]:
    """Register the function that draws the details of these kinds."""

    def keep(function: D) -> D:
        for key in keys:
            _DETAILS[key] = function
        return function

    return keep


#: study → details of the site as a whole.
SiteDetailsOf = Callable[[Study], list[Detail]]
_SITE: list[SiteDetailsOf] = []


def site_details_of(function: SiteDetailsOf) -> SiteDetailsOf:
    """Register a function that draws details of the site as a whole."""
    _SITE.append(function)
    return function


def site_details(study: Study) -> list[Detail]:
    """Return the details of the site as a whole."""
    from canvas.drawing.details.all import ALL  # noqa: F401

    return [detail for function in _SITE for detail in function(study)]


def caption(item: Element, detail: Detail) -> str:
    """Return what to write over a detail: whose it is, what it shows, its scale."""
    kind = kind_of(item).label
    name, title = item.name or kind, detail.title
    known = title.casefold().startswith((name.casefold(), kind.casefold()))
    if item.name and known and not title.casefold().startswith(name.casefold()):
        title = f"{name}: {title}"
    elif not known:
        title = f"{name}: {title[0].lower()}{title[1:]}"
    return f"{title} ({detail.scale})" if detail.scale else title


def has_details(item: Element) -> bool:
    """Return whether elements of this kind have details."""
    from canvas.drawing.details.all import ALL  # noqa: F401

    return kind_of(item).key in _DETAILS


def details(item: Element, study: Study) -> list[Detail]:
    """Return the details of an element; none for a kind that has none."""
    from canvas.drawing.details.all import ALL  # noqa: F401

    function = _DETAILS.get(kind_of(item).key)
    return function(item, study) if function is not None else []
