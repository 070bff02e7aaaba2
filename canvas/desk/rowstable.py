"""A small table edited in place: a field of rows on the card, in pages and dialogs."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import QApplication, QHeaderView, QTableWidget, QTableWidgetItem

from canvas.base.errors import BadData
from canvas.base.quantity import UnitSystem, read_number, shown, to_si
from canvas.site import tabular
from canvas.site.tabular import Cell, Column

#: Rows a table shows before it is scrolled.
MOST_SHOWN = 8
LEAST_SHOWN = 3


class RowsTable(QTableWidget):
    """Rows of figures and words with one empty row to go on in; rows can be pasted.

    Figures are shown in the person's units, kept in SI.
    """

    #: A cell, a row or a pasted block has been changed.
    changed = Signal()

    def __init__(self, columns: Sequence[Column], units: UnitSystem) -> None:
        super().__init__(0, len(columns))
        self._columns = tuple(columns)
        self._units = units
        self._filling = False
        for at, column in enumerate(columns):
            head = QTableWidgetItem(self._head(column))
            head.setToolTip(column.help or column.label)
            self.setHorizontalHeaderItem(at, head)
        self.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        self.verticalHeader().setVisible(False)
        self.setTabKeyNavigation(True)
        self.setToolTip("Type in the last row to go on; Delete empties, Ctrl+V pastes rows")
        self.itemChanged.connect(self._item_changed)
        self.installEventFilter(self)
        self.set_text("")

    def _head(self, column: Column) -> str:
        if column.unit in (None, "", "count"):
            return column.label
        return f"{column.label} [{shown(column.unit or '', self._units).symbol}]"

    def set_text(self, text: str) -> None:
        """Show a table as it is kept; what can't be read is shown as it stands."""
        try:
            rows: Sequence[Sequence[Cell]] = tabular.parse(text, self._columns)
        except BadData:
            rows = [line.split(";") for line in text.splitlines()]
        self._filling = True
        self.setRowCount(0)
        for row in rows:
            self._put(self.rowCount(), [self._written(c, k) for k, c in enumerate(row)])
        self._put(self.rowCount(), [])
        self._filling = False
        self._fit()

    def _written(self, cell: Cell, at: int) -> str:
        column = self._columns[min(at, len(self._columns) - 1)]
        if cell is None or isinstance(cell, str):
            return cell or ""
        return f"{cell * self._factor(column):.7g}"

    def _factor(self, column: Column) -> float:
        return shown(column.unit, self._units).factor if column.unit else 1.0

    def _put(self, row: int, cells: Sequence[str]) -> None:
        if row >= self.rowCount():
            self.insertRow(self.rowCount())
        for at, column in enumerate(self._columns):
            item = QTableWidgetItem(cells[at] if at < len(cells) else "")
            if column.unit is not None:
                item.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
            self.setItem(row, at, item)

    def text(self) -> str:
        """Return the table as it is kept; `BadData` names row, column and value."""
        rows: list[list[Cell]] = []
        for row in range(self.rowCount()):
            words = [self._words(row, at) for at in range(len(self._columns))]
            if any(words):
                nth = len(rows) + 1
                rows.append(
                    [self._read(w, c, nth) for w, c in zip(words, self._columns, strict=True)]
                )
        return tabular.form(rows)

    def _words(self, row: int, at: int) -> str:
        item = self.item(row, at)
        return item.text().strip() if item is not None else ""

    def _read(self, words: str, column: Column, nth: int) -> Cell:
        if not words:
            return None if column.unit is not None else ""
        if column.unit is None:
            return words
        try:
            number = read_number(words)
        except BadData as err:
            raise BadData(f"row {nth}, {column.label}: {err.what}") from err
        return to_si(number, column.unit, self._units) if column.unit else number

    # -- changing -----------------------------------------------------------------------------

    def _item_changed(self, _item: QTableWidgetItem) -> None:
        if self._filling:
            return
        self._grow()
        self.changed.emit()

    def _grow(self) -> None:
        """Keep one empty row at the end."""
        last = self.rowCount() - 1
        if last < 0 or any(self._words(last, at) for at in range(len(self._columns))):
            self._filling = True
            self._put(self.rowCount(), [])
            self._filling = False
            self._fit()

    def _fit(self) -> None:
        rows = min(max(self.rowCount(), LEAST_SHOWN), MOST_SHOWN)
        height = self.verticalHeader().defaultSectionSize()
        self.setFixedHeight(rows * height + self.horizontalHeader().sizeHint().height() + 4)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Empty chosen cells with Delete, paste rows with the paste keys."""
        if isinstance(event, QKeyEvent):
            paste = event.matches(QKeySequence.StandardKey.Paste)
            empties = event.key() in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace)
            if event.type() == QEvent.Type.ShortcutOverride and (paste or empties):
                # Ours, not the window's.
                event.accept()
                return True
            if event.type() == QEvent.Type.KeyPress and paste:
                self._paste(QApplication.clipboard().text())
                return True
            if event.type() == QEvent.Type.KeyPress and empties:
                self._empty()
                return True
        return super().eventFilter(watched, event)

    def _empty(self) -> None:
        """Empty the chosen cells; rows left without anything close up."""
        self._filling = True
        for item in self.selectedItems():
            item.setText("")
        for row in reversed(range(self.rowCount() - 1)):
            if not any(self._words(row, at) for at in range(len(self._columns))):
                self.removeRow(row)
        self._filling = False
        self._fit()
        self.changed.emit()

    def _paste(self, words: str) -> None:
        """Put lines of cells apart by tabs or semicolons from the chosen cell on."""
        lines = [line for line in words.splitlines() if line.strip()]
        if not lines:
            return
        first, left = max(self.currentRow(), 0), max(self.currentColumn(), 0)
        self._filling = True
        for down, line in enumerate(lines):
            cells = line.split("\t") if "\t" in line else line.split(";")
            row = first + down
            before = [self._words(row, at) for at in range(len(self._columns))]
            for right, cell in enumerate(cells):
                if left + right < len(before):
                    before[left + right] = cell.strip()
            self._put(row, before)
        self._filling = False
        self._grow()
        self._fit()
        self.changed.emit()
