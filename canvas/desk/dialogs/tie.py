"""Tying a plain picture to the map: points on the one, the same points on the other."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QSize
from PySide6.QtWidgets import QComboBox, QLineEdit, QTableWidget

from canvas.base.errors import BadData, UserError
from canvas.base.quantity import read_number, show
from canvas.desk.dialogs.aerial import PICTURES, take_picture
from canvas.desk.dialogs.base import DeskDialog, FileField
from canvas.desk.dialogs.panes import GroundPane, PicturePane
from canvas.desk.parts import button, fill_table, form_rows, label, quiet, row, stretched, table
from canvas.site.facts import Picture
from canvas.tools.tie import Ties

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow

MODELS = (
    ("similarity", "Turn and scale (2 points or more)"),
    ("affine", "Turn, scale and stretch (3 or more)"),
)


class TieDialog(DeskDialog):
    """Two panes: click a point in the picture, then the same on the map, or type its position."""

    def __init__(self, desk: DeskWindow, path: Path | None = None) -> None:
        super().__init__(
            desk,
            "Tie a picture",
            "Click a point in the picture, then the same point on the map at the right, or type "
            "its position. Corners of fences and buildings serve best, far apart.",
            "Lay it under the plan",
            width=980,
        )
        self.ties = Ties()
        self.fit: Any = None
        self.file = FileField("Picture to tie", PICTURES)
        self.model = QComboBox()
        self.model.setAccessibleName("How the picture may be bent")
        for key, words in MODELS:
            self.model.addItem(words, key)
        self.name = QLineEdit()
        self.name.setAccessibleName("Name of the picture")
        self.picture = PicturePane(desk.bench)
        self.ground = GroundPane(desk)
        for pane in (self.picture, self.ground):
            pane.setMinimumSize(QSize(280, 240))
        self.picture.clicked.connect(self._picked_pixel)
        self.ground.clicked.connect(self._picked_ground)
        self.table = _points_table()
        self.words = quiet("Choose a picture.")
        # Room for two lines: the panes must not move under the pointer when the words grow.
        self.words.setFixedHeight(2 * self.words.fontMetrics().lineSpacing() + 4)
        self.east, self.north = QLineEdit(), QLineEdit()
        for box, words in ((self.east, "East"), (self.north, "North")):
            box.setAccessibleName(f"{words} of the point")
            box.setPlaceholderText(f"{words} [m]")
        self.typed = button("Set its position", self._type_ground)
        self.drop = button("Take the chosen point out", self._drop)
        self._put_together()
        self.file.chosen.connect(self._load)
        self.model.activated.connect(lambda _i: self._refit())
        self._refit()
        self.file.line.setFocus()
        if path is not None:
            self.file.set_path(path)

    def _put_together(self) -> None:
        form = form_rows()
        form.addRow("Picture", self.file)
        form.addRow("Name", row(self.name, self.model))
        self.body.addLayout(form)
        panes = row(self.picture, self.ground, gap=8)
        panes.setStretch(0, 1)
        panes.setStretch(1, 1)
        self.body.addLayout(panes, 1)
        self.body.addWidget(self.words)
        self.table.setFixedHeight(128)
        self.body.addWidget(self.table)
        self.body.addLayout(
            row(
                label("Or type it:", "quiet", wrap=False),
                self.east,
                self.north,
                self.typed,
                self.drop,
            )
        )

    def _load(self, path: Path | None) -> None:
        if path is None:
            return
        from canvas.exchange.rasters import preview_picture

        self.name.setText(self.name.text() or path.stem)
        self.ties = Ties()
        self.run(f"Opening {path.name}", lambda p: preview_picture(path, progress=p), self._loaded)

    def _loaded(self, preview: Any) -> None:
        self.picture.show_preview(preview)
        self._refit()

    # -- points -------------------------------------------------------------------------------

    def _picked_pixel(self, column: float, row_: float) -> None:
        self.ties.put_pixel((column, row_))
        self._refit()

    def _picked_ground(self, east: float, north: float) -> None:
        try:
            self.ties.put_ground((east, north))
        except BadData as trouble:
            self.words.setText(trouble.what)
        else:
            self._refit()

    def _type_ground(self) -> None:
        try:
            spot = read_number(self.east.text()), read_number(self.north.text())
            at = self.table.currentRow()
            self.ties.put_ground(spot, at if at >= 0 else None)
        except BadData as trouble:
            self.words.setText(trouble.what)
            return
        self.east.clear()
        self.north.clear()
        self._refit()

    def _drop(self) -> None:
        at = self.table.currentRow()
        if 0 <= at < len(self.ties.ties):
            self.ties.remove(at)
            self._refit()

    def _refit(self) -> None:
        from canvas.exchange.tie import fit_picture

        self.fit = None
        pixels, grounds = self.ties.pairs()
        count = len(grounds)
        words = ""
        if count:
            try:
                self.fit = fit_picture(
                    pixels,
                    grounds,
                    str(self.model.currentData()),  # type: ignore[arg-type]
                )
                words = f"Fit error {show(self.fit.rms_m, 'm')}. {self.fit.advice}"
            except BadData as trouble:
                words = trouble.text().replace("\n", ". ")
        if self.ties.wants_ground:
            words = "Now the same point on the map, or type its position. " + words
        elif self.picture.loaded and count < 2:
            words = "Click a point in the picture. " + words
        self.words.setText(words.strip() or "Choose a picture.")
        self._show_points()
        self.refresh_ready()

    def _show_points(self) -> None:
        suspects = set(self.fit.suspects) if self.fit is not None else set()
        rows = []
        for at, tie in enumerate(self.ties.ties):
            east, north = (f"{value:.2f}" for value in tie.ground) if tie.ground else ("–", "–")
            off = "–"
            if self.fit is not None and tie.ground:
                off = show(float(self.fit.residuals_m[at]), "m")
            flag = "likely wrong" if at in suspects else "" if tie.ground else "no place yet"
            rows.append([str(at + 1), f"{tie.pixel[0]:.0f}, {tie.pixel[1]:.0f}", east, north,
                         off, flag])  # fmt: skip
        fill_table(self.table, rows, right=frozenset({1, 2, 3, 4}))
        self.picture.show_points([tie.pixel for tie in self.ties.ties], suspects)
        self.ground.show_points(self.ties.pairs()[1], suspects)

    def done(self, result: int) -> None:
        """Close; the map's own painter stops."""
        self.ground.painting.close()
        super().done(result)

    def ready(self) -> bool:
        """Whether the points tie the picture."""
        return self.fit is not None

    def do(self) -> None:
        """Resample the picture aside, then take it over."""
        path, plan, fit = self.file.path, self.desk.bench.plan, self.fit
        if path is None or plan is None or fit is None:
            return
        out = Path(tempfile.mkdtemp(prefix="hillwright")) / "aerial.tif"
        target = plan.site.crs

        def work(progress: Any) -> Any:
            from canvas.exchange.rasters import import_picture

            return import_picture(path, out, target_crs=target, fit=fit, progress=progress)

        def then(info: Any) -> None:
            try:
                record = Picture(
                    name=self.name.text().strip() or path.stem,
                    source=path.name,
                    pixel_m=info.cell_m,
                    fit_error_m=fit.rms_m,
                )
            except UserError as trouble:
                self.show_trouble(trouble)
                return
            take_picture(self, out, record)

        self.run(f"Tying {path.name}", work, then)


def _points_table() -> QTableWidget:
    made = table(("Point", "In the picture", "East", "North", "Off by", ""), name="Control points")
    stretched(made, 5)
    return made
