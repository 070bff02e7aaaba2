"""Moving, turning, flipping, copying and deleting elements: plain functions to edits."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from canvas.base.ident import new_id
from canvas.site.edits import Edit, add, put, remove
from canvas.site.records import Element, changed, kind_of
from canvas.tools.plane import XY, Coords, bearing

Change = Callable[[Element], Element]


def shift(item: Element, dx_m: float, dy_m: float) -> Element:
    """Return an element moved east and north [m]."""
    return reshaped(item, affinity.translate(item.geometry, dx_m, dy_m))


def turn(item: Element, about: XY, clockwise_deg: float) -> Element:
    """Return an element turned about a point; bearings it carries turn with it."""
    made = affinity.rotate(item.geometry, -clockwise_deg, origin=about)
    return _with_bearings(reshaped(item, made), lambda deg: deg + clockwise_deg)


def flip(item: Element, a: XY, b: XY) -> Element:
    """Return an element mirrored in the line through a and b."""
    axis = bearing(a, b)
    double = math.radians(2 * (90.0 - axis))
    cos, sin = math.cos(double), math.sin(double)

    def mirror(xy: Coords) -> Coords:
        x, y = xy[:, 0] - a[0], xy[:, 1] - a[1]
        return np.column_stack([a[0] + cos * x + sin * y, a[1] + sin * x - cos * y])

    made = shapely.transform(item.geometry, mirror)
    return _with_bearings(reshaped(item, made), lambda deg: 2 * axis - deg)


def copy(item: Element) -> Element:
    """Return an element equal in all but identity."""
    made: Element = changed(item, id=new_id())
    return made


def reshaped(item: Element, geometry: BaseGeometry) -> Element:
    """Return an element with another geometry, checked."""
    made: Element = changed(item, geometry=geometry)
    return made


def _with_bearings(item: Element, turned: Callable[[float], float]) -> Element:
    values = {
        spec.name: turned(getattr(item, spec.name)) % 360.0
        for spec in kind_of(item).specs
        if spec.unit == "deg"
        and spec.name.startswith("bearing")
        and getattr(item, spec.name) is not None
    }
    made: Element = changed(item, **values) if values else item
    return made


def named(verb: str, items: Sequence[Element]) -> str:
    """Return "Move shed", "Move 3 trees", "Move 5 things": how an edit is called."""
    if len(items) == 1:
        return f"{verb} {items[0].name or kind_of(items[0]).label.lower()}"
    families = {kind_of(item).plural for item in items}
    what = families.pop().lower() if len(families) == 1 else "things"
    return f"{verb} {len(items)} {what}"


def edit_each(
    verb: str, items: Sequence[Element], change: Change, merge_key: str | None = None
) -> Edit | None:
    """Return one edit that changes each element, or None where nothing changes."""
    edit = put(named(verb, items), [(item, change(item)) for item in items], merge_key)
    return edit if edit.changes else None


def move_edit(
    items: Sequence[Element], dx_m: float, dy_m: float, *, nudge: bool = False
) -> Edit | None:
    """Return the edit that moves elements; nudges of the same elements merge into one step."""
    key = "nudge:" + ",".join(sorted(item.id for item in items)) if nudge else None
    return edit_each("Move", items, lambda item: shift(item, dx_m, dy_m), key)


def delete_edit(items: Sequence[Element]) -> Edit | None:
    """Return the edit that deletes elements, or None for none."""
    return remove(named("Delete", items), items) if items else None


def copies_edit(verb: str, items: Iterable[Element]) -> Edit | None:
    """Return the edit that adds elements made from others, or None for none."""
    made = list(items)
    return add(named(verb, made), made) if made else None
