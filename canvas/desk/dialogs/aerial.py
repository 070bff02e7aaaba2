"""Bringing in an aerial that knows its place."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtWidgets import QLineEdit

from canvas.base.errors import UserError
from canvas.base.quantity import show
from canvas.desk.dialogs.base import DeskDialog, FileField
from canvas.desk.dialogs.crs import CrsField
from canvas.desk.dialogs.preview import RasterPreview
from canvas.desk.forms import LABEL_WIDTH, FieldForm
from canvas.desk.parts import button, form_rows, quiet
from canvas.site.facts import Picture
from canvas.site.records import changed, kind

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow

PICTURES = "Pictures (*.tif *.tiff *.jpg *.jpeg *.png *.webp *.jp2);;All files (*)"
ASKED = ("name", "source", "taken")


class AerialDialog(DeskDialog):
    """Inspects the file, asks where it comes from, and lays it under the plan."""

    def __init__(self, desk: DeskWindow, path: Path | None = None) -> None:
        super().__init__(
            desk,
            "Bring in an aerial",
            "GeoTIFF, or JPEG and PNG with a world file. It is brought to the site’s grid and "
            "copied into the site’s folder.",
            "Bring it in",
            width=600,
        )
        self._info: Any = None
        self.file = FileField("Picture to bring in", PICTURES)
        self.crs = CrsField(offer=False)
        self.crs.line.setPlaceholderText("Only if the file does not say")
        self.preview = RasterPreview(desk, heights=False)
        self.words = quiet("Choose a file: what it says of itself is shown here.")
        self.tie = button("Tie it by control points…", self._tie, look="link")
        self.tie.hide()
        self.form = FieldForm([s for s in kind("picture").specs if s.name in ASKED])
        form = form_rows(LABEL_WIDTH)
        form.addRow("File", self.file)
        form.addRow("Its grid (CRS)", self.crs)
        self.body.addLayout(form)
        self.body.addWidget(self.words)
        self.body.addWidget(self.preview, 1)
        self.body.addWidget(self.tie)
        self.body.addWidget(self.form)
        self.file.chosen.connect(self._look)
        self.crs.changed.connect(self._placed)
        self.refresh_ready()
        self.file.line.setFocus()
        if path is not None:
            self.file.set_path(path)

    def _placed(self) -> None:
        """Lay the small picture where the grid typed puts it."""
        self.preview.look(self.file.path if self._info is not None else None, self.crs.value)
        self.refresh_ready()

    def _look(self, path: Path | None) -> None:
        self._info = None
        self._placed()
        if path is None:
            return
        from canvas.exchange.rasters import inspect_raster

        self.run(f"Looking at {path.name}", lambda p: inspect_raster(path, p), self._looked)

    def _looked(self, info: Any) -> None:
        self._info = info
        self.words.setText(described(info))
        self.tie.setVisible(not info.georeferenced)
        name = self.form.control("name")
        if isinstance(name, QLineEdit) and self.file.path is not None and not name.text():
            name.setText(self.file.path.stem)
        self._placed()

    def done(self, result: int) -> None:
        """Close; what is still looked at is let be."""
        self.preview.stop()
        super().done(result)

    def _tie(self) -> None:
        from canvas.desk.dialogs.tie import TieDialog

        path = self.file.path
        self.reject()
        self.desk.ask_dialog(TieDialog(self.desk, path))

    def ready(self) -> bool:
        """Whether the picture lies somewhere."""
        info = self._info
        return info is not None and info.georeferenced and bool(info.crs or self.crs.value)

    def do(self) -> None:
        """Resample aside, then take it over."""
        path, plan = self.file.path, self.desk.bench.plan
        if path is None or plan is None:
            return
        try:
            values = self.form.values()
        except UserError as trouble:
            self.show_trouble(trouble)
            return
        target, crs = plan.site.crs, self.crs.value
        out = Path(tempfile.mkdtemp(prefix="hillwright")) / "aerial.tif"

        def work(progress: Any) -> Any:
            from canvas.exchange.rasters import import_picture

            return import_picture(path, out, target_crs=target, file_crs=crs, progress=progress)

        def then(info: Any) -> None:
            record = Picture(**values, pixel_m=info.cell_m)
            record = changed(record, source=record.source or path.name)
            take_picture(self, out, record, info.notes)

        self.run(f"Bringing in {path.name}", work, then)


def take_picture(
    dialog: DeskDialog, file: Path, record: Picture, notes: Sequence[str] = ()
) -> None:
    """Lay a finished picture under the plan, tell what was noted on the way, close the dialog."""
    from canvas.exchange import bring

    session = dialog.desk.bench.session
    if session is None:
        return
    try:
        bring.take_picture(session, file, record)
    except UserError as trouble:
        dialog.show_trouble(trouble)
        return
    dialog.desk.map.zoom_all()
    words = "; ".join((f"Laid “{record.name}” under the plan", *notes))
    dialog.desk.bench.tell("note", words)
    dialog.accept()


def described(info: Any) -> str:
    """Return what a raster's header says, in words."""
    size = f"{info.width:,} × {info.height:,}".replace(",", "\N{NARROW NO-BREAK SPACE}")
    words = [f"{info.format}, {size} cells"]
    if info.cell_m:
        words.append(f"{show(info.cell_m, 'm', decimals=2)} each")
    words.append(f"in {info.crs}" if info.crs else "it does not name its grid")
    if not info.georeferenced:
        words.append("it does not know where it lies: tie it by control points")
    return "; ".join(words) + "."
