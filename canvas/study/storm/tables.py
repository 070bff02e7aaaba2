"""The storm as schedules: the stores, what fills them, what they spill and where to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from canvas.base.quantity import show
from canvas.site.records import Element
from canvas.study.book import Book, Column, Line, Table
from canvas.study.storm.chain import MOST_MM, Chain
from canvas.study.storm.chain_facts import CHAIN_KINDS
from canvas.study.storm.told import goes_to, main_spill

Shown = Mapping[str, Sequence[Element]]


def storm_table(book: Book, shown: Shown) -> Table | None:
    """Return the stores in the design storm; None without works that store, or without rain."""
    if not any(shown.get(key) for key in CHAIN_KINDS):
        return None
    chain = book.study.chain()
    if chain.run is None:
        return None
    idents = {item.id for key in CHAIN_KINDS for item in shown.get(key, ())}
    lines = [
        _line(book, chain, ident)
        for ident in chain.order
        if ident in idents or chain.network.nodes[ident].key == "hollow"
    ]
    if not lines:
        return None
    lines += _sums(book, chain)
    columns = (
        Column("Store", 1, wraps=True), Column("Fills at", 0, True), Column("Spills", 0, True),
        Column("Peak", 0, True), Column("Passes", 0, True), Column("To", 0.9, wraps=True),
    )  # fmt: skip
    rain = chain.rain
    title = f"Storm of {show(rain.depth_mm, 'mm', book.units)} in {rain.hours:g} h, estimates"
    return Table(title, columns, tuple(lines))


def _line(book: Book, chain: Chain, ident: str) -> Line:
    node, found = chain.network.nodes[ident], chain.routed(ident)
    spill = main_spill(chain, ident)
    least = "≥ " if chain.network.own[ident].at_least else ""
    spilt = found.spilled_m3 if found is not None else 0.0
    over = any(s.over for s in chain.spills(ident))
    return Line(
        (
            node.label + (" · over" if over else ""),
            _fills(book, chain, ident),
            least + show(spilt, "m3", book.units, 0),
            least + show(spill.passed.peak_m3s if spill is not None else 0.0, "m3/s", book.units),
            show(spill.path.way.capacity_m3s if spill is not None else None, "m3/s", book.units),
            goes_to(chain, spill) if spill is not None else "–",
        ),
        role="warning" if over else "ink",
        ident=ident,
    )


def _fills(book: Book, chain: Chain, ident: str) -> str:
    depth = chain.fills_mm.get(ident)
    if chain.network.nodes[ident].storage is None:
        return "–"
    return f"> {MOST_MM:.0f} mm" if depth is None else show(depth, "mm", book.units)


def _sums(book: Book, chain: Chain) -> list[Line]:
    """Return what leaves the land, and how well the books close."""
    assert chain.run is not None
    away = show(chain.run.away_m3, "m3", book.units, 0)
    lack = show(chain.run.error, "%", book.units, 4)
    return [
        Line(("Leaves the land", "", away, "", "", ""), strong=True),
        Line(("Books lack", "", lack, "", "", "")),
    ]
