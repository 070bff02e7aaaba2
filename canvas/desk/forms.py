"""Forms made from field declarations: the same fields on the card, in dialogs and in settings."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QWidget,
)

from canvas.base.errors import BadData
from canvas.base.quantity import UnitSystem, read_number, shown, to_si
from canvas.desk.parts import quiet, repolish
from canvas.desk.rowstable import RowsTable
from canvas.site.fields import FieldSpec, FieldType

#: Room for a field's name.
LABEL_WIDTH = 112
NUMBERS = (FieldType.NUMBER, FieldType.INTEGER)


def written(value: float | None, spec: FieldSpec, units: UnitSystem) -> str:
    """Return a number as it stands in an edit field: no unit, no needless noughts."""
    if value is None:
        return ""
    if spec.type is FieldType.INTEGER:
        return str(int(value))
    return f"{value * shown(spec.unit, units).factor:.6g}"


def read(words: str, spec: FieldSpec, units: UnitSystem) -> Any:
    """Return the SI value a person typed for a field; `BadData` says what is wrong."""
    value: Any = words.strip()
    if spec.type in NUMBERS:
        if value == "":
            value = None
        else:
            number = read_number(value)
            value = number if spec.type is FieldType.INTEGER else to_si(number, spec.unit, units)
            if spec.type is FieldType.INTEGER and value == int(value):
                value = int(value)
    elif spec.type in (FieldType.LONG_TEXT, FieldType.ROWS):
        value = words.rstrip()
    trouble = spec.problem(value)
    if trouble:
        raise BadData(trouble)
    return value


class Editor(QObject):
    """One field's control: shows a value, and says when a person changed it."""

    edited = Signal(str, object)
    refused = Signal(str, str)

    def __init__(self, spec: FieldSpec, units: UnitSystem) -> None:
        super().__init__()
        self.spec = spec
        self.units = units
        self._shown: Any = None
        self.control = self._build()
        self.control.setAccessibleName(spec.label)
        self.control.setObjectName(f"field-{spec.name}")
        if spec.help:
            self.control.setToolTip(spec.help)

    def _build(self) -> QWidget:
        spec = self.spec
        if spec.type is FieldType.FLAG:
            box = QCheckBox(spec.label)
            box.clicked.connect(self._took)
            return box
        if spec.type is FieldType.CHOICE:
            combo = QComboBox()
            combo.setSizeAdjustPolicy(
                QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
            )
            combo.setMinimumContentsLength(8)
            for option in spec.choices:
                combo.addItem(option.label, option.value)
            combo.activated.connect(self._took)
            return combo
        if spec.type is FieldType.ROWS:
            table = RowsTable(spec.columns, self.units)
            table.changed.connect(self._took)
            return table
        if spec.type is FieldType.LONG_TEXT:
            area = QPlainTextEdit()
            area.setTabChangesFocus(True)
            area.setFixedHeight(64)
            area.installEventFilter(self)
            return area
        line = QLineEdit()
        if spec.type is FieldType.DATE:
            line.setPlaceholderText("year-month-day")
        elif spec.type in NUMBERS and spec.default is None:
            line.setPlaceholderText("unknown")
        line.editingFinished.connect(self._took)
        return line

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Take several lines of text when the person leaves the field, or presses Ctrl+Enter."""
        if event.type() == QEvent.Type.FocusOut:
            self._took()
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
            if enter and event.modifiers() & Qt.KeyboardModifier.ControlModifier:
                self._took()
                return True
        return super().eventFilter(watched, event)

    def set_choices(self, options: Iterable[tuple[str, str]]) -> None:
        """Fill a choice from the plan instead of from the declaration."""
        combo = self.control
        if isinstance(combo, QComboBox):
            combo.clear()
            for value, label in options:
                combo.addItem(label, value)

    def show(self, value: Any, *, mixed: bool = False) -> None:
        """Show a value; `mixed` when several elements differ in it."""
        self._shown = None if mixed else value
        control = self.control
        if isinstance(control, QCheckBox):
            control.setTristate(mixed)
            state = Qt.CheckState.Checked if value else Qt.CheckState.Unchecked
            control.setCheckState(Qt.CheckState.PartiallyChecked if mixed else state)
        elif isinstance(control, QComboBox):
            control.setPlaceholderText("several" if mixed else "")
            control.setCurrentIndex(-1 if mixed else control.findData(value))
        elif isinstance(control, RowsTable):
            self._show_rows(control, "" if mixed else str(value or ""))
        elif isinstance(control, QPlainTextEdit):
            control.setPlaceholderText("several" if mixed else "")
            control.setPlainText("" if mixed else str(value or ""))
        elif isinstance(control, QLineEdit):
            if mixed:
                control.setPlaceholderText("several")
            control.setText("" if mixed else self._written(value))
            if not control.hasFocus():
                # Words longer than the field are read from their beginning.
                control.setCursorPosition(0)
        self._mark("")

    def _show_rows(self, table: RowsTable, text: str) -> None:
        """Show a table, unless it is what stands there: an edited cell would lose its cursor."""
        try:
            same = table.text() == text
        except BadData:
            same = False
        if not same:
            table.set_text(text)

    def _written(self, value: Any) -> str:
        if self.spec.type in NUMBERS:
            return written(value, self.spec, self.units)
        return str(value or "")

    def value(self) -> Any:
        """Return the SI value typed; `BadData` when it can't be."""
        control = self.control
        if isinstance(control, QCheckBox):
            return control.isChecked()
        if isinstance(control, QComboBox):
            return control.currentData()
        if isinstance(control, RowsTable):
            return read(control.text(), self.spec, self.units)
        if isinstance(control, QPlainTextEdit):
            return read(control.toPlainText(), self.spec, self.units)
        assert isinstance(control, QLineEdit)
        if self._shown is not None and control.text() == self._written(self._shown):
            return self._shown
        return read(control.text(), self.spec, self.units)

    def _took(self) -> None:
        try:
            value = self.value()
        except BadData as trouble:
            self._mark(trouble.what)
            self.refused.emit(self.spec.name, trouble.what)
            return
        self._mark("")
        if value != self._shown and not (self._shown is None and value in (None, "")):
            self._shown = value
            self.edited.emit(self.spec.name, value)

    def _mark(self, trouble: str) -> None:
        self.control.setProperty("wrong", bool(trouble))
        self.control.setToolTip(trouble or self.spec.help)
        repolish(self.control)


