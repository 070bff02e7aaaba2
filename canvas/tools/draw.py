"""Drawing an element of any kind: a point, a line or an outline."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from canvas.base.errors import BadData
from canvas.base.ident import new_id
from canvas.site.edits import Edit, add
from canvas.site.records import Element, kind
from canvas.tools.plane import XY
from canvas.tools.pointer import Ghost
from canvas.tools.trace import PathTool, shape_of
from canvas.tools.world import ToolWorld

LEAST = {"Point": 1, "LineString": 2, "Polygon": 3}


class ElementMaker:
    """Makes elements of one kind; the next one keeps its identity from ghost to edit."""

    def __init__(self, world: ToolWorld, kind_key: str, values: Mapping[str, object]) -> None:
        self.world = world
        self.kind = kind(kind_key)
        self.values = dict(values)
        self.ident = new_id()

    def element(self, points: Sequence[XY]) -> Element:
        """Return the element these points make; `BadData` says why they make none."""
        return self.of_geometry(shape_of(points, self.kind.geometry))

    def of_geometry(self, geometry: object, **more: object) -> Element:
        """Return the element of a geometry, with the values new ones start with."""
        fresh: dict[str, Any] = {**self.world.new_values.get(self.kind.key, {}), **self.values}
        fresh |= {**more, "id": self.ident, "geometry": geometry}
        made = self.kind.cls(**fresh)
        assert isinstance(made, Element)
        return made

    def ghost(self, geometry: object, **more: object) -> tuple[Element, ...]:
        """Return the element as it would be, or nothing while it can't be."""
        try:
            return (self.of_geometry(geometry, **more),)
        except BadData:
            return ()

    def added(self, item: Element) -> Edit:
        """Return the edit that adds the element; the next one gets another identity."""
        self.ident = new_id()
        return add(f"Draw {self.kind.label.lower()}", [item])


class DrawTool(PathTool):
    """Click, type, or both; each finished stroke is one element."""

    def __init__(
        self, world: ToolWorld, kind_key: str, values: Mapping[str, object] | None = None
    ) -> None:
        super().__init__(world)
        self.maker = ElementMaker(world, kind_key, values or {})
        found = self.maker.kind
        self.key = f"draw:{kind_key}"
        self.label = found.label
        self.shape = found.geometry
        self.least = LEAST[found.geometry]
        self.most = 1 if found.geometry == "Point" else 0

    @property
    def prompt(self) -> str:
        """What to do now, in plain words."""
        if self.shape == "Point":
            return f"{self.label}: click the place, or type a position."
        return f"{self.label}: {super().prompt[0].lower()}{super().prompt[1:]}"

    def made(self, points: Sequence[XY]) -> Edit:
        """Return the edit that adds the element."""
        return self.maker.added(self.maker.element(points))

    def ghost(self) -> Ghost:
        """Return the stroke and the element it would be."""
        shown = super().ghost()
        path = self.path()
        if len(path) < self.least or (self.shape != "Point" and not self.points):
            return shown
        return replace(shown, elements=self.maker.ghost(shape_of(path, self.shape)))
