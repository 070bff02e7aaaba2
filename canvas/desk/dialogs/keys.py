"""Every action with its shortcut; the map's own keys below."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QLineEdit

from canvas.desk.actions import shown_keys
from canvas.desk.dialogs.base import DeskDialog
from canvas.desk.parts import fill_table, table

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow

#: Keys the map itself takes.
MAP_KEYS = (
    ("Arrow keys", "Pan; move the selection; move the cross-hair"),
    ("Enter", "Show the cross-hair; end what is drawn"),
    ("Space", "Put a point at the cross-hair; held with the mouse, pan"),
    ("Backspace", "Take back the last point"),
    ("Esc", "Leave: the gesture, the tool, the selection"),
    ("Page Down, Page Up", "Choose the next element, the one before"),
    ("Digits and letters while drawing", "Type a length, bearing, fall or position"),
    ("Tab", "From strip to tray to map to card to page"),
)


class KeysDialog(DeskDialog):
    """A list to look through; typing narrows it."""

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__(
            desk, "Keyboard", "Everything can be done from the keyboard.", "Done", width=620
        )
        self.leave.hide()
        self.sought = QLineEdit()
        self.sought.setAccessibleName("Find an action")
        self.sought.setPlaceholderText("Find an action")
        self.sought.textChanged.connect(self._fill)
        self.table = table(("Action", "Keys", "Menu"), name="Actions and their keys")
        self.table.setMinimumHeight(360)
        self.body.addWidget(self.sought)
        self.body.addWidget(self.table, 1)
        self._fill("")
        self.sought.setFocus()

    def _fill(self, words: str) -> None:
        rows = [
            (r.title.replace("&", ""), shown_keys(r), r.menu.replace("&", "").replace("/", " ▸ "))
            for r in self.desk.actions_.records.values()
        ]
        rows += [(what, keys, "On the map") for keys, what in MAP_KEYS]
        words_ = words.casefold().strip()
        found = [row for row in rows if words_ in " ".join(row).casefold()]
        fill_table(self.table, found, right=frozenset())

    def do(self) -> None:
        """Close."""
        self.accept()
