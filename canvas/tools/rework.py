"""Flip over a line, split, line up, draw beside: gestures over the selected elements."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData
from canvas.site.edits import Edit
from canvas.site.records import Element, changed, kind
from canvas.tools.draw import ElementMaker
from canvas.tools.plane import XY, distance
from canvas.tools.pointer import BaseTool, Ghost, GhostLabel, GhostShape, Pointer
from canvas.tools.reworking import beside, line_up_edit, side_of, split_edit
from canvas.tools.trace import SAME_M, PathTool
from canvas.tools.transform import copies_edit, copy, edit_each, flip, reshaped
from canvas.tools.world import ToolWorld


class LineOverSelection(PathTool):
    """A straight line that does something to what is selected."""

    most = 2

    @property
    def prompt(self) -> str:
        """What to do now, in plain words."""
        if not self.world.selection:
            return f"{self.label}: select something first."
        return f"{self.label}: {super().prompt[0].lower()}{super().prompt[1:]}"

    def items(self) -> list[Element]:
        """Return what is selected; `BadData` when nothing is."""
        found = self.world.selected()
        if not found:
            raise BadData(f"{self.label}: nothing is selected.", remedy="Select something first.")
        return found


class FlipTool(LineOverSelection):
    """Flip the selected elements, or copies of them, over a line of two points."""

    key = "flip"
    label = "Flip over a line"

    def __init__(self, world: ToolWorld, *, copies: bool = False) -> None:
        super().__init__(world)
        self.copies = copies

    def made(self, points: Sequence[XY]) -> Edit | None:
        """Return the edit that flips."""
        a, b = points
        if self.copies:
            return copies_edit("Flip a copy of", [flip(copy(item), a, b) for item in self.items()])
        return edit_each("Flip", self.items(), lambda item: flip(item, a, b))

    def ghost(self) -> Ghost:
        """Return the line and the elements flipped over it."""
        shown, path = super().ghost(), self.path()
        if len(path) < 2 or not self.points or distance(path[-2], path[-1]) <= SAME_M:
            return shown
        flipped = tuple(flip(item, path[0], path[1]) for item in self.world.selected())
        return Ghost(shown.shapes, shown.labels, shown.snap, flipped)


class SplitTool(LineOverSelection):
    """Split the selected lines and areas along a drawn line."""

    key = "split"
    label = "Split"
    most = 0

    def made(self, points: Sequence[XY]) -> Edit:
        """Return the edit that splits."""
        return split_edit(self.items(), LineString(points))


class LineUpTool(LineOverSelection):
    """Move the selected elements square onto a line; evenly apart when asked."""

    key = "line_up"
    label = "Line up"

    def __init__(self, world: ToolWorld, *, evenly: bool = False) -> None:
        super().__init__(world)
        self.evenly = evenly
        if evenly:
            self.key, self.label = "line_up_evenly", "Line up evenly"

    def made(self, points: Sequence[XY]) -> Edit | None:
        """Return the edit that lines up."""
        return line_up_edit(self.items(), *points, evenly=self.evenly)


class BesideTool(BaseTool):
    """Draw beside the selected elements at a distance: of their own kind, or of another."""

    key = "beside"
    label = "Draw beside at …"
    #: Whether a typed distance is always outward, wherever the pointer stands.
    outward = False

    def __init__(
        self, world: ToolWorld, kind_key: str = "", values: Mapping[str, object] | None = None
    ) -> None:
        self.world = world
        self.kind_key = kind_key
        self.values = dict(values or {})
        self._makers: dict[str, ElementMaker] = {}
        self.here: Pointer | None = None

    @property
    def prompt(self) -> str:
        """What to do now, in plain words."""
        if not self.sources():
            return f"{self.label}: select a line or an outline first."
        return f"{self.label} Click at the distance and side, or type the distance."

    def sources(self) -> list[Element]:
        """Return the lines and areas drawn beside."""
        found = self.world.selected()
        return [item for item in found if item.geometry.geom_type in ("LineString", "Polygon")]

    def press(self, at: Pointer) -> Edit | None:
        """Draw at the pointer's distance and side."""
        self.here = at
        return self._edit(None)

    def move(self, at: Pointer) -> None:
        """Follow the pointer."""
        self.here = at

    def typed(self, words: str) -> Edit | None:
        """Draw at a typed distance, on the pointer's side."""
        return self._edit(self.world.read_length(words))

    def _edit(self, apart_m: float | None) -> Edit | None:
        if not self.sources():
            raise BadData(
                "There is nothing to draw beside.", remedy="Select a line or an outline first."
            )
        edit = copies_edit("Draw", self._made(apart_m))
        self._makers.clear()
        return edit

    def _made(self, apart_m: float | None) -> list[Element]:
        return [self._beside(item, apart_m) for item in self.sources()]

    def offset(self, item: Element, apart_m: float) -> float:
        """Return how far the new line lies from the source, from the distance asked for."""
        return apart_m

    def _beside(self, item: Element, apart_m: float | None) -> Element:
        near, sign = side_of(item.geometry, self.here.xy) if self.here else (0.0, 1.0)
        apart = near if apart_m is None else self.offset(item, apart_m)
        if self.outward and apart_m is not None:
            sign = 1.0
        made = beside(item.geometry, sign * apart)
        if not self.kind_key:
            fresh: Element = changed(item, id=self._maker(item, "").ident)
            return reshaped(fresh, made)
        return self._maker(item, self.kind_key).of_geometry(self._fitted(made))

    def _maker(self, item: Element, kind_key: str) -> ElementMaker:
        if item.id not in self._makers:
            key = kind_key or item.kind_key  # type: ignore[attr-defined]
            self._makers[item.id] = ElementMaker(self.world, key, self.values)
        return self._makers[item.id]

    def _fitted(self, geometry: BaseGeometry) -> BaseGeometry:
        wanted = kind(self.kind_key).geometry
        if wanted == "LineString" and isinstance(geometry, Polygon):
            return LineString(geometry.exterior.coords)
        if wanted == "Polygon" and isinstance(geometry, LineString):
            if not geometry.is_closed:
                raise BadData(f"An open line makes no {kind(self.kind_key).label.lower()}.")
            return Polygon(geometry.coords)
        return geometry

    def ghost(self) -> Ghost:
        """Return what would be drawn, and how far off."""
        if self.here is None or not self.sources():
            return Ghost()
        try:
            made = self._made(None)
        except BadData:
            return Ghost()
        near, _ = side_of(self.sources()[0].geometry, self.here.xy)
        label = GhostLabel(*self.here.xy, self.words(near))
        shapes = tuple(GhostShape(item.geometry, "line") for item in made)
        return Ghost(shapes, (label,), None, tuple(made))

    def words(self, apart_m: float) -> str:
        """Return the label at the pointer."""
        return f"{self.world.length(apart_m)} beside"

    def cancel(self) -> None:
        """Forget the pointer."""
        self.here = None
        self._makers.clear()
