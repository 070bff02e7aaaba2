"""Menus that depend on the moment: sites opened before, and what is under the pointer."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QPoint, Qt
from PySide6.QtWidgets import QDialog, QMenu

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


#: Actions of the right click; "" draws a line.
OVER_ELEMENT = (
    "edit.fields", "page.section", "view.fit_selection", "", "tool.move", "tool.turn",
    "tool.reshape", "tool.copy", "tool.beside", "", "edit.cut", "edit.copy", "edit.delete", "",
    "select.kind",
)  # fmt: skip
OVER_LAND = (
    "edit.paste", "", "view.fit", "page.layers", "", "measure.length", "measure.area",
    "measure.spot", "", "help.ask",
)  # fmt: skip


class MapMenu(QMenu):
    """The right click on the map."""

    def __init__(self, desk: DeskWindow, spot: QPoint, *, over_element: bool) -> None:
        super().__init__(desk)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        for key in OVER_ELEMENT if over_element else OVER_LAND:
            if key:
                self.addAction(desk.actions_[key])
            else:
                self.addSeparator()
        self.popup(spot)


#: What a file let fall on the map most likely is, by its suffix.
PICTURE_SUFFIXES = {".jpg", ".jpeg", ".png", ".webp", ".jp2"}
HEIGHT_SUFFIXES = {".asc", ".xyz", ".hgt"}
RASTER_SUFFIXES = {".tif", ".tiff"}


def dialog_for(desk: DeskWindow, path: Path) -> QDialog | None:
    """Return the dialog that brings a file in; None while no site is open to take it."""
    session = desk.bench.session
    if session is None or session.readonly:
        return None
    from canvas.desk.dialogs.aerial import AerialDialog
    from canvas.desk.dialogs.features import FeaturesDialog
    from canvas.desk.dialogs.ground import GroundDialog

    suffix = path.suffix.lower()
    if suffix in PICTURE_SUFFIXES:
        return AerialDialog(desk, path)
    if suffix in HEIGHT_SUFFIXES:
        return GroundDialog(desk, path)
    if suffix in RASTER_SUFFIXES:
        return AerialDialog(desk, path) if _is_picture(path) else GroundDialog(desk, path)
    return FeaturesDialog(desk, path)


def _is_picture(path: Path) -> bool:
    """Tell an aerial from a terrain model by its bands: heights have one."""
    from canvas.base.errors import UserError
    from canvas.exchange.rasters import inspect_raster

    try:
        return inspect_raster(path).bands >= 3
    except UserError:
        return True
