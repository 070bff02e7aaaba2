"""Gestures of their own for some kinds: a building by a side and its depth, a belt around one.

Every kind can be drawn by its geometry; these are other ways, some likelier than that.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from shapely.geometry import Polygon

from canvas.base.errors import BadData
from canvas.site.edits import Edit
from canvas.site.records import Element, kind
from canvas.tools.draw import DrawTool
from canvas.tools.levelling import TRACED, LevelLineTool
from canvas.tools.plane import XY, along, bearing, distance
from canvas.tools.pointer import BaseTool, Ghost, GhostLabel, GhostShape, Pointer
from canvas.tools.pond_levels import LevelledTool
from canvas.tools.repeat import RepeatTool
from canvas.tools.rework import BesideTool
from canvas.tools.reworking import side_of
from canvas.tools.trace import SAME_M
from canvas.tools.world import ToolWorld

Values = Mapping[str, object]
Make = Callable[[ToolWorld, Values], BaseTool]


@dataclass(frozen=True, slots=True)
class Placing:
    """One way to put an element of a kind on the map."""

    key: str
    label: str
    make: Make
    #: Whether it is likelier than drawing by geometry.
    likelier: bool = False


class SideAndDepthTool(DrawTool):
    """A rectangle: one side by two points, then how deep it is on the pointer's side."""

    def __init__(self, world: ToolWorld, kind_key: str, values: Values | None = None) -> None:
        super().__init__(world, kind_key, values)
        self.key = f"side_and_depth:{kind_key}"
        self.least = self.most = 3

    @property
    def prompt(self) -> str:
        """What to do now, in plain words."""
        steps = (
            "click one corner, or type a position.",
            "click the end of that side, or type its length and bearing.",
            "click how deep it goes, or type the depth.",
        )
        return f"{self.label}: {steps[min(len(self.points), 2)]}"

    def corners(self, points: Sequence[XY]) -> list[XY]:
        """Return the four corners from the side's ends and a point level with the far side."""
        a, b, far = points
        depth, side = self._depth(a, b, far), bearing(a, b) + 90.0
        return [a, b, along(b, side, depth), along(a, side, depth)]

    @staticmethod
    def _depth(a: XY, b: XY, far: XY) -> float:
        """Return how far a point lies right of the line from a to b [m]."""
        return ((far[0] - a[0]) * (b[1] - a[1]) - (far[1] - a[1]) * (b[0] - a[0])) / distance(a, b)

    def typed(self, words: str) -> Edit | None:
        """Take the third value as the depth, on the pointer's side."""
        if len(self.points) < 2:
            return super().typed(words)
        a, b = self.points
        right = self.here is None or self._depth(a, b, self.here) >= 0
        depth = self.world.read_length(words) * (1.0 if right else -1.0)
        return self.put(along(b, bearing(a, b) + 90.0, depth))

    def made(self, points: Sequence[XY]) -> Edit:
        """Return the edit that adds the rectangle."""
        if abs(self._depth(*points)) <= SAME_M:
            self.points.pop()
            raise BadData("A building needs some depth.", remedy="Click to one side of its wall.")
        return self.maker.added(self.maker.of_geometry(Polygon(self.corners(points))))

    def ghost(self) -> Ghost:
        """Return the side, then the rectangle as it would be."""
        shown, path = super().ghost(), self.path()
        if len(self.points) != 2 or len(path) != 3:
            return replace(shown, elements=())
        corners = self.corners(path)
        rectangle = Polygon(corners)
        depth = abs(self._depth(*path))
        words = (
            f"{self.world.length(distance(path[0], path[1]))} × {self.world.length(depth)}\n"
            f"area {self.world.area(rectangle.area)}"
        )
        return Ghost(
            (GhostShape(rectangle, "area"),),
            (GhostLabel(*path[2], words),),
            shown.snap,
            self.maker.ghost(rectangle) if depth > SAME_M else (),
        )