class FieldForm(QWidget):
    """Fields under each other, each with its name, its unit and what is wrong with it."""

    edited = Signal(str, object)

    def __init__(
        self,
        specs: Iterable[FieldSpec],
        units: UnitSystem = UnitSystem.METRIC,
        *,
        choices: Mapping[str, Iterable[tuple[str, str]]] | None = None,
    ) -> None:
        super().__init__()
        self._editors: dict[str, Editor] = {}
        self._troubles: dict[str, QLabel] = {}
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(5)
        grid.setColumnStretch(1, 1)
        for spec in specs:
            self._add(grid, spec, units, (choices or {}).get(spec.name))

    def _add(
        self,
        grid: QGridLayout,
        spec: FieldSpec,
        units: UnitSystem,
        choices: Iterable[tuple[str, str]] | None,
    ) -> None:
        if choices is not None:
            import dataclasses

            spec = dataclasses.replace(spec, type=FieldType.CHOICE)
        editor = Editor(spec, units)
        if choices is not None:
            editor.set_choices(choices)
        row = grid.rowCount()
        box = QHBoxLayout()
        box.setSpacing(6)
        box.addWidget(editor.control, 1)
        symbol = shown(spec.unit, units).symbol if spec.unit else ""
        if spec.type in NUMBERS and symbol:
            unit = QLabel(symbol)
            unit.setObjectName("unit")
            unit.setMinimumWidth(24)
            box.addWidget(unit)
        if spec.type is FieldType.FLAG:
            grid.addLayout(box, row, 0, 1, 2)
        elif spec.type is FieldType.ROWS:
            grid.addWidget(quiet(spec.label), row, 0, 1, 2)
            grid.addLayout(box, row + 1, 0, 1, 2)
            row += 1
        else:
            name = quiet(spec.label)
            name.setFixedWidth(LABEL_WIDTH)
            name.setBuddy(editor.control)
            grid.addWidget(name, row, 0)
            grid.addLayout(box, row, 1)
        wrong = QLabel()
        wrong.setObjectName("warn")
        wrong.setWordWrap(True)
        wrong.hide()
        grid.addWidget(wrong, row + 1, 0, 1, 2)
        self._editors[spec.name] = editor
        self._troubles[spec.name] = wrong
        editor.edited.connect(self._edited)
        editor.refused.connect(self._refused)

    def _edited(self, name: str, value: object) -> None:
        self._troubles[name].hide()
        self.edited.emit(name, value)

    def _refused(self, name: str, words: str) -> None:
        self._troubles[name].setText(words)
        self._troubles[name].show()

    def control(self, name: str) -> QWidget:
        """Return the control of a field."""
        return self._editors[name].control

    def names(self) -> list[str]:
        """Return the names of the fields, in order."""
        return list(self._editors)

    def show_values(
        self, value_of: Callable[[str], Any], mixed: frozenset[str] = frozenset()
    ) -> None:
        """Show values; those named in `mixed` differ between several elements."""
        for name, editor in self._editors.items():
            editor.show(value_of(name), mixed=name in mixed)
            self._troubles[name].hide()

    def values(self) -> dict[str, Any]:
        """Return every value in SI; `BadData` on the first that is wrong, which is marked."""
        found: dict[str, Any] = {}
        for name, editor in self._editors.items():
            try:
                found[name] = editor.value()
            except BadData as trouble:
                self._refused(name, trouble.what)
                editor.control.setFocus()
                raise
            self._troubles[name].hide()
        return found
