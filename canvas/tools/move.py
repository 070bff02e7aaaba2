"""Moving, copying and turning what is selected."""

from __future__ import annotations

from shapely.geometry import LineString, Point

from canvas.base.errors import BadData
from canvas.base.quantity import show
from canvas.site.edits import Edit
from canvas.site.records import Element
from canvas.tools.index import bounds_of
from canvas.tools.labels import stroke_labels
from canvas.tools.plane import XY, along, bearing, distance
from canvas.tools.pointer import (
    EMPTY,
    BaseTool,
    Ghost,
    GhostLabel,
    GhostShape,
    Pointer,
    Snap,
)
from canvas.tools.snap import Stroke
from canvas.tools.trace import SHIFT_STEP_DEG
from canvas.tools.transform import copies_edit, copy, edit_each, move_edit, shift, turn
from canvas.tools.typed import read_bearing
from canvas.tools.world import ToolWorld

#: A press that moves less than this is a click [pixels].
STILL_PX = 4.0


class Carried(BaseTool):
    """What tools share that change the selected elements by pressing, dragging and letting go."""

    def __init__(self, world: ToolWorld) -> None:
        self.world = world
        self.base: XY | None = None
        self.here: XY | None = None
        self.caught: Snap | None = None
        self._down: Pointer | None = None

    @property
    def busy(self) -> bool:
        """Whether something is being carried."""
        return self.base is not None

    @property
    def holding(self) -> bool:
        """Whether it waits for the pointer to be let go."""
        return self._down is not None

    def items(self) -> list[Element]:
        """Return what is carried; `BadData` when nothing is selected."""
        found = self.world.selected()
        if not found:
            raise BadData(f"{self.label}: nothing is selected.", remedy="Select something first.")
        return found

    def press(self, at: Pointer) -> Edit | None:
        """Take hold; or, carried by two clicks, let go."""
        if self.base is not None:
            return self._let_go(at)
        self.items()
        caught = self.world.snapper.snap(at, self.world.snaps)
        self.base = caught.xy if caught else at.xy
        self.here, self._down = self.base, at
        return None

    def move(self, at: Pointer) -> None:
        """Follow the pointer and what catches it."""
        if self.base is None:
            self.caught = self.world.snapper.snap(at, self.world.snaps)
            return
        stroke = Stroke(self.base, (), self.world.selection)
        self.caught = self.world.snapper.snap(at, self.world.snaps, stroke)
        self.here = self.caught.xy if self.caught else at.xy

    def release(self, at: Pointer) -> Edit | None:
        """Let go; after a mere click the next click lets go."""
        down, self._down = self._down, None
        if down is None or distance(down.xy, at.xy) < STILL_PX * at.pixel_m:
            return None
        return self._let_go(at)

    def _let_go(self, at: Pointer) -> Edit | None:
        self.move(at)
        assert self.base is not None
        assert self.here is not None
        base, here = self.base, self.here
        self.cancel()
        return self.carried(base, here)

    def carried(self, base: XY, here: XY) -> Edit | None:
        """Return the edit of carrying from `base` to `here`."""
        return None

    def cancel(self) -> None:
        """Put everything back."""
        self.base = self.here = self.caught = self._down = None


