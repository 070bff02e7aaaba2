"""Selecting without pointing: by kind, by finding; one after another."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely

from canvas.base.finding import Finding
from canvas.base.grid import Bounds
from canvas.site.plan import Plan
from canvas.site.records import Element, kind_of
from canvas.tools.index import MapIndex


def of_kind(plan: Plan, *keys: str) -> frozenset[str]:
    """Return the elements of these kinds."""
    return frozenset(item.id for key in keys for item in plan.of_kind(key))


def alike(plan: Plan, selection: Iterable[str]) -> frozenset[str]:
    """Return every element of the same kinds as the selected ones."""
    found = (plan.get(ident) for ident in selection)
    return of_kind(plan, *{kind_of(item).key for item in found if item is not None})


def with_findings(findings: Iterable[Finding]) -> frozenset[str]:
    """Return the elements that stand in a failing finding."""
    return frozenset(ident for finding in findings if finding.failing for ident in finding.elements)


def all_shown(index: MapIndex) -> frozenset[str]:
    """Return every shown element."""
    return frozenset(item.id for item in index.elements)


def next_one(
    index: MapIndex, selection: frozenset[str], view: Bounds, *, back: bool = False
) -> Element | None:
    """Return the element after the selected one in reading order over the view, round and round.

    For choosing by keyboard alone. Reading order: from north to south in bands of a tenth of the
    view, each from west to east.
    """
    inside = index.within_view(view)
    if not inside:
        return None
    spots = shapely.get_coordinates(
        shapely.point_on_surface(np.array([item.geometry for item in inside], dtype=object))
    )
    band = np.floor((view[3] - spots[:, 1]) / max((view[3] - view[1]) / 10, 1e-9))
    order = [inside[int(k)] for k in np.lexsort((spots[:, 0], band))]
    at = next((k for k, item in enumerate(order) if item.id in selection), None)
    if at is None:
        return order[-1 if back else 0]
    return order[(at + (-1 if back else 1)) % len(order)]
