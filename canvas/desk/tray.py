"""The tray: the chosen stage's few actions, large and named, over the map's left edge."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QFrame, QHBoxLayout, QSizePolicy, QToolButton, QVBoxLayout, QWidget

from canvas.desk.actions import Actions
from canvas.desk.bench import Bench
from canvas.desk.icons import icon
from canvas.desk.parts import icon_button, label, scrolling
from canvas.desk.stages import STAGES, stage

WIDE = 186
NARROW = 54


class TrayButton(QToolButton):
    """One action of the tray; follows the action it stands for."""

    def __init__(self, action: QAction, name: str) -> None:
        super().__init__()
        self._action = action
        self.setObjectName("stageaction")
        self.setText(f"  {name}")
        self.setAccessibleName(name)
        self.setIconSize(QSize(22, 22))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setFixedHeight(35)
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


class Tray(QFrame):
    """Actions of the stage; folds to icons alone."""

    def __init__(self, bench: Bench, actions: Actions, parent: QWidget) -> None:
        super().__init__(parent)
        self._bench = bench
        self._actions = actions
        self.setObjectName("tray")
        self.folded = False
        self._title = label("", "heading", wrap=False)
        self._fold = icon_button("left", "Fold the tray", self.toggle, bench.theme)
        head = QHBoxLayout()
        head.setContentsMargins(8, 2, 0, 0)
        head.addWidget(self._title, 1)
        head.addWidget(self._fold)
        self._stacks = {each.key: self._stack(each.actions) for each in STAGES}
        box = QVBoxLayout(self)
        box.setContentsMargins(5, 5, 5, 6)
        box.setSpacing(2)
        box.addLayout(head)
        for area in self._stacks.values():
            box.addWidget(area)
        bench.stage_changed.connect(self.refresh)
        bench.theme_changed.connect(self.refresh)
        bench.site_changed.connect(self.refresh)
        self.refresh()

    def _stack(self, keys: tuple[str, ...]) -> QWidget:
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        for key in keys:
            name = self._actions.records[key].title.replace("&", "").strip("…")
            column.addWidget(TrayButton(self._actions[key], name))
        column.addStretch(1)
        return scrolling(inside)

    def toggle(self) -> None:
        """Fold to icons, or unfold."""
        self.folded = not self.folded
        self.refresh()

    def refresh(self) -> None:
        """Show the stage's actions at the size the map has room for."""
        here = stage(self._bench.stage)
        self._title.setText(here.title)
        self._title.setVisible(not self.folded)
        self._fold.setIcon(icon("right" if self.folded else "left", self._bench.theme))
        self._fold.setProperty("icon_name", "right" if self.folded else "left")
        words = "Unfold the tray" if self.folded else "Fold the tray"
        self._fold.setToolTip(words)
        self._fold.setAccessibleName(words)
        style = (
            Qt.ToolButtonStyle.ToolButtonIconOnly
            if self.folded
            else Qt.ToolButtonStyle.ToolButtonTextBesideIcon
        )
        for key, area in self._stacks.items():
            area.setVisible(key == here.key)
            for made in area.findChildren(QToolButton):
                made.setToolButtonStyle(style)
        self.setVisible(self._bench.session is not None)
        self.place()

    def place(self) -> None:
        """Stand at the map's left edge, no taller than it."""
        parent = self.parentWidget()
        if parent is None:
            return
        wanted = 40 + 35 * len(stage(self._bench.stage).actions) + 10
        room = max(parent.height() - 24, 120)
        self.setGeometry(12, 12, NARROW if self.folded else WIDE, min(wanted, room))
        self.raise_()
