"""Land cover and soil, as they bear on runoff."""

from __future__ import annotations

from collections.abc import Sequence

from canvas.drawing.entries import Cap, Stroke
from canvas.drawing.pen import Drawn, Pen
from canvas.drawing.styles import tint_of
from canvas.drawing.symbols.marks import cross_out, name_area
from canvas.drawing.symbols.registry import symbol
from canvas.site.storms import COVERS

#: Tint of each cover, after the vegetation it is nearest to.
_TINTS = {
    "pasture": "grass", "meadow": "grass", "lawn": "grass", "brush": "scrub", "woods": "woodland",
    "orchard": "woodland", "bare": "bare", "row_crop": "crop", "row_crop_contour": "crop",
    "row_crop_terraced": "crop", "small_grain_contour": "crop", "water": "water_fill",
    "paved": "way_sealed", "paved_road": "way_sealed", "gravel_road": "way_fill",
    "dirt_road": "way_fill", "dry_herbs": "scrub", "dry_oak": "scrub", "dry_juniper": "scrub",
    "dry_sage": "scrub", "desert_shrub": "bare",
}  # fmt: skip


@symbol("ground_cover", 8, "cover")
def draw_covers(items: Sequence[Drawn], pen: Pen) -> None:
    """Draw ground covers as a faint tint with a fine dashed edge, cover and soil group named."""
    labels = dict(COVERS)
    for drawn in items:
        item = drawn.item
        cover = getattr(item, "cover", "pasture")
        fill = tint_of(item, _TINTS.get(cover, "bare"), 0.35)
        pen.areas(item.geometry, fill, ident=item.id)
        edge = Stroke("zone_line", 0.18, (1.6, 0.7), cap=Cap.FLAT)
        pen.lines(item.geometry.boundary, edge, item.id, level=1)
        cross_out(drawn, pen, "zone_line")
        short = labels.get(cover, cover).split(",")[0].split(":")[0]
        words = f"{item.name or short} · soil {getattr(item, 'group', 'C')}"
        name_area(drawn, pen, words, "zone_text", size_mm=1.6, weight=1.5, italic=True)
