"""The section: both grounds along a line, and a track's design profile to be taken hold of."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QEvent, QPointF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QKeyEvent, QMouseEvent, QPainter, QPen
from shiboken6 import isValid

from canvas.base.errors import BadData
from canvas.base.quantity import show, shown
from canvas.desk.bench import Bench
from canvas.desk.charts import LETTERS_MM, ChartFigure
from canvas.drawing.chart import Chart, ChartStyle
from canvas.drawing.entries import Anchor, Entry, Lines, Stroke, Text
from canvas.drawing.furniture import ring
from canvas.drawing.profile import SectionPicture, cut_and_fill, profile_entries, section_chart
from canvas.drawing.typeface import LEADING
from canvas.tools.profile import ProfileHand, Reach

if TYPE_CHECKING:
    from canvas.study.tables import Stretch

#: The pointer takes hold of a point so near [px].
NEAR_PX = 9.0
#: What an arrow key moves a point by, along and up [m]; with Shift ten times as much.
STEP_M, RISE_M = 1.0, 0.05
#: A dragged point stands this large [px].
MARK_PX = 5.0

MOVES = {
    Qt.Key.Key_Left: (-1.0, 0.0),
    Qt.Key.Key_Right: (1.0, 0.0),
    Qt.Key.Key_Up: (0.0, 1.0),
    Qt.Key.Key_Down: (0.0, -1.0),
}
OWN_KEYS = {
    *MOVES, Qt.Key.Key_PageUp, Qt.Key.Key_PageDown, Qt.Key.Key_Insert, Qt.Key.Key_Delete,
    Qt.Key.Key_Backspace, Qt.Key.Key_G, Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Escape,
}  # fmt: skip


class SectionView(ChartFigure):
    """Heights along a line, exaggerated as stated; the design profile's points can be moved.

    Keys, while it has the keyboard: Page up and down choose a point, arrows move it (Shift: ten
    times as far), Insert adds one, Delete takes it out, G puts it on the ground, Enter types.
    """

    #: Distance along the line under the pointer [m]; -1 when it left.
    pointed = Signal(float)
    #: The profile in hand is another, but not let go yet.
    dragged = Signal()
    #: The profile is let go; what was done, in words.
    dropped = Signal(str)
    #: Another point is chosen, or the chosen one has moved.
    chosen = Signal()
    #: Why something can't be done.
    refused = Signal(str)
    #: The person wants to type the chosen point's figures.
    typing = Signal()

    def __init__(self, bench: Bench) -> None:
        super().__init__(bench, "Section")
        self.picture: SectionPicture | None = None
        self.hand: ProfileHand | None = None
        self._stretches: list[Stretch] = []
        self._at: float | None = None
        self._span: tuple[float, float] | None = None
        self._caught = False
        #: A key moved the point and is still down.
        self._nudged = False
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMinimumHeight(120)

    def sizeHint(self) -> QSize:
        """Ask for a wide, low picture."""
        return QSize(700, 190)

    def show_section(
        self,
        picture: SectionPicture,
        parts: Sequence[Stretch],
        hand: ProfileHand | None,
    ) -> None:
        """Show a section, the grades of its stretches, and a profile to be edited."""
        self.picture, self._stretches, self.hand = picture, list(parts), hand
        self.update()

    @property
    def busy(self) -> bool:
        """Whether a point is held by mouse or key."""
        return self._nudged or (self.hand is not None and self.hand.busy)

    @property
    def _factor(self) -> float:
        return shown("m", self._bench.units).factor

    # -- what is drawn ------------------------------------------------------------------------

    def made(self, width_mm: float, height_mm: float) -> Chart | None:
        """Return the section as a chart, in the shown unit; its heights keep still in a drag."""
        if self.picture is None:
            return None
        style = ChartStyle(LETTERS_MM)
        picture = self._in_hand(self.picture)
        chart = section_chart(picture, width_mm, height_mm, self._bench.units, style)
        if chart is not None and not self.busy:
            self._span = (chart.range[2] / self._factor, chart.range[3] / self._factor)
        return chart

    def _in_hand(self, picture: SectionPicture) -> SectionPicture:
        """Return the picture with the profile as it is in hand."""
        if self.hand is None:
            return picture
        line = self.hand.line
        span: tuple[float, ...] = ()
        if self.busy and self._span is not None:
            levels = [knee.level_m for knee in line.knees]
            span = (min(self._span[0], *levels), max(self._span[1], *levels))
        return SectionPicture(
            picture.run_m, picture.ground_m, line.level_m(picture.run_m), line, span
        )

    def extras(self, chart: Chart) -> list[Entry]:
        """Return cut and fill, the profile, the grades along the foot, and the exaggeration."""
        picture, units = self.picture, self._bench.units
        entries: list[Entry] = []
        if picture is not None:
            entries += cut_and_fill(self._in_hand(picture), chart, self._factor)
        if self.hand is not None:
            entries += profile_entries(self.hand.line, chart, units, LETTERS_MM)
        else:
            entries += self._foot(chart)
        words = f"heights drawn {chart.stretch:.1f} times"
        # On the line of the axis' own words, which stand at its other end.
        foot = chart.plot[1] - 1.2 - LETTERS_MM * (0.6 + LEADING)
        return [*entries, Text(chart.plot[0], foot, words, LETTERS_MM, "ink_soft", Anchor.LEFT)]

    def _foot(self, chart: Chart) -> list[Entry]:
        bottom = chart.plot[1]
        entries: list[Entry] = []
        cuts = []
        for part in self._stretches:
            x0, _ = chart.at(part.from_m * self._factor, 0)
            x1, _ = chart.at(part.to_m * self._factor, 0)
            cuts.append(ring((x1, bottom), (x1, bottom + LETTERS_MM * 2)))
            if x1 - x0 > LETTERS_MM * 4 and not math.isnan(part.grade):
                words = show(part.grade, "%", decimals=0)
                middle = (x0 + x1) / 2
                entries.append(
                    Text(middle, bottom + LETTERS_MM, words, LETTERS_MM, "ink", halo="halo")
                )
        return [Lines(cuts, Stroke("ink_soft", 0.15)), *entries]

    def over(self, painter: QPainter, chart: Chart) -> None:
        """Paint the points, the chosen one filled, and the station under the pointer."""
        if self.hand is not None:
            self._paint_knees(painter, chart, self.hand)
        if self._at is not None and self.picture is not None:
            self._paint_station(painter, chart, self.picture, self._at)

    def _paint_knees(self, painter: QPainter, chart: Chart, hand: ProfileHand) -> None:
        k = self._factor
        for i, knee in enumerate(hand.line.knees):
            spot = self.spot(chart, knee.station_m * k, knee.level_m * k)
            here = i == hand.chosen
            painter.setPen(QPen(QColor(self.ink.focus), 2 if here else 1.5))
            painter.setBrush(QColor(self.ink.focus if here else self.ink.raised))
            size = MARK_PX + (1.5 if here else 0)
            painter.drawEllipse(spot, size, size)
            if here and self.hasFocus():
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.setPen(QPen(QColor(self.ink.ink), 1, Qt.PenStyle.DotLine))
                painter.drawEllipse(spot, size + 4, size + 4)
            if here and self._caught:
                painter.setPen(QPen(QColor(self.ink.ink), 1))
                painter.setFont(self.small_font())
                painter.drawText(spot + QPointF(9, 16), "on the ground")

    def _paint_station(
        self, painter: QPainter, chart: Chart, picture: SectionPicture, at: float
    ) -> None:
        z = float(np.interp(at, picture.run_m, picture.ground_m))
        if math.isnan(z):
            return
        k, units = self._factor, self._bench.units
        spot = self.spot(chart, at * k, z * k)
        top = self.spot(chart, chart.range[0], chart.range[3]).y()
        foot = self.spot(chart, chart.range[0], chart.range[2]).y()
        painter.setPen(QPen(QColor(self.ink.focus), 1, Qt.PenStyle.DashLine))
        painter.drawLine(QPointF(spot.x(), top), QPointF(spot.x(), foot))
        painter.setBrush(QColor(self.ink.focus))
        painter.drawEllipse(spot, 3.5, 3.5)
        words = f"{show(at, 'm', units, 1)} along · {show(z, 'm', units, 2)}"
        designed = self._in_hand(picture).designed_m
        if designed is not None:
            level = float(np.interp(at, picture.run_m, designed))
            if abs(level - z) >= 0.005:
                verb = "cut" if level < z else "fill"
                words += f" · designed {show(level, 'm', units, 2)}"
                words += f", {verb} {show(abs(level - z), 'm', units, 2)}"
        painter.setFont(self.small_font())
        room = self.width() - QFontMetricsF(painter.font()).horizontalAdvance(words) - 8
        painter.setPen(QColor(self.ink.ink))
        painter.drawText(QPointF(max(min(spot.x() + 8, room), 2.0), top + 12), words)

    # -- the mouse ----------------------------------------------------------------------------

    def place(self, spot: QPointF) -> tuple[float, float, Reach] | None:
        """Return station and level under a pixel, and what counts as near; None without one."""
        if self.chart is None:
            return None
        _, _, wide, high = self.chart.plot
        x0, x1, y0, y1 = self.chart.range
        along = (x1 - x0) / (wide * self.mm_px) / self._factor
        up = (y1 - y0) / (high * self.mm_px) / self._factor
        corner = self.spot(self.chart, x0, y0)
        station = x0 / self._factor + (spot.x() - corner.x()) * along
        level = y0 / self._factor + (corner.y() - spot.y()) * up
        return station, level, Reach(NEAR_PX * along, NEAR_PX * up)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take hold of a point."""
        at = self.place(event.position())
        if self.hand is None or at is None or event.button() != Qt.MouseButton.LeftButton:
            return
        self.hand.press(*at)
        self.chosen.emit()
        self.update()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Carry the held point (Alt: past the ground), or follow the pointer along the section."""
        at = self.place(event.position())
        if self.chart is None or at is None:
            return
        if self.hand is not None and self.hand.busy:
            free = bool(event.modifiers() & Qt.KeyboardModifier.AltModifier)
            self._caught = self.hand.move(*at, snap=not free)
            self.chosen.emit()
            self.dragged.emit()
        elif self.hand is not None:
            over = self.hand.under(*at) is not None
            self.setCursor(Qt.CursorShape.SizeAllCursor if over else Qt.CursorShape.ArrowCursor)
        self._at = self.chart.value_at(event.position().x() / self.mm_px) / self._factor
        self.pointed.emit(self._at)
        self.update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Let the point go."""
        self._caught = False
        if self.hand is not None and event.button() == Qt.MouseButton.LeftButton:
            if self.hand.release():
                self.dropped.emit("Move a profile point")
            self.update()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """Add a point where there is none."""
        at = self.place(event.position())
        if self.hand is None or at is None or self.hand.under(*at) is not None:
            return
        self.add(at[0])

    def leaveEvent(self, event: object) -> None:
        """Forget the pointer."""
        self._at = None
        self.pointed.emit(-1.0)
        self.update()

    # -- the keyboard -------------------------------------------------------------------------

    def event(self, event: QEvent) -> bool:
        """Keep the keys that edit the profile from the window's shortcuts, such as Delete."""
        if event.type() == QEvent.Type.ShortcutOverride and self.hand is not None:
            assert isinstance(event, QKeyEvent)
            bare = not event.modifiers() & Qt.KeyboardModifier.ControlModifier
            if bare and Qt.Key(event.key()) in OWN_KEYS:
                event.accept()
                return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Choose, move, add, take out, type; Esc puts a held point back."""
        if self.hand is None or not self._pressed(self.hand, event):
            super().keyPressEvent(event)

    def _pressed(self, hand: ProfileHand, event: QKeyEvent) -> bool:
        key = Qt.Key(event.key())
        if key in MOVES and hand.knee is not None:
            times = 10.0 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1.0
            along, up = MOVES[key]
            if hand.nudge(along * STEP_M * times, up * RISE_M * times):
                self._nudged = True
                self.chosen.emit()
                self.dragged.emit()
        elif key in MOVES or key in (Qt.Key.Key_PageUp, Qt.Key.Key_PageDown):
            hand.step(-1 if key in (Qt.Key.Key_PageUp, Qt.Key.Key_Left, Qt.Key.Key_Up) else 1)
            self.chosen.emit()
        elif key == Qt.Key.Key_Insert:
            self.add(None)
        elif key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self.take_out()
        elif key == Qt.Key.Key_G:
            self.to_ground()
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.typing.emit()
        elif key == Qt.Key.Key_Escape and (hand.busy or hand.chosen is not None):
            hand.cancel()
            hand.chosen = None
            self.chosen.emit()
            self.dragged.emit()
        else:
            return False
        self.update()
        return True

    def keyReleaseEvent(self, event: QKeyEvent) -> None:
        """Let go of what the arrows moved."""
        if self._nudged and not event.isAutoRepeat():
            self._nudged = False
            self.dropped.emit("Move a profile point")
        super().keyReleaseEvent(event)

    def focusOutEvent(self, event: object) -> None:
        """Let go of what the arrows moved, should the key come up elsewhere."""
        if self._nudged:
            self._nudged = False
            self.dropped.emit("Move a profile point")
        if isValid(self):
            self.update()

    # -- also by buttons ----------------------------------------------------------------------

    def add(self, station_m: float | None) -> None:
        """Add a point at a station; None: after the chosen one."""
        if self.hand is None:
            return
        try:
            if station_m is None:
                self.hand.add_after()
            else:
                self.hand.add(station_m)
        except BadData as trouble:
            self.refused.emit(trouble.text())
            return
        self._changed("Add a profile point")

    def take_out(self) -> None:
        """Take the chosen point out."""
        if self.hand is None:
            return
        try:
            self.hand.remove()
        except BadData as trouble:
            self.refused.emit(trouble.text())
            return
        self._changed("Take a profile point out")

    def to_ground(self) -> None:
        """Put the chosen point on the ground."""
        if self.hand is not None and self.hand.to_ground():
            self._changed("Put a profile point on the ground")

    def _changed(self, words: str) -> None:
        self.chosen.emit()
        self.dropped.emit(words)
        self.update()
