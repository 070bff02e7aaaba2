"""The balance of earth over the whole site: what each phase digs, fills, keeps, lacks and hauls.

Phases are taken in their order. Within one, what is dug goes first into the same work's own
fill, then into that of other works nearby, then onto heaps that have room; what is lacking comes
from heaps, then from borrow pits, then from outside. One kind of earth never stands in for
another. Haul is volume in the bank times the straight distance between the middles of what is
dug and of what is filled.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from canvas.ground.materials import Material, material, materials
from canvas.site.elements.earthworks import BorrowPit, Heap
from canvas.site.facts import Phase
from canvas.site.records import Element
from canvas.study.earth.moved import COMMON, Moved, moved, soil_of
from canvas.study.earth.registry import Work
from canvas.study.haul import Move, Place, Stock, carried

if TYPE_CHECKING:
    from canvas.study.study import Study

#: Key of topsoil among the kinds of earth; it bulks as common earth does.
TOPSOIL = "topsoil"
#: Which heap takes what; everything else is spoil.
HEAP_OF = {TOPSOIL: "topsoil", "rock": "stone", "gravel": "stone"}
#: Statuses of what is to be built or was built to this plan: what was there before moves nothing.
OURS = ("proposed", "built")


@dataclass(frozen=True, slots=True)
class EarthLine:
    """One kind of earth in one phase, or in all; m³ in the bank unless told."""

    key: str
    label: str
    loose_per_bank: float
    compacted_per_bank: float
    cut_m3: float = 0.0
    #: Fill, as placed.
    fill_m3: float = 0.0
    onto_heaps_m3: float = 0.0
    from_heaps_m3: float = 0.0
    from_pits_m3: float = 0.0
    taken_away_m3: float = 0.0
    brought_in_m3: float = 0.0

    @property
    def fill_bank_m3(self) -> float:
        """What must be dug for the fill."""
        return self.fill_m3 / self.compacted_per_bank

    @property
    def used_m3(self) -> float:
        """Dug and filled again within the phase."""
        return self.cut_m3 - self.onto_heaps_m3 - self.taken_away_m3

    @property
    def cut_loose_m3(self) -> float:
        """What is dug, as carried."""
        return self.cut_m3 * self.loose_per_bank

    @property
    def cut_compacted_m3(self) -> float:
        """What is dug, were all of it placed."""
        return self.cut_m3 * self.compacted_per_bank

    @property
    def away_loose_m3(self) -> float:
        """What is taken away, as carried."""
        return self.taken_away_m3 * self.loose_per_bank

    @property
    def brought_loose_m3(self) -> float:
        """What is brought in, as carried."""
        return self.brought_in_m3 * self.loose_per_bank


@dataclass(frozen=True, slots=True)
class PhaseBalance:
    """The earth of one phase, or of all."""

    #: "" for what has no phase, and for all together.
    ident: str
    name: str
    starts: str
    works: int
    #: Topsoil first, then the kinds of earth there are.
    lines: tuple[EarthLine, ...]
    #: Aggregate, slabs, linings, in place: brought in.
    laid_m3: float
    #: Ground opened and not laid over: bare when the phase ends.
    bare_m2: float
    moves: tuple[Move, ...]

    @property
    def haul_m4(self) -> float:
        """Bank volume times distance, over all that is carried on the site [m³·m]."""
        return sum(move.bank_m3 * move.distance_m for move in self.moves)

    @property
    def mean_haul_m(self) -> float | None:
        """How far a cubic metre is carried in the mean; None where nothing is."""
        carried_m3 = sum(move.bank_m3 for move in self.moves)
        return self.haul_m4 / carried_m3 if carried_m3 > 0 else None

    def line(self, key: str) -> EarthLine | None:
        """Return one kind of earth; None where there is none of it."""
        return next((line for line in self.lines if line.key == key), None)


@dataclass(frozen=True, slots=True)
class HeapRoom:
    """A heap and how much of it is taken up when all is built, loose."""

    ident: str
    holds_m3: float
    used_m3: float


@dataclass(frozen=True, slots=True)
class PitUse:
    """A borrow pit and how much is taken from it, in the bank."""

    ident: str
    gives_m3: float
    used_m3: float


@dataclass(frozen=True, slots=True)
class SiteBalance:
    """The earth of the site, phase by phase and in all."""

    phases: tuple[PhaseBalance, ...]
    whole: PhaseBalance
    heaps: tuple[HeapRoom, ...]
    pits: tuple[PitUse, ...]
    #: Works left out as they can't be built: (identity, why).
    left_out: tuple[tuple[str, str], ...]


@dataclass(slots=True)
class _Site:
    """What is carried on from phase to phase."""

    heaps: list[Stock] = field(default_factory=list)
    pits: list[Stock] = field(default_factory=list)


def balance(study: Study) -> SiteBalance:
    """Return the balance of earth of what is proposed or built, at the study's phase."""
    works = study.works()
    known = {item.id: item for item, _ in study.build_order()}
    taken = tuple(known[work.ident] for work in works)
    inputs = (study.plan.group("phase"), *works, *taken)
    return study.same("earth balance", inputs, lambda: _balance(study, works, known))


