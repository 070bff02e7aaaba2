"""The details sheet: sections with dimensions, long sections and curves of the works."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from canvas.base.errors import BadData
from canvas.drawing.details.registry import Detail, caption, details, site_details
from canvas.drawing.entries import Entry, Page, Stroke
from canvas.drawing.furniture import box, left_text, rule
from canvas.drawing.shift import shifted
from canvas.drawing.typeface import wrap
from canvas.sheets.blocks import Paragraph, paragraphs
from canvas.sheets.cautions import cautions
from canvas.sheets.flow import Flow, Rect, Type
from canvas.sheets.layout import Layout, further_layout, type_of
from canvas.sheets.papers import paper
from canvas.sheets.prepared import SheetOptions
from canvas.sheets.titleblock import AS_NOTED, title_block, title_height, title_rows, titles
from canvas.site.records import Element, kind_of
from canvas.study.study import Study

#: Air between details, and between a detail and its heading [mm].
GAP_MM = 8.0
HEAD_MM = 1.6
EDGE_MM = 5.0
#: Lines a heading may take.
HEAD_LINES = 2


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """A detail in its place on a page."""

    page: int
    x: float
    y: float
    heading: str
    detail: Detail


def details_sheet(study: Study, options: SheetOptions | None = None) -> tuple[Page, ...]:
    """Return pages with the details of every standing work, in the order kinds are listed.

    The cautions for what is drawn stand at the right. Raises `BadData` when nothing on the plan
    has details.
    """
    options = options or SheetOptions(title="Details")
    size = paper(options.paper)
    width, height = size.sides(options.landscape)
    letters = type_of(width, height)
    place = further_layout(width, height, title_height(letters, title_rows(study)))
    shown = _standing(study)
    drawn = [(caption(item, each), each) for item in shown for each in details(item, study)]
    drawn += [(each.title, each) for each in site_details(study)]
    if not drawn:
        raise BadData(
            "nothing on the plan has details to be drawn",
            remedy="Draw a platform, a swale, a dam, a shaped track or a test pit first.",
        )
    column = place.columns[-1]
    border = place.border
    room = Rect(
        border.x + EDGE_MM,
        border.y + EDGE_MM,
        column.x - border.x - 2 * EDGE_MM,
        border.height - 2 * EDGE_MM,
    )
    placed, left_out = _pack(drawn, room, letters)
    flow = Flow(letters, [(paragraphs("Cautions", _cautions(study, shown)), 0)])
    count = max((each.page for each in placed), default=0) + 1
    pages: list[tuple[Entry, ...]] = []
    while len(pages) < count or not flow.done:
        flow.entries = []
        before = list(flow.waiting)
        flow.fill([column])
        if flow.waiting == before:
            flow.waiting = []
        mine = [e for each in placed if each.page == len(pages) for e in _drawn(each, letters)]
        pages.append((*_frame(place, column), *mine, *flow.entries))
    date = options.date or datetime.date.today().isoformat()
    name = f"{study.plan.site.name}: {options.title}"
    made = []
    for number, entries in enumerate(pages, start=1):
        told = titles(
            study, title=options.title, date=date, scale=AS_NOTED, paper=size.name, number=number,
            of=len(pages), units=study.plan.site.unit_system(),
        )  # fmt: skip
        whole = (*entries, *title_block(told, place.title, letters))
        made.append(Page(width, height, (), whole, name, tuple(left_out)))
    return tuple(made)


def _standing(study: Study) -> list[Element]:
    """Return what stands, kind by kind as the plan lists them."""
    return [item for key in study.plan.group_keys() for item in study.of_kind(key)]


def _cautions(study: Study, shown: list[Element]) -> tuple[Paragraph, ...]:
    by_kind: dict[str, list[Element]] = {}
    for item in shown:
        by_kind.setdefault(kind_of(item).key, []).append(item)
    return cautions(by_kind, None)


def _pack(
    drawn: list[tuple[str, Detail]], room: Rect, letters: Type
) -> tuple[list[Placed], list[str]]:
    """Return the details in rows from the top, page after page, and what was too large for any."""
    placed: list[Placed] = []
    left_out: list[str] = []
    page, x, top, row = 0, room.x, room.top, 0.0
    for heading, detail in drawn:
        head = _head_height(heading, detail, letters)
        tall, wide = detail.height_mm + head, max(detail.width_mm, 40.0)
        if wide > room.width + 0.1 or tall > room.height + 0.1:
            left_out.append(f"Not drawn here, too large for this paper: {heading}.")
            continue
        if x > room.x and x + wide > room.x + room.width + 0.1:
            x, top, row = room.x, top - row - GAP_MM, 0.0
        if top - tall < room.y - 0.1:
            page, x, top, row = page + 1, room.x, room.top, 0.0
        placed.append(Placed(page, x, top - tall, heading, detail))
        x, row = x + wide + GAP_MM, max(row, tall)
    return placed, left_out


def _head_height(heading: str, detail: Detail, letters: Type) -> float:
    return len(_head_lines(heading, detail, letters)) * letters.line + HEAD_MM


def _head_lines(heading: str, detail: Detail, letters: Type) -> list[str]:
    wide = max(detail.width_mm, 40.0)
    return list(wrap(heading, letters.body, wide, bold=True, most=HEAD_LINES))


def _drawn(each: Placed, letters: Type) -> list[Entry]:
    lines = _head_lines(each.heading, each.detail, letters)
    top = each.y + each.detail.height_mm + HEAD_MM + (len(lines) - 0.5) * letters.line
    return [
        *(
            left_text(each.x, top - k * letters.line, words, letters.body, bold=True)
            for k, words in enumerate(lines)
        ),
        *shifted(each.detail.entries, each.x, each.y),
    ]


def _frame(place: Layout, column: Rect) -> list[Entry]:
    border, at = place.border, column.x - EDGE_MM / 2
    return [
        box(border.x, border.y, border.width, border.height, Stroke("ink", 0.25)),
        rule(at, border.y, at, border.top, Stroke("ink", 0.25)),
    ]