class MoveTool(Carried):
    """Carry the selected elements, or copies of them, somewhere else."""

    key = "move"
    label = "Move"

    def __init__(self, world: ToolWorld, *, copies: bool = False) -> None:
        super().__init__(world)
        self.copies = copies
        if copies:
            self.key, self.label = "copy_to", "Copy to"

    @property
    def prompt(self) -> str:
        """What to do now, in plain words."""
        if self.base is None:
            return f"{self.label}: press on a point to carry by, or type 3 E, 2 S or 12.5 at 45."
        return f"{self.label}: let go where that point should be, or type how far."

    def carried(self, base: XY, here: XY) -> Edit | None:
        """Return the edit of carrying from `base` to `here`."""
        return self._by(here[0] - base[0], here[1] - base[1])

    def typed(self, words: str) -> Edit | None:
        """Move by a step, a length and bearing, or a length towards the pointer."""
        dx, dy = self._typed_step(words)
        self.cancel()
        return self._by(dx, dy)

    def _typed_step(self, words: str) -> XY:
        entry = self.world.read(words)
        if entry.step_m is not None:
            return entry.step_m
        if entry.position_m is not None:
            middle = self._anchor()
            return entry.position_m[0] - middle[0], entry.position_m[1] - middle[1]
        length, aim = entry.length_m, entry.bearing_deg
        if aim is None and self.base and self.here and distance(self.base, self.here) > 0:
            aim = bearing(self.base, self.here)
        if length is None or aim is None:
            raise BadData("How far and which way?", remedy="Type 3 E, 2 S or 12.5 at 45.")
        return along((0.0, 0.0), aim, length)

    def _anchor(self) -> XY:
        items = self.items()
        if self.base is not None:
            return self.base
        if len(items) == 1 and isinstance(items[0].geometry, Point):
            return items[0].geometry.x, items[0].geometry.y
        raise BadData(
            "Which point should come to that position?",
            remedy="Press on a point of it first, then type the position.",
        )

    def _by(self, dx: float, dy: float) -> Edit | None:
        items = self.items()
        if self.copies:
            return copies_edit("Copy", [shift(copy(item), dx, dy) for item in items])
        return move_edit(items, dx, dy)

    def ghost(self) -> Ghost:
        """Return the elements where they would be."""
        if self.base is None or self.here is None:
            return Ghost(snap=self.caught)
        dx, dy = self.here[0] - self.base[0], self.here[1] - self.base[1]
        moved = tuple(shift(item, dx, dy) for item in self.world.selected())
        guide = GhostShape(LineString([self.base, self.here]), "guide")
        labels = stroke_labels(self.world, [self.base, self.here])
        return Ghost((guide,), labels, self.caught, moved)


class TurnTool(Carried):
    """Turn the selected elements about their middle, or about a point chosen with Ctrl."""

    key = "turn"
    label = "Turn"

    def __init__(self, world: ToolWorld) -> None:
        super().__init__(world)
        self.centre: XY | None = None

    @property
    def prompt(self) -> str:
        """What to do now, in plain words."""
        return "Drag around the middle, or type degrees clockwise; Ctrl+click chooses the middle."

    def about(self) -> XY | None:
        """Return the point things turn about."""
        if self.centre is not None:
            return self.centre
        bounds = bounds_of([item.geometry for item in self.world.selected()])
        return ((bounds[0] + bounds[2]) / 2, (bounds[1] + bounds[3]) / 2) if bounds else None

    def press(self, at: Pointer) -> Edit | None:
        """Take hold; with Ctrl, choose the middle."""
        if at.ctrl and self.base is None:
            self.move(at)
            self.centre = self.caught.xy if self.caught else at.xy
            return None
        return super().press(at)

    def move(self, at: Pointer) -> None:
        """Follow the pointer; with Shift in whole steps."""
        super().move(at)
        middle = self.about()
        if at.shift and self.base is not None and middle is not None and at.xy != middle:
            step = round(self._angle(at.xy) / SHIFT_STEP_DEG) * SHIFT_STEP_DEG
            start = bearing(middle, self.base)
            self.here = along(middle, start + step, distance(middle, at.xy))
            self.caught = None

    def _angle(self, here: XY) -> float:
        middle = self.about()
        if middle is None or self.base is None:
            return 0.0
        turned = bearing(middle, here) - bearing(middle, self.base)
        return (turned + 180.0) % 360.0 - 180.0

    def _let_go(self, at: Pointer) -> Edit | None:
        self.move(at)
        angle = self._angle(self.here or at.xy)
        self.cancel()
        return self._by(angle)

    def typed(self, words: str) -> Edit | None:
        """Turn by degrees clockwise; a minus turns the other way."""
        self.cancel()
        return self._by(read_bearing(words))

    def _by(self, clockwise_deg: float) -> Edit | None:
        items, middle = self.items(), self.about()
        assert middle is not None
        return edit_each("Turn", items, lambda item: turn(item, middle, clockwise_deg))

    def ghost(self) -> Ghost:
        """Return the elements turned, and what they turn about."""
        middle = self.about()
        if middle is None:
            return EMPTY
        pin = GhostShape(Point(middle), "hit")
        if self.base is None or self.here is None:
            return Ghost((pin,), (), self.caught)
        angle = self._angle(self.here)
        turned = tuple(turn(item, middle, angle) for item in self.world.selected())
        arms = GhostShape(LineString([self.base, middle, self.here]), "guide")
        label = GhostLabel(*self.here, f"turned {show(angle, 'deg', self.world.units)}")
        return Ghost((arms, pin), (label,), self.caught, turned)
