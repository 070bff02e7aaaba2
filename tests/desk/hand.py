"""Hands that click and type on the desk: real mouse and keyboard, on visible widgets only."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import shapely
from PySide6.QtCore import QPoint, QPointF, Qt, QTimer
from PySide6.QtGui import QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QApplication,
    QComboBox,
    QDialogButtonBox,
    QFileDialog,
    QLabel,
    QLineEdit,
    QTableWidget,
    QWidget,
)
from shiboken6 import isValid

from canvas.desk.window import DeskWindow

WEST, SOUTH = 560_000.0, 5_850_000.0
Place = tuple[float, float]
Held = Qt.KeyboardModifier


class Hand:
    """Clicks and types on visible widgets only."""

    def __init__(self, qtbot, window: DeskWindow) -> None:
        self.qtbot = qtbot
        self.window = window
        #: Place on the ground that places on the map are told from [m].
        self.origin = (WEST, SOUTH)

    def settle(self) -> None:
        """Wait until the desk has answered everything asked of it."""
        bench = self.window.bench
        QApplication.processEvents()
        self.qtbot.waitUntil(
            lambda: not bench.jobs.busy and (bench.session is None or not bench.stale),
            timeout=30_000,
        )

    def click(self, widget: QWidget, spot: QPoint | None = None) -> None:
        """Click a widget, in its middle unless told, once it has been laid out."""
        QApplication.processEvents()
        assert widget.isVisible(), f"{widget.accessibleName() or widget} is not to be seen"
        assert widget.isEnabled(), f"{widget.accessibleName() or widget} is off"
        QTest.mouseClick(
            widget,
            Qt.MouseButton.LeftButton,
            pos=spot if spot is not None else widget.rect().center(),
        )

    def type(self, widget: QWidget, words: str) -> None:
        """Click into a field, empty it and type."""
        self.click(widget)
        QTest.keyClick(widget, Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
        QTest.keyClick(widget, Qt.Key.Key_Delete)
        QTest.keyClicks(widget, words)

    def paste(self, widget: QWidget, words: str) -> None:
        """Put words another program copied in place of what a field holds."""
        QApplication.clipboard().setText(words)
        self.reach(widget)
        QTest.keyClick(widget, Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
        QTest.keyClick(widget, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)

    def keys(self, widget: QWidget, *sequence: str) -> None:
        """Press key combinations such as "Ctrl+D", one after the other."""
        QApplication.processEvents()
        self.qtbot.waitUntil(widget.window().isActiveWindow, timeout=3000)
        for words in sequence:
            QTest.keySequence(widget, words)

    def reach(self, widget: QWidget) -> None:
        """Bring the keyboard to a widget by Tab, as a person without a mouse does."""
        QApplication.processEvents()
        assert widget.isVisible(), f"{widget.accessibleName() or widget} is not to be seen"
        self.qtbot.waitUntil(widget.window().isActiveWindow, timeout=3000)
        for _ in range(250):
            if widget.hasFocus():
                return
            QTest.keyClick(QApplication.focusWidget() or widget.window(), Qt.Key.Key_Tab)
        raise AssertionError(f"Tab never comes to {widget.accessibleName() or widget}")

    def pull(self, widget: QWidget, dx: int, dy: int) -> None:
        """Take hold of the middle of a widget, carry it, let go."""
        QApplication.processEvents()
        left, start = Qt.MouseButton.LeftButton, widget.rect().center()
        fixed = widget.mapToGlobal(start)
        QTest.mousePress(widget, left, pos=start)
        for share in (0.3, 0.7, 1.0):
            there = fixed + QPoint(round(dx * share), round(dy * share))
            QTest.mouseMove(widget, widget.mapFromGlobal(there))
            QApplication.processEvents()
        QTest.mouseRelease(widget, left, pos=widget.mapFromGlobal(fixed + QPoint(dx, dy)))
        QApplication.processEvents()

    def named(self, words: str, inside: QWidget | None = None, *, begins: bool = False) -> QWidget:
        """Return the one visible widget with an accessible name, once it is there."""
        root = inside if inside is not None else self.window

        def fits(widget: QWidget) -> bool:
            name = widget.accessibleName()
            return (name.startswith(words) if begins else name == words) and widget.isVisible()

        def found() -> list[QWidget]:
            return [w for w in root.findChildren(QWidget) if fits(w)]

        def one() -> None:
            assert len(found()) == 1, f"{len(found())} visible widgets are called “{words}”"

        self.qtbot.waitUntil(one, timeout=3000)
        return found()[0]

    def dialog(self) -> QWidget:
        """Return the dialog that is open."""
        self.qtbot.waitUntil(lambda: QApplication.activeModalWidget() is not None, timeout=5000)
        found = QApplication.activeModalWidget()
        assert found is not None
        return found

    def words(self, widget: QWidget | None = None) -> str:
        """Return every word on the visible labels of a widget, plain spaces for narrow ones."""
        root = widget if widget is not None else self.window
        shown = (w.text() for w in root.findChildren(QLabel) if w.isVisible())
        return "\n".join(shown).replace("\xa0", " ").replace("\u202f", " ")

    def act(self, key: str) -> None:
        """Do an action by its shortcut, on the map."""
        QApplication.processEvents()
        action = self.window.actions_[key]
        assert action.isEnabled(), f"{key} is off"
        self.keys(self.window.map, self.window.actions_.records[key].shortcut)
        QApplication.processEvents()

    def page(self, key: str) -> QWidget:
        """Open a page by its shortcut; return it."""
        desk = self.window
        name = "out.print" if key == "sheet" else f"page.{key}"
        self.act(name)
        leaf = next(leaf for leaf in (desk.leaf, desk.second) if leaf.key == key)
        assert leaf.isVisible()
        assert leaf.page is not None
        return leaf.page

    def choose(self, combo: QComboBox, words: str) -> None:
        """Choose the line of a list that begins with some words, by the arrow keys."""
        self.reach(combo)
        ways = (Qt.Key.Key_Down,) * combo.count() + (Qt.Key.Key_Up,) * combo.count()
        for way in ways:
            if combo.currentText().replace("\xa0", " ").startswith(words):
                return
            QTest.keyClick(combo, way)
        assert combo.currentText().replace("\xa0", " ").startswith(words), words

    def ask(self, words: str) -> None:
        """Ask for something by words, and take the first answer."""
        self.keys(self.window.map, "Ctrl+Space")
        QTest.keyClicks(self.window.ask.line, words)
        QTest.keyClick(self.window.ask.line, Qt.Key.Key_Return)
        self.settle()

    def row(self, table: QTableWidget, at: int) -> None:
        """Click a row of a table."""
        item = table.item(at, 0)
        assert item is not None
        table.scrollToItem(item)
        self.click(table.viewport(), table.visualItemRect(item).center())

    def file_box(self, press: Callable[[], None], path: Path) -> None:
        """Press what asks for a file, paste a path into the box that comes, and accept it."""
        done: list[Path] = []
        tries = iter(range(200))

        def answer() -> None:
            box = QApplication.activeModalWidget()
            if not isinstance(box, QFileDialog):
                if next(tries, None) is not None:
                    QTimer.singleShot(50, answer)
                return
            line = box.findChild(QLineEdit, "fileNameEdit")
            assert line is not None
            # Letter by letter the box would choose folders on the way and put their names there.
            QApplication.clipboard().setText(str(path))
            QTest.keyClick(line, Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
            QTest.keyClick(line, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
            if line.text() != str(path) and next(tries, None) is not None:
                # The box was still filling its line: once more.
                QTimer.singleShot(50, answer)
                return
            # Names offered under the line would swallow an Enter: the button is clicked instead.
            foot = box.findChild(QDialogButtonBox)
            assert foot is not None
            accept = QDialogButtonBox.ButtonRole.AcceptRole
            for button in foot.buttons():
                if foot.buttonRole(button) is accept and line.text() == str(path):
                    done.append(path)
                    QTest.mouseClick(button, Qt.MouseButton.LeftButton)
            # A box still open, asking back, would hold the test for ever.
            QTimer.singleShot(6000, lambda: isValid(box) and box.isVisible() and box.reject())

        QTimer.singleShot(50, answer)
        press()
        assert done == [path], "no box asked for a file"
        # A window manager gives the keyboard back to what asked; the screenless platform has none.
        (QApplication.activeModalWidget() or self.window).activateWindow()

    # -- the map --------------------------------------------------------------------------------

    def at(self, x: float, y: float) -> QPoint:
        """Return the pixel of a place told from the origin [m]; it must be in view."""
        place = self.window.map
        spot = place.screen_of(self.origin[0] + x, self.origin[1] + y).toPoint()
        assert place.rect().contains(spot), f"{x}, {y} is out of view"
        return spot

    def put_pointer(self, x: float, y: float) -> None:
        """Move the pointer over a place on the map."""
        QTest.mouseMove(self.window.map, self.at(x, y) + QPoint(1, 1))
        QTest.mouseMove(self.window.map, self.at(x, y))

    def put(self, x: float, y: float, held: Held = Held.AltModifier) -> None:
        """Click a place on the map; Alt keeps the pointer from being drawn to things nearby."""
        spot = self.at(x, y)
        QTest.mouseMove(self.window.map, spot)
        QTest.mouseClick(self.window.map, Qt.MouseButton.LeftButton, held, spot)

    def drag(self, start: Place, end: Place, held: Held = Held.NoModifier) -> None:
        """Press on the map, move in steps, let go."""
        place, left = self.window.map, Qt.MouseButton.LeftButton
        QTest.mouseMove(place, self.at(*start))
        QTest.mousePress(place, left, held, self.at(*start))
        for share in (0.3, 0.7, 1.0):
            x, y = (a + share * (b - a) for a, b in zip(start, end, strict=True))
            QTest.mouseMove(place, self.at(x, y))
        QTest.mouseRelease(place, left, held, self.at(*end))
        QApplication.processEvents()

    def key(self, *keys: Qt.Key, held: Held = Held.NoModifier) -> None:
        """Press keys where the keyboard is."""
        for key in keys:
            QTest.keyClick(QApplication.focusWidget() or self.window.map, key, held)

    def say(self, words: str) -> None:
        """Type at the map as a person does: the first key opens the box, Enter ends."""
        for letter in words:
            QTest.keyClicks(QApplication.focusWidget() or self.window.map, letter)
        self.key(Qt.Key.Key_Return)

    def pick(self, *spots: Place) -> None:
        """Choose with the empty hand what lies on top at places on the map."""
        if self.window.bench.selection:
            # A click on what is chosen already would choose what lies beneath.
            self.act("select.none")
        for number, spot in enumerate(spots):
            self.put(*spot, Held.ShiftModifier if number else Held.NoModifier)
        self.settle()

    def draw(self, kind_key: str, *spots: Place) -> str:
        """Draw one element by its action and clicks; the hand is empty after; return who it is."""
        before = {item.id for item in self.window.bench.plan.elements()}
        self.act(f"draw.{kind_key}")
        for spot in spots:
            self.put(*spot)
        if self.window.bench.tool is not None and self.window.bench.tool.busy:
            self.key(Qt.Key.Key_Return)
        self.settle()
        self.key(Qt.Key.Key_Escape)
        assert self.window.bench.tool is None
        made = [i.id for i in self.window.bench.plan.elements() if i.id not in before]
        assert len(made) == 1, f"{len(made)} came of drawing one {kind_key}"
        return made[0]

    def local(self, ident: str) -> list[list[float]]:
        """Return an element's corners, told from the origin [m]."""
        found = shapely.get_coordinates(self.window.bench.plan.element(ident).geometry)
        return (found - self.origin).round(6).tolist()

    def wheel(self, spot: QPoint, notches: float, widget: QWidget | None = None) -> None:
        """Turn the wheel over a pixel of the map, or of another widget."""
        place = widget if widget is not None else self.window.map
        event = QWheelEvent(
            QPointF(spot), place.mapToGlobal(QPointF(spot)), QPoint(),
            QPoint(0, round(120 * notches)), Qt.MouseButton.NoButton, Held.NoModifier,
            Qt.ScrollPhase.NoScrollPhase, False,
        )  # fmt: skip
        QApplication.sendEvent(place, event)

    # -- beginning ------------------------------------------------------------------------------

    def begin(self, folder: Path, name: str = "Test hill", crs: str = "7854") -> None:
        """Begin a site by its dialog."""
        self.keys(self.window, "Ctrl+N")
        dialog = self.dialog()
        QTest.keyClicks(self.named("Name of the site", dialog), name)
        self.type(self.named("Folder of the site", dialog), str(folder))
        self.type(self.named("Coordinate system", dialog), crs)
        QTest.keyClicks(self.named("Heights datum", dialog), "AHD")
        self.click(self.named("Begin", dialog))
        self.opened(folder)

    def open_site(self, folder: Path) -> None:
        """Open a site by its folder, chosen in the box that asks for it."""
        self.file_box(lambda: self.keys(self.window, "Ctrl+O"), folder)
        self.opened(folder)

    def opened(self, folder: Path) -> None:
        """Wait until a site is open."""
        bench = self.window.bench
        self.qtbot.waitUntil(
            lambda: bench.session is not None and bench.session.folder == folder, timeout=5000
        )
        self.settle()

    def type_boundary(self, *legs: str, start: Place = (0.0, 200.0)) -> None:
        """Type a boundary from its title; unless told, a square of 200 m."""
        self.act("in.legs")
        dialog = self.dialog()
        box = self.named("Legs: bearing and distance, one a line", dialog)
        self.reach(box)
        for line in legs or ("90 200", "180 200", "270 200", "0 200"):
            QTest.keyClicks(box, line)
            QTest.keyClick(box, Qt.Key.Key_Return)
        east, north = self.origin[0] + start[0], self.origin[1] + start[1]
        self.type(self.named("East of corner 1", dialog), f"{east}")
        self.type(self.named("North of corner 1", dialog), f"{north}")
        self.click(self.named("Make it the boundary", dialog))
        self.settle()
        self.act("view.fit")
        self.act("select.none")
        self.settle()

    def send_guide_away(self) -> None:
        """Clear the map of the first steps."""
        if self.window.guide.isVisible():
            self.click(self.named("Hide the first steps"))

    def bring_ground(self, path: Path) -> None:
        """Bring heights in metres in by their dialog."""
        self.act("in.ground")
        dialog = self.dialog()
        line = self.named("Heights to bring in", dialog)
        QTest.keyClicks(line, str(path))
        QTest.keyClick(line, Qt.Key.Key_Return)
        unit = self.named("Heights are in", dialog)
        self.reach(unit)
        QTest.keyClick(unit, Qt.Key.Key_Down)
        main = self.named("Read it", dialog)
        self.qtbot.waitUntil(main.isEnabled, timeout=20_000)
        self.click(main)
        self.qtbot.waitUntil(lambda: main.text() == "Stand the plan on it", timeout=30_000)
        self.type(self.named("Vertical accuracy", dialog), "0.1")
        self.click(main)
        plan = self.window.bench
        self.qtbot.waitUntil(lambda: bool(plan.plan.of_kind("ground")), timeout=20_000)
        self.settle()

    def bring_picture(self, path: Path, crs: str = "7854") -> None:
        """Bring an aerial with a world file in by its dialog."""
        self.act("in.aerial")
        dialog = self.dialog()
        line = self.named("Picture to bring in", dialog)
        QTest.keyClicks(line, str(path))
        QTest.keyClick(line, Qt.Key.Key_Return)
        self.qtbot.waitUntil(lambda: "cells" in self.words(dialog), timeout=20_000)
        self.type(self.named("Coordinate system", dialog), crs)
        main = self.named("Bring it in", dialog)
        self.qtbot.waitUntil(main.isEnabled, timeout=20_000)
        self.click(main)
        bench = self.window.bench
        self.qtbot.waitUntil(lambda: bool(bench.plan.of_kind("picture")), timeout=30_000)
        self.settle()
