"""The box at the pointer for typed lengths, bearings and positions."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, QPoint, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QFrame, QLabel, QLineEdit, QVBoxLayout, QWidget

WIDTH = 230
OFF_PX = 18


class EntryBox(QFrame):
    """Opens as typing starts; Enter hands the words over, Escape closes it."""

    #: Words typed and ended with Enter.
    entered = Signal(str)
    closed = Signal()

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self._map = parent
        self.setObjectName("card")
        self.line = QLineEdit(self)
        self.line.setAccessibleName("Typed value")
        self.line.setAccessibleDescription(
            "A length, a length and bearing such as 12.5 at 45, a step such as 3 E, 2 S, "
            "or a position"
        )
        self.line.setPlaceholderText("12.5   12.5 at 45   3 E, 2 S")
        self.line.installEventFilter(self)
        self._wrong = QLabel("", self)
        self._wrong.setObjectName("warn")
        self._wrong.setWordWrap(True)
        self._wrong.hide()
        inside = QVBoxLayout(self)
        inside.setContentsMargins(6, 6, 6, 6)
        inside.setSpacing(4)
        inside.addWidget(self.line)
        inside.addWidget(self._wrong)
        self.setFixedWidth(WIDTH)
        self.hide()

    def open(self, near: QPoint, first: str) -> None:
        """Open near a place with the first letter typed."""
        self._say("")
        self.line.setText(first)
        room = self._map.rect()
        left = min(max(near.x() + OFF_PX, 0), max(room.width() - self.width(), 0))
        top = min(max(near.y() - self.height() - OFF_PX, 0), max(room.height() - self.height(), 0))
        self.move(left, top)
        self.show()
        self.raise_()
        self.line.setFocus()

    def close_box(self) -> None:
        """Close, forgetting what was typed."""
        if self.isVisible():
            # Given on before hiding, or the next widget in the chain would take the keyboard.
            self._map.setFocus()
            self.hide()
            self.line.clear()
            self.closed.emit()

    def say_wrong(self, words: str) -> None:
        """Show what is wrong with the words typed; they stay to be mended."""
        self._say(words)
        self.line.selectAll()

    def _fit(self) -> None:
        """Be as high as the words need, wrapped."""
        inside = self.layout()
        if inside is not None:
            inside.activate()
            self.resize(WIDTH, max(inside.heightForWidth(WIDTH), inside.minimumSize().height()))

    def _say(self, words: str) -> None:
        self._wrong.setText(words)
        self._wrong.setVisible(bool(words))
        self.line.setProperty("wrong", bool(words))
        self.line.style().unpolish(self.line)
        self.line.style().polish(self.line)
        self._fit()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Take Enter and Escape from the line."""
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
                self.entered.emit(self.line.text())
                return True
            if event.key() == Qt.Key.Key_Escape:
                self.close_box()
                return True
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
            plain = event.modifiers() in (
                Qt.KeyboardModifier.NoModifier,
                Qt.KeyboardModifier.ShiftModifier,
            )
            if plain:
                event.accept()
                return True
        return super().eventFilter(watched, event)
