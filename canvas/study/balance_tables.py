"""The balance of earth as tables and as JSON: page, sheet and command line print the same."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from canvas.base.quantity import area_unit, show
from canvas.ground.materials import loads
from canvas.site.records import Element, kind_of
from canvas.study.balance import PhaseBalance, SiteBalance, balance
from canvas.study.book import Book, Column, Line, Table
from canvas.study.earth.moved import earth_of
from canvas.study.earth.registry import shapings

if TYPE_CHECKING:
    from canvas.study.study import Study

VERSION = 1
#: How the haul is taken, beside every figure of it.
HAUL = "straight from the middle of what is dug to the middle of what is filled"
NOTES = (
    "Dug: in the bank. Fill: placed and compacted. Away and brought: loose, as carried.",
    f"Haul is bank volume times distance, {HAUL}.",
    "One kind of earth never stands in for another. Volumes follow the survey’s accuracy.",
)


#: A load of a lorry, loose; machine work is told as loads and haul, not as hours or money.
LOAD_M3 = 7.0


def carriage(book: Book, row: PhaseBalance) -> str:
    """Return what crosses the site's edge, in a sentence: volumes as carried, and loads."""
    away = sum(line.away_loose_m3 for line in row.lines)
    brought = sum(line.brought_loose_m3 for line in row.lines)
    return (
        f"{row.name}: {_loads(book, away)} to take away and "
        f"{_loads(book, brought)} to bring in, loose."
    )


def _loads(book: Book, loose_m3: float) -> str:
    told = show(loose_m3, "m3", book.units, 0)
    count = loads(loose_m3, LOAD_M3) if loose_m3 >= 0.5 else 0
    if not count:
        return told
    return (
        f"{told} ({count} load{'s' if count > 1 else ''} of {show(LOAD_M3, 'm3', book.units, 0)})"
    )


def earth_table(book: Book, row: PhaseBalance) -> Table:
    """Return one phase's balance, or that of all, by kind of earth."""
    lines = [
        Line(
            (
                line.label,
                _m3(book, line.cut_m3),
                _m3(book, line.fill_m3),
                _m3(book, line.onto_heaps_m3 - line.from_heaps_m3),
                _m3(book, line.from_pits_m3),
                _m3(book, line.away_loose_m3),
                _m3(book, line.brought_loose_m3),
            )
        )
        for line in row.lines
    ]
    if row.laid_m3:
        laid = ("Aggregate, slabs, linings", "–", _m3(book, row.laid_m3), "–", "–", "–", "–")
        lines.append(Line(laid))
    columns = (
        Column("Earth", 1, wraps=True), Column("Dug", 0, True), Column("Fill", 0, True),
        Column("To heaps", 0, True), Column("Borrowed", 0, True), Column("Away", 0, True),
        Column("Brought", 0, True),
    )  # fmt: skip
    return Table(f"Earth balance: {row.name}", columns, tuple(lines))


def _m3(book: Book, value: float) -> str:
    return show(value, "m3", book.units, 0) if abs(value) >= 0.05 else "–"


def phase_table(book: Book, found: SiteBalance) -> Table:
    """Return what each phase leaves bare and hauls, and when it starts."""
    lines = [
        Line(
            (
                row.name,
                row.starts or "–",
                show(row.bare_m2, area_unit(row.bare_m2), book.units),
                _haul(book, row),
                show(row.mean_haul_m, "m", book.units, 0),
            ),
            strong=row is found.whole,
        )
        for row in (*found.phases, found.whole)
    ]
    columns = (
        Column("Phase", 1, wraps=True), Column("Starts", 0), Column("Left bare", 0, True),
        Column("Hauled", 0, True), Column("Mean haul", 0, True),
    )  # fmt: skip
    return Table("Bare ground and haul", columns, tuple(lines))


def _haul(book: Book, row: PhaseBalance) -> str:
    return show(sum(move.bank_m3 for move in row.moves), "m3", book.units, 0)


def store_table(book: Book, found: SiteBalance) -> Table | None:
    """Return heaps and borrow pits: what they hold or give, and what of it is used."""
    plan = book.study.plan
    rows = [(heap.ident, heap.holds_m3, heap.used_m3, "loose") for heap in found.heaps] + [
        (pit.ident, pit.gives_m3, pit.used_m3, "in the bank") for pit in found.pits
    ]
    lines = []
    for ident, room, used, how in rows:
        item = plan.element(ident)
        lines.append(
            Line((item.name or _called(item), how, _m3(book, room), _m3(book, used)), ident=ident)
        )
    columns = (
        Column("Heap or pit", 1, wraps=True), Column("Measured", 0), Column("Holds or gives", 0,
        True), Column("Used", 0, True),
    )  # fmt: skip
    return Table("Heaps and borrow pits", columns, tuple(lines)) if lines else None


def _called(item: Any) -> str:
    kind = kind_of(item)
    if kind.key == "heap":
        return f"{kind.label} of {kind.spec('what').label_of(item.what).lower()}"
    return kind.label


