"""Small pieces every part of the desk is put together from."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QSize, Qt
from PySide6.QtWidgets import (
    QAbstractItemView,
    QBoxLayout,
    QFormLayout,
    QFrame,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QLayout,
    QLayoutItem,
    QPushButton,
    QScrollArea,
    QTableWidget,
    QTableWidgetItem,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from canvas.desk.icons import icon


def label(words: str, look: str = "", *, wrap: bool = True) -> QLabel:
    """Return a line of text; `look` is a name of the style sheet."""
    made = QLabel(words)
    if look:
        made.setObjectName(look)
    made.setWordWrap(wrap)
    return made


def heading(words: str) -> QLabel:
    """Return a heading."""
    return label(words, "heading")


def quiet(words: str = "") -> QLabel:
    """Return second-rank text."""
    return label(words, "quiet")


def small(words: str = "") -> QLabel:
    """Return small print."""
    return label(words, "small")


def rule() -> QFrame:
    """Return a thin line across."""
    made = QFrame()
    made.setObjectName("rule")
    return made


def button(words: str, act: Callable[[], object], *, look: str = "", tip: str = "") -> QPushButton:
    """Return a push button."""
    made = QPushButton(words)
    if look:
        made.setObjectName(look)
    made.setToolTip(tip)
    made.setAccessibleName(words.replace("&", ""))
    made.setAutoDefault(look == "main")
    made.clicked.connect(lambda _on=False: act())
    return made


def icon_button(name: str, words: str, act: Callable[[], object], theme: str) -> QToolButton:
    """Return a button that shows an icon only; `words` name it for tooltip and screen reader."""
    made = QToolButton()
    made.setIcon(icon(name, theme))
    made.setIconSize(QSize(18, 18))
    made.setToolTip(words)
    made.setAccessibleName(words)
    made.setProperty("icon_name", name)
    made.setFocusPolicy(Qt.FocusPolicy.TabFocus)
    made.clicked.connect(lambda _on=False: act())
    return made


def reink(root: QWidget, theme: str) -> None:
    """Draw every icon button below `root` again for a theme."""
    for made in root.findChildren(QToolButton):
        name = made.property("icon_name")
        if isinstance(name, str) and name:
            made.setIcon(icon(name, theme))


def repolish(widget: QWidget) -> None:
    """Let the style sheet look at a widget's properties again."""
    widget.style().unpolish(widget)
    widget.style().polish(widget)


def column(
    *items: QWidget | QLayout | None, margin: int = 0, gap: int = 6, parent: QWidget | None = None
) -> QVBoxLayout:
    """Return items under each other; None stands for the space that stretches."""
    made = QVBoxLayout(parent) if parent is not None else QVBoxLayout()
    _fill(made, items, margin, gap)
    return made


def row(
    *items: QWidget | QLayout | None, margin: int = 0, gap: int = 6, parent: QWidget | None = None
) -> QHBoxLayout:
    """Return items beside each other; None stands for the space that stretches."""
    made = QHBoxLayout(parent) if parent is not None else QHBoxLayout()
    _fill(made, items, margin, gap)
    return made


def _fill(
    into: QBoxLayout, items: Sequence[QWidget | QLayout | None], margin: int, gap: int
) -> None:
    into.setContentsMargins(margin, margin, margin, margin)
    into.setSpacing(gap)
    for item in items:
        if item is None:
            into.addStretch(1)
        elif isinstance(item, QWidget):
            into.addWidget(item)
        else:
            into.addLayout(item)


def empty(layout: QLayout) -> None:
    """Take everything out of a layout and delete it."""
    while (item := layout.takeAt(0)) is not None:
        _discard(item)


def _discard(item: QLayoutItem) -> None:
    widget, inner = item.widget(), item.layout()
    if widget is not None:
        widget.hide()
        widget.deleteLater()
    elif inner is not None:
        empty(inner)


#: Height of a field of one line, which its name stands level with [pixels].
LINE_HEIGHT = 30


class FormRows(QFormLayout):
    """A form whose names stand level with the first line of their fields."""

    def __init__(self, wide: int = 0) -> None:
        super().__init__()
        self._wide = wide
        self.setLabelAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)
        self.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        if wide:
            self.setHorizontalSpacing(8)

    def addRow(self, words: str, field: QWidget | QLayout) -> None:  # type: ignore[override]
        """Add a field under its name; without words it stands below the one before."""
        if not words:
            super().addRow(words, field)
            return
        name = label(words, "quiet" if self._wide else "", wrap=False)
        name.setMinimumWidth(self._wide)
        name.setFixedHeight(LINE_HEIGHT)
        if isinstance(field, QWidget):
            name.setBuddy(field)
        super().addRow(name, field)


def form_rows(wide: int = 0) -> FormRows:
    """Return an empty form; `wide` is the names' column where another form's must match."""
    return FormRows(wide)


def scrolling(inside: QWidget) -> QScrollArea:
    """Return a scroll area that grows with the width and scrolls up and down only."""
    area = QScrollArea()
    inside.setObjectName(inside.objectName() or "inside")
    area.setWidget(inside)
    area.setWidgetResizable(True)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    area.setFrameShape(QFrame.Shape.NoFrame)
    area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    return area


def table(columns: Sequence[str], *, name: str) -> QTableWidget:
    """Return an empty table to read and choose rows in."""
    made = QTableWidget(0, len(columns))
    made.setHorizontalHeaderLabels(list(columns))
    made.setAccessibleName(name)
    made.verticalHeader().hide()
    made.setShowGrid(False)
    made.setAlternatingRowColors(True)
    made.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
    made.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
    made.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
    made.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
    made.setTabKeyNavigation(False)
    header = made.horizontalHeader()
    header.setHighlightSections(False)
    header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
    header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
    header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
    return made


def stretched(made: QTableWidget, column_: int) -> None:
    """Let another column than the first take what room is left."""
    header = made.horizontalHeader()
    header.setSectionResizeMode(0, QHeaderView.ResizeMode.ResizeToContents)
    header.setSectionResizeMode(column_, QHeaderView.ResizeMode.Stretch)


def fill_table(into: QTableWidget, rows: Sequence[Sequence[str]], *, right: frozenset[int]) -> None:
    """Fill a table with text; the columns in `right` hold figures and stand at the right."""
    into.setRowCount(len(rows))
    for r, cells in enumerate(rows):
        for c, words in enumerate(cells):
            cell = QTableWidgetItem(words)
            side = Qt.AlignmentFlag.AlignRight if c in right else Qt.AlignmentFlag.AlignLeft
            cell.setTextAlignment(side | Qt.AlignmentFlag.AlignVCenter)
            cell.setToolTip(words)
            into.setItem(r, c, cell)
