"""The plan sheet: map at true scale, and all that must stand beside it to be trusted."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from canvas.drawing.entries import Entry, Page, Stroke, Text
from canvas.drawing.furniture import FRAME, box, left_text, rule, ticks
from canvas.drawing.typeface import wrap
from canvas.sheets.beside import FOOT_LINES, fill_beside, open_with_legend
from canvas.sheets.flow import Flow, Rect
from canvas.sheets.layout import Layout, further_layout
from canvas.sheets.panel import (
    CAUTIONS,
    LEGEND,
    Panel,
    caution_items,
    notices,
)
from canvas.sheets.papers import paper
from canvas.sheets.prepared import Prepared, SheetOptions, prepare
from canvas.sheets.titleblock import title_block, titles
from canvas.study.study import Study

__all__ = ["SheetOptions", "plan_sheet"]

#: A column shorter than this holds nothing worth its heading.
LEAST_COLUMN_MM = 12.0
#: What is named there, by block; all else is called schedules.
LEFT_OVER = (
    (LEGEND, "legend"), ("Open findings", "open findings"),
    ("Findings waived, with reasons", "waived findings"), ("Notes", "notes"),
    ("Notes on the map", "words of the map’s notes"),
    ("Sources of the rules", "sources"),
)  # fmt: skip
#: Written along an edge the site crosses.
BEYOND = "site continues beyond this sheet"


def plan_sheet(
    study: Study, options: SheetOptions | None = None, *, folder: Path | None = None
) -> tuple[Page, ...]:
    """Return the sheet's pages: the map's, and further ones where its tables found no room.

    `folder` is the site's, for its background pictures; without it they stay off.

    Raises
    ------
    BadData
        The paper or the scale is not one a sheet can be drawn on.
    """
    sheet = prepare(study, options or SheetOptions(), folder)
    panel = Panel(sheet)
    flow, with_legend = fill_beside(sheet, panel)
    first, flow.entries = flow.entries, []
    rest: list[list[Entry]] = []
    beyond = further_layout(sheet.layout.width, sheet.layout.height, sheet.layout.title.height)
    left = _left_over(flow, sheet, with_legend)
    columns: Sequence[Rect] = beyond.columns
    if not with_legend:
        columns = open_with_legend(panel, flow, columns)
    while not flow.done or flow.entries:
        before = list(flow.waiting)
        flow.fill(_evened(flow, columns))
        columns = beyond.columns
        if flow.waiting == before and not flow.entries:
            # A row taller than a whole column can only be dropped from the page.
            flow.waiting.pop(0)
            continue
        rest.append(flow.entries)
        flow.entries = []
    total = 1 + len(rest)
    pages = [_map_page(sheet, first, left if rest else "", total)]
    pages += [_further_page(sheet, beyond, drawn, i + 2, total) for i, drawn in enumerate(rest)]
    return tuple(pages)


def _evened(flow: Flow, columns: Sequence[Rect]) -> Sequence[Rect]:
    """Return columns cut short so that the last sheet's are about equally full."""
    if not Flow(flow.type, list(flow.waiting)).fits(columns):
        return columns
    longest = max(column.height for column in columns)
    low, high = 0.0, longest
    for _ in range(6):
        middle = (low + high) / 2
        if Flow(flow.type, list(flow.waiting)).fits(_shortened(columns, middle)):
            high = middle
        else:
            low = middle
    return _shortened(columns, high)


def _shortened(columns: Sequence[Rect], depth: float) -> list[Rect]:
    """Return columns that end `depth` below the highest of their tops, if not before."""
    top = max(column.top for column in columns)
    cut = [(column, max(column.y, top - depth)) for column in columns]
    return [Rect(c.x, y, c.width, c.top - y) for c, y in cut if c.top - y > LEAST_COLUMN_MM]


