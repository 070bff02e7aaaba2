"""What is written on the map: notes and dimension lines."""

from __future__ import annotations

from canvas.site.fields import choice, number, text
from canvas.site.records import LineElement, PointElement, element

GROUP = "Writing"


@element("note", label="Note", plural="Notes", geometry="Point", group=GROUP)
class Note(PointElement):
    """Words at a place."""

    words: str = text("Words", default="", long=True)
    size_mm: float = number(
        "Letter height on paper", "mm", default=2.5, low=1, high=20,
        help="Up to 1:1000; smaller on smaller maps, down to 1.6 mm. Taller notes go first.",
    )  # fmt: skip


BASES = (("grid", "On the grid"), ("ground", "Along the ground"))


@element(
    "dimension", label="Dimension line", plural="Dimension lines",
    geometry="LineString", group=GROUP,
)  # fmt: skip
class Dimension(LineElement):
    """A length written beside a line from point to point."""

    offset_mm: float = number("Stands off on paper", "mm", default=3.0, low=-50, high=50)
    basis: str = choice("Length", BASES, default="grid")
