"""Water and waste water."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
import shapely.ops

from canvas.base.quantity import show
from canvas.drawing.entries import Cap, Fill, Hatch, Path, Stroke
from canvas.drawing.pen import Drawn, Pen, along, paths_of
from canvas.drawing.styles import crossed, stroke_of, tint_of
from canvas.drawing.symbols.marks import cross_out, name_area, name_line, name_point, strew
from canvas.drawing.symbols.registry import symbol
from canvas.site.records import Status

#: Line pattern by how long it flows.
FLOW_DASH = {"permanent": (), "seasonal": (4.5, 0.9), "storm": (3.0, 0.9, 0.4, 0.9, 0.4, 0.9)}
#: A stream swells downstream through these widths [mm].
TAPER_MM = (0.25, 0.35, 0.45, 0.55)


def _pieces(path: Path, count: int) -> list[Path]:
    """Return a path cut into lengths that are equal."""
    line = shapely.LineString(path)
    cuts = [shapely.ops.substring(line, k / count, (k + 1) / count, normalized=True)
            for k in range(count)]  # fmt: skip
    return [shapely.get_coordinates(cut) for cut in cuts if cut.geom_type == "LineString"]


@symbol("watercourse", 22, "flow")
def draw_watercourses(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw streams swelling downstream, dashed by flow, with arrows the way the water runs."""
    for drawn in items:
        item = drawn.item
        dash = FLOW_DASH[getattr(item, "flow", "permanent")]
        width = getattr(item, "width_m", 1.0)
        if pen.mm(width) >= 1.0 and not crossed(item):
            pen.areas(drawn.part("edge"), Fill("water_fill", alpha=0.8), ident=item.id, level=-1)
            pen.lines(drawn.part("edge"), Stroke("water", 0.13, alpha=0.9), level=0)
        for path in paths_of(item.geometry):
            for piece, weight in zip(_pieces(path, len(TAPER_MM)), TAPER_MM, strict=False):
                pen.lines([piece], stroke_of(item, "water", weight, dash, weigh=False), item.id,
                          level=1)  # fmt: skip
            arrows = along(path, pen.m(28.0), pen.m(14.0))
            pen.stamps("flow", arrows.xy, 1.7, Stroke("water", 0.3), turn_deg=arrows.bearing_deg,
                       level=2)  # fmt: skip
        cross_out(drawn, pen, "water")
        name_line(drawn, pen, item.name, "water", size_mm=1.9, weight=5.0, italic=True,
                  off_mm=pen.mm(width) / 2 + 1.7)  # fmt: skip


