"""The first choice: play with the sample, begin a site, or open one."""

from __future__ import annotations

import math
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPaintEvent, QPen
from PySide6.QtWidgets import QFrame, QHBoxLayout, QToolButton, QVBoxLayout, QWidget

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


class Choice(QToolButton):
    """One large choice with its explanation."""

    def __init__(self, title: str, about: str) -> None:
        super().__init__()
        self.setObjectName("button")
        self.setText(title)
        self.setToolTip(about)
        self.setAccessibleName(f"{title}. {about}")
        self.setIconSize(QSize(44, 44))
        self.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextUnderIcon)
        self.setFixedSize(196, 112)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)


class Welcome(QWidget):
    """Shown while no site is open."""

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__()
        self._desk = desk
        sheet = QFrame()
        sheet.setObjectName("card")
        sheet.setFixedWidth(700)
        box = QVBoxLayout(sheet)
        box.setContentsMargins(30, 24, 30, 24)
        box.setSpacing(8)
        box.addWidget(label("Hillwright", "title"))
        box.addWidget(
            quiet("One staged, checked plan for a piece of hill land, before a digger is paid.")
        )
        box.addSpacing(10)
        line = QHBoxLayout()
        line.setSpacing(12)
        self.choices: dict[str, Choice] = {}
        for key, title, about in CHOICES:
            made = self.choices[key] = Choice(title, about)
            made.clicked.connect(lambda _on=False, key=key: desk.actions_[key].trigger())
            column = QVBoxLayout()
            column.setSpacing(6)
            column.addWidget(made)
            column.addWidget(small(about))
            line.addLayout(column)
        line.addStretch(1)
        box.addLayout(line)
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
