"""The ledge: the chosen stage's few actions, large and named, hanging from its stop."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QAction, QColor, QPainter, QPainterPath, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QFrame, QGridLayout, QSizePolicy, QToolButton, QWidget

from canvas.desk.actions import Actions
from canvas.desk.bench import Bench
from canvas.desk.stages import STAGES, stage
from canvas.desk.strip import STOP_X, StageStrip
from canvas.desk.theme import inks

ROW = 36
#: Rows the actions stand in, as long as the map is wide enough.
ROWS = 2
#: Space to the edges of the map, and inside the ledge.
AIR = 8
#: Height of the turf along the head.
TURF = 4
CORNER = 12.0


class LedgeButton(QToolButton):
    """One action of the ledge; follows the action it stands for."""

    def __init__(self, action: QAction, name: str, parent: QWidget) -> None:
        super().__init__(parent)
        self._action = action
        self.setObjectName("stageaction")
        self.setText(f" {name}")
        self.setAccessibleName(name)
        self.setIconSize(QSize(22, 22))
        self.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setFixedHeight(ROW)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setCheckable(action.isCheckable())
        self.clicked.connect(self._press)
        action.changed.connect(self._follow)
        self._follow()

    def _press(self) -> None:
        self._action.trigger()
        self._follow()

    def _follow(self) -> None:
        self.setEnabled(self._action.isEnabled())
        self.setChecked(self._action.isChecked())
        self.setToolTip(self._action.toolTip())
        self.setIcon(self._action.icon())


class Ledge(QFrame):
    """Actions of the stage in two rows under its stop; folds away when the stop is pressed."""

    #: It opened, folded, or took another size.
    moved = Signal()

    def __init__(self, bench: Bench, actions: Actions, strip: StageStrip, parent: QWidget) -> None:
        super().__init__(parent)
        self._bench = bench
        self._strip = strip
        self._laid: tuple[str, int] = ("", 0)
        self.setObjectName("ledge")
        self.folded = False
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(AIR, TURF + 4, AIR, AIR - 2)
        self._grid.setHorizontalSpacing(2)
        self._grid.setVerticalSpacing(0)
        self.buttons: dict[str, list[LedgeButton]] = {}
        for each in STAGES:
            made = self.buttons[each.key] = []
            for key in each.actions:
                name = actions.records[key].title.replace("&", "").strip("…")
                made.append(LedgeButton(actions[key], name, self))
                made[-1].hide()
        bench.stage_changed.connect(self.unfold)
        bench.theme_changed.connect(self.refresh)
        bench.site_changed.connect(self.refresh)
        self.refresh()

    def toggle(self) -> None:
        """Fold away, or open."""
        self.folded = not self.folded
        self.refresh()

    def unfold(self) -> None:
        """Open for the stage turned to."""
        self.folded = False
        self.refresh()

    def refresh(self) -> None:
        """Show the stage's actions."""
        here = stage(self._bench.stage)
        self.setAccessibleName(f"Actions of {here.title}")
        self.setVisible(self._bench.session is not None and not self.folded)
        self._strip.show_open(not self.folded)
        self.place()
        self.moved.emit()

    @property
    def overhang(self) -> int:
        """How far it hangs over the map [pixels]."""
        return 0 if self.isHidden() else self.height()

    def place(self) -> None:
        """Hang under the stage's stop, as wide as the actions need and the map allows."""
        parent = self.parentWidget()
        if parent is None or self.isHidden():
            return
        made = self.buttons[self._bench.stage]
        room = parent.width() - 4 * AIR
        columns = columns_for([b.sizeHint().width() for b in made], room)
        if self._laid != (self._bench.stage, columns):
            self._lay(made, columns)
        self.resize(self._grid.sizeHint())
        left = self._strip.stops[self._bench.stage].x()
        furthest = parent.width() - self.width() - AIR
        self.move(max(min(left, furthest), AIR), 0)
        self.raise_()
        self.update()

    def _lay(self, made: Sequence[LedgeButton], columns: int) -> None:
        while self._grid.takeAt(0) is not None:
            pass
        for each in (button for some in self.buttons.values() for button in some):
            each.setVisible(each in made)
        for at, button in enumerate(made):
            self._grid.addWidget(button, at // columns, at % columns)
        self._laid = (self._bench.stage, columns)
        self._grid.activate()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw a step cut in the hill: turf at the head, and a notch under the stop."""
        ink = inks(self._bench.theme)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        shape = QPainterPath()
        box = QRectF(0.5, -CORNER, self.width() - 1, self.height() + CORNER - 0.5)
        shape.addRoundedRect(box, CORNER, CORNER)
        painter.fillPath(shape, QColor(ink.raised))
        painter.setPen(QPen(QColor(ink.line), 1))
        painter.drawPath(shape)
        painter.fillRect(QRectF(0, 0, self.width(), TURF), QColor(ink.accent_soft))
        x = self._strip.stops[self._bench.stage].x() + STOP_X - self.x()
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(ink.accent))
        painter.drawPolygon(QPolygonF([QPointF(x - 6, 0), QPointF(x + 6, 0), QPointF(x, 7)]))
        painter.end()


def columns_for(widths: Sequence[int], room: float) -> int:
    """Return the columns that give the fewest rows, two at least, in the room there is [px]."""
    columns = max(-(-len(widths) // ROWS), 1)
    while columns > 1:
        wide = sum(max(widths[c::columns]) for c in range(columns))
        if wide + 2 * columns + 2 * AIR <= room:
            break
        columns -= 1
    return columns