@symbol("water_body", 24, "body")
def draw_bodies(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw standing water with its shoreline followed inward; wetland with reeds."""
    for drawn in items:
        item = drawn.item
        shape = item.geometry
        wet = getattr(item, "body", "pond") == "wetland"
        fill = tint_of(item, "reeds" if wet else "water_fill", 0.7 if wet else 1.0)
        pen.areas(shape, fill, ident=item.id)
        dash = (1.8, 0.7) if wet else ()
        pen.lines(shape, stroke_of(item, "water", 0.45, dash), item.id, level=2)
        if fill is not None and not wet:
            for inset, weight in ((0.55, 0.18), (1.25, 0.14), (2.2, 0.1)):
                inner = shape.buffer(-pen.m(inset))
                pen.lines(inner, Stroke("water", weight, alpha=0.85), level=1)
        if fill is not None and wet:
            pen.stamps("reed", strew(pen, shape, 4.2), 1.5, Stroke("water", 0.16), level=1)
        if item.status == Status.PROPOSED and not wet:
            pen.areas(shape, Fill("water", Hatch.LINES, 0.55, 0.0, 1.6, 0.13), level=1)
        cross_out(drawn, pen, "water", shape.boundary)
        depth = getattr(item, "depth_m", None)
        words = item.name
        if depth is not None and words:
            words += f"\nto {show(depth, 'm', pen.look.units, 1)} deep"
        name_area(drawn, pen, words, "water", size_mm=1.9, weight=6.0, italic=True)


@symbol("well", 60, "use")
def draw_wells(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw wells as a ring in a ring about a dot."""
    for drawn in items:
        item = drawn.item
        pen.stamps("well", shapely.get_coordinates(item.geometry), 2.6,
                   stroke_of(item, "water", 0.32), Fill("paper"), ids=(item.id,))  # fmt: skip
        cross_out(drawn, pen, "water")
        pen.keep_off(item.geometry, 7.5, 1.3)
        name_point(drawn, pen, item.name or "Well", "water", 1.3, weight=6.0)


@symbol("tank", 58)
def draw_tanks(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw tanks at true size, no smaller than can be seen, with what they hold."""
    for drawn in items:
        item = drawn.item
        size = max(getattr(item, "diameter_m", 3.0), pen.m(1.6))
        fill = tint_of(item, "water_fill") or Fill("paper")
        pen.stamps("tank", shapely.get_coordinates(item.geometry), size,
                   stroke_of(item, "water", 0.4), fill, on_ground=True, ids=(item.id,))  # fmt: skip
        cross_out(drawn, pen, "water")
        pen.keep_off(item.geometry, 7.5, pen.mm(size) / 2)
        volume = getattr(item, "volume_l", None)
        words = f"{item.name or 'Tank'}\n{show(volume, 'L', pen.look.units)}"
        name_point(drawn, pen, words, "water", pen.mm(size) / 2, size_mm=1.7, weight=5.5)


@symbol("septic_tank", 59)
def draw_septic_tanks(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw septic tanks as a two-chamber box."""
    for drawn in items:
        item = drawn.item
        size = max(2.6, pen.m(2.6))
        pen.stamps("septic_tank", shapely.get_coordinates(item.geometry), size,
                   stroke_of(item, "septic", 0.35), Fill("paper"), on_ground=True,
                   ids=(item.id,))  # fmt: skip
        cross_out(drawn, pen, "septic")
        name_point(drawn, pen, item.name or "Septic tank", "septic", pen.mm(size) / 2,
                   size_mm=1.7, weight=5.0)  # fmt: skip


#: Lines that show how the field is laid out: hatch, gap [mm], weight [mm].
LAYOUT_HATCH = {
    "trench": (Hatch.LINES, 2.0, 0.35),
    "bed": (Hatch.LINES, 0.9, 0.13),
    "mound": (Hatch.CROSS, 2.0, 0.13),
    "drip": (Hatch.DOTS, 1.2, 0.3),
}


@symbol("septic_field", 40, "layout")
def draw_septic_fields(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw soakage fields with trenches along their longer side; a reserve without them."""
    for drawn in items:
        item = drawn.item
        shape = item.geometry
        reserve = bool(getattr(item, "reserve", False))
        pen.areas(shape, tint_of(item, "septic_fill", 0.8), ident=item.id)
        if not crossed(item) and not reserve:
            hatch, gap, weight = LAYOUT_HATCH[getattr(item, "layout", "trench")]
            fill = Fill("septic", hatch, 0.85, long_side_deg(shape), gap, weight)
            pen.areas(shape, fill, level=1)
        dash = (1.8, 0.9) if reserve else ()
        stroke = stroke_of(item, "septic", 0.4, dash)
        pen.areas(shape, None, Stroke(stroke.role, stroke.width_mm, stroke.dash_mm, cap=Cap.FLAT),
                  item.id, level=2)  # fmt: skip
        cross_out(drawn, pen, "septic", shape.boundary)
        words = item.name or ("Septic reserve" if reserve else "Septic field")
        pen.keep_off(shape, 4.9)
        name_area(drawn, pen, words, "septic", size_mm=1.7, weight=5.0)


def long_side_deg(shape: shapely.geometry.base.BaseGeometry) -> float:
    """Return the direction of an area's longer side, degrees counter-clockwise from east."""
    corners = shapely.get_coordinates(shape.minimum_rotated_rectangle)
    sides = np.diff(corners, axis=0)
    long = sides[int(np.argmax(np.hypot(sides[:, 0], sides[:, 1])))]
    return float(np.degrees(np.arctan2(long[1], long[0])))
