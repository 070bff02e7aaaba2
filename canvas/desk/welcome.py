"""The first choice: play with the sample, begin a site, or open one."""

from __future__ import annotations

import math
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPaintEvent, QPen
from PySide6.QtWidgets import QFrame, QGridLayout, QToolButton, QVBoxLayout, QWidget

from canvas.desk.icons import icon
from canvas.desk.parts import button, empty, heading, label, quiet, small
from canvas.desk.theme import inks

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow

CHOICES = (
    (
        "site.sample",
        "Play with the sample",
        "A finished plan of a hill farm to look at and change.",
    ),
    ("site.new", "Begin a site", "From nothing: name it, place it, bring in what is known."),
    ("site.open", "Open a site", "Choose the folder it lives in."),
)


#: Sizes of the choices and of the paper they stand on [pixels].
CHOICE_WIDE, CHOICE_GAP, MARGIN = 205, 12, 30


class Choice(QToolButton):
    """One large choice with its explanation."""

    def __init__(self, title: str, about: str) -> None:
        super().__init__()
        self.setObjectName("choice")
        self.setText(title)
        self.setToolTip(about)
        self.setAccessibleName(f"{title}. {about}")
        self.setIconSize(QSize(44, 44))
        self.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextUnderIcon)
        self.setFixedWidth(CHOICE_WIDE)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)


class Welcome(QWidget):
    """Shown while no site is open."""

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__()
        self._desk = desk
        sheet = QFrame()
        sheet.setObjectName("card")
        sheet.setFixedWidth(len(CHOICES) * (CHOICE_WIDE + CHOICE_GAP) - CHOICE_GAP + 2 * MARGIN)
        box = QVBoxLayout(sheet)
        box.setContentsMargins(MARGIN, 24, MARGIN, 24)
        box.setSpacing(8)
        box.addWidget(label("Hillwright", "title"))
        box.addWidget(
            quiet("One staged, checked plan for a piece of hill land, before a digger is paid.")
        )
        box.addSpacing(10)
        grid = QGridLayout()
        grid.setHorizontalSpacing(CHOICE_GAP)
        self.choices: dict[str, Choice] = {}
        for at, (key, title, about) in enumerate(CHOICES):
            made = self.choices[key] = Choice(title, about)
            made.clicked.connect(lambda _on=False, key=key: desk.actions_[key].trigger())
            words = small(about)
            words.setFixedWidth(CHOICE_WIDE)
            words.ensurePolished()
            words.setMinimumHeight(words.heightForWidth(CHOICE_WIDE))
            grid.addWidget(made, 0, at)
            grid.addWidget(words, 1, at, Qt.AlignmentFlag.AlignTop)
        box.addLayout(grid)
        box.addSpacing(10)
        self._recent_head = heading("Opened before")
        box.addWidget(self._recent_head)
        self._recent = QVBoxLayout()
        self._recent.setSpacing(2)
        box.addLayout(self._recent)
        whole = QVBoxLayout(self)
        whole.addStretch(2)
        whole.addWidget(sheet, 0, Qt.AlignmentFlag.AlignHCenter)
        whole.addStretch(3)
        desk.bench.theme_changed.connect(self.refresh)
        self.refresh()

    def refresh(self) -> None:
        """List the sites opened before."""
        for key, made in self.choices.items():
            name = self._desk.actions_.records[key].icon
            made.setIcon(icon(name, self._desk.bench.theme, "accent"))
        empty(self._recent)
        recent = self._desk.settings.recent()[:5]
        self._recent_head.setVisible(bool(recent))
        for folder in recent:
            words = f"{folder.name}    {folder.parent}"
            act = partial(self._desk.open_folder, folder)
            self._recent.addWidget(button(words, act, look="link"))
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw hills behind the choice: contours of nothing in particular."""
        ink = inks(self._desk.bench.theme)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(ink.room))
        width, height = self.width(), self.height()
        painter.setPen(QPen(QColor(ink.line), 1.4))
        for level in range(9):
            path = QPainterPath()
            for step in range(0, width + 12, 12):
                share = step / max(width, 1)
                y = height * (0.42 + 0.075 * level) - (90 - 7 * level) * (
                    math.sin(share * 5.1 + 0.6) * 0.7 + math.sin(share * 11 + level * 0.25) * 0.35
                )
                path.lineTo(QPointF(step, y)) if step else path.moveTo(QPointF(0, y))
            painter.drawPath(path)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(ink.accent_soft))
        painter.drawEllipse(QRectF(width * 0.82, height * 0.1, 70, 70))
        painter.end()
