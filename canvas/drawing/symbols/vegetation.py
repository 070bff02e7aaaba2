"""Patches of vegetation, hedges, beds."""

from __future__ import annotations

from collections.abc import Sequence

import shapely

from canvas.drawing.entries import Cap, Fill, Hatch, Stroke
from canvas.drawing.pen import Drawn, Pen
from canvas.drawing.styles import crossed, stroke_of, tint_of
from canvas.drawing.symbols.marks import cross_out, name_area, name_line, strew
from canvas.drawing.symbols.registry import symbol
from canvas.drawing.symbols.water import long_side_deg
from canvas.site.elements.vegetation import COVERS
from canvas.study.codes import short_code

#: Texture by cover: design, spacing, size, weight [mm on paper].
TEXTURES = {
    "grass": ("tuft", 6.0, 1.3, 0.13),
    "scrub": ("bush", 4.2, 1.9, 0.16),
    "woodland": ("wood", 5.0, 2.8, 0.18),
    "forest": ("wood", 3.5, 3.0, 0.2),
    "reeds": ("reed", 4.5, 1.5, 0.16),
    "bare": ("pebble", 4.5, 0.9, 0.15),
}


@symbol("vegetation", 12, "cover")
def draw_vegetation(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw patches by stature: a tint and strewn marks, tufts to crowns."""
    labels = dict(COVERS)
    for drawn in items:
        item = drawn.item
        cover = getattr(item, "cover", "grass")
        shape = item.geometry
        pen.areas(shape, tint_of(item, cover, 0.7), ident=item.id)
        if cover in TEXTURES and not crossed(item):
            design, gap, size, weight = TEXTURES[cover]
            solid = Fill(cover) if design == "wood" else None
            ink = "way_edge" if cover == "bare" else "leaf"
            # Marks reach over the edge by less than their half, as a pencil would.
            inner = shape.buffer(-pen.m(size * 0.35))
            pen.stamps(design, strew(pen, inner, gap), size, Stroke(ink, weight, alpha=0.75),
                       solid, level=1)  # fmt: skip
        elif cover == "crop" and not crossed(item):
            rows = Fill("leaf", Hatch.LINES, 0.6, long_side_deg(shape), 1.8, 0.13)
            pen.areas(shape, rows, level=1)
        pen.lines(shape, stroke_of(item, "leaf", 0.3, (0.9, 0.9)), item.id, level=2)
        cross_out(drawn, pen, "leaf", shape.boundary)
        name_area(drawn, pen, item.name or labels[cover], "leaf", size_mm=1.7, weight=1.5,
                  italic=True)  # fmt: skip


@symbol("hedge", 44, "purpose")
def draw_hedges(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw hedges by the strip they fill, with their plants; a double edge for windbreaks."""
    for drawn in items:
        item = drawn.item
        strip = drawn.part("edge", "crown")
        windbreak = getattr(item, "purpose", "hedge") == "windbreak"
        fill = tint_of(item, "tree_high" if windbreak else "tree_mid", 0.8)
        if strip.area > 0:
            pen.areas(strip, fill, stroke_of(item, "hedge", 0.32), item.id)
        else:
            pen.lines(strip, stroke_of(item, "hedge", 0.8), item.id)
        plants = shapely.get_coordinates(drawn.part("plants"))
        gap = pen.mm(getattr(item, "spacing_m", 0.5))
        if gap > 0.9 and not crossed(item):
            pen.stamps("dot", plants, min(0.5, gap / 3), Stroke("hedge", 0.1), level=1)
        elif not crossed(item):
            # Too close to draw each: a wavering middle says leaves.
            pen.lines(drawn.part("centre_line"), Stroke("hedge", 0.35, (0.35, 0.75)), level=1)
        if windbreak:
            pen.lines(drawn.part("centre_line"), Stroke("hedge", 0.18, (2.0, 0.8), cap=Cap.FLAT),
                      level=2)  # fmt: skip
        cross_out(drawn, pen, "hedge")
        code = short_code(getattr(item, "species", ""))
        words = item.name or code
        name_line(drawn, pen, words, "leaf", size_mm=1.7, weight=3.0,
                  off_mm=pen.mm(getattr(item, "width_m", 1.0)) / 2 + 1.5)  # fmt: skip


#: Rows, dots or a cross hatch by what the bed grows.
BED_HATCH = {
    "vegetables": (Hatch.LINES, 1.0, 0.16),
    "herbs": (Hatch.DOTS, 1.0, 0.25),
    "flowers": (Hatch.DOTS, 1.6, 0.45),
    "berries": (Hatch.LINES, 2.0, 0.35),
    "nursery": (Hatch.CROSS, 1.3, 0.1),
    "compost": (Hatch.CROSS, 0.8, 0.13),
}


@symbol("garden_bed", 36, "use")
def draw_beds(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw beds with rows along them; raised ones with a double edge."""
    for drawn in items:
        item = drawn.item
        shape = drawn.part("bed")
        pen.areas(shape, tint_of(item, "bed_fill"), ident=item.id)
        if not crossed(item):
            hatch, gap, weight = BED_HATCH[getattr(item, "use", "vegetables")]
            pen.areas(shape, Fill("bed", hatch, 0.8, long_side_deg(shape), gap, weight), level=1)
        pen.areas(shape, None, stroke_of(item, "bed", 0.35), item.id, level=2)
        if getattr(item, "raised_m", 0.0) > 0:
            pen.lines(shape.buffer(-pen.m(0.5)), Stroke("bed", 0.13), level=2)
        cross_out(drawn, pen, "bed", shape.boundary)
        pen.keep_off(shape, 3.4)
        name_area(drawn, pen, item.name, "bed_text", size_mm=1.7, weight=3.5)
