"""What to do now: the words of the tool in hand, over the head of the map."""

from __future__ import annotations

from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QWidget

from canvas.desk.bench import Bench
from canvas.desk.ledge import Ledge


class Prompt(QFrame):
    """The tool's name and its next step, under the stage's ledge."""

    def __init__(self, bench: Bench, parent: QWidget, ledge: Ledge) -> None:
        super().__init__(parent)
        self._bench = bench
        self._ledge = ledge
        self.setObjectName("toast")
        self.words = QLabel()
        self.words.setAccessibleName("What to do now")
        box = QHBoxLayout(self)
        box.setContentsMargins(14, 6, 14, 6)
        box.addWidget(self.words)
        bench.tool_changed.connect(self.refresh)
        self.hide()

    def refresh(self) -> None:
        """Show the prompt of the tool in hand, nothing while the hand is empty."""
        tool = self._bench.tool
        if tool is None or not tool.prompt:
            self.hide()
            return
        asked = tool.prompt.removeprefix(f"{tool.label}: ")
        words = f"<b>{tool.label}</b> · {asked[:1].upper()}{asked[1:]}"
        if words != self.words.text() or self.isHidden():
            self.words.setText(words)
            self.show()
            self.place()

    def place(self) -> None:
        """Stand at the middle of the map's head, clear of the ledge."""
        parent = self.parentWidget()
        if parent is None or self.isHidden():
            return
        self.adjustSize()
        self.setMaximumWidth(parent.width() - 24)
        top = self._ledge.overhang + 9
        self.move((parent.width() - self.width()) // 2, top)
        self.raise_()
