"""Copies the sample site out, and opens the copy."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QComboBox

from canvas.desk.dialogs.base import DeskDialog, FileField
from canvas.desk.parts import form_rows, small
from canvas.desk.settings import sites_folder
from canvas.site.samples import copy_sample, sample_names

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow


def free_folder(wanted: Path) -> Path:
    """Return a folder that is not there yet, named after `wanted`."""
    found, number = wanted, 2
    while found.exists():
        found = wanted.with_name(f"{wanted.name}-{number}")
        number += 1
    return found


class SampleDialog(DeskDialog):
    """Which sample, and where its copy goes."""

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__(
            desk,
            "Play with the sample",
            "A finished plan is copied to a folder of yours. Change it as you like: "
            "the sample itself stays as it is.",
            "Copy and open",
        )
        self.names = QComboBox()
        self.names.setAccessibleName("Sample")
        for name in sample_names():
            self.names.addItem(name.replace("_", " ").title(), name)
        self.folder = FileField("Folder for the copy", folder=True)
        first = self.names.currentData() or "sample"
        self.folder.set_path(free_folder(sites_folder() / str(first)))
        self.folder.line.textChanged.connect(lambda _t: self.refresh_ready())
        form = form_rows()
        form.addRow("Sample", self.names)
        form.addRow("Copy to", self.folder)
        self.body.addLayout(form)
        if not self.names.count():
            self.body.addWidget(small("No sample came with this copy of the program."))
        self.refresh_ready()
        self.main.setFocus()

    def ready(self) -> bool:
        """Whether a sample and a folder are named."""
        return bool(self.names.count()) and self.folder.path is not None

    def do(self) -> None:
        """Copy, then open."""
        name, folder = str(self.names.currentData()), self.folder.path
        if folder is None:
            return
        self.run("Copying the sample", lambda _p: copy_sample(name, folder), self._copied)

    def _copied(self, folder: Path) -> None:
        if self.desk.open_folder(folder):
            self.accept()
