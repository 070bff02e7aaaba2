"""The map under the hand: pointer, keys and typed values become edits through the tool in hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QEvent, QPointF, Qt, Signal
from PySide6.QtGui import (
    QContextMenuEvent,
    QDragEnterEvent,
    QDropEvent,
    QFocusEvent,
    QInputDevice,
    QKeyEvent,
    QMouseEvent,
    QNativeGestureEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QWidget

from canvas.base.errors import BadData
from canvas.desk.bench import Bench
from canvas.desk.map_canvas import MapCanvas
from canvas.desk.map_entry import EntryBox
from canvas.desk.map_keys import MapKeys
from canvas.site.edits import Edit
from canvas.tools.pointer import Ghost, Pointer, Tool
from canvas.tools.select import SelectTool

#: Wheel notches to a doubling, and what one notch counts.
NOTCHES = 4.0
NOTCH = 120.0


class MapView(MapCanvas):
    """The plan on the screen, and the hand on the plan."""

    #: What the tool says to do now.
    prompt_changed = Signal(str)
    #: Files let fall on the map.
    files_dropped = Signal(list)
    #: Right click: place on the screen, identity of what is there ("" for nothing).
    menu_wanted = Signal(object, str)
    #: Double click on an element with an empty hand.
    opened = Signal(str)
    #: Figures and findings of what is in hand changed.
    preview_changed = Signal()

    def __init__(self, bench: Bench, parent: QWidget | None = None) -> None:
        super().__init__(bench, parent)
        self._drag_px: QPointF | None = None
        self._prompt = ""
        self._hand = SelectTool(self.world)
        self.keys = MapKeys(self)
        self.entry = EntryBox(self)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setAcceptDrops(True)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setMinimumSize(200, 160)
        self.setAccessibleName("Map")
        self.setAccessibleDescription(
            "Enter shows a cross-hair the arrow keys move; Space puts a point there. Page Down "
            "chooses the next element; arrow keys move what is chosen. Digits type a value."
        )
        self.update_pointer_shape()
        self.previews.changed.connect(self._preview_changed)
        self.entry.entered.connect(self._entered)
        self.entry.closed.connect(self.setFocus)
        self.view_changed.connect(self._feed_move)
        bench.site_changed.connect(self._lay_aside)
        bench.tool_changed.connect(self._tool_changed)
        bench.selection_changed.connect(self._selection_changed)

    # -- the tool in hand -------------------------------------------------------------------------

    @property
    def tool(self) -> Tool:
        """The tool in hand; the empty hand chooses, moves and reshapes."""
        return self.bench.tool if self.bench.tool is not None else self._hand

    def feed(self, act: Callable[[Pointer], Edit | None], at: Pointer) -> None:
        """Let the tool take a pointer event, and make the edit that comes of it."""
        try:
            self.commit(act(at))
        except BadData as trouble:
            self._tell(trouble)
        self.tool_moved()

    def tool_key(self, name: str) -> None:
        """Let the tool take a key, and make the edit that comes of it."""
        try:
            self.commit(self.tool.key_press(name))
        except BadData as trouble:
            self._tell(trouble)
        self.tool_moved()

    def _tell(self, trouble: BadData) -> None:
        """Say what is wrong with a stroke: it is before one's eyes, and has no name yet."""
        self.bench.tell("warning", f"{trouble.what}. {trouble.remedy}")

    def commit(self, edit: Edit | None, *, still_nudging: bool = False) -> None:
        """Make an edit; what it adds becomes the selection, with what it made it from."""
        session = self.bench.session
        if session is not None and not still_nudging:
            session.release()
        if edit is None:
            return
        if self.bench.apply(edit) is None:
            self.previews.clear()
            return
        if session is not None:
            self.previews.made(session.revision)
        # A split changes one piece and adds the others: all are selected, ready to be joined.
        if any(change.before is None for change in edit.changes):
            self.bench.select(change.id for change in edit.changes if change.after is not None)

    def escape(self) -> None:
        """Leave: the gesture, then the cross-hair, then the tool, then the selection."""
        if self.tool.busy:
            self.tool_key("escape")
        elif self.cross is not None:
            self.set_cross(None)
        elif self.bench.tool is not None:
            self.bench.set_tool(None)
        else:
            self.tool_key("escape")

    def tool_moved(self) -> None:
        """Show what the tool shows now, and ask what would come of it."""
        look = replace(self.bench.look, scale=self.scale, palette=self.bench.theme)
        self.previews.show(self.ghost().elements, look)
        if self.tool.prompt != self._prompt:
            self._prompt = self.tool.prompt
            self.prompt_changed.emit(self._prompt)
        self.update()

    def _preview_changed(self) -> None:
        self.update()
        self.preview_changed.emit()

    def _tool_changed(self) -> None:
        self._hand.cancel()
        self.entry.close_box()
        self.previews.clear()
        if self.bench.tool is None:
            self.cross = None
        self.update_pointer_shape()
        self._feed_move()

    def ghost(self) -> Ghost:
        """Return what the tool in hand shows."""
        return self.tool.ghost()

    # -- typing -----------------------------------------------------------------------------------

    def open_entry(self, first: str) -> None:
        """Open the box for typed values at the pointer."""
        near = self.screen_of(*self.cross) if self.cross else self.pointer_px()
        self.entry.open(near.toPoint(), first)

    def _entered(self, words: str) -> None:
        if not words.strip():
            self.entry.close_box()
            self.tool_key("enter")
            return
        try:
            edit = self.tool.typed(words)
        except BadData as trouble:
            self.entry.say_wrong(trouble.text())
            return
        self.entry.close_box()
        self.commit(edit)
        self.tool_moved()

    # -- what changed -----------------------------------------------------------------------------

    def _lay_aside(self) -> None:
        self.tool.cancel()
        self.entry.close_box()

    def _selection_changed(self) -> None:
        self._hand.cancel()
        session = self.bench.session
        if session is not None:
            session.release()
        self.tool_moved()

    # -- events -----------------------------------------------------------------------------------

    def pointer(self, spot: QPointF, held: Qt.KeyboardModifier) -> Pointer:
        """Return a pixel as a pointer on the map."""
        mod = Qt.KeyboardModifier
        x, y = self.map_of(spot)
        return Pointer(
            x,
            y,
            self.camera.pixel_m,
            shift=bool(held & mod.ShiftModifier),
            ctrl=bool(held & mod.ControlModifier),
            alt=bool(held & mod.AltModifier),
        )

    def pointer_at_cross(self) -> Pointer:
        """Return the cross-hair as a pointer on the map."""
        x, y = self.cross if self.cross is not None else self.pointer_map()
        return Pointer(x, y, self.camera.pixel_m)

    def set_cross(self, place: tuple[float, float] | None) -> None:
        """Show the cross-hair at a place, or take it away."""
        self.cross = place
        if place is not None:
            self.bench.pointer_moved.emit(*place)
            self.feed(self._move, self.pointer_at_cross())
        self.update()

    def _move(self, at: Pointer) -> None:
        self.tool.move(at)

    def _feed_move(self) -> None:
        if self.bench.session is None:
            return
        if self.cross is not None:
            self._move(self.pointer_at_cross())
        elif self._pointer_px is not None:
            self._move(self.pointer(self._pointer_px, Qt.KeyboardModifier.NoModifier))
        self.tool_moved()

    def update_pointer_shape(self) -> None:
        """Show by the pointer's shape whether it pans, draws or chooses."""
        shape = Qt.CursorShape
        if self._drag_px is not None:
            self.setCursor(shape.ClosedHandCursor)
        elif self.keys.space_down:
            self.setCursor(shape.OpenHandCursor)
        else:
            self.setCursor(shape.ArrowCursor if self.bench.tool is None else shape.CrossCursor)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Pan with the middle button or Space; else the tool presses."""
        self.focus_shown = False
        self._follow(event.position())
        left = event.button() == Qt.MouseButton.LeftButton
        if event.button() == Qt.MouseButton.MiddleButton or (left and self.keys.space_down):
            self._drag_px = event.position()
            self.update_pointer_shape()
        elif left and self.bench.session is not None:
            self.feed(self.tool.press, self.pointer(event.position(), event.modifiers()))

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Pan, or let the tool follow."""
        if self._drag_px is not None:
            step = event.position() - self._drag_px
            self._drag_px = event.position()
            self._pointer_px = event.position()
            self.pan(step.x(), step.y())
            return
        self._follow(event.position())
        self.bench.pointer_moved.emit(*self.map_of(event.position()))
        if self.bench.session is not None:
            self.feed(self._move, self.pointer(event.position(), event.modifiers()))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """End panning, or let the tool release."""
        if self._drag_px is not None:
            self._drag_px = None
            self.update_pointer_shape()
        elif event.button() == Qt.MouseButton.LeftButton and self.bench.session is not None:
            self.feed(self.tool.release, self.pointer(event.position(), event.modifiers()))

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """End a stroke; with an empty hand, open what is there."""
        if event.button() != Qt.MouseButton.LeftButton or self.bench.session is None:
            return
        at = self.pointer(event.position(), event.modifiers())
        self.feed(self.tool.double, at)
        if self.bench.tool is None and (stack := self.world.index.stack_at(at)):
            self.opened.emit(stack[0].id)

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """Ask for a menu on what is there."""
        if self.tool.busy or self.bench.session is None:
            return
        at = self.pointer(QPointF(event.pos()), Qt.KeyboardModifier.NoModifier)
        stack = self.world.index.stack_at(at)
        self.menu_wanted.emit(event.globalPos(), stack[0].id if stack else "")

    def leaveEvent(self, event: QEvent) -> None:
        """Forget where the pointer was."""
        self._pointer_px = None

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Zoom to the pointer; two fingers on a trackpad pan."""
        pad = event.device().type() == QInputDevice.DeviceType.TouchPad
        ctrl = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
        if pad and not ctrl and not event.pixelDelta().isNull():
            step = event.pixelDelta()
            self.pan(step.x(), step.y())
        elif event.angleDelta().y():
            factor = 2.0 ** (event.angleDelta().y() / NOTCH / NOTCHES)
            self.look(self.camera.zoomed(factor, event.position()))
        event.accept()

    def event(self, event: QEvent) -> bool:
        """Take pinches, and keys that would else be shortcuts."""
        if isinstance(event, QNativeGestureEvent):
            if event.gestureType() == Qt.NativeGestureType.ZoomNativeGesture:
                self.look(self.camera.zoomed(1.0 + event.value(), event.position()))
                return True
        elif (
            event.type() == QEvent.Type.ShortcutOverride
            and isinstance(event, QKeyEvent)
            and self.bench.session is not None
            and self.keys.wants(event)
        ):
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Work by keyboard."""
        if self.bench.session is None or not self.keys.press(event):
            super().keyPressEvent(event)

    def keyReleaseEvent(self, event: QKeyEvent) -> None:
        """Let the space bar go."""
        if not self.keys.release(event):
            super().keyReleaseEvent(event)

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Show the frame when Tab brought the keyboard here."""
        tab = (Qt.FocusReason.TabFocusReason, Qt.FocusReason.BacktabFocusReason)
        self.focus_shown = event.reason() in tab
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Take the frame away."""
        self.focus_shown = False
        self.update()

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Take files."""
        if any(url.isLocalFile() for url in event.mimeData().urls()):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """Hand dropped files on."""
        urls = event.mimeData().urls()
        paths = [Path(url.toLocalFile()) for url in urls if url.isLocalFile()]
        if paths:
            event.acceptProposedAction()
            self.files_dropped.emit(paths)

    def _follow(self, spot: QPointF) -> None:
        """Let the pointer take over from the cross-hair."""
        self._pointer_px = spot
        if self.cross is not None:
            self.cross = None
            self.update()
