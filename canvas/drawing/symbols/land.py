"""Land: boundary, parcels, easements, survey marks, zones."""

from __future__ import annotations

from collections.abc import Sequence

import shapely

from canvas.base.quantity import show
from canvas.drawing.entries import Cap, Fill, Hatch, Stroke
from canvas.drawing.pen import Drawn, Pen, paths_of
from canvas.drawing.styles import fill_of, stroke_of, tint_of
from canvas.drawing.symbols.marks import cross_out, name_area, name_point
from canvas.drawing.symbols.registry import symbol
from canvas.site.elements.land import PURPOSES

BOUNDARY_DASH = (9.0, 1.6, 0.5, 1.6, 0.5, 1.6)
PARCEL_DASH = (7.0, 1.4, 0.5, 1.4)


@symbol("zone", 10, "intensity")
def draw_zones(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw zones as light tints with a dotted edge and their number."""
    for drawn in items:
        item = drawn.item
        intensity = getattr(item, "intensity", "free")
        fill = tint_of(item, f"zone_{intensity}", 0.42)
        pen.areas(item.geometry, fill, ident=item.id)
        edge = Stroke("zone_line", 0.3, (0.3, 1.1), cap=Cap.ROUND)
        pen.lines(item.geometry.boundary, edge, item.id, level=1)
        cross_out(drawn, pen, "zone_line")
        number = intensity if intensity != "free" else ""
        words = item.name or getattr(item, "use", "")
        head = f"{number} · {words}" if number and words else number or words
        name_area(drawn, pen, head, "zone_text", size_mm=2.2, weight=3.0, with_area=True)


@symbol("easement", 14, "purpose")
def draw_easements(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw easements as a sparse hatch with a dashed edge and whose right it is."""
    labels = dict(PURPOSES)
    for drawn in items:
        item = drawn.item
        hatch = Fill("easement", Hatch.LINES, 0.75, angle_deg=-45.0, gap_mm=2.6, line_mm=0.13)
        pen.areas(item.geometry, hatch if fill_of(item, "easement") else None, ident=item.id)
        pen.lines(
            item.geometry.boundary, stroke_of(item, "easement", 0.28, (2.2, 0.8)), item.id, level=1
        )
        cross_out(drawn, pen, "easement")
        purpose = labels.get(getattr(item, "purpose", ""), "")
        favour = getattr(item, "beneficiary", "")
        words = item.name or f"Easement · {purpose}"
        name_area(
            drawn, pen, f"{words}\nfor {favour}" if favour else words, "easement",
            size_mm=1.7, weight=4.0, italic=True,
        )  # fmt: skip


@symbol("parcel", 80)
def draw_parcels(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw parcels as a thin chain line with their title."""
    for drawn in items:
        item = drawn.item
        stroke = stroke_of(item, "parcel", 0.28, PARCEL_DASH, weigh=False)
        pen.lines(item.geometry.boundary, stroke, item.id)
        cross_out(drawn, pen, "parcel", item.geometry.boundary)
        title = getattr(item, "title_ref", "")
        name_area(drawn, pen, item.name or title, "ink_soft", size_mm=1.8, weight=2.0, italic=True)


@symbol("site_boundary", 82)
def draw_boundaries(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw the boundary as a heavy chain line with a ring on every corner."""
    for drawn in items:
        item = drawn.item
        pen.lines(item.geometry.boundary, Stroke("halo", 1.3, alpha=0.75), level=-1)
        stroke = stroke_of(item, "boundary", 0.6, BOUNDARY_DASH, weigh=False)
        pen.lines(item.geometry.boundary, stroke, item.id)
        cross_out(drawn, pen, "boundary", item.geometry.boundary)
        for path in paths_of(item.geometry):
            pen.stamps(
                "corner", path[:-1], 1.5, Stroke("boundary", 0.3), Fill("paper"),
                ids=(item.id,), level=2,
            )  # fmt: skip


MARK_SIZES = {"benchmark": 2.8, "control": 2.8, "peg": 1.7}


@symbol("survey_mark", 90, "mark")
def draw_marks(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw benchmarks as triangles, control points as crossed circles, pegs as squares."""
    for drawn in items:
        item = drawn.item
        mark = getattr(item, "mark", "peg")
        size = MARK_SIZES.get(mark, 2.0)
        pen.stamps(
            mark, shapely.get_coordinates(item.geometry), size,
            stroke_of(item, "survey", 0.3), Fill("paper"), ids=(item.id,),
        )  # fmt: skip
        cross_out(drawn, pen, "survey")
        pen.keep_off(item.geometry, 7.5, size / 2)
        height = getattr(item, "height_m", None)
        words = item.name
        if height is not None:
            words = f"{words}\n{show(height, 'm', pen.look.units)}".strip()
        name_point(drawn, pen, words, "survey", size / 2, weight=6.0)
