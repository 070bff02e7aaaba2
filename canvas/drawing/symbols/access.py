"""Ways: roads, tracks, paths."""

from __future__ import annotations

from collections.abc import Sequence

from canvas.base.quantity import show
from canvas.drawing.entries import Cap, Fill, Hatch, Stroke
from canvas.drawing.pen import Drawn, Pen, along, paths_of
from canvas.drawing.styles import crossed, stroke_of, tint_of
from canvas.drawing.symbols.marks import cross_out, name_line
from canvas.drawing.symbols.pads import draw_batters
from canvas.drawing.symbols.registry import symbol
from canvas.drawing.typeface import width_mm
from canvas.site.records import Element, Status

FILLS = {"sealed": "way_sealed", "gravel": "way_fill", "earth": "way_fill", "grass": "grass"}


def _fill(item: Element) -> Fill | None:
    return tint_of(item, FILLS.get(getattr(item, "surface", "gravel"), "way_fill"))


def _surface_marks(drawn: Drawn, pen: Pen) -> None:
    """Tell surfaces apart without colour: dots for earth and gravel, none for sealed."""
    surface = getattr(drawn.item, "surface", "")
    if crossed(drawn.item) or surface not in ("gravel", "earth", "grass"):
        return
    gap = {"gravel": 1.3, "earth": 2.2, "grass": 1.7}[surface]
    kind = Hatch.LINES if surface == "grass" else Hatch.DOTS
    pen.areas(
        drawn.part("edge"),
        Fill("way_edge", kind, 0.45, angle_deg=90.0, gap_mm=gap, line_mm=0.16),
        level=4,
    )


def _band(drawn: Drawn, pen: Pen, edge_mm: float) -> None:
    """Draw a way as two edges with its surface between; fills lie over edges at junctions."""
    item = drawn.item
    stroke = stroke_of(item, "way_edge", edge_mm)
    fill = _fill(item)
    # Doubled, since a fill covers the inner half.
    width = stroke.width_mm * (2 if fill else 1)
    outer = Stroke(stroke.role, width, stroke.dash_mm, stroke.alpha, stroke.cap)
    pen.lines(drawn.part("edge"), outer, item.id, level=1)
    pen.areas(drawn.part("edge"), fill, ident=item.id, level=3)
    cross_out(drawn, pen, "way_edge", drawn.part("centre_line"))


@symbol("public_road", 30, "surface")
def draw_roads(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw public roads as a heavy double line with their name inside."""
    for drawn in items:
        item = drawn.item
        edge = drawn.part("edge")
        status = Status(item.status)
        heavy = 0.45 if status is not Status.PROPOSED else 0.6
        dash = (1.6, 1.0) if status in (Status.REMOVE, Status.GONE) else ()
        pen.lines(edge, Stroke("way_edge", heavy * 2, dash, cap=Cap.FLAT), item.id, level=0)
        pen.areas(edge, _fill(item), ident=item.id, level=3)
        _surface_marks(drawn, pen)
        cross_out(drawn, pen, "way_edge", drawn.part("centre_line"))
        name = item.name or "Public road"
        inside = pen.mm(getattr(item, "width_m", 6.0)) > 3.2
        name_line(
            drawn, pen, name, "way_text", size_mm=2.0, weight=6.0,
            off_mm=0.0 if inside else pen.mm(getattr(item, "width_m", 6.0)) / 2 + 1.8,
        )  # fmt: skip


@symbol("track", 32, "surface")
def draw_tracks(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw tracks as two edges with a fine dash in the middle and their steepest stretch.

    Shaped ones show their batters, and where cross-drains are due as short ticks beside them.
    """
    for drawn in items:
        item = drawn.item
        draw_batters(drawn, pen)
        _band(drawn, pen, 0.3)
        _surface_marks(drawn, pen)
        width = pen.mm(getattr(item, "width_m", 3.5))
        if width > 1.6 and not crossed(item):
            centre = Stroke("way_edge", 0.13, (2.2, 1.4), cap=Cap.FLAT)
            pen.lines(drawn.part("centre_line"), centre, item.id, level=5)
        due = drawn.parts.get("drains")
        if due is not None and width > 0.8 and not crossed(item):
            pen.lines(due, Stroke("water", 0.18, (0.6, 0.4), cap=Cap.FLAT), level=6)
        grade = drawn.fact("sustained_grade")
        words = item.name
        if grade is not None and isinstance(grade.value, float) and pen.look.scale <= 2500:
            steep = f"to {show(grade.value, '%', pen.look.units, 0)}"
            words = f"{words} · {steep}" if words else ""
        off = width / 2 + 1.7
        name_line(drawn, pen, words, "way_text", size_mm=1.7, weight=4.5, off_mm=off)


@symbol("path", 28, "surface")
def draw_paths(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw paths at true width where that can be seen, else as a row of short dashes."""
    for drawn in items:
        item = drawn.item
        width = pen.mm(getattr(item, "width_m", 1.2))
        if width >= 1.0:
            _band(drawn, pen, 0.18)
            _surface_marks(drawn, pen)
        else:
            stroke = stroke_of(item, "way_edge", 0.45, (1.2, 0.7), weigh=False)
            pen.lines(drawn.part("centre_line"), stroke, item.id, level=1)
            cross_out(drawn, pen, "way_edge")
        if width_mm(item.name, 1.6) < pen.mm(item.geometry.length):
            name_line(
                drawn, pen, item.name, "way_text", size_mm=1.6, weight=2.5, off_mm=width / 2 + 1.4
            )
        _steps(drawn, pen)


def _steps(drawn: Drawn, pen: Pen) -> None:
    """Set short bars across a path steeper than a comfortable ramp would be (1 in 5)."""
    grade = drawn.fact("max_grade")
    if grade is None or not isinstance(grade.value, float) or grade.value < 0.2:
        return
    width = max(pen.mm(getattr(drawn.item, "width_m", 1.2)), 1.0)
    for path in paths_of(drawn.item.geometry):
        places = along(path, pen.m(6.0))
        pen.stamps(
            "bar", places.xy, width, Stroke("way_edge", 0.18), turn_deg=places.bearing_deg + 90.0,
            level=5,
        )  # fmt: skip
