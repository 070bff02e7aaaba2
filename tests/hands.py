"""Hands for the tools: a world of made-up elements, and a pointer to move over it."""

from __future__ import annotations

import numpy as np
import shapely

from canvas.site.edits import Edit
from canvas.site.records import Element, kind
from canvas.tools.pointer import Pointer, Tool
from canvas.tools.trace import shape_of
from canvas.tools.world import ToolWorld
from made import EAST, NORTH

PIXEL_M = 0.1


class Hand:
    """Moves the pointer in metres from the made-up corner, and makes the edits that come of it."""

    def __init__(self, world: ToolWorld) -> None:
        self.world = world
        self.edits: list[Edit] = []

    def at(self, x: float, y: float, **held: bool) -> Pointer:
        return Pointer(EAST + x, NORTH + y, PIXEL_M, **held)

    def take(self, edit: Edit | None) -> Edit | None:
        if edit is not None:
            self.edits.append(edit)
            self.world.plan = self.world.plan.applied(edit)
        return edit

    def click(self, tool: Tool, x: float, y: float, **held: bool) -> Edit | None:
        at = self.at(x, y, **held)
        tool.move(at)
        pressed = self.take(tool.press(at))
        return self.take(tool.release(at)) or pressed

    def drag(self, tool: Tool, start: tuple[float, float], end: tuple[float, float], **held: bool):
        tool.move(self.at(*start, **held))
        self.take(tool.press(self.at(*start, **held)))
        middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
        tool.move(self.at(*middle, **held))
        tool.move(self.at(*end, **held))
        return self.take(tool.release(self.at(*end, **held)))

    def type(self, tool: Tool, words: str) -> Edit | None:
        return self.take(tool.typed(words))

    def key(self, tool: Tool, name: str) -> Edit | None:
        return self.take(tool.key_press(name))

    def elements(self, key: str) -> list[Element]:
        return [item for item in self.world.plan.of_kind(key) if isinstance(item, Element)]


def make(key: str, *coords: tuple[float, float], **values: object) -> Element:
    """Return an element from places in metres from the made-up corner."""
    points = [(EAST + x, NORTH + y) for x, y in coords]
    made = kind(key).cls(geometry=shape_of(points, kind(key).geometry), **values)
    assert isinstance(made, Element)
    return made


def local(item: Element) -> np.ndarray:
    """Return an element's coordinates in metres from the made-up corner, rounded to 0.1 mm."""
    return np.round(shapely.get_coordinates(item.geometry) - (EAST, NORTH), 4)
