"""Elements on the system's clipboard, between sites."""

from __future__ import annotations

from collections.abc import Iterable

import shapely
from PySide6.QtCore import QMimeData

from canvas.site.edits import Edit
from canvas.site.plan import Plan
from canvas.site.records import Element
from canvas.tools.clipboard import paste_edit, to_text

MIME = "application/x-hillwright-elements+json"


def packed(plan: Plan, items: Iterable[Element]) -> QMimeData:
    """Return elements for the clipboard; other programs get their outlines as text."""
    chosen = list(items)
    data = QMimeData()
    data.setData(MIME, to_text(chosen, plan.site.crs).encode())
    data.setText("\n".join(shapely.to_wkt(item.geometry) for item in chosen))
    return data


def pasted(data: QMimeData, plan: Plan) -> Edit | None:
    """Return the edit that pastes the clipboard's elements; None where it holds none.

    Raises
    ------
    BadData
        What is there can't be read, or its grid can't be brought to the plan's.
    """
    if not data.hasFormat(MIME):
        return None
    return paste_edit(bytes(data.data(MIME).data()).decode(errors="replace"), plan)
