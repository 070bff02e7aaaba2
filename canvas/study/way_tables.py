"""Schedule of what lies beside and across tracks: culverts, fords, bars, turning heads, bays."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from canvas.base.quantity import show
from canvas.site.elements.crossings import Culvert, Ford, PassingBay, TurningHead
from canvas.site.records import Element, kind_of
from canvas.study.book import Book, Column, Line, Table


def crossing_table(book: Book, shown: Mapping[str, Sequence[Element]]) -> Table | None:
    """Return each with its size, what it passes and its design flow; water bars by their number."""
    lines = [
        Line((_called(book, item), _size(book, item), *_flows(book, item)), ident=item.id)
        for key in ("culvert", "ford", "turning_head", "passing_bay")
        for item in shown.get(key, ())
    ]
    bars = shown.get("water_bar", ())
    if bars:
        named = "Water bar" if len(bars) == 1 else "Water bars"
        lines.append(Line((f"{named} × {len(bars)}", _longest(book, bars), "–", "–")))
    columns = (
        Column("Beside and across tracks", 1, wraps=True), Column("Size", 0, True),
        Column("Passes", 0, True), Column("Design flow", 0, True),
    )  # fmt: skip
    return Table("Crossings and turning places", columns, tuple(lines)) if lines else None


def _called(book: Book, item: Element) -> str:
    return f"{item.name or kind_of(item).label} · {book.state(item)}"


def _size(book: Book, item: Element) -> str:
    units = book.units
    if isinstance(item, Culvert):
        bore = show(item.bore_m, "m", units)
        return f"{item.barrels} × {bore}, {book.shown(item, 'pipe_m', 1)}"
    if isinstance(item, Ford):
        return f"{show(item.floor_m, 'm', units)} × {show(item.width_m, 'm', units)}"
    if isinstance(item, TurningHead) and item.shape == "hammerhead":
        return f"{show(item.arm_m, 'm', units)} across"
    if isinstance(item, TurningHead):
        return f"R {show(item.radius_m, 'm', units)}"
    assert isinstance(item, PassingBay)
    return f"{show(item.length_m, 'm', units)} × {show(item.width_m, 'm', units)}"


def _flows(book: Book, item: Element) -> tuple[str, str]:
    if not isinstance(item, Culvert | Ford):
        return "–", "–"
    return book.shown(item, "capacity_m3s"), book.shown(item, "peak_m3s")


def _longest(book: Book, bars: Sequence[Element]) -> str:
    longest = max(bar.geometry.length for bar in bars)
    return f"to {show(longest, 'm', book.units, 1)} long"
