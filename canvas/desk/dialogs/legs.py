"""The boundary as the title gives it: bearings and distances, misclosure, area against deed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QPointF, QSize
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QCheckBox, QComboBox, QLineEdit, QPlainTextEdit

from canvas.base.errors import BadData, UserError
from canvas.base.quantity import area_unit, read_number, show
from canvas.desk.charts import Figure
from canvas.desk.dialogs.base import DeskDialog
from canvas.desk.parts import column, form_rows, quiet, row
from canvas.site.edits import add
from canvas.site.elements.land import SiteBoundary

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow

HELP = "One leg a line: bearing, then distance.\nN 12°30' E   104.5\n102.75   88,2 m\n…"
UNITS = (("m", "Metres"), ("ft", "Feet"), ("usft", "US survey feet"), ("link", "Links"),
         ("chain", "Chains"))  # fmt: skip


class Outline(Figure):
    """The corners as they stand, with the gap where the last leg ends."""

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__(desk.bench)
        self._traverse: Any = None
        self.setMinimumSize(QSize(230, 220))
        self.setAccessibleName("Outline of the boundary typed")

    def show_traverse(self, traverse: Any) -> None:
        """Show a traverse, or nothing."""
        self._traverse = traverse
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the outline, its corners and the leg to look at first."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(self.ink.raised))
        painter.setPen(QPen(QColor(self.ink.line), 1))
        painter.drawRect(self.rect().adjusted(0, 0, -1, -1))
        if self._traverse is not None:
            self._corners(painter)
        painter.end()

    def _corners(self, painter: QPainter) -> None:
        raw = self._traverse.raw_xy_m
        west, south = raw.min(axis=0)
        east, north = raw.max(axis=0)
        size = max(east - west, north - south, 1e-6)
        scale = (min(self.width(), self.height()) - 36) / size
        left = (self.width() - (east - west) * scale) / 2
        top = (self.height() - (north - south) * scale) / 2
        spots = [QPointF(left + (x - west) * scale, top + (north - y) * scale) for x, y in raw]
        painter.setPen(QPen(QColor(self.ink.ink), 2))
        painter.drawPolyline(QPolygonF(spots))
        if self._traverse.misclosure_m > 0:
            painter.setPen(QPen(QColor(self.ink.warn), 2.5))
            painter.drawLine(spots[-1], spots[0])
        painter.setBrush(QColor(self.ink.accent))
        painter.setPen(QColor(self.ink.ink))
        painter.setFont(self.small_font())
        for number, spot in enumerate(spots[:-1], start=1):
            painter.drawEllipse(spot, 3.5, 3.5)
            painter.drawText(spot + QPointF(6, -5), str(number))


class LegsDialog(DeskDialog):
    """Type the title; see it close, and how its area stands to the deed's."""

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__(
            desk,
            "Boundary from the title",
            "Type or paste every leg of the title plan, including the one back to the start.",
            "Make it the boundary",
            width=720,
        )
        self._traverse: Any = None
        self.legs = QPlainTextEdit()
        self.legs.setAccessibleName("Legs: bearing and distance, one a line")
        self.legs.setPlaceholderText(HELP)
        self.legs.setTabChangesFocus(True)
        self.legs.setMinimumHeight(190)
        self.outline = Outline(desk)
        self.words = quiet()
        self.unit = _combo("Unit of the distances", UNITS)
        self.north = _combo("Bearings from", (("grid", "Grid north"), ("true", "True north")))
        self.level = QCheckBox("Distances are on the ground, not on the grid")
        self.packed = QCheckBox("Plain numbers are degrees.minutes-seconds (D.MMSS)")
        self.east, self.start_north = QLineEdit(), QLineEdit()
        self.ref, self.deed = QLineEdit(), QLineEdit()
        names = ("East of corner 1", "North of corner 1", "Title reference", "Area in the deed")
        boxes = (self.east, self.start_north, self.ref, self.deed)
        west, south, east, north = desk.map.view_bounds()
        self.east.setText(f"{(west + east) / 2:.2f}")
        self.start_north.setText(f"{(south + north) / 2:.2f}")
        for box, name in zip(boxes, names, strict=True):
            box.setAccessibleName(name)
            box.setPlaceholderText(name)
            box.textChanged.connect(lambda _t: self._look())
        self._put_together()
        self.legs.textChanged.connect(self._look)
        for combo in (self.unit, self.north):
            combo.activated.connect(lambda _i: self._look())
        for check in (self.level, self.packed):
            check.toggled.connect(lambda _on: self._look())
        self.refresh_ready()
        self.legs.setFocus()

    def _put_together(self) -> None:
        form = form_rows()
        form.addRow("Distances in", row(self.unit, self.north))
        form.addRow("", column(self.level, self.packed, gap=2))
        form.addRow("Corner 1 [m]", row(self.east, self.start_north))
        form.addRow("Title", row(self.ref, self.deed))
        line = row(self.legs, self.outline, gap=10)
        line.setStretch(0, 3)
        line.setStretch(1, 2)
        self.body.addLayout(line)
        self.body.addLayout(form)
        self.body.addWidget(self.words)

    def _start(self) -> tuple[float, float]:
        return read_number(self.east.text()), read_number(self.start_north.text())

    def _look(self) -> None:
        """Work the traverse out as it is typed; say what is wrong without stopping anybody."""
        from canvas.ground import traverse as legs

        self._traverse = None
        study = self.desk.bench.study
        earth = study.land.earth if study is not None else None
        true = self.north.currentData() == "true"
        try:
            rows = legs.split_lines(self.legs.toPlainText())
            read = legs.read_legs(rows, str(self.unit.currentData()), self.packed.isChecked())
            turn = earth.convergence_deg if true and earth is not None else 0.0
            scale = earth.combined if self.level.isChecked() and earth is not None else 1.0
            self._traverse = legs.traverse(read, self._start(), turn, scale)
            words = self._told()
        except BadData as trouble:
            words = f"{trouble.where}: {trouble.what}" if trouble.where else trouble.what
        if not self.legs.toPlainText().strip():
            words = ""
        if true and earth is None:
            words += " The site has no place yet: convergence counts as nought."
        self.words.setText(words)
        self.outline.show_traverse(self._traverse)
        self.refresh_ready()

    def _told(self) -> str:
        from canvas.ground.traverse import against_deed

        found, units = self._traverse, self.desk.bench.units
        words = f"Area {show(found.area_m2, area_unit(found.area_m2), units)}, outline " + show(
            found.perimeter_m, "m", units
        )
        if found.misclosure_m > 0:
            words += (
                f". It misses its start by {show(found.misclosure_m, 'm', units, 3)}"
                f" (1 : {found.precision:,.0f}), shared out over the corners; if a distance is"
                f" mistyped, look at leg {found.suspect_leg + 1} first"
            )
        else:
            words += ". It closes exactly"
        deed = self._deed()
        if deed:
            check = against_deed(found.area_m2, deed)
            words += (
                f". Against the deed: {show(check.difference_m2, 'm2', units)}"
                f" ({show(check.share, '%')})"
            )
        return words + "."

    def _deed(self) -> float | None:
        from canvas.ground.traverse import read_deed_area

        words = self.deed.text().strip()
        return read_deed_area(words, "m2", "Area in the deed") if words else None

    def ready(self) -> bool:
        """Whether the legs make an outline."""
        return self._traverse is not None

    def do(self) -> None:
        """Add the boundary."""
        try:
            made = SiteBoundary(
                geometry=self._traverse.polygon,
                name="Boundary",
                title_ref=self.ref.text().strip(),
                deed_area_m2=self._deed(),
                title_legs=self.legs.toPlainText().strip(),
                bearings_from=str(self.north.currentData()),
            )
        except UserError as trouble:
            self.show_trouble(trouble)
            return
        if self.desk.bench.apply(add("Boundary from the title", [made])) is not None:
            self.desk.bench.select([made.id])
            self.desk.show_selection()
            self.accept()


def _combo(name: str, options: tuple[tuple[str, str], ...]) -> QComboBox:
    made = QComboBox()
    made.setAccessibleName(name)
    for value, words in options:
        made.addItem(words, value)
    return made
