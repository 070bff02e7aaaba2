"""The chain of stores as a diagram: higher stands higher, arrows show what spills where to."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canvas.base.quantity import UnitSystem, show
from canvas.drawing.entries import Anchor, Areas, Entry, Fill, Hatch, Lines, Path, Stroke, Text
from canvas.drawing.furniture import box, ring
from canvas.drawing.typeface import fit
from canvas.study.storm.chain import Chain, Spill
from canvas.study.storm.told import goes_to, main_spill

#: Width of a store's box and of the gap beside it, in letter heights.
BOX, GAP = 15.0, 4.0
LINE = Stroke("water", 0.35)
OVER = Stroke("warning", 0.6)
QUIET = Stroke("rule", 0.25, (1.2, 0.8))


@dataclass(frozen=True, slots=True, eq=False)
class Diagram:
    """A finished diagram: entries from (0, 0) at the lower left, and where each store stands."""

    entries: tuple[Entry, ...]
    width_mm: float
    height_mm: float
    #: Left, bottom, width, height of each store's box [mm].
    boxes: dict[str, tuple[float, float, float, float]]

    def at(self, x_mm: float, y_mm: float) -> str:
        """Return the store at a place; "" for none."""
        for ident, (left, bottom, wide, high) in self.boxes.items():
            if left <= x_mm <= left + wide and bottom <= y_mm <= bottom + high:
                return ident
        return ""


def chain_diagram(
    chain: Chain,
    width_mm: float,
    height_mm: float,
    letters: float = 1.7,
    units: UnitSystem = UnitSystem.METRIC,
    chosen: str = "",
) -> Diagram:
    """Return the diagram for a size: it is as wide as asked, and higher where it must be."""
    idents = list(chain.order)
    columns = _columns(chain, idents)
    count = max(columns.values(), default=0) + 1
    room = width_mm / count
    wide = min(BOX * letters, room - GAP * letters)
    high = 5.2 * letters
    rows = _rows(chain, idents, columns)
    levels = max(rows.values(), default=0) + 1
    step = max((height_mm - 4 * letters) / max(levels, 1), high + 4.6 * letters)
    total = max(height_mm, levels * step + 4 * letters)
    boxes = {
        i: (
            columns[i] * room + (room - wide) / 2, total - rows[i] * step - high - letters,
            wide, high,
        )
        for i in idents
    }  # fmt: skip
    entries: list[Entry] = []
    for ident in idents:
        for n, spill in enumerate(_shown(chain, ident)):
            entries += _arrow(chain, spill, boxes, letters, units, n)
    for ident in idents:
        entries += _box(chain, ident, boxes[ident], letters, units, ident == chosen)
    entries.append(Lines([ring((0.0, 1.4 * letters), (width_mm, 1.4 * letters))], QUIET))
    entries.append(Text(width_mm, 0.4 * letters, "off the land", letters, "ink_soft", Anchor.RIGHT))
    return Diagram(tuple(entries), width_mm, total, boxes)


def _shown(chain: Chain, ident: str) -> list[Spill]:
    """Return the spills that run, or the lowest where none does."""
    spills = chain.spills(ident)
    return [s for s in spills if s.runs] or list(spills[:1])


def _rows(chain: Chain, idents: list[str], columns: dict[str, int]) -> dict[str, int]:
    """Return the row of each store from the top: below all that spill into it, higher first."""
    depth: dict[str, int] = {}
    for ident in idents:
        above = [
            depth[other]
            for other in depth
            if any(s.path.to == ident for s in chain.spills(other))
        ]  # fmt: skip
        depth[ident] = max(above, default=-1) + 1
    # Those with nothing above them stand by their height among the rest.
    heights = sorted((chain.network.nodes[i].high_m for i in idents), reverse=True)
    for ident in idents:
        if depth[ident] == 0 and len(set(columns.values())) > 1:
            lower = sum(h > chain.network.nodes[ident].high_m + 0.5 for h in heights)
            depth[ident] = max(depth[ident], min(lower, max(depth.values())))
    return _pushed(chain, idents, depth)


def _pushed(chain: Chain, idents: list[str], depth: dict[str, int]) -> dict[str, int]:
    """Return the rows with every store below what spills into it."""
    for ident in idents:
        for spill in chain.spills(ident):
            if spill.path.to in depth:
                depth[spill.path.to] = max(depth[spill.path.to], depth[ident] + 1)
    return depth


def _columns(chain: Chain, idents: list[str]) -> dict[str, int]:
    """Return the column of each store: one stands under the store that feeds it most."""
    found: dict[str, int] = {}
    taken, heirs = 0, set[str]()
    for ident in idents:
        feeders = []
        for other in found:
            spill = main_or_first(chain, other)
            if spill is not None and spill.path.to == ident and other not in heirs:
                feeders.append((spill.passed.volume_m3, other))
        if feeders:
            above = max(feeders)[1]
            heirs.add(above)
            found[ident] = found[above]
        else:
            found[ident] = taken
            taken += 1
    return found


def main_or_first(chain: Chain, ident: str) -> Spill | None:
    """Return a store's main spill in the storm, or the lowest of its ways."""
    spills = chain.spills(ident)
    main = main_spill(chain, ident)
    if main is None:
        return spills[0] if spills else None
    return next(s for s in spills if s.path.way.key == main.path.way.key)


