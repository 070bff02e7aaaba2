"""The stage strip: the work as a path over a hill, with a stop for every stage."""

from __future__ import annotations

import math

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontMetricsF,
    QKeyEvent,
    QPainter,
    QPainterPath,
    QPaintEvent,
    QPen,
)
from PySide6.QtWidgets import QAbstractButton, QHBoxLayout, QSizePolicy, QWidget

from canvas.desk.bench import Bench
from canvas.desk.icons import pixmap
from canvas.desk.stages import STAGES, Mark, Stage, findings_of
from canvas.desk.theme import Inks, inks

HEIGHT = 74
STOP_X = 25.0
STOP_Y = 27.0
RADIUS = 16.0
#: What a stage with all its marks says, and the room of the hook beside it.
DONE, HOOK = "all in place", 18
#: Where a stop's words begin.
TITLE_X = STOP_X + RADIUS + 9


def path_height(x: float, width: float) -> float:
    """Return how high the hill path runs at x: two swells, rising to the right."""
    share = x / max(width, 1.0)
    return (
        HEIGHT - 7 - 7 * share - 4 * (1 + math.sin(share * 9.4 - 1.6)) * 0.8 - math.sin(share * 23)
    )


class Stop(QAbstractButton):
    """One stage on the path: its sign, how far it has come, its findings."""

    def __init__(self, stage: Stage, number: int) -> None:
        super().__init__()
        self.stage = stage
        self.number = number
        self.marks: list[Mark] = []
        self.findings = 0
        #: Whether its actions hang below it.
        self.is_open = False
        self.ink: Inks = inks("light")
        self.setCheckable(True)
        self.setAutoExclusive(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setObjectName(f"stage-{stage.key}")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self._name()

    def sizeHint(self) -> QSize:
        """Ask for room for the title and two marks."""
        return QSize(176, HEIGHT)

    def needed(self) -> int:
        """Return how wide the stop must be for its words [pixels]."""
        title = QFontMetricsF(self._bold()).horizontalAdvance(self.stage.title)
        below = QFontMetricsF(self._plain()).horizontalAdvance(DONE) + HOOK
        return round(TITLE_X + max(title, below) + 8)

    def _plain(self) -> QFont:
        plain = QFont(self.font())
        plain.setPointSizeF(self.font().pointSizeF() - 1.5)
        return plain

    def _bold(self) -> QFont:
        bold = QFont(self.font())
        bold.setBold(True)
        bold.setPointSizeF(self.font().pointSizeF() + 0.5)
        return bold

    def show_state(self, marks: list[Mark], findings: int) -> None:
        """Show how far the stage has come."""
        self.marks, self.findings = marks, findings
        self._name()
        self.update()

    @property
    def share(self) -> float:
        """Share of the stage's marks that are met."""
        return sum(m.done for m in self.marks) / len(self.marks) if self.marks else 0.0

    def _name(self) -> None:
        done = ", ".join(m.label for m in self.marks if m.done) or "nothing yet"
        open_ = ", ".join(m.label for m in self.marks if not m.done)
        words = f"{self.stage.title}. Done: {done}."
        if open_:
            words += f" Open: {open_}."
        if self.findings:
            words += f" Findings: {self.findings}."
        self.setAccessibleName(words)
        fold = ""
        if self.isChecked():
            fold = f"\nPress again to {'fold away' if self.is_open else 'show'} the actions."
        self.setToolTip(f"{self.stage.about}\n{words} (Ctrl+{self.number}){fold}")

    def show_open(self, is_open: bool) -> None:
        """Show whether the stage's actions hang below."""
        self.is_open = is_open
        self._name()
        self.update()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Walk along the path with the arrow keys; Enter stops there."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.click()
            return
        super().keyPressEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the stop."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if self.isChecked() or self.underMouse():
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(self.ink.accent_soft if self.isChecked() else self.ink.raised))
            painter.drawRoundedRect(QRectF(2, 4, self.width() - 4, 47), 9, 9)
        if self.hasFocus():
            painter.setPen(QPen(QColor(self.ink.focus), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(QRectF(3, 5, self.width() - 6, 45), 9, 9)
        self._sign(painter)
        self._badge(painter)
        self._words(painter)
        if self.isChecked():
            self._hook(painter)
        painter.end()

    def _hook(self, painter: QPainter) -> None:
        """Draw at the stop's end whether pressing it again folds its actions away."""
        x, y, up = self.width() - 15.0, 39.0, -3.0 if self.is_open else 3.0
        painter.setPen(QPen(QColor(self.ink.accent), 2))
        painter.drawPolyline(
            [QPointF(x - 5, y - up / 2), QPointF(x, y + up / 2), QPointF(x + 5, y - up / 2)]
        )

    def _sign(self, painter: QPainter) -> None:
        centre = QPointF(STOP_X, STOP_Y)
        active = self.isChecked()
        painter.setPen(QPen(QColor(self.ink.line), 3))
        painter.setBrush(QColor(self.ink.accent if active else self.ink.raised))
        painter.drawEllipse(centre, RADIUS, RADIUS)
        if self.share > 0:
            painter.setPen(QPen(QColor(self.ink.accent), 3))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            ring = QRectF(STOP_X - RADIUS, STOP_Y - RADIUS, 2 * RADIUS, 2 * RADIUS)
            painter.drawArc(ring, 90 * 16, -round(360 * 16 * self.share))
        ink = self.ink.on_accent if active else self.ink.ink
        sign = pixmap(self.stage.icon, 18, ink, self.devicePixelRatioF())
        painter.drawPixmap(QPointF(STOP_X - 9, STOP_Y - 9), sign)

    def _words(self, painter: QPainter) -> None:
        left = TITLE_X
        bold = self._bold()
        room = self.width() - left - 6
        below = room - (HOOK if self.isChecked() else 0)
        title = QFontMetricsF(bold).elidedText(self.stage.title, Qt.TextElideMode.ElideRight, room)
        painter.setFont(bold)
        painter.setPen(QColor(self.ink.ink))
        painter.drawText(QPointF(left, 24), title)
        plain = self._plain()
        painter.setFont(plain)
        painter.setPen(QColor(self.ink.quiet))
        done = sum(m.done for m in self.marks)
        next_ = next((m.label for m in self.marks if not m.done), "")
        words = f"{done} of {len(self.marks)} · next: {next_}" if next_ else DONE
        if not self.marks:
            words = ""
        small = QFontMetricsF(plain)
        if small.horizontalAdvance(words) > below and next_:
            words = f"{done} of {len(self.marks)}"
        painter.drawText(
            QPointF(left, 41), small.elidedText(words, Qt.TextElideMode.ElideRight, below)
        )

    def _badge(self, painter: QPainter) -> None:
        """Draw the count of findings on the sign's shoulder, where it takes no room."""
        if not self.findings:
            return
        words = str(self.findings)
        font = QFont(self.font())
        font.setBold(True)
        font.setPointSizeF(self.font().pointSizeF() - 1.5)
        width = max(QFontMetricsF(font).horizontalAdvance(words) + 9, 16.0)
        box = QRectF(TITLE_X - 3 - width, STOP_Y - RADIUS - 6, width, 15)
        painter.setPen(QPen(QColor(self.ink.panel), 1.5))
        painter.setBrush(QColor(self.ink.warn))
        painter.drawRoundedRect(box, 7.5, 7.5)
        painter.setFont(font)
        painter.setPen(QColor(self.ink.on_warn))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, words)


class StageStrip(QWidget):
    """All the stops, and the hill they stand on."""

    chosen = Signal(str)

    def __init__(self, bench: Bench, *tail: QWidget) -> None:
        super().__init__()
        self._bench = bench
        self.setObjectName("strip")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.setFixedHeight(HEIGHT)
        self.setAccessibleName("Stages of the work")
        row = QHBoxLayout(self)
        row.setContentsMargins(8, 0, 10, 0)
        row.setSpacing(2)
        self.stops = {s.key: Stop(s, n) for n, s in enumerate(STAGES, start=1)}
        for key, stop in self.stops.items():
            # Room by the length of the title: many stages stand whole on a narrow window.
            stop.ensurePolished()
            stop.setMinimumWidth(stop.needed())
            row.addWidget(stop, stop.needed(), Qt.AlignmentFlag.AlignTop)
            stop.clicked.connect(lambda _on=False, key=key: self.chosen.emit(key))
        for widget in tail:
            row.addWidget(widget, 0, Qt.AlignmentFlag.AlignVCenter)
        bench.stage_changed.connect(self.refresh)
        bench.study_changed.connect(self.refresh)
        bench.site_changed.connect(self.refresh)
        bench.plan_changed.connect(lambda _t: self.refresh())
        bench.theme_changed.connect(self.refresh)
        self.refresh()

    def show_open(self, is_open: bool) -> None:
        """Show whether the chosen stage's actions hang below."""
        for stop in self.stops.values():
            stop.show_open(is_open)

    def refresh(self) -> None:
        """Show every stage as it stands."""
        plan, study = self._bench.plan, self._bench.study
        findings = study.findings() if study is not None else ()
        ink = inks(self._bench.theme)
        for key, stop in self.stops.items():
            stop.ink = ink
            stop.setEnabled(plan is not None)
            stop.setChecked(key == self._bench.stage and plan is not None)
            if plan is None:
                stop.show_state([], 0)
            else:
                count = findings_of(stop.stage, plan, findings)
                stop.show_state(stop.stage.marks(plan, findings), count)
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the hill, and the path walked so far."""
        ink = inks(self._bench.theme)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(ink.panel))
        width = float(self.width())
        line = QPainterPath(QPointF(0, path_height(0, width)))
        for x in range(4, self.width() + 4, 4):
            line.lineTo(x, path_height(x, width))
        hill = QPainterPath(line)
        hill.lineTo(width, HEIGHT)
        hill.lineTo(0, HEIGHT)
        painter.fillPath(hill, QColor(ink.accent_soft))
        painter.setPen(QPen(QColor(ink.edge), 1.2, Qt.PenStyle.DashLine))
        painter.drawPath(line)
        stop = self.stops[self._bench.stage]
        here = stop.x() + STOP_X
        if self._bench.plan is not None:
            painter.save()
            painter.setClipRect(QRectF(0, 0, here, HEIGHT))
            painter.setPen(QPen(QColor(ink.accent), 2.6))
            painter.drawPath(line)
            painter.restore()
        for each in self.stops.values():
            self._post(painter, ink, each, active=each is stop)
        painter.end()

    def _post(self, painter: QPainter, ink: Inks, stop: Stop, *, active: bool) -> None:
        x = stop.x() + STOP_X
        foot = path_height(x, float(self.width()))
        painter.setPen(QPen(QColor(ink.accent if active else ink.edge), 1.6))
        painter.drawLine(QPointF(x, STOP_Y + RADIUS + 2), QPointF(x, foot))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(ink.accent if active else ink.edge))
        painter.drawEllipse(QPointF(x, foot), 3, 3)
