"""Elements on the clipboard, between sites: values, shapes, and the grid the shapes lie in."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

import numpy as np
import shapely
from PySide6.QtCore import QMimeData

from canvas.base.errors import BadData
from canvas.base.ident import new_id
from canvas.site.plan import Plan
from canvas.site.records import Element, element_kinds, kind_of, values_of

MIME = "application/x-hillwright-elements+json"


def packed(plan: Plan, items: Iterable[Element]) -> QMimeData:
    """Return elements for the clipboard; other programs get their outlines as text."""
    chosen = list(items)
    rows = [
        {
            "kind": kind_of(item).key,
            "values": values_of(item),
            "shape": shapely.to_wkt(item.geometry, rounding_precision=-1),
        }
        for item in chosen
    ]
    data = QMimeData()
    data.setData(MIME, json.dumps({"crs": plan.site.crs, "elements": rows}).encode())
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
    try:
        found = json.loads(bytes(data.data(MIME).data()))
        rows, crs = list(found["elements"]), str(found["crs"])
        shapes = shapely.from_wkt([row["shape"] for row in rows])
        made = zip(rows, _moved(shapes, crs, plan.site.crs), strict=True)
        return [_element(row, shape, plan) for row, shape in made]
    except (ValueError, KeyError, TypeError, shapely.errors.ShapelyError) as err:
        raise BadData(
            "the clipboard’s elements can’t be read",
            kept="The plan is as it was.",
            remedy="Copy them again.",
        ) from err


def _element(row: dict[str, Any], shape: Any, plan: Plan) -> Element:
    cls = element_kinds()[row["kind"]].cls
    values = dict(row["values"])
    if values.get("phase") not in {p.id for p in plan.phases()}:
        values["phase"] = ""
    made = cls(id=new_id(), geometry=shape, **values)  # type: ignore[call-arg]
    assert isinstance(made, Element)
    return made


def _moved(shapes: Any, crs: str, wanted: str) -> Any:
    if crs == wanted:
        return shapes
    from pyproj import Transformer
    from pyproj.exceptions import ProjError

    try:
        change = Transformer.from_crs(crs, wanted, always_xy=True)

        def move(xy: Any) -> Any:
            return np.column_stack(change.transform(xy[:, 0], xy[:, 1]))

        return shapely.transform(shapes, move)
    except ProjError as err:
        raise ValueError(str(err)) from err
