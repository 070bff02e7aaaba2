"""Works and hollows as stores: what each holds, and every way water can leave it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from shapely import LineString, Point
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import UserError
from canvas.base.grid import Floats
from canvas.ground.check import Check
from canvas.ground.excavation import Dugout, rim_line
from canvas.ground.faces import Held, HeldLine
from canvas.ground.patch import Patch
from canvas.ground.pond import StageStorage as Stages
from canvas.ground.swale import Swale, water_below_full
from canvas.site.elements.crossings import Culvert
from canvas.site.elements.ponds import Dam, DugPond
from canvas.site.elements.swales import Drain
from canvas.site.elements.swales import Swale as SwaleElement
from canvas.site.records import Element, kind_of
from canvas.study.along_hill import roughness, soaking_mm_h, water_section
from canvas.study.earth.crossings import Pipes
from canvas.study.earth.ponds import PondWork, held
from canvas.study.earth.registry import Work
from canvas.water.culverts import capacity_m3s
from canvas.water.sections import manning_flow
from canvas.water.storage import StageStorage
from canvas.water.weirs import BROAD, LEVEL_SILL, spillway_flow, weir_flow

if TYPE_CHECKING:
    from canvas.study.kinds.pond_safety import Outlet
    from canvas.study.study import Study

#: A bank that water runs over gives it all its length only in name: it finds the lowest part.
LOW_PART_M = 5.0
#: Water comes to a culvert within this of its inlet [m]; common practice, no source.
INLET_M = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """A way out of a store."""

    key: str
    #: What it is: "sill", "spillway", "over the bank" …
    label: str
    level_m: float
    #: Flow [m³/s] at a head over the level [m].
    flow: Callable[[float], float]
    #: Where the ground takes the water over.
    start: tuple[float, float]
    #: What it is built to pass; None where nothing was built for it.
    capacity_m3s: float | None
    #: Whether it was made for water to pass. Elsewhere a spill washes the bank away.
    made: bool = True
    #: A built channel from the store to `start`, where there is one.
    channel: LineString | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Node:
    """A store, or (without storage) a place that water passes through."""

    ident: str
    #: Key of its kind; "hollow" for a natural hollow.
    key: str
    label: str
    #: Where water that comes to it is caught.
    place: BaseGeometry
    storage: StageStorage | None
    ways: tuple[Way, ...]
    #: Rate of soaking through the water's area.
    soak_m_s: float = 0.0
    start_m: float | None = None

    @property
    def full_m(self) -> float | None:
        """The level at which it first spills."""
        return min((way.level_m for way in self.ways), default=None)

    @property
    def holds_m3(self) -> float:
        """What it holds up to there."""
        if self.storage is None or self.full_m is None:
            return 0.0
        return float(self.storage.volume(self.full_m))

    @property
    def high_m(self) -> float:
        """A level to draw it at: full water, or the sill."""
        return self.full_m if self.full_m is not None else 0.0

    @property
    def at(self) -> Point:
        """A place on the map to point at."""
        return self.place.representative_point()


def label_of(item: Element) -> str:
    """Return an element's own name, or what it is."""
    return item.name.strip() or kind_of(item).label


def nodes_of(study: Study) -> Iterator[Node]:
    """Yield the stores among the works that could be shaped.

    A tank is none: no land drains to it.
    """
    for work in study.works():
        if work.thing is None:
            continue
        item = study.plan.element(work.ident)
        try:
            inputs = (work, item, study.ponds_start(), study.of_kind_group("test_pit"))
            found = study.same(("node", work.ident), inputs, partial(_node, study, work, item))
        except UserError:
            continue
        if found is not None:
            yield found


def _node(study: Study, work: Work, item: Element) -> Node | None:
    thing = work.thing
    if isinstance(thing, Pipes):
        return _culvert(work, item, thing)
    # Bars across a track are shaped as swales are, and hold nothing.
    if isinstance(thing, Swale) and work.key in ("swale", "drain", "level_sill"):
        return (
            _drain(work, item, thing) if work.key == "drain" else _swale(study, work, item, thing)
        )
    if isinstance(thing, PondWork):
        return _dam(work, item, thing, study.ponds_start())
    if isinstance(thing, Dugout):
        return _dugout(work, item, thing, study.ponds_start())
    if isinstance(thing, Check):
        return _check(work, item, thing)
    return None


# Channels with banks ------------------------------------------------------------------------


