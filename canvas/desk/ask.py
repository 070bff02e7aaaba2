"""Ask: type what you want; actions, kinds, elements, rules and places answer."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QObject, QSize, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QFrame, QLabel, QLineEdit, QListWidget, QListWidgetItem, QVBoxLayout

from canvas.desk.actions import shown_keys
from canvas.desk.icons import icon, kind_icon
from canvas.desk.parts import small
from canvas.desk.wording import called
from canvas.site.records import kind_of

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow

MOST = 12
#: Height of an answer.
ROW = 44
NUMBER = r"[-+]?\d+(?:[.,]\d+)?"
PLACE = re.compile(rf"^\s*({NUMBER})\s*[,; ]\s*({NUMBER})\s*$")


@dataclass(frozen=True, slots=True)
class Answer:
    """One thing that can be done."""

    title: str
    about: str
    icon: str
    act: Callable[[], object]
    keys: str = ""


def score(words: str, title: str, about: str) -> float:
    """Return how well an answer fits what was typed; 0 when some word is not in it at all.

    The start of the title fits best, then the start of a word in it, then anywhere in it, then
    the explanation.
    """
    total = 0.0
    low, rest = title.casefold(), about.casefold()
    for word in words.casefold().split():
        if low.startswith(word):
            total += 8
        elif f" {word}" in f" {low}":
            total += 6
        elif word in low:
            total += 3
        elif word in rest:
            total += 1
        else:
            return 0.0
    return total + 1 / (1 + len(title))


class AskBox(QFrame):
    """A line to type in, and the answers under it."""

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__(desk)
        self._desk = desk
        self._answers: list[Answer] = []
        self.setObjectName("ask")
        self.line = QLineEdit()
        self.line.setAccessibleName("Ask: type what you want")
        self.line.setPlaceholderText(
            "What do you want? “tree”, “fit”, “north shed”, 140.5, -37.2 …"
        )
        self.line.textChanged.connect(self._look)
        self.line.installEventFilter(self)
        self.list = QListWidget()
        self.list.setAccessibleName("Answers")
        self.list.setIconSize(QSize(20, 20))
        self.list.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.list.itemClicked.connect(lambda _item: self._take())
        box = QVBoxLayout(self)
        box.setContentsMargins(12, 12, 12, 10)
        box.setSpacing(8)
        box.addWidget(self.line)
        box.addWidget(self.list)
        self._hint: QLabel = small("Up and Down choose, Enter does it, Esc leaves")
        box.addWidget(self._hint)
        self.hide()

    def ask(self) -> None:
        """Open the box, empty."""
        width = min(620, self._desk.width() - 80)
        self.setFixedWidth(width)
        self.line.clear()
        self._look("")
        self.move((self._desk.width() - width) // 2, 104)
        self.show()
        self.raise_()
        self.line.setFocus()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Choose with the arrow keys while typing; leave when the line loses the focus."""
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            return self._key(event)
        if event.type() == QEvent.Type.FocusOut:
            self.hide()
        return super().eventFilter(watched, event)

    def _key(self, event: QKeyEvent) -> bool:
        key = event.key()
        if key == Qt.Key.Key_Escape:
            self.hide()
            self._desk.map.setFocus()
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._take()
        elif key in (Qt.Key.Key_Down, Qt.Key.Key_Up) and self.list.count():
            step = 1 if key == Qt.Key.Key_Down else -1
            self.list.setCurrentRow((self.list.currentRow() + step) % self.list.count())
        else:
            return False
        return True

    def _take(self) -> None:
        at = self.list.currentRow()
        if not 0 <= at < len(self._answers):
            return
        answer = self._answers[at]
        self.hide()
        self._desk.map.setFocus()
        answer.act()

    def _look(self, words: str) -> None:
        self._answers = self.answers(words)
        self.list.clear()
        for answer in self._answers:
            tail = f"   {answer.keys}" if answer.keys else ""
            item = QListWidgetItem(f"{answer.title}{tail}\n{answer.about}")
            item.setIcon(icon(answer.icon or "ask", self._desk.bench.theme))
            item.setSizeHint(QSize(0, ROW))
            self.list.addItem(item)
        self.list.setCurrentRow(0 if self._answers else -1)
        if words.strip() and not self._answers:
            self._hint.setText(f"Nothing answers to “{words.strip()}”")
        else:
            self._hint.setText("Up and Down choose, Enter does it, Esc leaves")
        self.list.setVisible(bool(self._answers))
        self.list.setFixedHeight(min(len(self._answers), 7) * ROW + 6)
        self.adjustSize()

    def answers(self, words: str) -> list[Answer]:
        """Return what fits the words, best first."""
        place = list(self._places(words))
        found = [
            (score(words, a.title, a.about) if words.strip() else 1.0, -n, a)
            for n, a in enumerate(self._all())
        ]
        fitting = sorted((f for f in found if f[0] > 0), key=lambda f: f[:2], reverse=True)
        return (place + [f[2] for f in fitting])[:MOST]

    def _all(self) -> Iterator[Answer]:
        actions = self._desk.actions_
        for key, record in actions.records.items():
            if actions[key].isEnabled() and key != "help.ask":
                title = record.title.replace("&", "")
                act = actions[key].trigger
                yield Answer(title, record.tip, record.icon, act, shown_keys(record))
        yield from self._elements()
        yield from self._rules()

    def _elements(self) -> Iterator[Answer]:
        plan = self._desk.bench.plan
        for item in plan.elements() if plan is not None else ():
            if item.name:
                kind = kind_of(item)

                def act(ident: str = item.id) -> None:
                    self._desk.show_element(ident)

                yield Answer(
                    called(item), f"{kind.label}: select and show", kind_icon(kind.key), act
                )

    def _rules(self) -> Iterator[Answer]:
        study = self._desk.bench.study
        for finding in study.findings() if study is not None else ():

            def act(key: str = finding.key) -> None:
                self._desk.show_finding(key)

            yield Answer(finding.message, "Finding: show where", "findings", act)

    def _places(self, words: str) -> Iterator[Answer]:
        match = PLACE.match(words)
        study = self._desk.bench.study
        if match is None or study is None:
            return
        first, second = (float(text.replace(",", ".")) for text in match.groups())
        if abs(first) > 180 or abs(second) > 180:

            def grid() -> None:
                self._desk.go_to(first, second)

            yield Answer(f"E {first:g}  N {second:g}", "Go to this grid position", "goto", grid)
        else:

            def geographic() -> None:
                self._desk.go_to_lonlat(first, second)

            yield Answer(
                f"longitude {first:g}°, latitude {second:g}°",
                "Go to this geographic position",
                "goto",
                geographic,
            )