def _box(
    chain: Chain,
    ident: str,
    place: tuple[float, float, float, float],
    letters: float,
    units: UnitSystem,
    chosen: bool,
) -> list[Entry]:
    """Return a store: its name, how full it was at most, what it holds."""
    left, bottom, wide, high = place
    node, found = chain.network.nodes[ident], chain.routed(ident)
    full = _fullness(chain, ident)
    over = any(s.over for s in chain.spills(ident))
    entries: list[Entry] = [box(left, bottom, wide, high, None, Fill("paper"))]
    if node.storage is not None and full > 0.0:
        entries.append(
            box(left, bottom, wide, high * min(full, 1.0), None, Fill("water_fill", alpha=0.8))
        )
    edge = Stroke("select", 0.7) if chosen else OVER if over else Stroke("ink", 0.3)
    entries.append(box(left, bottom, wide, high, edge))
    inner, middle = wide - letters, left + wide / 2
    lines = [node.label, _held(chain, ident, full, units)]
    if found is not None:
        least = "≥ " if chain.network.own[ident].at_least else ""
        lines.append(f"in {least}{_m3(found.inflow_m3, units)}")
    for k, words in enumerate(lines):
        role = "warning" if over and k == 0 else "ink" if k == 0 else "ink_soft"
        y = bottom + high - letters * (1.15 + 1.55 * k)
        size = letters if k == 0 else letters * 0.88
        entries.append(
            Text(middle, y, fit(words, size, inner, k == 0), size, role, bold=k == 0, halo="halo")
        )
    return entries


def _fullness(chain: Chain, ident: str) -> float:
    """Return how full a store was at most, of what it holds to its sill."""
    node, found = chain.network.nodes[ident], chain.routed(ident)
    holds = node.holds_m3
    return found.peak_m3 / holds if found is not None and holds > 0 else 0.0


def _held(chain: Chain, ident: str, full: float, units: UnitSystem) -> str:
    """Say what a store holds and how full it was; over the brim, how high over its sill."""
    node, found = chain.network.nodes[ident], chain.routed(ident)
    if node.storage is None:
        return "passes on"
    holds = _m3(node.holds_m3, units)
    if full < 1.0 or found is None or found.peak_m is None or node.full_m is None:
        return f"{holds}, {full:.0%} full"
    return f"{holds}, {show(found.peak_m - node.full_m, 'm', units)} over sill"


def _m3(value: float, units: UnitSystem) -> str:
    return show(value, "m3", units, 0 if value >= 10 else 1)


def _arrow(
    chain: Chain,
    spill: Spill,
    boxes: dict[str, tuple[float, float, float, float]],
    letters: float,
    units: UnitSystem,
    nth: int,
) -> list[Entry]:
    """Return the arrow of one way out, with its peak and volume."""
    left, bottom, wide, _ = boxes[spill.path.node]
    side = nth * wide * 0.3
    start = (left + wide / 2 + side, bottom)
    target = boxes.get(spill.path.to)
    if target is None:
        end = (start[0], 1.4 * letters)
        path = ring(start, end)
    else:
        end = (target[0] + target[2] / 2 + side, target[1] + target[3])
        elbow = (start[1] + end[1]) / 2
        straight = abs(start[0] - end[0]) < 1e-6
        path = (
            ring(start, end) if straight
            else ring(start, (start[0], elbow), (end[0], elbow), end)
        )  # fmt: skip
    over = spill.over
    stroke = OVER if over else LINE if spill.runs else QUIET
    entries: list[Entry] = [Lines([path], stroke)]
    if not spill.runs:
        return entries
    entries.append(_head(path, letters * 0.8, stroke.role))
    words = f"{_m3(spill.passed.volume_m3, units)} · {show(spill.passed.peak_m3s, 'm3/s', units)}"
    capacity = spill.path.way.capacity_m3s
    if over and capacity is not None:
        words += f" > {show(capacity, 'm3/s', units)}"
    x, y = start[0] + letters * 0.7, start[1] - letters * (1.2 + 2.9 * nth)
    role = "warning" if over else "water"
    entries.append(Text(x, y, words, letters * 0.88, role, Anchor.LEFT, halo="halo"))
    way = f"{'OVER · ' if over else ''}{spill.path.way.label}"
    if target is None:
        way += f" · {goes_to(chain, spill)}"
    entries.append(Text(x, y - letters * 1.35, way, letters * 0.88, role, Anchor.LEFT, halo="halo"))
    return entries


def _head(path: Path, size: float, role: str) -> Areas:
    """Return an arrow's head at the end of a path."""
    tip, back = path[-1], path[-2]
    run = tip - back
    run = run / max(float(np.hypot(*run)), 1e-9)
    side = np.array([-run[1], run[0]])
    base = tip - run * size
    corners = np.array([tip, base + side * size * 0.5, base - side * size * 0.5])
    return Areas([[corners]], Fill(role, Hatch.SOLID), None)