def _swale(study: Study, work: Work, item: Element, made: Swale) -> Node:
    """Return a swale or level sill: water stands level up to its lowest sill."""
    works, patch = made.works, made.patch
    sill_lines = [line for line in patch.lines if line.held is Held.SILL]
    tops = [line.lowest_m for line in sill_lines]
    bank = float(np.min(made.lip_m)) + works.bank.height_m
    full = min([*tops, bank])
    water = water_below_full(patch)
    storage = _storage(water.storage(), full)
    ways = []
    for i, (sill, line) in enumerate(zip(works.sills, sill_lines, strict=True)):
        flow = _weir(sill.length_m, LEVEL_SILL)
        start = _beyond(made.line, line, works.bank.outer * works.bank.height_m)
        # Up to the bank's top, as on its card.
        capacity = flow(works.bank.height_m - sill.above_lip_m)
        ways.append(Way(f"sill {i + 1}", "sill", line.lowest_m, flow, start, capacity))
    for end, closed in zip((0, -1), works.end_blocks, strict=True):
        if not closed:
            lip = float(made.lip_m[end])
            flow = _weir(works.channel.top_m, BROAD)
            name = "start" if end == 0 else "end"
            start = _past_end(made.line, end)
            ways.append(Way(f"open {name}", "open end", lip, flow, start, None, False))
    ways.append(_over_bank(made, bank))
    # A level sill only spreads water: its trench is not there to soak it away.
    soak = soaking_mm_h(item, study)[0] if isinstance(item, SwaleElement) else 0.0
    return Node(
        work.ident, work.key, label_of(item), made.water_edge, storage, tuple(ways),
        soak / 3.6e6, None,
    )  # fmt: skip


def _drain(work: Work, item: Element, made: Swale) -> Node:
    """Return a diversion drain: it passes on what its section carries, the rest goes over."""
    works = made.works
    low = 0 if made.lip_m[0] < made.lip_m[-1] else -1
    grade = abs(float(made.lip_m[-1] - made.lip_m[0])) / made.line.length
    assert isinstance(item, Drain)
    depth = max(works.channel.depth_m + works.bank.height_m - item.freeboard_m, 0.01)
    carries = manning_flow(water_section(item), depth, max(grade, 1e-4), roughness(item))
    start = _past_end(made.line, low)
    mouth = Way(
        "outlet", "outlet", float(made.lip_m[low]) - works.channel.depth_m, _weir(1.0, BROAD),
        start, carries.flow_m3s,
    )  # fmt: skip
    bank = _over_bank(made, float(np.min(made.lip_m)) + works.bank.height_m)
    place = made.line.buffer(works.channel.top_m / 2)
    return Node(work.ident, work.key, label_of(item), place, None, (mouth, bank))


