"""Buildings, fences, gates."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from canvas.base.quantity import show
from canvas.drawing.entries import Cap, Fill, Hatch, Stroke
from canvas.drawing.pen import Drawn, Pen, paths_of
from canvas.drawing.styles import fill_of, stroke_of
from canvas.drawing.symbols.marks import cross_out, marks_along, name_area, name_point
from canvas.drawing.symbols.registry import symbol
from canvas.site.elements.building import USES

PLAIN_USES = {key: label for key, label in USES if key != "other"}


@symbol("building", 50, "use")
def draw_buildings(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw buildings by their walls, with eaves, ridge and use."""
    for drawn in items:
        item = drawn.item
        wall = drawn.part("wall")
        stroke = stroke_of(item, "brick", 0.5)
        fill = fill_of(item, "brick_fill", "brick")
        if fill is not None and fill.hatch is not Hatch.SOLID:
            pen.areas(wall, Fill("brick_fill", alpha=0.45), ident=item.id, level=0)
        elif fill is None:
            pen.areas(wall, Fill("paper", alpha=0.6), ident=item.id, level=0)
        if item.use == "glasshouse" and fill is not None:  # type: ignore[attr-defined]
            fill = Fill("brick", Hatch.CROSS, 0.7, angle_deg=0.0, gap_mm=1.0, line_mm=0.1)
        pen.areas(wall, fill, stroke, item.id, level=2)
        eaves = item_part(drawn, "eaves")
        if eaves is not None and pen.mm(getattr(item, "eaves_m", 0.0)) > 0.35:
            pen.lines(eaves, Stroke("brick", 0.13, (1.0, 0.5), cap=Cap.FLAT), level=1)
        ridge = item_part(drawn, "ridge")
        if ridge is not None and item.status not in ("remove", "gone"):
            inside = ridge.intersection(wall)
            pen.lines(inside, Stroke("brick", 0.18, cap=Cap.FLAT), level=3)
        cross_out(drawn, pen, "brick", wall.boundary)
        pen.keep_off(wall, 7.5)
        use = PLAIN_USES.get(getattr(item, "use", ""), "")
        words = item.name or use
        floor = getattr(item, "floor_level_m", None)
        if floor is not None and pen.look.scale <= 1000:
            words += f"\nFL {show(floor, 'm', pen.look.units)}"
        name_area(drawn, pen, words, "brick", size_mm=1.9, weight=8.0, bold=True)


def item_part(drawn: Drawn, name: str) -> shapely.geometry.base.BaseGeometry | None:
    """Return a part when the study made it."""
    found = drawn.parts.get(name)
    return found if found is not None and not found.is_empty else None


#: Mark along the line by type: design, spacing, size [mm on paper].
FENCE_MARKS = {
    "stock": ("tick", 4.5, 1.6),
    "netting": ("cross", 4.5, 1.1),
    "deer": ("bar", 3.2, 1.9),
    "electric": ("wire", 5.0, 1.3),
    "post_rail": ("post", 4.0, 0.6),
}


@symbol("fence", 52, "fence")
def draw_fences(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw fences as a line with a mark by type; walls as a double line."""
    for drawn in items:
        item = drawn.item
        line = drawn.part("centre_line")
        kind = getattr(item, "fence", "stock")
        if kind == "wall":
            outer = stroke_of(item, "fence", 0.75)
            pen.lines(line, Stroke("fence", outer.width_mm + 0.35, outer.dash_mm, cap=Cap.FLAT),
                      item.id)  # fmt: skip
            pen.lines(line, Stroke("paper", 0.42, cap=Cap.FLAT), level=1)
        else:
            pen.lines(line, stroke_of(item, "fence", 0.28), item.id)
            design, every, size = FENCE_MARKS[kind]
            for path in paths_of(line):
                marks_along(pen, path, design, every, size, Stroke("fence", 0.2), turn_deg=90.0)
        cross_out(drawn, pen, "fence", line)


@symbol("gate", 54)
def draw_gates(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw gates at true width with their swing; small on paper, no smaller than can be seen."""
    for drawn in items:
        item = drawn.item
        leaf = drawn.part("leaf")
        bearing = getattr(item, "bearing_deg", None) or 0.0
        if leaf.geom_type == "LineString":
            (x0, y0), (x1, y1) = leaf.coords[0][:2], leaf.coords[-1][:2]
            bearing = float(np.degrees(np.arctan2(x1 - x0, y1 - y0)))
        width = max(getattr(item, "width_m", 3.6), pen.m(2.2))
        xy = shapely.get_coordinates(item.geometry)
        turn = bearing - 90.0
        under = Stroke("paper", 0.9, cap=Cap.FLAT)
        ends = np.radians(bearing)
        half = width / 2 * np.array([np.sin(ends), np.cos(ends)])
        pen.lines([np.array([xy[0] - half, xy[0] + half])], under, level=0)
        pen.stamps("gate", xy, width, stroke_of(item, "fence", 0.32), turn_deg=turn,
                   on_ground=True, ids=(item.id,), level=1)  # fmt: skip
        cross_out(drawn, pen, "fence")
        name_point(drawn, pen, item.name, "ink_soft", pen.mm(width) / 2, size_mm=1.6, weight=3.0)
