"""Copy and paste, within a site and between sites: elements as text that carries its CRS.

The text is a GeoJSON feature collection whose coordinates are the site's own, so nothing is lost
between sites that share a CRS; the "crs" member says which it is.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from pyproj import Transformer
from pyproj.exceptions import ProjError
from shapely.geometry import mapping, shape

from canvas.base.errors import BadData
from canvas.base.ident import new_id
from canvas.site.edits import Edit
from canvas.site.plan import Plan
from canvas.site.records import Element, element_kinds, kind_of, values_of
from canvas.tools.plane import Coords
from canvas.tools.transform import copies_edit

MARK = "hillwright"
VERSION = 1
#: More text than this is not read [characters].
MOST_TEXT = 50_000_000


def to_text(items: Sequence[Element], crs: str) -> str:
    """Return elements as text for the clipboard."""
    features = [
        {
            "type": "Feature",
            "geometry": mapping(item.geometry),
            "properties": {"kind": kind_of(item).key, **values_of(item)},
        }
        for item in items
    ]
    head = {"type": "FeatureCollection", MARK: VERSION, "crs": crs, "features": features}
    return json.dumps(head, ensure_ascii=False)


def is_ours(text: str) -> bool:
    """Return whether a clipboard's text is worth pasting."""
    return text.lstrip().startswith("{") and f'"{MARK}"' in text[:200]


def from_text(text: str, plan: Plan) -> list[Element]:
    """Return new elements from a clipboard's text, carried into the plan's CRS."""
    if len(text) > MOST_TEXT or not is_ours(text):
        raise BadData("The clipboard holds nothing from a site.", remedy="Copy elements first.")
    try:
        whole = json.loads(text)
        version, crs, features = whole[MARK], str(whole["crs"]), list(whole["features"])
    except (ValueError, KeyError, TypeError, RecursionError) as err:
        raise BadData("What was copied is damaged.", remedy="Copy it again.") from err
    if version != VERSION:
        raise BadData("It was copied from another version of the program.")
    carry = _carrier(crs, plan.site.crs)
    return [_element(feature, carry, plan) for feature in features]


def _carrier(crs: str, target: str) -> Transformer | None:
    if crs == target:
        return None
    try:
        return Transformer.from_crs(crs, target, always_xy=True)
    except ProjError as err:
        raise BadData(f"Coordinates can't be carried from {crs} to {target}.") from err


def _element(feature: Any, carry: Transformer | None, plan: Plan) -> Element:
    try:
        values = dict(feature["properties"])
        key = values.pop("kind")
        geometry = shape(feature["geometry"])
        found = element_kinds()[key]
    except (KeyError, TypeError, ValueError, AttributeError, shapely.GEOSException) as err:
        raise BadData("What was copied is damaged.", remedy="Copy it again.") from err
    if carry is not None:

        def carried(xy: Coords) -> Coords:
            return np.column_stack(carry.transform(xy[:, 0], xy[:, 1]))

        geometry = shapely.transform(geometry, carried)
    known = {spec.name for spec in found.specs}
    kept = {name: value for name, value in values.items() if name in known}
    # A phase belongs to its own site.
    if str(kept.get("phase", "")) not in plan:
        kept["phase"] = ""
    made = found.cls(**{**kept, "id": new_id(), "geometry": geometry})
    assert isinstance(made, Element)
    return made


def paste_edit(text: str, plan: Plan) -> Edit | None:
    """Return the edit that pastes elements where they were; None when the text holds none."""
    return copies_edit("Paste", from_text(text, plan))