def _left_over(flow: Flow, sheet: Prepared, with_legend: bool) -> str:
    """Say what stands on the next sheet, the cautions by name."""
    titles = [block.title.split(":")[0] for block, _ in flow.waiting]
    if not with_legend:
        titles.append(LEGEND)
    if not titles:
        return ""
    heads = []
    for title, words in LEFT_OVER:
        if title in titles:
            torn = titles[0] == title and bool(flow.waiting) and flow.waiting[0][1] > 0
            heads.append(f"the rest of the {words}" if torn else words)
    if set(titles) - {CAUTIONS, *(title for title, _ in LEFT_OVER)}:
        heads.insert(-1 if "sources" in heads else len(heads), "schedules")
    if CAUTIONS in titles:
        also = f" Also there: {', '.join(heads)}." if heads else ""
        return _read_first([item.heading.lower() for item in caution_items(sheet)[1:]], also, sheet)
    return f"On sheet 2: {', '.join(heads)}."


def _read_first(names: Sequence[str], also: str, sheet: Prepared) -> str:
    """Send the reader to the cautions, naming as many as the foot of the column has lines for."""
    letters, width = sheet.layout.type, sheet.layout.columns[-1].width
    for count in range(len(names), 0, -1):
        more = f" and {len(names) - count} more" if count < len(names) else ""
        words = f"Read the cautions on sheet 2 first: {', '.join(names[:count])}{more}.{also}"
        if len(wrap(words, letters.body, width, bold=True)) <= FOOT_LINES:
            return words
    return f"Read the cautions on sheet 2 first.{also}"


def _title_entries(sheet: Prepared, place: Layout, number: int, of: int) -> tuple[Entry, ...]:
    options = sheet.options
    words = titles(
        sheet.study,
        title=options.title,
        date=sheet.date,
        scale=sheet.frame.scale,
        paper=paper(options.paper).name,
        number=number,
        of=of,
        units=sheet.units,
    )
    return title_block(words, place.title, place.type)


def _map_page(sheet: Prepared, drawn: Sequence[Entry], left_over: str, of: int) -> Page:
    place = sheet.layout
    border = place.border
    mapped = place.map
    entries: list[Entry] = [
        box(mapped.x, mapped.y, mapped.width, mapped.height, FRAME),
        *ticks(sheet.frame, place.type.small),
        box(border.x, border.y, border.width, border.height, Stroke("ink", 0.25)),
        rule(*place.divider, Stroke("ink", 0.25)),
        *drawn,
        *_title_entries(sheet, place, 1, of),
    ]
    if left_over:
        entries += _continued(place, left_over)
    title = f"{sheet.study.plan.site.name}: {sheet.options.title}"
    entries += _goes_on(sheet)
    told = tuple(notices(sheet))
    return Page(place.width, place.height, (sheet.frame,), tuple(entries), title, told)


def _goes_on(sheet: Prepared) -> list[Entry]:
    """Write along the map's edges where the site goes on beyond them."""
    frame, size = sheet.frame, sheet.layout.type.body
    x, y = frame.left_mm + frame.width_mm / 2, frame.bottom_mm + frame.height_mm / 2
    off_x, off_y = frame.width_mm / 2 - size * 1.6, frame.height_mm / 2 - size * 1.6
    places = {
        "north": (x, y + off_y, 0.0), "east": (x + off_x, y, 90.0),
        "south": (x, y - off_y, 0.0), "west": (x - off_x, y, -90.0),
    }  # fmt: skip
    return [
        Text(*places[side][:2], BEYOND, size, "warning", turn_deg=places[side][2], bold=True,
             halo="halo")
        for side in sheet.beyond
    ]  # fmt: skip


def _continued(place: Layout, left_over: str) -> list[Entry]:
    """Say which blocks stand on the next sheet, at the foot of the last column."""
    column, letters = place.columns[-1], place.type
    lines = wrap(left_over, letters.body, column.width, bold=True, most=FOOT_LINES)
    role = "warning" if left_over.startswith("Read") else "ink"
    y = column.y + letters.line * (FOOT_LINES - 0.5)
    return [
        left_text(column.x, y - k * letters.line, words, letters.body, role, bold=True)
        for k, words in enumerate(lines)
    ]


def _further_page(
    sheet: Prepared, place: Layout, drawn: Sequence[Entry], number: int, of: int
) -> Page:
    border = place.border
    title = f"{sheet.study.plan.site.name}: {sheet.options.title}"
    entries: tuple[Entry, ...] = (
        box(border.x, border.y, border.width, border.height, Stroke("ink", 0.25)),
        *drawn,
        *_title_entries(sheet, place, number, of),
    )
    return Page(place.width, place.height, (), entries, title)
