"""Who gives earth to whom: nearest first, own fill before others', heaps before the world."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

XY = tuple[float, float]
#: Less than this is nothing to a digger [m³].
LEAST_M3 = 1e-6


@dataclass(slots=True)
class Place:
    """Where earth of one kind is dug or filled, in the bank."""

    ident: str
    at: XY
    bank_m3: float


@dataclass(slots=True)
class Stock:
    """A heap or a borrow pit, with what lies in it."""

    ident: str
    #: What a heap is of; the kind of earth of a pit.
    what: str
    at: XY
    #: What it can hold, loose (heap), or give, in the bank (pit).
    room_m3: float
    #: What lies there, in the bank.
    bank_m3: float = 0.0
    #: What lies on the heap, loose, by kind of earth.
    by_kind: dict[str, tuple[float, float]] = field(default_factory=dict)

    @property
    def loose_m3(self) -> float:
        """What lies on the heap, loose."""
        return sum(loose for _, loose in self.by_kind.values())

    def holds(self, kind: str) -> float:
        """Return what of one kind lies on the heap, in the bank."""
        return self.by_kind.get(kind, (0.0, 0.0))[0]

    def put(self, kind: str, bank_m3: float, loose_per_bank: float) -> None:
        """Add to the heap; below 0 to take from it."""
        now = self.holds(kind) + bank_m3
        self.by_kind[kind] = (now, now * loose_per_bank)


@dataclass(frozen=True, slots=True)
class Move:
    """Earth carried from one work to another, or within one."""

    kind: str
    from_ident: str
    to_ident: str
    bank_m3: float
    distance_m: float


@dataclass(slots=True)
class Carried:
    """How one kind of earth is carried in one phase; m³ in the bank."""

    moves: list[Move] = field(default_factory=list)
    onto_heaps_m3: float = 0.0
    from_heaps_m3: float = 0.0
    from_pits_m3: float = 0.0
    left_m3: float = 0.0
    lacking_m3: float = 0.0


def carried(
    kind: str,
    cuts: Sequence[Place],
    fills: Sequence[Place],
    heaps: Sequence[Stock],
    pits: Sequence[Stock],
    loose_per_bank: float,
) -> Carried:
    """Return where one kind of earth goes; `heaps` and `pits` are left as that leaves them."""
    done = Carried()
    give = [Place(p.ident, p.at, p.bank_m3) for p in cuts if p.bank_m3 > LEAST_M3]
    need = [Place(p.ident, p.at, p.bank_m3) for p in fills if p.bank_m3 > LEAST_M3]
    _shift(kind, give, need, done, own=True)
    _shift(kind, give, need, done)
    stored = [Place(h.ident, h.at, h.holds(kind)) for h in heaps]
    done.from_heaps_m3 = _shift(kind, stored, need, done)
    for heap, now in zip(heaps, stored, strict=True):
        heap.put(kind, now.bank_m3 - heap.holds(kind), loose_per_bank)
    in_pits = [Place(p.ident, p.at, p.bank_m3) for p in pits]
    done.from_pits_m3 = _shift(kind, in_pits, need, done)
    for pit, now in zip(pits, in_pits, strict=True):
        pit.bank_m3 = now.bank_m3
    rooms = [Place(h.ident, h.at, max(h.room_m3 - h.loose_m3, 0.0) / loose_per_bank) for h in heaps]
    before = [room.bank_m3 for room in rooms]
    done.onto_heaps_m3 = _shift(kind, give, rooms, done)
    for heap, was, room in zip(heaps, before, rooms, strict=True):
        heap.put(kind, was - room.bank_m3, loose_per_bank)
    done.left_m3 = sum(place.bank_m3 for place in give)
    done.lacking_m3 = sum(place.bank_m3 for place in need)
    return done


def _shift(
    kind: str, give: Sequence[Place], need: Sequence[Place], done: Carried, *, own: bool = False
) -> float:
    """Carry what there is to where it is needed, the nearest pair first; return how much."""
    pairs = sorted(
        (math.dist(a.at, b.at), i, j)
        for i, a in enumerate(give)
        for j, b in enumerate(need)
        if not own or a.ident == b.ident
    )
    total = 0.0
    for far, i, j in pairs:
        size = min(give[i].bank_m3, need[j].bank_m3)
        if size > LEAST_M3:
            give[i].bank_m3 -= size
            need[j].bank_m3 -= size
            done.moves.append(Move(kind, give[i].ident, need[j].ident, size, far))
            total += size
    return total
