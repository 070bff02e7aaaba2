"""Level lines traced over the ground: click a point of one; set one level again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import shapely
from shapely import LineString, MultiPolygon, Point, Polygon, STRtree
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData, UserError
from canvas.base.grid import Bounds, Grid
from canvas.ground.levelline import LevelLine, Limits, Stop, level_line
from canvas.ground.swale import lower_is_right
from canvas.site.edits import Edit, put
from canvas.site.elements.swales import Drain, LevelSill, Swale
from canvas.site.plan import Plan
from canvas.site.records import Element, changed
from canvas.study.along_hill import half_width_m, kept, water_works
from canvas.study.earth.swales import grade_of, start_level_m, works_of
from canvas.study.earth.works import levels_for
from canvas.study.study import Study
from canvas.tools.draw import ElementMaker
from canvas.tools.plane import XY
from canvas.tools.pointer import BaseTool, Ghost, GhostLabel, GhostShape, Pointer, Snap
from canvas.tools.tracing import Tracing, read_tracing
from canvas.tools.world import ToolWorld

#: Kinds that are traced, and how far each way unless told [m].
TRACED = {"swale": 100.0, "drain": 100.0, "level_sill": 5.0}
#: A drawn line may stray this far from its trace and still have what stands beside it looked at.
BESIDE_M = 20.0
#: "Set level again" takes the ground up to this steep.
STEEPEST_AGAIN = 0.8
Values = Mapping[str, object]
Kept = Polygon | MultiPolygon


@dataclass(frozen=True, slots=True, eq=False)
class _Beside:
    """What is to stay where it is, ready to be searched."""

    shapes: tuple[Kept, ...]
    tree: STRtree
    #: Other water works: a line ends at them.
    works: BaseGeometry

    @classmethod
    def of(cls, study: Study, but: str = "") -> _Beside:
        found = kept(study, but)
        return cls(found, STRtree(list(found)), water_works(study, but))

    def near(self, line: LineString, room_m: float) -> tuple[Kept, ...]:
        """Return what comes within a distance of a line."""
        hits = self.tree.query(line, predicate="dwithin", distance=room_m)
        return tuple(self.shapes[int(k)] for k in sorted(hits))


class LevelLineTool(BaseTool):
    """Click a point: the line through it at its level, or falling evenly, is traced both ways."""

    def __init__(self, world: ToolWorld, kind_key: str, values: Values | None = None) -> None:
        self.world = world
        self.maker = ElementMaker(world, kind_key, values or {})
        self.key = f"level_line:{kind_key}"
        self.label = self.maker.kind.label
        fresh = {**world.new_values.get(kind_key, {}), **(values or {})}
        grade = fresh.get("grade", 0.0 if kind_key != "drain" else 0.005)
        assert isinstance(grade, int | float)
        self.asked = Tracing(grade=float(grade), length_m=TRACED[kind_key])
        self.here: XY | None = None
        self.caught: Snap | None = None
        self.found: LevelLine | None = None
        self.trouble = ""
        self._traced: tuple[object, ...] = ()
        self._beside: tuple[Plan, _Beside] | None = None

    @property
    def prompt(self) -> str:
        """What to do now, in plain words."""
        asked = self.asked.said(self.world.length)
        how = "Type “1:300 left” for a fall, “120 m” or “25 % steepest”"
        return f"click a point of the line: {asked}. {how}."

    def move(self, at: Pointer) -> None:
        """Follow the pointer, tracing the line through it."""
        self.caught = self.world.snapper.snap(at, self.world.snaps)
        self.here = self.caught.xy if self.caught else at.xy
        self._trace()

    def press(self, at: Pointer) -> Edit | None:
        """Put the line down."""
        self.move(at)
        return self._put()

    def key_press(self, name: str) -> Edit | None:
        """Escape clears the line."""
        if name == "escape":
            self.cancel()
        return None

    def typed(self, words: str) -> Edit | None:
        """Set how the line is traced; a typed position puts it there."""
        if words.strip()[:1].isalpha() or ";" not in words:
            try:
                entry = self.world.read(words)
            except BadData:
                entry = None
            if entry is not None and entry.position_m is not None:
                self.here = entry.position_m
                self._trace()
                return self._put()
        asked = read_tracing(words, self.asked, self.world.read_length)
        if self.maker.kind.key == "level_sill" and asked.grade:
            raise BadData("A level sill has no fall.", remedy="Draw a drain for a line that falls.")
        self.asked = asked
        self._trace()
        return None

    def cancel(self) -> None:
        """Forget the line."""
        self.here = self.found = self.caught = None
        self.trouble, self._traced = "", ()

    def ghost(self) -> Ghost:
        """Return the line with its length, level and why it ends, and the element it would be."""
        if self.here is None:
            return Ghost(snap=self.caught)
        if self.found is None:
            words = (GhostLabel(*self.here, self.trouble),) if self.trouble else ()
            return Ghost((), words, self.caught)
        line = self.found.line
        shapes = [GhostShape(line, "line"), GhostShape(Point(self.here), "hit")]
        shapes += [GhostShape(Point(line.coords[k]), "handle") for k in (0, -1)]
        label = GhostLabel(*self.here, self._words(self.found))
        return Ghost(tuple(shapes), (label,), self.caught, self.maker.ghost(line, **self._more()))

    # -- tracing ------------------------------------------------------------------------------

    def _trace(self) -> None:
        study = self.world.study
        if self.here is None:
            return
        if study is None or study.land.grid is None:
            self.found, self.trouble = None, "There is no ground yet: bring in a terrain model."
            return
        inputs = (self.here, self.asked, self.world.plan)
        if self._traced == inputs:
            return
        self._traced = inputs
        try:
            self.found, self.trouble = self._line(study, self.here), ""
        except UserError as err:
            self.found, self.trouble = None, f"{err.what}. {err.remedy}"

    def _line(self, study: Study, here: XY) -> LevelLine:
        item = self.maker.of_geometry(LineString([here, (here[0] + 1.0, here[1])]))
        assert isinstance(item, Swale | Drain | LevelSill)
        ground = levels_for(study, item)
        assert ground is not None
        room = half_width_m(works_of(item)) + self.asked.clear_m
        ours = inside(study, here)
        beside = self._kept(study)
        works = beside.works.buffer(room)
        if works.covers(Point(here)):
            raise BadData(
                "another water work lies here", remedy="Click farther up or down the hill."
            )
        within = _within(ground.bounds, room, ours).difference(works)
        assert isinstance(within, Polygon | MultiPolygon)
        limits = Limits(self.asked.length_m, self.asked.slope, within=within)
        free = self._through(ground, here, limits, ours, works)
        near = beside.near(free.line, room + BESIDE_M)
        if not near:
            return free
        shapely.prepare(list(near))
        if any(each.dwithin(Point(here), room) for each in near):
            raise BadData(
                "something that is to stay is too near to start here",
                remedy="Click farther from trees that are kept, buildings and waste water.",
            )
        limits = replace(limits, obstacles=near, clear_m=room)
        return self._through(ground, here, limits, ours, works)

    def _through(
        self, ground: Grid, here: XY, limits: Limits, ours: Kept | None, works: BaseGeometry
    ) -> LevelLine:
        """Return the line through a place; what ends it short of our boundary is named."""
        found = level_line(ground, *here, limits, self.asked.grade, self.asked.level_m)

        def why(stop: Stop, end: Point) -> Stop:
            if stop is not Stop.BOUNDARY or (ours is not None and end.dwithin(ours.boundary, 0.5)):
                return stop
            return Stop.OBSTACLE if end.dwithin(works, 0.5) else Stop.NO_DATA

        ends = (Point(found.line.coords[0]), Point(found.line.coords[-1]))
        first, last = (why(stop, end) for stop, end in zip(found.stops, ends, strict=True))
        return replace(found, stops=(first, last))

    def _kept(self, study: Study) -> _Beside:
        if self._beside is None or self._beside[0] is not self.world.plan:
            self._beside = self.world.plan, _Beside.of(study)
        return self._beside[1]

    def _more(self) -> dict[str, object]:
        assert self.found is not None
        more: dict[str, object] = {"lip_m": round(float(self.found.level_m[0]), 4)}
        if self.maker.kind.key != "level_sill":
            more["grade"] = self.asked.grade
        return more

    def _put(self) -> Edit:
        if self.found is None:
            raise BadData(self.trouble or "There is no line here.", remedy="Click another point.")
        item = self.maker.of_geometry(self.found.line, **self._more())
        # What was put down stands on the map now; the next begins where the pointer moves.
        self.cancel()
        return replace(self.maker.added(item), label=f"Trace {self.maker.kind.label.lower()}")

    def _words(self, found: LevelLine) -> str:
        length = self.world.length
        start, end = float(found.level_m[0]), float(found.level_m[-1])
        level = f"level {length(start)}" if start == end else f"{length(start)} to {length(end)}"
        words = [f"{length(found.length_m)}, {level}"]
        ends = [stop.value for stop in dict.fromkeys(found.stops) if stop is not Stop.LENGTH]
        words += [f"ends: {why}" for why in ends]
        if found.snags:
            off = max((snag.off_m for snag in found.snags), key=abs)
            deeper = "dug deeper" if off > 0 else "filled"
            words.append(f"round what is kept: {length(abs(off))} {deeper}")
        return "\n".join(words)


def _within(bounds: Bounds, room_m: float, ours: Kept | None) -> Kept:
    """Return where a line may lie: inside ours, with its bank and end blocks on known ground."""
    known = shapely.box(*bounds).buffer(-2 * room_m, join_style="mitre")
    both = known if ours is None else known.intersection(ours)
    return both if isinstance(both, Polygon | MultiPolygon) else shapely.box(*bounds)


def inside(study: Study, here: XY) -> Kept | None:
    """Return the boundary a line is to stay inside: ours round a point; None for none."""
    spot = Point(here)
    ours = [
        item.geometry
        for item in study.of_kind("site_boundary")
        if item.owner == "ours"
        and isinstance(item.geometry, Polygon)
        and item.geometry.covers(spot)
    ]
    return ours[0] if ours else None


# -- again ---------------------------------------------------------------------------------------


def level_again(study: Study | None, items: list[Element]) -> Edit | None:
    """Return the edit that traces lines anew at their own level, as long as they are now.

    `BadData` when none of them is traced, or the ground is not known.
    """
    traced = [item for item in items if isinstance(item, Swale | Drain | LevelSill)]
    if not traced:
        raise BadData(
            "only swales, drains and level sills are set level", remedy="Select one of them."
        )
    if study is None or study.land.grid is None:
        raise BadData("there is no ground yet", remedy="Bring in a terrain model first.")
    pairs = [(item, _again(study, item)) for item in traced]
    pairs = [(old, new) for old, new in pairs if old != new]
    return put("Set level again", pairs) if pairs else None


def _again(study: Study, item: Swale | Drain | LevelSill) -> Element:
    """Return an element with its line traced anew through its middle's level."""
    ground = levels_for(study, item)
    assert ground is not None
    line, grade = item.geometry, grade_of(item)
    long, start = float(line.length), start_level_m(item, ground)
    hill_left = lower_is_right(ground, line)
    room = half_width_m(works_of(item))
    limits = Limits(long / 2, STEEPEST_AGAIN, back_m=long / 2)
    near = _Beside.of(study, item.id).near(line, room + BESIDE_M)
    if near:
        limits = replace(limits, obstacles=near, clear_m=room)
    middle = _free_middle(line, near, room)
    # The trace runs with the hill on its left; ours may run the other way.
    made = level_line(
        ground, middle.x, middle.y, limits, grade if hill_left else -grade,
        start - grade * float(line.project(middle)),
    )  # fmt: skip
    xy = shapely.get_coordinates(made.line)
    geometry = LineString(xy if hill_left else xy[::-1])
    level = float(made.level_m[0] if hill_left else made.level_m[-1])
    return changed(item, geometry=geometry, lip_m=round(level, 4))  # type: ignore[no-any-return]


def _free_middle(line: LineString, near: tuple[Kept, ...], room_m: float) -> Point:
    """Return the place nearest to a line's middle that is clear of what is kept."""
    shares = sorted((k / 40 for k in range(41)), key=lambda share: abs(share - 0.5))
    for share in shares:
        spot = line.interpolate(share, normalized=True)
        if not any(each.dwithin(spot, room_m) for each in near):
            return spot
    raise BadData(
        "it lies all along beside what is to stay", remedy="Move it away, or trace another."
    )
