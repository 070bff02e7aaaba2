"""The map by keyboard: a cross-hair in place of the pointer, nudges, panning, choosing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QKeyEvent

from canvas.tools.move import MoveTool
from canvas.tools.select import SelectTool
from canvas.tools.selecting import next_one
from canvas.tools.transform import move_edit

if TYPE_CHECKING:
    from canvas.desk.mapview import MapView

Key = Qt.Key
Mod = Qt.KeyboardModifier

ARROWS = {
    Key.Key_Left: (-1, 0),
    Key.Key_Right: (1, 0),
    Key.Key_Up: (0, -1),
    Key.Key_Down: (0, 1),
}
NAMES = {
    Key.Key_Backspace: "backspace",
    Key.Key_Delete: "delete",
}
#: Steps of the cross-hair: plain, with Shift, [pixels].
STEP_PX, FINE_PX = 10.0, 1.0
#: Share of the view an arrow pans by.
PAN_SHARE = 0.12
ZOOM_STEP = 1.25
#: The cross-hair stays this far inside the view; nearer, the map follows.
EDGE_PX = 24.0
#: Nudges are a round length near so many pixels.
NUDGE_PX = 2.0
STARTS_TYPING = "0123456789.,"
#: While a gesture is under way these begin a typed value too.
STARTS_IN_GESTURE = "+-−AENSW"
TYPE_KEY = Key.Key_F4


class MapKeys:
    """Turns keys into gestures of the tool in hand."""

    def __init__(self, view: MapView) -> None:
        self._view = view
        self._space_down = False

    @property
    def space_down(self) -> bool:
        """Whether the space bar is held: the pointer then pans."""
        return self._space_down

    def wants(self, event: QKeyEvent) -> bool:
        """Whether the map takes a key that could be a shortcut elsewhere."""
        if event.modifiers() & (Mod.ControlModifier | Mod.AltModifier | Mod.MetaModifier):
            return False
        taken = {*ARROWS, *NAMES, Key.Key_Space, Key.Key_Escape, Key.Key_Return, Key.Key_Enter}
        return event.key() in taken or bool(event.text() and event.text() in STARTS_TYPING)

    def press(self, event: QKeyEvent) -> bool:
        """Take a key; return whether it was for the map."""
        key = Key(event.key())
        if key in ARROWS:
            self._arrow(*ARROWS[key], event.modifiers())
        elif key == Key.Key_Space:
            self._space(event)
        elif key in (Key.Key_Return, Key.Key_Enter):
            self._enter()
        elif key == Key.Key_Escape:
            self._view.escape()
        elif key in NAMES:
            self._view.tool_key(NAMES[key])
        elif key in (Key.Key_PageDown, Key.Key_PageUp):
            self._choose_next(back=key == Key.Key_PageUp)
        elif key == Key.Key_Home:
            self._view.zoom_all()
        elif key == TYPE_KEY:
            self._view.open_entry("")
        else:
            return self._letter(event.text())
        return True

    def release(self, event: QKeyEvent) -> bool:
        """Take a key let go; return whether it was for the map."""
        if event.key() != Key.Key_Space or event.isAutoRepeat():
            return False
        self._space_down = False
        self._view.update_pointer_shape()
        return True

    def _letter(self, text: str) -> bool:
        if not text:
            return False
        tool = self._view.tool
        begins = STARTS_IN_GESTURE + tool.letters if tool.busy else tool.letters
        if text in STARTS_TYPING or text.upper() in begins:
            self._view.open_entry(text)
            return True
        if text in "+=-":
            self._view.zoom_by(1 / ZOOM_STEP if text == "-" else ZOOM_STEP)
            return True
        return False

    def _arrow(self, dx: int, dy: int, held: Mod) -> None:
        view = self._view
        if held & Mod.ControlModifier:
            view.pan(-dx * view.width() * PAN_SHARE, -dy * view.height() * PAN_SHARE)
        elif view.cross is not None or not isinstance(view.tool, SelectTool):
            step = FINE_PX if held & Mod.ShiftModifier else STEP_PX
            self._move_cross(dx * step, dy * step)
        elif view.world.selection:
            self._nudge(dx, dy, coarse=bool(held & Mod.ShiftModifier))
        else:
            view.pan(-dx * view.width() * PAN_SHARE, -dy * view.height() * PAN_SHARE)

    def _move_cross(self, dx: float, dy: float) -> None:
        view = self._view
        if view.cross is None:
            view.set_cross(view.camera.map_of(view.pointer_px()))
        assert view.cross is not None
        spot = view.camera.screen_of(*view.cross) + QPointF(dx, dy)
        over_x = min(spot.x() - EDGE_PX, 0.0) + max(spot.x() - view.width() + EDGE_PX, 0.0)
        over_y = min(spot.y() - EDGE_PX, 0.0) + max(spot.y() - view.height() + EDGE_PX, 0.0)
        place = view.camera.map_of(spot)
        if over_x or over_y:
            view.pan(-over_x, -over_y)
        view.set_cross(place)

    def _nudge(self, dx: int, dy: int, *, coarse: bool) -> None:
        view = self._view
        step = nudge_m(view.camera.pixel_m) * (10.0 if coarse else 1.0)
        items = view.world.selected()
        view.commit(move_edit(items, dx * step, -dy * step, nudge=True), still_nudging=True)

    def _space(self, event: QKeyEvent) -> None:
        if event.isAutoRepeat():
            return
        if self._view.cross is None:
            self._space_down = True
            self._view.update_pointer_shape()
            return
        self._put()

    def _put(self) -> None:
        """Press at the cross-hair; let go at once, or at the next press for what is carried."""
        view, tool = self._view, self._view.tool
        at = view.pointer_at_cross()
        if tool.holding:
            view.feed(tool.release, at)
            return
        view.feed(tool.press, at)
        carries = isinstance(tool, SelectTool) and tool.carries
        if view.tool is tool and tool.holding and not carries and not isinstance(tool, MoveTool):
            view.feed(tool.release, at)

    def _enter(self) -> None:
        view = self._view
        if view.tool.busy:
            view.tool_key("enter")
        elif view.cross is None:
            view.set_cross(view.camera.map_of(view.pointer_px()))
        else:
            self._put()

    def _choose_next(self, *, back: bool) -> None:
        view = self._view
        item = next_one(view.world.index, view.world.selection, view.view_bounds(), back=back)
        if item is not None:
            view.world.choose(frozenset({item.id}), "replace")


def nudge_m(pixel_m: float) -> float:
    """Return a round length near two pixels: 1, 2 or 5 times a power of ten [m]."""
    power = 1e-3
    while True:
        for digit in (1.0, 2.0, 5.0):
            if digit * power >= NUDGE_PX * pixel_m * 0.75 or power > 1e3:
                return digit * power
        power *= 10.0
