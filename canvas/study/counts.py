"""How many there are of each kind, what each phase builds, and every figure of one kind."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from canvas.base.fact import Fact
from canvas.base.quantity import UnitSystem
from canvas.site.records import Element, element_kinds, kind, kind_of
from canvas.study.book import Column, Line, Table

if TYPE_CHECKING:
    from canvas.study.study import Study

#: Facts that place an element rather than measure it: not worth a column.
PLACING = frozenset({"east_m", "north_m", "lon_deg", "lat_deg"})
#: Most columns of figures in the schedule of one kind.
MOST_FIGURES = 7


@dataclass(frozen=True, slots=True)
class Counts:
    """How many there are of one kind: the parts add up to `all`."""

    key: str
    label: str
    #: Existing and to be kept, or built since.
    there: int
    #: Proposed, up to the phase looked at.
    proposed: int
    #: Proposed for a later phase than the one looked at.
    later: int
    #: There now and to be removed.
    to_go: int
    #: Removed since.
    gone: int

    @property
    def all(self) -> int:
        """Everything recorded, whatever its status."""
        return self.there + self.proposed + self.later + self.to_go + self.gone

    def words(self) -> str:
        """Return the parts in words, those there are: "2 there now, 1 to be removed"."""
        parts = (
            (self.there, "there now"), (self.proposed, "proposed"), (self.later, "in later phases"),
            (self.to_go, "to be removed"), (self.gone, "gone"),
        )  # fmt: skip
        return ", ".join(f"{number} {words}" for number, words in parts if number)


def counts(study: Study) -> tuple[Counts, ...]:
    """Return the counts of every kind there is: the one place things are counted."""
    found = []
    for key, each in element_kinds().items():
        items = [item for item in study.plan.of_kind(key) if isinstance(item, Element)]
        if not items:
            continue
        state = Counter(
            "later" if item.status == "proposed" and not study.stands(item) else item.status
            for item in items
        )
        there = state["existing"] + state["built"]
        found.append(
            Counts(key, each.plural, there, state["proposed"], state["later"], state["remove"],
                   state["gone"])
        )  # fmt: skip
    return tuple(found)


def counts_table(study: Study) -> Table:
    """Return how many there are of each kind, by status."""
    found = counts(study)
    columns = [("All", [c.all for c in found]), ("There now", [c.there for c in found]),
               ("Proposed", [c.proposed for c in found])]  # fmt: skip
    if any(c.later for c in found):
        columns.append(("Later", [c.later for c in found]))
    columns.append(("To go", [c.to_go for c in found]))
    if any(c.gone for c in found):
        columns.append(("Gone", [c.gone for c in found]))
    lines = tuple(
        Line((each.label, *(str(numbers[i]) for _, numbers in columns)))
        for i, each in enumerate(found)
    )
    heads = (Column("Kind"), *(Column(head, 0, True) for head, _ in columns))
    return Table("Everything, counted", heads, lines)


def phase_table(study: Study, hidden: Iterable[str] = ()) -> Table | None:
    """Return the phases in their order with what each builds; None where there are none.

    `hidden` are identities of phases kept off the map.
    """
    phases = study.plan.phases()
    if not phases:
        return None
    known = {phase.id for phase in phases}
    built: dict[str, Counter[str]] = {}
    for item in study.plan.elements():
        mine = item.phase if item.phase in known else ""
        if item.phase or item.status == "proposed":
            built.setdefault(mine, Counter())[kind_of(item).key] += 1
    off = set(hidden) | study.later
    lines = []
    for number, phase in enumerate(phases, 1):
        name = phase.name or f"Phase {number}"
        words = f"{name} (not on this sheet)" if phase.id in off else name
        lines.append(Line((str(number), words, phase.starts or "–", _what(built.get(phase.id)))))
    if "" in built:
        lines.append(Line(("–", "In no phase", "–", _what(built[""]))))
    columns = (
        Column("No.", 0.22), Column("Phase", 0.85, wraps=True), Column("Starts", 0.55),
        Column("Builds", 1.0, wraps=True),
    )  # fmt: skip
    return Table("Phases, in the order they are built", columns, tuple(lines))


def _what(found: Counter[str] | None) -> str:
    """Return counts of kinds in words: "1 track, 12 trees"."""
    if not found:
        return "nothing yet"
    words = []
    for key in element_kinds():
        if found[key]:
            label = kind(key).label if found[key] == 1 else kind(key).plural
            words.append(f"{found[key]} {label[0].lower()}{label[1:]}")
    return ", ".join(words)


def kind_table(study: Study, key: str, units: UnitSystem, most: int) -> Table:
    """Return the schedule of one kind, a line for each element, at most `most` of them."""
    items = [i for i in study.plan.of_kind(key) if isinstance(i, Element)][:most]
    facts = {item.id: study.facts(item.id) for item in items}
    figures: dict[str, Fact] = {}
    for some in facts.values():
        for fact in some:
            if fact.key not in PLACING:
                figures.setdefault(fact.key, fact)
    keys = list(figures)[:MOST_FIGURES]
    phases = {p.id: p.name for p in study.plan.phases()}
    status = kind(key).spec("status")
    lines = []
    for item in items:
        mine = {fact.key: fact for fact in facts[item.id]}
        cells = [mine[k].shown(units) if k in mine else "–" for k in keys]
        tail = (status.label_of(item.status), phases.get(item.phase, "–"))
        lines.append(Line((item.name or kind_of(item).label, *cells, *tail), ident=item.id))
    heads = [f"{figures[k].label} {figures[k].basis}".strip() for k in keys]
    names = ("Name", *heads, "Status", "Phase")
    return Table(kind(key).plural, tuple(Column(head) for head in names), tuple(lines))
