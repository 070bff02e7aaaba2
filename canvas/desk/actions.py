"""What an action is; menus, ledge, tooltips, shortcuts and "Ask" all come from one table."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Qt
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QMenu, QMenuBar

from canvas.desk.icons import icon

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow

MENUS = ("&File", "&Edit", "&View", "&Draw", "&Measure", "&Check", "&Help")


class Needs(Enum):
    """What must be there before an action can be done."""

    NOTHING = 0
    SITE = 1
    #: A site that can be written.
    WRITE = 2
    #: Something selected.
    PICK = 3
    #: Something selected in a site that can be written.
    CHANGE = 4
    #: A ground to read.
    GROUND = 5


@dataclass(frozen=True, slots=True)
class Record:
    """One action."""

    key: str
    title: str
    #: What it does, in one line.
    tip: str
    run: Callable[[DeskWindow], object]
    #: "&File", or "&File/Bring in" for a menu within it.
    menu: str
    shortcut: str = ""
    icon: str = ""
    needs: Needs = Needs.SITE
    #: A change of number between neighbours in a menu draws a line between them.
    section: int = 0
    #: Tells whether it is switched on; None for an action that is merely done.
    on: Callable[[DeskWindow], bool] | None = None
    #: Other shortcuts with the same effect.
    also: tuple[str, ...] = ()


class Actions(QObject):
    """The table made into actions of a window."""

    def __init__(self, desk: DeskWindow, table: Iterable[Record]) -> None:
        super().__init__(desk)
        self._desk = desk
        self.records = {record.key: record for record in table}
        self._made = {key: self._make(record) for key, record in self.records.items()}

    def __getitem__(self, key: str) -> QAction:
        return self._made[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._made)

    def _make(self, record: Record) -> QAction:
        action = QAction(record.title, self._desk)
        keys = [QKeySequence(text) for text in (record.shortcut, *record.also) if text]
        action.setShortcuts(keys)
        action.setShortcutContext(Qt.ShortcutContext.WindowShortcut)
        action.setCheckable(record.on is not None)
        action.setToolTip(tooltip(record))
        action.setStatusTip(record.tip)
        action.setMenuRole(QAction.MenuRole.NoRole)
        action.triggered.connect(lambda _on=False: self._run(record))
        self._desk.addAction(action)
        return action

    def _run(self, record: Record) -> None:
        record.run(self._desk)
        self.refresh()

    def reink(self, theme: str) -> None:
        """Draw the icons for a theme."""
        for key, action in self._made.items():
            name = self.records[key].icon
            if name:
                action.setIcon(icon(name, theme))

    def refresh(self) -> None:
        """Switch actions on and off by what is there."""
        bench = self._desk.bench
        session, study = bench.session, bench.study
        site = session is not None
        write = session is not None and not session.readonly
        pick = bool(bench.selection)
        ground = study is not None and study.land.grid is not None
        able = {
            Needs.NOTHING: True,
            Needs.SITE: site,
            Needs.WRITE: write,
            Needs.PICK: site and pick,
            Needs.CHANGE: write and pick,
            Needs.GROUND: ground,
        }
        for key, action in self._made.items():
            record = self.records[key]
            action.setEnabled(able[record.needs])
            if record.on is not None:
                action.setChecked(record.on(self._desk))

    def fill(self, bar: QMenuBar) -> dict[str, QMenu]:
        """Fill the menu bar; return the menus by path."""
        menus: dict[str, QMenu] = {title: bar.addMenu(title) for title in MENUS}
        sections: dict[str, int] = {}
        for record in self.records.values():
            menu = _menu(menus, record.menu)
            last = sections.get(record.menu)
            if last is not None and last != record.section:
                menu.addSeparator()
            sections[record.menu] = record.section
            menu.addAction(self._made[record.key])
        return menus


def _menu(menus: dict[str, QMenu], path: str) -> QMenu:
    if path not in menus:
        above, _, title = path.rpartition("/")
        menus[path] = _menu(menus, above).addMenu(title)
    return menus[path]


def tooltip(record: Record) -> str:
    """Return an action's tooltip: what it does, and its shortcut."""
    keys = shown_keys(record)
    return f"{record.tip} ({keys})" if keys else record.tip


def shown_keys(record: Record) -> str:
    """Return an action's shortcut as the platform writes it."""
    return QKeySequence(record.shortcut).toString(QKeySequence.SequenceFormat.NativeText)
