"""The title block: what the sheet is of, how it was drawn, what its heights and places rest on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from canvas.base.quantity import UnitSystem, show
from canvas.drawing.entries import Entry, Stroke
from canvas.drawing.furniture import box, left_text, ratio_text, rule
from canvas.drawing.typeface import LEADING, fit, width_mm, wrap
from canvas.rules.library import rule_sets
from canvas.sheets.flow import Rect, Type
from canvas.site.facts import Phase
from canvas.study.study import Study

HAIR = Stroke("rule", 0.18)
#: The scale of a sheet whose drawings each have their own.
AS_NOTED = 0.0


@dataclass(frozen=True, slots=True)
class Titles:
    """What stands in the block."""

    site: str
    address: str
    sheet: str
    #: Pairs of label and words, in reading order; a pair may take the whole width.
    rows: tuple[tuple[tuple[str, str], ...], ...]


def titles(
    study: Study, *, title: str, date: str, scale: float, paper: str, number: int, of: int,
    units: UnitSystem,
) -> Titles:  # fmt: skip
    """Return the words of the title block."""
    site = study.plan.site
    ground = study.land.ground
    crs = f"{study.crs.name} ({site.crs})" if site.crs else study.crs.name
    source = "none on this site"
    if ground is not None:
        dated = f", {ground.surveyed}" if ground.surveyed else ", date not stated"
        source = f"{ground.source or ground.name}{dated}"
    accuracy = "not stated"
    if ground is not None and ground.accuracy_m is not None:
        accuracy = f"± {show(ground.accuracy_m, 'm', units)} (standard error)"
    surface = ""
    if ground is not None:
        surface = "bare earth" if ground.surface == "bare_earth" else "top of plants and roofs"
    shows = built_up_to(study)
    drawn_at = "as noted" if scale == AS_NOTED else ratio_text(scale, units)
    return Titles(
        site.name or "Site",
        site.address,
        f"{title}, {shows}" if study.at and shows else title,
        (
            (("Scale", f"{drawn_at} on {paper}"), ("Date", date)),
            (("Drawn by", site.designer or "–"), ("Revision", site.revision or "–")),
            (("Grid", crs),),
            (("Heights", site.heights_datum or "datum not named"), ("Accuracy", accuracy)),
            (("Ground", f"{source}; {surface}" if surface else source),),
            *(((("Shows", shows),),) if shows else ()),
            (("Sheet", f"{number} of {of}"), ("Rules", _rules(site.sets()))),
        ),
    )


def built_up_to(study: Study) -> str:
    """Return which stage of the work a sheet shows; "" for a site without phases."""
    phases = study.plan.phases()
    for number, phase in enumerate(phases, 1):
        if phase.id == study.at:
            return f"as built up to {phase_words(number, phase)}"
    return f"the whole plan, all {len(phases)} phases" if len(phases) > 1 else ""


def phase_words(number: int, phase: Phase) -> str:
    """Return a phase as sheets call it: "phase 2 (House and yard)"."""
    return f"phase {number} ({phase.name})" if phase.name else f"phase {number}"


def title_rows(study: Study) -> int:
    """Return how many rows the block takes."""
    return 7 if built_up_to(study) else 6


def _rules(keys: Sequence[str]) -> str:
    known = rule_sets()
    return ", ".join(known[key].label if key in known else key for key in keys) or "none"


def title_height(letters: Type, rows: int) -> float:
    """Return the height of the block [mm]."""
    return letters.head * 5.6 + letters.small * LEADING * 1.15 + rows * _row_height(letters)


def _row_height(letters: Type) -> float:
    return letters.small * 1.62 + letters.body * 1.35 + 1.7


def title_block(words: Titles, place: Rect, letters: Type) -> tuple[Entry, ...]:
    """Return the block drawn to fill a rectangle from its top."""
    pad = 1.6
    x, width = place.x + pad, place.width - 2 * pad
    entries: list[Entry] = [box(place.x, place.y, place.width, place.height, Stroke("ink", 0.35))]
    big = letters.head * 1.55
    y = place.top - pad - big * 0.62
    entries.append(left_text(x, y, fit(words.site, big, width, bold=True), big, bold=True))
    y -= big * 0.5 + letters.head * 1.15
    head = letters.head
    size = head if width_mm(words.sheet, head) <= width else letters.body
    entries.append(left_text(x, y, fit(words.sheet, size, width), size))
    y -= head * 0.5 + letters.small * 1.35
    entries.append(
        left_text(x, y, fit(words.address, letters.small, width), letters.small, "ink_soft")
    )
    y = place.y + len(words.rows) * _row_height(letters)
    for row in words.rows:
        entries.append(rule(place.x, y, place.x + place.width, y, HAIR))
        entries += _cells(row, x, y, width, letters)
        y -= _row_height(letters)
    return tuple(entries)


def _cells(
    row: Sequence[tuple[str, str]], x: float, top: float, width: float, letters: Type
) -> list[Entry]:
    each = width / len(row) if len(row) == 1 else width * 0.56
    entries: list[Entry] = []
    for k, (label, words) in enumerate(row):
        left = x + k * each
        room = (width if len(row) == 1 else each if k == 0 else width - each) - 1.2
        y = top - 0.9 - letters.small * 0.5
        entries.append(left_text(left, y, label, letters.small, "ink_soft"))
        y -= letters.small * 0.5 + letters.body * 0.5 + letters.small * 0.62
        size = letters.body
        if wrap(words, size, room)[0] != words:
            size = max(letters.body * 0.82, 1.3)
        entries.append(left_text(left, y, fit(words, size, room), size))
    return entries