def moves_table(book: Book, row: PhaseBalance, most: int = 12) -> Table | None:
    """Return the largest carryings of earth: what, from where, to where, how far."""
    plan = book.study.plan
    lines = []
    for move in sorted(row.moves, key=lambda m: -m.bank_m3 * m.distance_m)[:most]:
        if move.bank_m3 < 0.5:
            continue
        source, target = plan.element(move.from_ident), plan.element(move.to_ident)
        to = "within it" if source is target else target.name or _called(target)
        line = row.line(move.kind)
        label = line.label if line is not None else move.kind
        lines.append(
            Line((label, source.name or _called(source), to, _m3(book, move.bank_m3),
                  show(move.distance_m, "m", book.units, 0)))
        )  # fmt: skip
    columns = (
        Column("Earth", 0.7), Column("From", 1, wraps=True), Column("To", 1, wraps=True),
        Column("Bank", 0, True), Column("Distance", 0, True),
    )  # fmt: skip
    return Table("Carried on the site", columns, tuple(lines)) if lines else None


def balance_table(book: Book, shown: Mapping[str, Sequence[Element]]) -> Table | None:
    """Return the whole site's balance, where earthworks are shown."""
    if not any(shown.get(key) for key in shapings()):
        return None
    found = balance(book.study)
    return earth_table(book, found.whole) if found.whole.lines else None


#: Facts that tell how high a work stands, and the word before each.
LEVELS = (
    ("level_m", ""), ("crest_m", "crest"), ("lip_m", "lip"), ("full_m", "full"),
    ("notch_level_m", "notch"), ("bed_level_m", "floor"),
)  # fmt: skip


def _level(book: Book, item: Element) -> str:
    """Return the level a work is set out to, with what stands at it."""
    for key, word in LEVELS:
        if book.value(item, key) is not None:
            return f"{word} {book.shown(item, key)}".strip()
    return "–"


def works_table(book: Book, shown: Mapping[str, Sequence[Element]]) -> Table | None:
    """Return every earthwork with its level, and its earth and topsoil as the balance has them."""
    lines = []
    for key in shapings():
        for item in shown.get(key, ()):
            work = book.study.work(item.id)
            if key == "heap" or work is None or not work.patches:
                continue
            earth = earth_of(item, work)
            values = (earth.cut_m3, earth.fill_m3, earth.topsoil_off_m3)
            if not any(values):
                continue
            label = f"{item.name or kind_of(item).label} · {book.state(item)}"
            lines.append(Line((label, _level(book, item), *(_m3(book, v) for v in values))))
    columns = (
        Column("Earthwork", 1, wraps=True), Column("Level", 0, True), Column("Cut", 0, True),
        Column("Fill", 0, True), Column("Topsoil off", 0, True),
    )  # fmt: skip
    return Table("Earthworks: indicative, level on site", columns, tuple(lines)) if lines else None


def tables(study: Study, book: Book) -> list[Table]:
    """Return every table of the balance: all phases, each phase, haul, heaps, carryings."""
    found = balance(study)
    if not found.whole.works:
        return []
    made = [earth_table(book, found.whole)]
    if len(found.phases) > 1:
        made += [earth_table(book, row) for row in found.phases if row.lines]
    made.append(phase_table(book, found))
    for more in (store_table(book, found), moves_table(book, found.whole)):
        if more is not None:
            made.append(more)
    return made


def balance_json(study: Study) -> dict[str, Any]:
    """Return the balance for other programs; SI, volumes as their names say."""
    found = balance(study)
    return {
        "format": "hillwright earth balance",
        "version": VERSION,
        "site": study.plan.site.name,
        "haul_is_taken": HAUL,
        "phases": [_phase_json(row) for row in found.phases],
        "whole": _phase_json(found.whole),
        "heaps": [
            {"id": h.ident, "holds_loose_m3": h.holds_m3, "used_loose_m3": h.used_m3}
            for h in found.heaps
        ],
        "borrow_pits": [
            {"id": p.ident, "gives_bank_m3": p.gives_m3, "used_bank_m3": p.used_m3}
            for p in found.pits
        ],
        "left_out": [{"id": ident, "why": why} for ident, why in found.left_out],
    }


def _phase_json(row: PhaseBalance) -> dict[str, Any]:
    return {
        "id": row.ident,
        "name": row.name,
        "starts": row.starts,
        "works": row.works,
        "earth": [
            {
                "key": line.key,
                "label": line.label,
                "cut_bank_m3": line.cut_m3,
                "cut_loose_m3": line.cut_loose_m3,
                "cut_compacted_m3": line.cut_compacted_m3,
                "fill_compacted_m3": line.fill_m3,
                "fill_bank_m3": line.fill_bank_m3,
                "onto_heaps_bank_m3": line.onto_heaps_m3,
                "from_heaps_bank_m3": line.from_heaps_m3,
                "from_pits_bank_m3": line.from_pits_m3,
                "taken_away_bank_m3": line.taken_away_m3,
                "taken_away_loose_m3": line.away_loose_m3,
                "brought_in_bank_m3": line.brought_in_m3,
                "brought_in_loose_m3": line.brought_loose_m3,
            }
            for line in row.lines
        ],
        "laid_m3": row.laid_m3,
        "bare_m2": row.bare_m2,
        "haul_m4": row.haul_m4,
        "mean_haul_m": row.mean_haul_m,
        "moves": [
            {
                "kind": move.kind,
                "from": move.from_ident,
                "to": move.to_ident,
                "bank_m3": move.bank_m3,
                "distance_m": move.distance_m,
            }
            for move in row.moves
        ],
    }