def _over_bank(made: Swale, bank_m: float) -> Way:
    """Return the way over a channel's bank at its lowest, where nothing is made for it."""
    crest = next((e for e in made.patch.lines if e.held is Held.CREST), None)
    xyz = (
        crest.xyz_m if crest is not None else np.array([[*c[:2], bank_m] for c in made.line.coords])
    )
    low = xyz[int(np.argmin(xyz[:, 2]))] if np.ptp(xyz[:, 2]) > 1e-6 else xyz[len(xyz) // 2]
    line = HeldLine(Held.SILL, np.vstack((low, low + np.array([1e-3, 0.0, 0.0]))))
    start = _beyond(made.line, line, made.works.bank.outer * made.works.bank.height_m)
    flow = _weir(max(made.line.length, LOW_PART_M), BROAD)
    return Way("bank", "over the bank", max(bank_m, float(low[2])), flow, start, None, False)


# Ponds --------------------------------------------------------------------------------------


def _dam(work: Work, item: Element, made: PondWork, start: str) -> Node:
    crest = made.dam.bank.crest_m
    pool = made.pond.water
    if work.ground is not None and crest > made.sill_m:
        higher = held(work.ground, made.dam, crest).water
        # Round the dam's end there is no more of it than up to the sill.
        pool = pool if higher.escaped or higher.open else higher
    storage = _storage(pool.storage(), pool.level_m)
    ways = []
    outlet = _outlet(item)
    if made.spillway is not None and outlet is not None:
        line = made.spillway.channel.line
        ways.append(
            Way(
                "spillway",
                "spillway",
                made.sill_m,
                lambda h: spillway_flow(h, outlet.width_m),
                _point(line, -1),
                outlet.capacity_m3s,
                channel=line,
            )
        )
    axis = made.dam.bank.axis
    middle = axis.interpolate(0.5, normalized=True)
    toe = made.dam.dry_toe_xy_m or (middle.x, middle.y)
    first, last = made.dam.ends_m()
    over = _weir(max(last - first, LOW_PART_M), BROAD)
    ways.append(Way("crest", "over the dam", crest, over, toe, None, False))
    return Node(
        work.ident, work.key, label_of(item), made.pond.water.edge(), storage, tuple(ways), 0.0,
        _start(storage, made.sill_m, start),
    )  # fmt: skip


def _dugout(work: Work, item: Element, made: Dugout, start: str) -> Node:
    rim = made.water_m + made.excavation.freeboard_m
    storage = _storage(made.water.storage(), made.water_m)
    ways = []
    outlet = _outlet(item)
    line = _invert(work.patches[1:])
    if outlet is not None and line is not None:
        ways.append(
            Way(
                "outlet",
                "outlet",
                made.water_m,
                lambda h: spillway_flow(h, outlet.width_m),
                _point(line, -1),
                outlet.capacity_m3s,
                channel=line,
            )
        )
    ring = np.asarray(rim_line(made).coords)[:, :2]
    ground = work.ground
    z = ground.sample(ring[:, 0], ring[:, 1]) if ground is not None else np.zeros(len(ring))
    low = ring[int(np.nanargmin(z))] if np.isfinite(z).any() else ring[0]
    middle = made.excavation.outline.centroid
    reach = made.excavation.rim_m + made.excavation.outer * 2 * made.excavation.freeboard_m + 2.0
    out = _away((middle.x, middle.y), (float(low[0]), float(low[1])), reach)
    ways.append(
        Way("rim", "over the rim", rim, _weir(LOW_PART_M, BROAD), out, None, False)
    )  # fmt: skip
    return Node(
        work.ident, work.key, label_of(item), made.excavation.outline, storage, tuple(ways), 0.0,
        _start(storage, made.water_m, start),
    )  # fmt: skip


def _check(work: Work, item: Element, made: Check) -> Node:
    """Return a check in a gully: porous, it only passes water on through its notch."""
    spec = made.spec
    flow = _weir(spec.notch_m, BROAD)
    middle = made.notch.interpolate(0.5, normalized=True)
    start = made.toe_xy_m or (middle.x, middle.y)
    notch = Way("notch", "notch", made.notch_level_m, flow, start, flow(spec.notch_deep_m))
    over = Way(
        "wall", "round the wall", made.notch_level_m + spec.notch_deep_m,
        _weir(spec.line.length, BROAD), start, None, False,
    )  # fmt: skip
    return Node(work.ident, work.key, label_of(item), spec.line, None, (notch, over))


def _culvert(work: Work, item: Element, made: Pipes) -> Node:
    """Return a culvert: what its pipes do not pass goes over the way at its lowest."""
    from canvas.study.kinds.crossings import pipe_of

    assert isinstance(item, Culvert)
    line = item.geometry
    passes = capacity_m3s(pipe_of(item, made), made.road_m - made.inlet_m)
    pipe = Way("pipe", "pipe", made.inlet_m, _weir(item.bore_m, BROAD), _point(line, -1), passes,
               channel=line)  # fmt: skip
    over = _weir(max(made.dip_m, LOW_PART_M), BROAD)
    low = _away(_point(line, 0), (made.low.x, made.low.y), line.length / 2)
    away = Way("way", "over the way", made.road_m, over, low, None, False)
    inlet = Point(_point(line, 0)).buffer(INLET_M)
    return Node(work.ident, work.key, label_of(item), inlet, None, (pipe, away))


def _outlet(item: Element) -> Outlet | None:
    """Return what a pond is let out by, as its card has it."""
    # Kinds ask for storms, so they are imported when all is there.
    from canvas.study.kinds.pond_safety import outlet_of

    return outlet_of(item) if isinstance(item, (Dam, DugPond)) else None


# What they share ----------------------------------------------------------------------------


def _weir(length_m: float, coefficient: float) -> Callable[[float], float]:
    return lambda head: weir_flow(head, length_m, coefficient)


def _storage(stages: Stages, full_m: float) -> StageStorage | None:
    """Return a storage table whose top row is the full level; None where nothing is held."""
    level, area, volume = stages.level_m, stages.area_m2, stages.volume_m3
    if len(level) < 2 or not volume[-1] > 0.0:
        return None
    return StageStorage(
        level - level[-1] + full_m, np.maximum.accumulate(area), np.maximum.accumulate(volume)
    )


def _start(storage: StageStorage | None, full_m: float, start: str) -> float | None:
    """Return the level a pond stands at when the rain starts; None for empty."""
    if storage is None or start == "empty":
        return None
    if start == "full":
        return full_m
    return float(storage.level(0.5 * float(storage.volume(full_m))))


def _invert(patches: tuple[Patch, ...]) -> LineString | None:
    """Return the bed line of a cut channel."""
    for patch in patches:
        for line in patch.lines:
            if line.held is Held.INVERT:
                return LineString(line.xyz_m[:, :2])
    return None


def _away(
    origin: tuple[float, float], through: tuple[float, float], by_m: float
) -> tuple[float, float]:
    """Return the point `by_m` beyond `through`, seen from `origin`."""
    dx, dy = through[0] - origin[0], through[1] - origin[1]
    size = math.hypot(dx, dy) or 1.0
    return through[0] + dx / size * by_m, through[1] + dy / size * by_m


def _beyond(line: LineString, sill: HeldLine, slope_m: float) -> tuple[float, float]:
    """Return the foot of the bank below a sill, straight out from the channel."""
    xyz: Floats = sill.xyz_m
    middle = Point(*np.mean(xyz[:, :2], axis=0))
    near = line.interpolate(line.project(middle))
    return _away((near.x, near.y), (middle.x, middle.y), slope_m + 1.0)


def _past_end(line: LineString, end: int) -> tuple[float, float]:
    """Return a place two metres beyond an end of a line."""
    pair = (1, 0) if end == 0 else (-2, -1)
    return _away(_point(line, pair[0]), _point(line, pair[1]), 2.0)


def _point(line: LineString, k: int) -> tuple[float, float]:
    """Return a line's k-th point, without its height."""
    x, y = line.coords[k][:2]
    return float(x), float(y)
