"""Bringing in the ground: heights, their unit, datum, date, accuracy, and how far they reach."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtWidgets import QCheckBox, QComboBox

from canvas.base.errors import UserError
from canvas.base.quantity import show
from canvas.desk.dialogs.aerial import described
from canvas.desk.dialogs.base import DeskDialog, FileField
from canvas.desk.dialogs.crs import CrsField
from canvas.desk.dialogs.preview import RasterPreview
from canvas.desk.forms import LABEL_WIDTH, FieldForm
from canvas.desk.parts import form_rows, label, quiet, small
from canvas.site.elements.land import SiteBoundary
from canvas.site.facts import Ground
from canvas.site.records import kind

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow

GROUNDS = "Heights (*.tif *.tiff *.asc *.xyz *.txt *.csv *.hgt);;All files (*)"
ASKED = ("name", "source", "surveyed", "accuracy_m", "surface", "datum")


class GroundDialog(DeskDialog):
    """Two steps: read it to the site's grid and say what it is; then take it over."""

    def __init__(self, desk: DeskWindow, path: Path | None = None) -> None:
        super().__init__(
            desk,
            "Bring in the ground",
            "A terrain model as GeoTIFF, ESRI ASCII or regular XYZ. It should reach past the "
            "boundary: to the watershed above, and to the near skyline for the sun.",
            "Read it",
            width=640,
        )
        from canvas.exchange.rasters import VERTICAL_UNITS

        self._out: Path | None = None
        self._info: Any = None
        self._notes: Sequence[str] = ()
        self.file = FileField("Heights to bring in", GROUNDS)
        self.crs = CrsField(offer=False)
        self.crs.line.setPlaceholderText("Only if the file does not say")
        self.unit = QComboBox()
        self.unit.setAccessibleName("Heights are in")
        self.unit.addItem("Choose: it is never guessed", "")
        for key, words in VERTICAL_UNITS.items():
            self.unit.addItem(words, key)
        self.preview = RasterPreview(desk, heights=True)
        self.words = quiet("Choose a file: what it says of itself is shown here.")
        self.reach = label("")
        self.reach.hide()
        self.form = FieldForm([s for s in kind("ground").specs if s.name in ASKED])
        site = desk.bench.plan.site if desk.bench.plan is not None else None
        first = {"datum": site.heights_datum if site else "", "surface": "bare_earth"}
        self.form.show_values(first.get)
        self.lay_in = QCheckBox("Lay it into the ground there is, brought to its heights")
        self.lay_in.setToolTip("For a denser survey of a part: its edge is blended over 5 m")
        there = desk.bench.study is not None and desk.bench.study.land.grid is not None
        self.lay_in.setEnabled(there)
        form = form_rows(LABEL_WIDTH)
        form.addRow("File", self.file)
        form.addRow("Its grid (CRS)", self.crs)
        form.addRow("Heights in", self.unit)
        self.body.addLayout(form)
        self.body.addWidget(self.words)
        self.body.addWidget(self.preview, 1)
        self.body.addWidget(self.reach)
        self.body.addWidget(self.form)
        self.body.addWidget(self.lay_in)
        self.body.addWidget(small("The accuracy stands beside every level read from this ground. "
                                  "Leave it empty only if nobody knows."))  # fmt: skip
        self.file.chosen.connect(self._look)
        self.unit.activated.connect(lambda _i: self._changed())
        self.crs.changed.connect(self._placed)
        self.refresh_ready()
        self.file.line.setFocus()
        if path is not None:
            self.file.set_path(path)

    def _changed(self) -> None:
        self._out = None
        self.main.setText("Read it")
        self.refresh_ready()

    def _placed(self) -> None:
        """Lay the small relief where the grid typed puts it; it must be read afresh."""
        self.preview.look(self.file.path if self._info is not None else None, self.crs.value)
        self._changed()

    def done(self, result: int) -> None:
        """Close; what is still looked at is let be."""
        self.preview.stop()
        super().done(result)

    def _look(self, path: Path | None) -> None:
        self._info = None
        self._placed()
        if path is None:
            return
        from canvas.exchange.rasters import inspect_raster

        self.run(f"Looking at {path.name}", lambda p: inspect_raster(path, p), self._looked)

    def _looked(self, info: Any) -> None:
        self._info = info
        words = described(info)
        if info.unit_hint:
            words += f" It hints that heights are in “{info.unit_hint}”; check it."
        self.words.setText(words)
        self._placed()

    def ready(self) -> bool:
        """Whether the file lies somewhere and its unit is named."""
        info = self._info
        placed = info is not None and info.bounds is not None
        return placed and bool(info.crs or self.crs.value) and bool(self.unit.currentData())

    def do(self) -> None:
        """Read first; when it has been read, take it over."""
        if self._out is None:
            self._read()
        else:
            self._take(self._out)

    def _read(self) -> None:
        path, plan = self.file.path, self.desk.bench.plan
        if path is None or plan is None:
            return
        target, crs, unit = plan.site.crs, self.crs.value, str(self.unit.currentData())
        out = Path(tempfile.mkdtemp(prefix="hillwright")) / "ground.tif"
        outlines = [item.geometry for item in plan.of(SiteBoundary)]

        def work(progress: Any) -> Any:
            from canvas.exchange import rasters
            from canvas.exchange.coverage import reach

            info = rasters.import_ground(
                path, out, target_crs=target, file_crs=crs, vertical_unit=unit, progress=progress
            )
            told = reach(rasters.open_grid(out), outlines[0]) if outlines else None
            return info, told

        self.run(f"Reading {path.name}", work, lambda got: self._got(out, *got))

    def _got(self, out: Path, info: Any, told: Any) -> None:
        self._out = out
        self._cell_m = info.cell_m
        units = self.desk.bench.units
        words = (
            f"Heights {show(info.lowest_m, 'm', units, 1)} to {show(info.highest_m, 'm', units, 1)}"
            f", cells of {show(info.cell_m, 'm', units)}"
        )
        if info.missing > 0:
            words += f", {show(info.missing, '%')} without a height"
        self._notes = info.notes
        self.words.setText("\n".join((f"{words}.", *info.notes)))
        lines = []
        if told is not None:
            sides = zip(("W", "S", "E", "N"), told.beyond_m, strict=True)
            far = ", ".join(f"{side} {show(m, 'm', units, 0)}" for side, m in sides)
            lines = [f"Beyond the boundary: {far}.", *told.warnings, *told.advice]
        else:
            lines = ["There is no boundary yet to tell how far it should reach."]
        self.reach.setText("\n".join(lines))
        self.reach.show()
        self.main.setText("Stand the plan on it")
        self.refresh_ready()

    def _lay_in(self, out: Path, values: dict[str, Any]) -> None:
        """Lay what was read into the present ground, and say how the two fit."""
        from canvas.exchange import bring
        from canvas.exchange.rasters import open_grid
        from canvas.study.making import lay_in

        session, study = self.desk.bench.session, self.desk.bench.study
        assert session is not None
        assert study is not None  # the choice is off without a ground
        made = lay_in(study, open_grid(out))
        bring.take_made_ground(
            session, made.grid, name=values["name"],
            source=f"{values['source']}, laid into the ground before",
            accuracy_m=values["accuracy_m"], surveyed=values["surveyed"],
        )  # fmt: skip
        units = self.desk.bench.units
        fit = [f"{fact.label.lower()} {fact.shown(units)}" for fact in made.facts[:3]]
        self._notes = (*self._notes, ", ".join(fit), *made.notes)

    def _take(self, out: Path) -> None:
        from canvas.exchange import bring

        session = self.desk.bench.session
        if session is None:
            return
        try:
            values = self.form.values()
            path = self.file.path
            values["name"] = values["name"] or (path.stem if path else "Ground")
            values["source"] = values["source"] or (path.name if path else "")
            if self.lay_in.isChecked():
                self._lay_in(out, values)
            else:
                bring.take_ground(session, out, Ground(**values, cell_m=self._cell_m))
        except UserError as trouble:
            self.show_trouble(trouble)
            return
        words = "; ".join(("The plan stands on the new ground", *self._notes))
        self.desk.bench.tell("note", words)
        self.desk.bench.show_place(None)
        self.accept()
