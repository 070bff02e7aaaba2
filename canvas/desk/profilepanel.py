"""Beside the section: the chosen point of a design profile in figures, and what can be done."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QGridLayout, QLabel, QLineEdit, QVBoxLayout, QWidget

from canvas.base.errors import BadData
from canvas.base.quantity import UnitSystem, read_number, shown, to_si
from canvas.desk.parts import button, quiet, repolish, small
from canvas.tools.profile import ProfileHand

#: What can be typed: key, name, unit.
FIELDS = (
    ("station", "Station", "m"),
    ("level", "Level", "m"),
    ("curve", "Curve length", "m"),
    ("grade", "Grade before", "%"),
    ("after", "Grade after", "%"),
)
#: Names as they stand before the fields.
SHORT = {"curve": "Curve", "grade": "Before", "after": "After"}
WIDTH = 318


class ProfilePanel(QWidget):
    """Figures of the chosen point to be typed, and the verbs of a profile."""

    #: A figure was typed: which, in SI.
    typed = Signal(str, float)
    refused = Signal(str)
    add = Signal()
    take_out = Signal()
    to_ground = Signal()
    follow = Signal()
    #: Least earth within this grade.
    least = Signal(float)

    def __init__(self) -> None:
        super().__init__()
        self._units = UnitSystem.METRIC
        self._shown: dict[str, str] = {}
        self.setFixedWidth(WIDTH)
        self.title: QLabel = quiet()
        self.fields: dict[str, QLineEdit] = {}
        self._marks: dict[str, QLabel] = {}
        grid = QGridLayout()
        grid.setHorizontalSpacing(5)
        grid.setVerticalSpacing(3)
        for nth, (key, name, unit) in enumerate(FIELDS):
            # The curve has its row for itself; grades stand under station and level.
            place = nth if nth < 3 else nth + 1
            line = self._field(grid, *divmod(place, 2), key, name, unit)
            line.editingFinished.connect(lambda key=key: self._took(key))
            self.fields[key] = line
        acts: tuple[tuple[str, Callable[[], object], str], ...] = (
            ("Add a point", self.add.emit, "Midway to the next one (Insert, or double-click)"),
            ("Take it out", self.take_out.emit, "Take the chosen point out (Delete)"),
            ("Onto the ground", self.to_ground.emit, "Put the chosen point on the ground (G)"),
            ("Follow the ground", self.follow.emit,
             "Let the whole profile follow the ground within the track's steepest design grade"),
            ("Least earth within", self._least,
             "Move as little earth as this grade allows, with cut that makes the fill"),
        )  # fmt: skip
        self.buttons = {words: button(words, act, tip=tip) for words, act, tip in acts}
        for nth, made in enumerate(self.buttons.values()):
            row, side = divmod(nth, 2)
            grid.addWidget(made, 3 + row, 3 * side, 1, 3)
        self.within = self._field(grid, 5, 1, "within", "Steepest grade of least earth", "%")
        self.within.setToolTip("The grade that least earth keeps to")
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 8, 4)
        box.setSpacing(4)
        box.addWidget(self.title)
        box.addLayout(grid)
        box.addWidget(small("Drag a point, or choose one with Page up and down and move it"
                            " with the arrows; Alt passes the ground by."))  # fmt: skip
        box.addStretch(1)

    def _field(
        self, grid: QGridLayout, row: int, side: int, key: str, name: str, unit: str
    ) -> QLineEdit:
        """Return a figure's field, placed with its name before and its unit after it."""
        line = QLineEdit()
        line.setAccessibleName(name)
        mark = QLabel(unit)
        mark.setObjectName("unit")
        first = 3 * side
        if key != "within":
            label = quiet(SHORT.get(key, name))
            label.setWordWrap(False)
            label.setBuddy(line)
            grid.addWidget(label, row, first)
        grid.addWidget(line, row, first + 1)
        grid.addWidget(mark, row, first + 2)
        self._marks[key] = mark
        return line

    def show_point(self, hand: ProfileHand, steepest: float, units: UnitSystem) -> None:
        """Show the chosen point's figures; empty fields without one."""
        self._units = units
        knee, count = hand.knee, len(hand.line.knees)
        at = hand.chosen
        if knee is None or at is None:
            self.title.setText(f"Design profile of {count} points: none chosen")
        else:
            self.title.setText(f"Point {at + 1} of {count}")
        before, after = hand.grades()
        values = {
            "station": knee.station_m if knee else None,
            "level": knee.level_m if knee else None,
            "curve": knee.curve_m if knee else None,
            "grade": before,
            "after": after,
        }
        ends = at in (0, count - 1)
        for key, _, unit in FIELDS:
            value, line = values[key], self.fields[key]
            how = shown(unit, units)
            self._marks[key].setText(how.symbol)
            text = "" if value is None else f"{value * how.factor:.{2 if unit == 'm' else 1}f}"
            self._shown[key] = text
            if not (line.hasFocus() and line.isModified()):
                line.setText(text)
            line.setEnabled(value is not None and not (ends and key in ("station", "curve")))
            self._wrong(line, "")
        for words in ("Take it out", "Onto the ground"):
            self.buttons[words].setEnabled(knee is not None and not (ends and words[0] == "T"))
        if not self.within.isModified():
            self.within.setText(f"{steepest * 100:g}")

    def begin_typing(self) -> None:
        """Put the keyboard into the first figure that can be typed."""
        for key in ("level", "station"):
            if self.fields[key].isEnabled():
                self.fields[key].setFocus()
                self.fields[key].selectAll()
                return

    def _took(self, key: str) -> None:
        line = self.fields[key]
        if line.text() == self._shown.get(key, ""):
            return
        unit = next(unit for name, _, unit in FIELDS if name == key)
        try:
            value = to_si(read_number(line.text()), unit, self._units)
        except BadData as trouble:
            self._wrong(line, trouble.what)
            self.refused.emit(trouble.text())
            return
        line.setModified(False)
        self.typed.emit(key, value)

    def _wrong(self, line: QLineEdit, why: str) -> None:
        if bool(line.property("wrong")) != bool(why):
            line.setProperty("wrong", bool(why))
            repolish(line)
        if why:
            line.setToolTip(why)

    def _least(self) -> None:
        try:
            grade = to_si(read_number(self.within.text()), "%", self._units)
            if not 0.01 <= grade <= 0.4:
                raise BadData("the steepest grade must lie between 1 and 40 %")
        except BadData as trouble:
            self.refused.emit(trouble.text())
            return
        self.least.emit(grade)
