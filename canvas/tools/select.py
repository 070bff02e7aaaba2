"""The empty hand: choose by click and box, move what is chosen, reshape it by its corners."""

from __future__ import annotations

from shapely.geometry import box

from canvas.site.edits import Edit
from canvas.tools.move import STILL_PX, MoveTool
from canvas.tools.plane import distance
from canvas.tools.pointer import EMPTY, BaseTool, Ghost, GhostShape, Pointer
from canvas.tools.reshape import ReshapeTool
from canvas.tools.transform import delete_edit
from canvas.tools.world import ToolWorld


class SelectTool(BaseTool):
    """Click chooses, Shift adds, Ctrl switches; a box takes what it touches or holds.

    Clicking again on the same spot chooses what lies beneath.
    """

    key = "choose"
    label = "Choose"

    def __init__(self, world: ToolWorld) -> None:
        self.world = world
        self.reshape = ReshapeTool(world)
        self.mover = MoveTool(world)
        self._down: Pointer | None = None
        self._here: Pointer | None = None
        self._carrier: BaseTool | None = None

    @property
    def prompt(self) -> str:
        """What to do now, in plain words."""
        if self.reshape.busy:
            return self.reshape.prompt
        if self.world.selection:
            return "Drag to move, drag a corner to reshape, or type a step such as 3 E, 2 S."
        return "Click to choose; drag a box to choose what it touches or holds."

    @property
    def busy(self) -> bool:
        """Whether a gesture has begun or a corner is chosen."""
        return self._down is not None or self.reshape.busy

    @property
    def holding(self) -> bool:
        """Whether it waits for the pointer to be let go."""
        return self._down is not None

    @property
    def carries(self) -> bool:
        """Whether what was pressed on follows the pointer: a corner, or what is chosen."""
        return self._carrier is not None

    def press(self, at: Pointer) -> Edit | None:
        """Take hold of a corner or of what is chosen; else begin a box."""
        self._down = self._here = at
        self._carrier = None
        plain = not (at.shift or at.ctrl)
        if plain:
            self.reshape.press(at)
            if self.reshape.holding:
                self._carrier = self.reshape
            elif any(item.id in self.world.selection for item in self.world.index.stack_at(at)):
                self._carrier = self.mover
        return None

    def move(self, at: Pointer) -> None:
        """Carry, or stretch the box, once the pointer has moved more than a click would."""
        self._here = at
        if self._down is None or self._carrier is None or not self._dragged(at):
            return
        if self._carrier is self.mover and not self.mover.busy:
            self.mover.press(self._down)
        self._carrier.move(at)

    def release(self, at: Pointer) -> Edit | None:
        """Finish the gesture: an edit, a box or a click."""
        down, carrier = self._down, self._carrier
        if down is None:
            return None
        dragged = self._dragged(at)
        self._down = self._here = self._carrier = None
        if carrier is self.reshape:
            return self.reshape.release(at)
        if carrier is self.mover and self.mover.busy:
            edit = self.mover.release(at)
            self.mover.cancel()
            return edit
        if dragged:
            self._take_box(down, at)
        else:
            self._click(at)
        return None

    def _dragged(self, at: Pointer) -> bool:
        assert self._down is not None
        return distance(self._down.xy, at.xy) >= STILL_PX * at.pixel_m

    def _take_box(self, down: Pointer, at: Pointer) -> None:
        found = self.world.index.touching(_bounds(down, at))
        self.world.choose(frozenset(item.id for item in found), _how(at, "replace"))

    def _click(self, at: Pointer) -> None:
        stack = [item.id for item in self.world.index.stack_at(at)]
        how = _how(at, "replace")
        if not stack:
            if how == "replace":
                self.world.choose(frozenset(), how)
            return
        chosen = stack[0]
        if how == "replace" and len(self.world.selection) == 1:
            held = next(iter(self.world.selection))
            if held in stack:
                chosen = stack[(stack.index(held) + 1) % len(stack)]
        self.world.choose(frozenset({chosen}), how)

    def key_press(self, name: str) -> Edit | None:
        """Delete deletes the chosen corner or elements; Escape lets go, then chooses nothing."""
        if name == "escape":
            if self.busy:
                self.cancel()
            else:
                self.world.choose(frozenset(), "replace")
            return None
        if self.reshape.busy:
            return self.reshape.key_press(name)
        if name == "delete":
            return delete_edit(self.world.selected())
        return None

    def typed(self, words: str) -> Edit | None:
        """Move the chosen corner, or else what is selected."""
        tool = self.reshape if self.reshape.busy else self.mover
        return tool.typed(words)

    def cancel(self) -> None:
        """Forget the gesture."""
        self._down = self._here = self._carrier = None
        self.reshape.cancel()
        self.mover.cancel()

    def ghost(self) -> Ghost:
        """Return what is carried, the box, or the corners at hand."""
        if self.mover.busy:
            return self.mover.ghost()
        boxed = self._down is not None and self._here is not None and self._carrier is None
        if boxed and self._down and self._here and self._dragged(self._here):
            return Ghost((GhostShape(box(*_bounds(self._down, self._here)), "box"),))
        return self.reshape.ghost() if self.world.selection else EMPTY


def _bounds(a: Pointer, b: Pointer) -> tuple[float, float, float, float]:
    return min(a.x_m, b.x_m), min(a.y_m, b.y_m), max(a.x_m, b.x_m), max(a.y_m, b.y_m)


def _how(at: Pointer, plain: str) -> str:
    return "toggle" if at.ctrl else "add" if at.shift else plain