class BeltTool(BesideTool):
    """A firebreak around buildings: its inner edge a set distance from the walls."""

    key = "belt_around"
    label = "Belt around"
    outward = True

    def __init__(self, world: ToolWorld, values: Values | None = None) -> None:
        super().__init__(world, "firebreak", values)

    @property
    def prompt(self) -> str:
        """What to do now, in plain words."""
        if not self.sources():
            return "Belt around: click the building it should ring."
        return "Belt around: type the distance from the walls to the belt, or click where it runs."

    def sources(self) -> list[Element]:
        """Return the selected buildings."""
        return [item for item in super().sources() if isinstance(item.geometry, Polygon)]

    def press(self, at: Pointer) -> Edit | None:
        """Choose the building under the pointer; then ring it."""
        if self.sources():
            return super().press(at)
        under = [i for i in self.world.index.stack_at(at) if isinstance(i.geometry, Polygon)]
        if not under:
            raise BadData("There is nothing here to ring.", remedy="Click a building.")
        self.world.choose(frozenset({under[0].id}), "replace")
        return None

    def offset(self, item: Element, apart_m: float) -> float:
        """Return where the belt's middle line runs for a distance to its inner edge."""
        return apart_m + self._width() / 2

    def words(self, apart_m: float) -> str:
        """Return the label at the pointer."""
        inner = self.world.length(max(apart_m - self._width() / 2, 0.0))
        return f"{inner} clear, belt {self.world.length(self._width())} wide"

    def _width(self) -> float:
        fresh = {**self.world.new_values.get("firebreak", {}), **self.values}
        width = fresh.get("width_m", kind("firebreak").spec("width_m").default)
        assert isinstance(width, int | float)
        return float(width)

    def ghost(self) -> Ghost:
        """Return the belt; nothing while the pointer is inside the walls."""
        sources = self.sources()
        if self.here and sources and side_of(sources[0].geometry, self.here.xy)[1] < 0:
            return Ghost()
        return super().ghost()


def _traced(kind_key: str) -> Placing:
    return Placing(
        "level_line",
        "Along a traced level line",
        lambda world, values: LevelLineTool(world, kind_key, values),
        likelier=True,
    )


def _levelled(kind_key: str, world: ToolWorld, values: Values) -> BaseTool:
    return LevelledTool(world, kind_key, values)


_OWN: dict[str, tuple[Placing, ...]] = {
    "building": (
        Placing(
            "side_and_depth",
            "By a side and its depth",
            lambda world, values: SideAndDepthTool(world, "building", values),
            likelier=True,
        ),
    ),
    "firebreak": (Placing("belt_around", "Belt around", BeltTool),),
    **{
        key: (Placing("levelled", words, partial(_levelled, key), likelier=True),)
        for key, words in (("dam", "By its crest"), ("dug_pond", "By its water's edge"))
    },
    **{key: (_traced(key),) for key in TRACED},
}
_BY_GEOMETRY = {"Point": "One by one", "LineString": "Along a line", "Polygon": "Free outline"}


def placings(kind_key: str) -> tuple[Placing, ...]:
    """Return the ways to put an element of a kind on the map, the likeliest first."""
    found = kind(kind_key)
    free = Placing(
        "draw",
        _BY_GEOMETRY[found.geometry],
        lambda world, values: DrawTool(world, kind_key, values),
    )
    many: tuple[Placing, ...] = ()
    if found.geometry == "Point":
        many = (
            Placing("along", "Repeat along a line",
                    lambda world, values: RepeatTool(world, "LineString", kind_key, values)),
            Placing("within", "Repeat in an area",
                    lambda world, values: RepeatTool(world, "Polygon", kind_key, values)),
        )  # fmt: skip
    own = _OWN.get(kind_key, ())
    likelier = tuple(each for each in own if each.likelier)
    return (*likelier, free, *(each for each in own if not each.likelier), *many)


def placing(
    world: ToolWorld, kind_key: str, key: str = "", values: Values | None = None
) -> BaseTool:
    """Return the tool of one placing, the likeliest when `key` is ""."""
    for found in placings(kind_key):
        if key in ("", found.key):
            return found.make(world, values or {})
    raise BadData(f"A {kind(kind_key).label.lower()} can't be placed by “{key}”.")
