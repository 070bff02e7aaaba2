"""Ground made from the heights on the plan: how, what comes of it, and taking it over."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtWidgets import QCheckBox, QComboBox, QLineEdit

from canvas.base.errors import BadData, UserError
from canvas.base.quantity import read_number, shown
from canvas.desk.dialogs.base import DeskDialog
from canvas.desk.parts import form_rows, quiet

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow


OWN_SURVEY = "measured by the family"


class MakeGroundDialog(DeskDialog):
    """Make it first; when its figures have been seen, stand the plan on it."""

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__(
            desk,
            "Ground from measured heights",
            "From spot heights, marks with a height, surveyed contours and breaklines. Nothing is "
            "guessed beyond the outermost heights.",
            "Make it",
        )
        self._made: Any = None
        units = desk.bench.units
        self._factor = shown("m", units).factor
        symbol = shown("m", units).symbol
        self.surface = QComboBox()
        self.surface.setAccessibleName("Between the heights")
        self.surface.addItem("Flat triangles", "straight")
        self.surface.addItem("Rounded, creased along breaklines", "smooth")
        self.cell, self.longest, self.feather = QLineEdit(), QLineEdit(), QLineEdit()
        form = form_rows()
        form.addRow("Between the heights", self.surface)
        for words, line, first in (
            ("Cell size", self.cell, 1.0), ("Longest outer edge", self.longest, 60.0),
            ("Blended edge", self.feather, 5.0),
        ):  # fmt: skip
            line.setText(f"{first * self._factor:.4g}")
            line.setAccessibleName(words)
            line.textChanged.connect(lambda _t: self._changed())
            form.addRow(f"{words} [{symbol}]", line)
        self.into = QCheckBox("Lay it into the ground there is")
        there = desk.bench.study is not None and desk.bench.study.land.grid is not None
        self.into.setChecked(there)
        self.into.setEnabled(there)
        self.into.toggled.connect(lambda _on: self._changed())
        self.surface.activated.connect(lambda _i: self._changed())
        form.addRow("", self.into)
        self.body.addLayout(form)
        self.words = quiet()
        self.body.addWidget(self.words)
        self.cell.setFocus()

    def _changed(self) -> None:
        self._made = None
        self.words.setText("")
        self.main.setText("Make it")

    def do(self) -> None:
        """Make the ground, or take over the one made."""
        if self._made is None:
            self._make()
        else:
            self._take()

    def _make(self) -> None:
        from canvas.ground.tin import Surface
        from canvas.study.making import Wish, make_ground

        study = self.desk.bench.study
        if study is None:
            return
        try:
            cell, longest, feather = (
                read_number(line.text()) / self._factor
                for line in (self.cell, self.longest, self.feather)
            )
        except BadData as trouble:
            self.show_trouble(trouble)
            return
        surface = Surface(str(self.surface.currentData()))
        wish = Wish(cell, surface, longest, feather, self.into.isChecked())
        self.run("Making the ground", lambda p: make_ground(study, wish, p), self._got)

    def _got(self, made: Any) -> None:
        self._made = made
        units = self.desk.bench.units
        lines = [f"{fact.label}: {fact.shown(units)}" for fact in made.facts]
        self.words.setText("\n".join((*lines, *made.notes)))
        self.main.setText("Stand the plan on it")

    def _take(self) -> None:
        from canvas.exchange.bring import take_made_ground

        session, study = self.desk.bench.session, self.desk.bench.study
        if session is None or study is None:
            return
        before = study.land.ground
        kept = before.accuracy_m if before is not None and self.into.isChecked() else None
        try:
            take_made_ground(
                session, self._made.grid, name="Measured heights",
                source=OWN_SURVEY, accuracy_m=kept,
            )  # fmt: skip
        except UserError as trouble:
            self.show_trouble(trouble)
            return
        self.desk.bench.tell("note", "The new ground is in use")
        self.accept()
