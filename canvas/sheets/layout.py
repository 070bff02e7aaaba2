"""Where things stand on a sheet, from A4 to A0, upright or on its side."""

from __future__ import annotations

from dataclasses import dataclass

from canvas.sheets.flow import Rect, Type


@dataclass(frozen=True, slots=True)
class Layout:
    """Places on one sheet [mm]."""

    width: float
    height: float
    border: Rect
    #: The map's frame; its figures stand outside it, inside the border.
    map: Rect
    #: Columns blocks flow through, in reading order, clear of the title block.
    columns: tuple[Rect, ...]
    title: Rect
    type: Type
    #: The line between map and panel: x0, y0, x1, y1.
    divider: tuple[float, float, float, float]


def type_of(width: float, height: float) -> Type:
    """Return letter heights for a paper: ISO 3098 asks for 1.8 mm, small papers take less."""
    long = max(width, height)
    if long < 330:
        return Type(body=1.5, small=1.25, head=2.0)
    if long < 500:
        return Type(body=1.65, small=1.35, head=2.3)
    if long < 700:
        return Type(body=1.8, small=1.5, head=2.6)
    return Type(body=2.0, small=1.65, head=3.0)


def _panel(width: float, height: float) -> tuple[float, int]:
    """Return the depth of the panel beside the map and how many columns stand in it."""
    if width >= height:
        for limit, wide, count in ((330, 64, 1), (500, 84, 1), (700, 104, 1), (1000, 178, 2)):
            if width < limit:
                return wide, count
        return 214.0, 2
    share = 0.36 if height < 330 else 0.32 if height < 500 else 0.27 if height < 900 else 0.22
    return height * share, max(round((width - 16) / 78), 2)


def layout(width: float, height: float, title_height: float) -> Layout:
    """Return the places on a sheet of this size [mm]."""
    margin = 6.0 if max(width, height) < 330 else 8.0 if max(width, height) < 700 else 10.0
    border = Rect(margin, margin, width - 2 * margin, height - 2 * margin)
    letters = type_of(width, height)
    gap = 3.0
    room = letters.small + 2.4
    depth, count = _panel(width, height)
    if width >= height:
        panel = Rect(border.x + border.width - depth, border.y, depth, border.height)
        beside = Rect(border.x, border.y, border.width - depth, border.height)
        divider = (panel.x, border.y, panel.x, border.top)
    else:
        panel = Rect(border.x, border.y, border.width, depth)
        beside = Rect(border.x, border.y + depth, border.width, border.height - depth)
        divider = (border.x, panel.top, border.x + border.width, panel.top)
    mapped = Rect(
        beside.x + room, beside.y + room, beside.width - 2 * room, beside.height - 2 * room
    )
    each = (panel.width - gap * (count + 1)) / count
    columns = []
    for k in range(count):
        x = panel.x + gap + k * (each + gap)
        columns.append(Rect(x, panel.y + gap, each, panel.height - 2 * gap))
    last = columns[-1]
    title = Rect(last.x, last.y, last.width, title_height)
    columns[-1] = Rect(
        last.x, last.y + title_height + gap, last.width, last.height - title_height - gap
    )
    return Layout(width, height, border, mapped, tuple(columns), title, letters, divider)


def further_layout(width: float, height: float, title_height: float) -> Layout:
    """Return the places on a sheet without a map: columns, the title at the lower right."""
    first = layout(width, height, title_height)
    border, gap = first.border, 4.0
    count = max(round(border.width / 96), 2)
    each = (border.width - gap * (count + 1)) / count
    columns = [
        Rect(border.x + gap + k * (each + gap), border.y + gap, each, border.height - 2 * gap)
        for k in range(count)
    ]
    last = columns[-1]
    title = Rect(last.x, last.y, last.width, title_height)
    columns[-1] = Rect(
        last.x, last.y + title_height + gap, last.width, last.height - title_height - gap
    )
    nothing = Rect(0, 0, 0, 0)
    return Layout(width, height, border, nothing, tuple(columns), title, first.type, (0, 0, 0, 0))