def _balance(study: Study, works: Sequence[Work], known: dict[str, Element]) -> SiteBalance:
    ours = [(known[w.ident], w) for w in works if known[w.ident].status in OURS]
    sound = [(item, work) for item, work in ours if work.patches]
    site, rows = _Site(), []
    phases = {phase.id: phase for phase in study.plan.of(Phase)}
    order = [p.id for p in sorted(phases.values(), key=lambda p: p.place)]
    for ident in ["", *order]:
        here = [(i, w) for i, w in sound if (i.phase if i.phase in phases else "") == ident]
        if here:
            rows.append(_phase(phases.get(ident), here, site))
    return SiteBalance(
        tuple(rows),
        _whole(rows),
        tuple(HeapRoom(heap.ident, heap.room_m3, heap.loose_m3) for heap in site.heaps),
        tuple(PitUse(pit.ident, pit.room_m3, pit.room_m3 - pit.bank_m3) for pit in site.pits),
        tuple((w.ident, w.trouble) for _, w in ours if w.trouble),
    )


def _phase(phase: Phase | None, here: Sequence[tuple[Element, Work]], site: _Site) -> PhaseBalance:
    """Return one phase, and leave the heaps and pits as it leaves them."""
    built = [(item, work, moved(item, work)) for item, work in here]
    for item, work, found in built:
        if isinstance(item, Heap):
            site.heaps.append(Stock(item.id, item.what, found.fill_at, work.thing.volume_m3))
        elif isinstance(item, BorrowPit):
            gives = found.earth.cut_m3
            site.pits.append(Stock(item.id, soil_of(item), found.cut_at, gives, gives))
    lines, moves = [], []
    for key in (TOPSOIL, *materials()):
        line, some = _line(key, built, site)
        if line.cut_m3 or line.fill_m3:
            lines.append(line)
            moves.extend(some)
    return PhaseBalance(
        phase.id if phase is not None else "",
        phase.name if phase is not None else "No phase",
        phase.starts if phase is not None else "",
        len(built),
        tuple(lines),
        sum(m.earth.laid_m3 for _, _, m in built),
        sum(m.bare_m2 for _, _, m in built),
        tuple(moves),
    )


def _line(
    key: str, built: Sequence[tuple[Element, Work, Moved]], site: _Site
) -> tuple[EarthLine, list[Move]]:
    """Return one kind of earth of one phase, and how it is carried."""
    of = stuff(key)
    c = 1.0 if key == TOPSOIL else of.compacted_per_bank
    label = "Topsoil" if key == TOPSOIL else of.label
    cuts, fills = [], []
    for item, _, found in built:
        cut, fill = _amounts(key, item, found)
        cuts.append(Place(found.ident, found.cut_at, cut))
        fills.append(Place(found.ident, found.fill_at, fill / c))
    what = HEAP_OF.get(key, "spoil")
    heaps = [heap for heap in site.heaps if heap.what == what]
    pits = [pit for pit in site.pits if pit.what == key]
    done = carried(key, cuts, fills, heaps, pits, of.loose_per_bank)
    line = EarthLine(
        key, label, of.loose_per_bank, c,
        sum(place.bank_m3 for place in cuts), sum(place.bank_m3 for place in fills) * c,
        done.onto_heaps_m3, done.from_heaps_m3, done.from_pits_m3,
        done.left_m3, done.lacking_m3,
    )  # fmt: skip
    return line, done.moves


def stuff(key: str) -> Material:
    """Return how a kind of earth behaves; topsoil as common earth."""
    return material(COMMON if key == TOPSOIL else key)


def _amounts(key: str, item: Element, found: Moved) -> tuple[float, float]:
    """Return what a work digs and fills of one kind of earth: bank and as placed."""
    earth = found.earth
    if key == TOPSOIL:
        return earth.topsoil_off_m3, earth.topsoil_back_m3
    # A heap is where earth goes and a pit where it comes from: neither asks for any.
    if found.soil != key or isinstance(item, (Heap, BorrowPit)):
        return 0.0, 0.0
    return earth.cut_m3, earth.fill_m3


ADDED = (
    "cut_m3", "fill_m3", "onto_heaps_m3", "from_heaps_m3", "from_pits_m3", "taken_away_m3",
    "brought_in_m3",
)  # fmt: skip


def _whole(rows: Sequence[PhaseBalance]) -> PhaseBalance:
    """Return all phases together."""
    lines = []
    for key in (TOPSOIL, *materials()):
        some = [line for row in rows if (line := row.line(key)) is not None]
        if some:
            first = some[0]
            sums = [sum(getattr(line, name) for line in some) for name in ADDED]
            lines.append(
                EarthLine(key, first.label, first.loose_per_bank, first.compacted_per_bank, *sums)
            )
    return PhaseBalance(
        "",
        "All phases",
        "",
        sum(row.works for row in rows),
        tuple(lines),
        sum(row.laid_m3 for row in rows),
        sum(row.bare_m2 for row in rows),
        tuple(move for row in rows for move in row.moves),
    )
