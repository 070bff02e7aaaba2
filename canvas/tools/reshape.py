"""Reshaping the one selected element by its corners."""

from __future__ import annotations

import numpy as np
from shapely.geometry import Point

from canvas.base.errors import BadData
from canvas.site.edits import Edit
from canvas.site.records import Element, kind_of
from canvas.tools.labels import stroke_labels
from canvas.tools.plane import XY, Coords, along, distance
from canvas.tools.pointer import EMPTY, BaseTool, Ghost, GhostShape, Pointer, Snap
from canvas.tools.pond_levels import HINTS, letters_of, relevelled
from canvas.tools.snap import REACH_PX, Stroke
from canvas.tools.transform import edit_each, reshaped
from canvas.tools.vertices import Corners
from canvas.tools.world import ToolWorld

#: Shapes with more corners than this show no handles: they would hide the shape.
MOST_HANDLES = 500


class ReshapeTool(BaseTool):
    """Drag a corner; drag an edge's middle to put a corner in; Delete takes one out."""

    key = "reshape"
    label = "Reshape"

    def __init__(self, world: ToolWorld) -> None:
        self.world = world
        self.active: int | None = None
        self._owner: Element | None = None
        self._held: Corners | None = None
        self._shown: Corners | None = None
        self.caught: Snap | None = None

    @property
    def prompt(self) -> str:
        """What to do now, in plain words."""
        if self.active is None:
            target = self.target()
            hint = HINTS.get(kind_of(target).key, "") if target is not None else ""
            return f"Drag a corner, or the middle of an edge to put a corner in. {hint}".strip()
        return "Type a step such as 3 E, 2 S or a position; Delete takes the corner out."

    @property
    def busy(self) -> bool:
        """Whether a corner is held or chosen."""
        return self.active is not None

    @property
    def holding(self) -> bool:
        """Whether a corner follows the pointer."""
        return self._held is not None

    @property
    def letters(self) -> str:
        """Letters the levels of the element at hand begin with."""
        target = self.target()
        return letters_of(kind_of(target).key) if target is not None else ""

    def target(self) -> Element | None:
        """Return the element whose corners are at hand."""
        if len(self.world.selection) != 1:
            return None
        item = self.world.plan.get(next(iter(self.world.selection)))
        if not isinstance(item, Element) or isinstance(item.geometry, Point):
            return None
        return item if len(Corners.of(item.geometry).xy) <= MOST_HANDLES else None

    def press(self, at: Pointer) -> Edit | None:
        """Take hold of the corner or middle under the pointer."""
        self.cancel()
        item = self.target()
        if item is None:
            return None
        shape = Corners.of(item.geometry)
        reach = REACH_PX * at.pixel_m
        number = _nearest(shape.xy, at.xy, reach)
        if number is None:
            spots, places = shape.middles()
            middle = _nearest(spots, at.xy, reach)
            if middle is None:
                return None
            x, y = spots[middle]
            shape = shape.inserted(*places[middle], (float(x), float(y)))
            number = shape.number_of(*places[middle])
        self.active, self._owner, self._held, self._shown = number, item, shape, shape
        return None

    def move(self, at: Pointer) -> None:
        """Let the held corner follow the pointer and what catches it."""
        if self._held is None or self._owner is None or self.active is None:
            return
        stroke = Stroke(self._before(), (), frozenset({self._owner.id}))
        self.caught = self.world.snapper.snap(at, self.world.snaps, stroke)
        xy = self.caught.xy if self.caught else at.xy
        self._shown = self._held.moved(self.active, xy)

    def release(self, at: Pointer) -> Edit | None:
        """Let go: the corner stays where it is; let go where it was, it stays chosen."""
        shown, self._held, self.caught = self._shown, None, None
        item = self._owner
        if item is None or shown is None:
            return None
        if shown.geometry().equals_exact(item.geometry, 1e-9):
            return None
        try:
            return self._edit(item, shown)
        finally:
            self.cancel()

    def typed(self, words: str) -> Edit | None:
        """Move the chosen corner by a step or to a position."""
        item = self._owner
        target = self.target()
        level = relevelled(target, words, self.world) if target is not None else None
        if level is not None:
            return level
        if item is None or self.active is None:
            raise BadData("No corner is chosen.", remedy="Click one first.")
        shape = Corners.of(item.geometry)
        entry = self.world.read(words)
        x, y = (float(v) for v in shape.xy[self.active])
        if entry.position_m is not None:
            spot = entry.position_m
        elif entry.step_m is not None:
            spot = x + entry.step_m[0], y + entry.step_m[1]
        elif entry.length_m is not None and entry.bearing_deg is not None:
            spot = along((x, y), entry.bearing_deg, entry.length_m)
        else:
            raise BadData("A corner moves by a step such as 3 E, 2 S, or 2.5 at 90.")
        edit = self._edit(item, shape.moved(self.active, spot))
        self.cancel()
        return edit

    def key_press(self, name: str) -> Edit | None:
        """Delete or Backspace takes the chosen corner out; Escape lets go."""
        item = self._owner
        if name in ("delete", "backspace") and item is not None and self.active is not None:
            edit = self._edit(item, Corners.of(item.geometry).without(self.active))
            self.cancel()
            return edit
        return super().key_press(name)

    def cancel(self) -> None:
        """Let go of the corner, leaving the shape as it was."""
        self.active = self._owner = self._held = self._shown = self.caught = None

    def ghost(self) -> Ghost:
        """Return the handles; while a corner is held, the shape as it would be."""
        item = self.target()
        if item is None:
            return EMPTY
        shape = self._shown if self._shown is not None else Corners.of(item.geometry)
        spots, _ = shape.middles()
        shapes = [GhostShape(Point(xy), "middle") for xy in spots if self._held is None]
        shapes += [
            GhostShape(Point(xy), "hit" if k == self.active else "handle")
            for k, xy in enumerate(shape.xy)
        ]
        if self._held is None or self.active is None:
            return Ghost(tuple(shapes))
        geometry = shape.geometry()
        shapes.insert(0, GhostShape(geometry, "area" if shape.shape == "Polygon" else "line"))
        spot = shape.xy[self.active]
        labels = stroke_labels(self.world, [self._before(), (float(spot[0]), float(spot[1]))])
        elements = (reshaped(item, geometry),) if geometry.is_valid else ()
        return Ghost(tuple(shapes), labels, self.caught, elements)

    def _before(self) -> XY:
        """Return the corner before the held one: lengths and right angles are from it."""
        assert self._held is not None
        assert self.active is not None
        xy = self._held.xy
        k = self.active - 1 if self.active > 0 else (len(xy) - 1 if self._held.closed else 1)
        return float(xy[k][0]), float(xy[k][1])

    def _edit(self, item: Element, shape: Corners) -> Edit | None:
        return edit_each("Reshape", [item], lambda one: reshaped(one, shape.geometry()))


def _nearest(spots: Coords, xy: XY, reach_m: float) -> int | None:
    if not len(spots):
        return None
    k = int(np.argmin(np.hypot(spots[:, 0] - xy[0], spots[:, 1] - xy[1])))
    return k if distance((float(spots[k, 0]), float(spots[k, 1])), xy) <= reach_m else None
