"""A new site: its name, its folder, the grid it lies on, the rules that hold."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QCheckBox, QComboBox, QLineEdit

from canvas.base.errors import UserError
from canvas.desk.dialogs.base import DeskDialog, FileField
from canvas.desk.dialogs.crs import CrsField
from canvas.desk.dialogs.sample import free_folder
from canvas.desk.parts import column, form_rows, small
from canvas.desk.settings import sites_folder
from canvas.site.facts import Site
from canvas.site.records import kind
from canvas.site.session import Session

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow

VECTORS = {".geojson", ".json", ".gpkg", ".kml", ".kmz", ".gpx", ".csv", ".txt", ".zip", ".shp"}


class StartDialog(DeskDialog):
    """Everything can be changed later but the grid, once something lies on it."""

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__(
            desk,
            "Begin a site",
            "A site is a folder. Everything you do is saved there at once.",
            "Begin",
            width=600,
        )
        self.name = QLineEdit()
        self.name.setAccessibleName("Name of the site")
        self.name.setPlaceholderText("What the family calls it")
        self.folder = FileField("Folder of the site", folder=True)
        self.from_file = FileField("File the place is read from")
        self.from_file.line.setPlaceholderText("Or read it from a boundary, aerial or ground file")
        self.crs = CrsField()
        self.datum = QLineEdit()
        self.datum.setAccessibleName("Heights datum")
        self.datum.setPlaceholderText("What heights are measured from, such as AHD")
        self.units = QComboBox()
        self.units.setAccessibleName("Display units")
        for option in kind("site").spec("units").choices:
            self.units.addItem(option.label, option.value)
        self._rules()
        form = form_rows()
        form.setVerticalSpacing(8)
        form.addRow("Name", self.name)
        form.addRow("Folder", self.folder)
        form.addRow("Grid (CRS)", column(self.crs, self.from_file, gap=4))
        form.addRow("Heights", self.datum)
        form.addRow("Units", self.units)
        form.addRow("Rule sets", self._rule_box)
        self.body.addLayout(form)
        self._typed_folder = False
        self.name.textEdited.connect(self._named)
        self.folder.line.textEdited.connect(self._own_folder)
        self.folder.line.textChanged.connect(lambda _t: self.refresh_ready())
        self.from_file.chosen.connect(self._read_place)
        self.crs.changed.connect(self.refresh_ready)
        self.refresh_ready()
        self.name.setFocus()

    def _rules(self) -> None:
        from canvas.rules.library import rule_sets

        self.sets: dict[str, QCheckBox] = {}
        self._rule_box = column(gap=2)
        for key, each in rule_sets().items():
            made = self.sets[key] = QCheckBox(each.label)
            made.setChecked(key == "good_practice")
            made.setToolTip(each.caution)
            self._rule_box.addWidget(made)
        self._rule_box.addWidget(small("Local codes and the authority’s own word come first."))

    def _named(self, words: str) -> None:
        if not self._typed_folder:
            plain = re.sub(r"[^\w-]+", "-", words.strip().casefold()).strip("-") or "site"
            self.folder.line.setText(str(free_folder(sites_folder() / plain)))
        self.refresh_ready()

    def _own_folder(self, _words: str) -> None:
        self._typed_folder = True

    def _read_place(self, path: Path | None) -> None:
        if path is None:
            return
        from canvas.study.place import offered_crs

        vector = path.suffix.lower() in VECTORS
        vectors, rasters = ([path], []) if vector else ([], [path])
        self.run(
            "Reading where it lies",
            lambda _p: offered_crs(vectors, rasters),
            self.crs.set_value,
        )

    def ready(self) -> bool:
        """Whether it has a name, a folder and a grid."""
        named = bool(self.name.text().strip())
        return named and self.folder.path is not None and bool(self.crs.value)

    def do(self) -> None:
        """Begin the site and put it on the bench."""
        folder = self.folder.path
        if folder is None:
            return
        site = Site(
            name=self.name.text().strip(),
            crs=self.crs.value,
            heights_datum=self.datum.text().strip(),
            units=str(self.units.currentData()),
            rule_sets=",".join(key for key, box in self.sets.items() if box.isChecked()),
        )
        try:
            session = Session.start(folder, site)
        except UserError as trouble:
            self.show_trouble(trouble)
            return
        self.desk.adopt_session(session)
        self.accept()
