"""How status and owner show: by weight, dash, fill and marks, never by colour alone.

========== =================================================== ==========================
status     line                                                area
========== =================================================== ==========================
existing   thin, unbroken                                      plain fill
remove     thin, short dashes, crosses on it                   no fill, crosses
proposed   heavy, unbroken                                     diagonal lines
built      heavy, unbroken                                     plain fill
gone       finest, dotted                                      no fill
========== =================================================== ==========================

A neighbour's line is long-dashed and its fill dotted; a public one is dash-dotted and its fill
ruled level. Ours stays as the status has it.
"""

from __future__ import annotations

from dataclasses import replace

from canvas.drawing.entries import Cap, Fill, Hatch, Stroke
from canvas.site.records import Element, Owner, Status

REMOVE_DASH = (1.1, 0.9)
#: What is to go is drawn this faint: there to be found, not to lead the eye.
FADED = 0.6
GONE_DASH = (0.25, 0.9)
NEIGHBOUR_DASH = (2.6, 0.9)
PUBLIC_DASH = (2.6, 0.8, 0.3, 0.8)

#: Line weight of each status, as a share of the kind's full weight.
WEIGHTS = {
    Status.EXISTING: 0.62,
    Status.REMOVE: 0.62,
    Status.PROPOSED: 1.0,
    Status.BUILT: 1.0,
    Status.GONE: 0.5,
}


def stroke_of(
    item: Element,
    role: str,
    width_mm: float,
    dash_mm: tuple[float, ...] = (),
    weigh: bool = True,
) -> Stroke:
    """Return the line of an element; `dash_mm` is the kind's own and yields to status."""
    status = Status(item.status)
    width = width_mm * (WEIGHTS[status] if weigh else 1.0)
    if status is Status.REMOVE:
        return Stroke(role, width, REMOVE_DASH, FADED, Cap.FLAT)
    if status is Status.GONE:
        return Stroke(role, width, GONE_DASH, alpha=0.8)
    if not dash_mm and item.owner == Owner.NEIGHBOUR:
        dash_mm = NEIGHBOUR_DASH
    if not dash_mm and item.owner == Owner.PUBLIC:
        dash_mm = PUBLIC_DASH
    return Stroke(role, width, dash_mm, cap=Cap.FLAT if dash_mm else Cap.ROUND)


def fill_of(item: Element, role: str, line_role: str = "", alpha: float = 1.0) -> Fill | None:
    """Return the fill of an element; hatches take `line_role` so that they stay readable."""
    status = Status(item.status)
    if status in (Status.REMOVE, Status.GONE):
        return None
    lines = line_role or role
    if item.owner == Owner.NEIGHBOUR:
        return Fill(lines, Hatch.DOTS, 0.8, gap_mm=1.1, line_mm=0.25)
    if item.owner == Owner.PUBLIC:
        return Fill(lines, Hatch.LINES, 0.8, angle_deg=0.0, gap_mm=1.2, line_mm=0.13)
    if status is Status.PROPOSED:
        return Fill(lines, Hatch.LINES, 0.9, angle_deg=45.0, gap_mm=1.1, line_mm=0.16)
    return Fill(role, Hatch.SOLID, alpha)


def tint_of(item: Element, role: str, alpha: float = 1.0) -> Fill | None:
    """Return a plain fill for kinds whose texture already says enough; none once it goes."""
    if item.status in (Status.REMOVE, Status.GONE):
        return None
    return Fill(role, Hatch.SOLID, alpha)


def crossed(item: Element) -> bool:
    """Whether crosses say that it is to go."""
    return item.status == Status.REMOVE


def heavier(stroke: Stroke, by_mm: float) -> Stroke:
    """Return a stroke widened by `by_mm`, unbroken: a casing."""
    return replace(stroke, width_mm=stroke.width_mm + by_mm, dash_mm=())


#: Names for the key of line styles.
STATUS_KEY = {
    Status.EXISTING: "Existing, kept",
    Status.REMOVE: "To be removed",
    Status.PROPOSED: "Proposed",
    Status.BUILT: "Built",
    Status.GONE: "Gone",
}
OWNER_KEY = {Owner.NEIGHBOUR: "Neighbour’s", Owner.PUBLIC: "Public"}
