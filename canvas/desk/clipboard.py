"""Elements on the system's clipboard, between sites."""

from __future__ import annotations

from collections.abc import Iterable

import shapely
from PySide6.QtCore import QMimeData

from canvas.site.plan import Plan
from canvas.site.records import Element
from canvas.tools.clipboard import from_text, to_text

MIME = "application/x-hillwright-elements+json"


def packed(plan: Plan, items: Iterable[Element]) -> QMimeData:
    """Return elements for the clipboard; other programs get their outlines as text."""
    chosen = list(items)
    data = QMimeData()
    data.setData(MIME, to_text(chosen, plan.site.crs).encode())
    data.setText("\n".join(shapely.to_wkt(item.geometry) for item in chosen))
    return data


def unpacked(data: QMimeData, plan: Plan) -> list[Element]:
    """Return the clipboard's elements, new ones, in the plan's grid; none where it holds none.

    Raises
    ------
    BadData
        What is there can't be read, or its grid can't be brought to the plan's.
    """
    if not data.hasFormat(MIME):
        return []
    return from_text(bytes(data.data(MIME).data()).decode(errors="replace"), plan)
