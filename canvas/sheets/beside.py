"""Filling the columns beside the map: the legend is placed whole first, the rest flows round it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

from canvas.drawing.typeface import LEADING
from canvas.sheets.flow import KEPT_WHOLE, Block, Flow, Rect, Type
from canvas.sheets.layout import Layout
from canvas.sheets.legends import CLOSE, ROOMY, Style
from canvas.sheets.panel import LEGEND, Panel
from canvas.sheets.prepared import Prepared

#: Lines kept at the foot of the panel for what stands on the next sheet.
FOOT_LINES = 5
#: Less of a column than this, under a legend, is left empty.
WORTH_FILLING = 0.2


def fill_beside(sheet: Prepared, panel: Panel) -> tuple[Flow, bool]:
    """Return the first sheet's columns filled, and whether the legend is in them.

    The roomiest style the legend fits in is taken: among the other blocks where there are one or
    two columns, else across the middle ones. Where no style fits it is for the next sheet.
    """
    columns = _first_columns(sheet.layout)
    for styles in (ROOMY, CLOSE):
        made = _in_turn(sheet, panel, columns, styles) if len(columns) < 3 else None
        made = made or _set_apart(sheet, panel, columns, styles)
        if made is not None:
            return made, True
    return _filled(sheet, panel.blocks(), columns), False


def open_with_legend(panel: Panel, flow: Flow, columns: Sequence[Rect]) -> list[Rect]:
    """Place the legend at the head of a further sheet; return the columns left for the rest.

    It takes the first column, in the roomiest style that stands whole, or as many as it needs.
    """
    spans = [range(k + 1) for k in range(max(len(columns) - 1, 1))]
    for style, span in product((*ROOMY, *CLOSE), spans):
        free = _with_legend(panel.legend(style), flow, columns, span)
        if free is not None:
            return free
    raise AssertionError("a legend too long for a sheet of its own")


def _filled(sheet: Prepared, blocks: Sequence[Block], columns: Sequence[Rect]) -> Flow:
    # Better a table torn than half a column left empty beside the map.
    flow = Flow(sheet.layout.type, [(block, 0) for block in blocks], keep=0.0)
    flow.fill(columns)
    flow.keep = KEPT_WHOLE
    return flow


def _in_turn(
    sheet: Prepared, panel: Panel, columns: Sequence[Rect], styles: Sequence[Style]
) -> Flow | None:
    """Return the columns filled with the legend among the other blocks, if it gets a place."""
    for first, style in product((False, True), styles):
        flow = _filled(sheet, panel.blocks(panel.legend(style), first), columns)
        if all(block.title != LEGEND for block, _ in flow.waiting):
            return flow
    return None


def _set_apart(
    sheet: Prepared, panel: Panel, columns: Sequence[Rect], styles: Sequence[Style]
) -> Flow | None:
    """Return the columns filled round a legend that stands across some of them, if any will do."""
    middle = range(1, len(columns) - 1)
    spans = [middle[:k] for k in range(1, len(middle) + 1)]
    if len(columns) == 2:
        spans = [range(1)]
    for style, span in product(styles, spans):
        flow = Flow(sheet.layout.type, [], keep=0.0)
        free = _with_legend(panel.legend(style), flow, columns, span)
        if free is not None:
            flow.waiting = [(block, 0) for block in panel.blocks()]
            flow.fill(free)
            flow.keep = KEPT_WHOLE
            return flow
    return None


def _with_legend(
    block: Block, flow: Flow, columns: Sequence[Rect], span: range
) -> list[Rect] | None:
    """Place the legend over the columns of `span` and return those left; None if it is too high."""
    place = _joined([columns[k] for k in span])
    height = _height(block, place.width, flow.type)
    if height > place.height + 1e-6:
        return None
    flow.place(block, place)
    taken = height + flow.type.line * 0.9
    below = [_below(columns[k], taken) for k in span]
    return [
        *columns[: span[0]],
        *(rect for rect in below if rect.height > place.height * WORTH_FILLING),
        *columns[span[-1] + 1 :],
    ]


def _joined(columns: Sequence[Rect]) -> Rect:
    """Return the rectangle over columns beside each other."""
    low = max(column.y for column in columns)
    first, last = columns[0], columns[-1]
    return Rect(first.x, low, last.x + last.width - first.x, first.top - low)


def _below(column: Rect, taken: float) -> Rect:
    return Rect(column.x, column.y, column.width, max(column.height - taken, 0.0))


def _height(block: Block, width: float, letters: Type) -> float:
    """Return the room a block needs with its title [mm]."""
    rows = block.make(width, letters)
    return letters.head * LEADING + 1.4 + sum(row.height for row in rows)


def _first_columns(place: Layout) -> tuple[Rect, ...]:
    """Return the first sheet's columns, the last with room kept for "continued on"."""
    room = place.type.line * (FOOT_LINES + 0.4)
    last = place.columns[-1]
    return (
        *place.columns[:-1],
        Rect(last.x, last.y + room, last.width, last.height - room),
    )
