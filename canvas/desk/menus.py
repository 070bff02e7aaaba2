"""The menu of sites opened before."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QMenu

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow


class RecentMenu(QObject):
    """Filled whenever it opens, so that it never lists what has gone."""

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__(desk)
        self._desk = desk
        file = desk.menus["&File"]
        self.menu = QMenu("Opened &before", desk)
        after = desk.actions_["site.sample"]
        actions = file.actions()
        file.insertMenu(actions[actions.index(after) + 1], self.menu)
        self.menu.aboutToShow.connect(self.fill)

    def fill(self) -> None:
        """List the sites opened before."""
        self.menu.clear()
        recent = self._desk.settings.recent()
        for folder in recent:
            action = self.menu.addAction(folder.name)
            action.setToolTip(str(folder))
            action.triggered.connect(lambda _on=False, f=folder: self._desk.open_folder(f))
        if not recent:
            self.menu.addAction("No site was opened yet").setEnabled(False)
