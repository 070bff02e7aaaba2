"""The map's key: how long a stretch is, and what the shading's colours mean."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFont, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QComboBox, QFrame, QVBoxLayout, QWidget

from canvas.base.quantity import show, shown
from canvas.desk.parts import label, small
from canvas.desk.theme import inks
from canvas.drawing.furniture import nice_step
from canvas.drawing.palette import PALETTES
from canvas.site.facts import Picture

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow

ROW = 17
#: The bar is at most this long [pixels].
BAR_PX = 120.0


class Swatches(QWidget):
    """Colours and what they stand for, under each other."""

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__()
        self._desk = desk
        self._rows: tuple[Any, ...] = ()
        self._strength = 1.0

    def show_rows(self, rows: tuple[Any, ...], strength: float) -> None:
        """Show swatches as the map shows their colours: laid over its paper, this strong."""
        self._rows, self._strength = rows, strength
        self.setAccessibleName(", ".join(row.label for row in rows))
        self.setVisible(bool(rows))
        self.updateGeometry()
        self.update()

    def seen(self, rgb: tuple[int, int, int]) -> tuple[int, int, int]:
        """Return a colour of the shading as it is seen over the map's paper."""
        paper = QColor(PALETTES[self._desk.bench.theme]["paper"])
        under = (paper.red(), paper.green(), paper.blue())
        red, green, blue = (
            round(own * self._strength + base * (1 - self._strength))
            for own, base in zip(rgb, under, strict=True)
        )
        return red, green, blue

    def sizeHint(self) -> QSize:
        """Ask for a row each."""
        return QSize(168, ROW * len(self._rows))

    def minimumSizeHint(self) -> QSize:
        """Keep every row."""
        return self.sizeHint()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the swatches."""
        ink = inks(self._desk.bench.theme)
        painter = QPainter(self)
        font = QFont(self.font())
        font.setPointSizeF(font.pointSizeF() - 1)
        painter.setFont(font)
        for at, row in enumerate(self._rows):
            painter.setPen(QPen(QColor(ink.edge), 1))
            painter.setBrush(QColor(*self.seen(row.rgb)))
            painter.drawRect(QRectF(0.5, at * ROW + 2.5, 20, ROW - 6))
            painter.setPen(QColor(ink.ink))
            box = QRectF(28, at * ROW, self.width() - 28, ROW)
            painter.drawText(box, Qt.AlignmentFlag.AlignVCenter, row.label)
        painter.end()


class ScaleBar(QWidget):
    """A bar of a round length, as long as the map shows it now."""

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__()
        self._desk = desk
        self.setFixedHeight(24)
        self.setMinimumWidth(168)
        self.setAccessibleName("Scale bar")

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the bar and its length."""
        desk = self._desk
        ink, units = inks(desk.bench.theme), desk.bench.units
        factor = shown("m", units).factor
        pixel = desk.map.camera.pixel_m * factor
        # The largest round length that fits: the round one above a fortieth of it, at least.
        length = nice_step(BAR_PX * pixel / 2.5)
        pixels = length / pixel
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(QColor(ink.ink), 1.6))
        y = 18.0
        painter.drawLine(QPointF(1, y), QPointF(1 + pixels, y))
        for share in (0.0, 0.5, 1.0):
            x = 1 + pixels * share
            painter.drawLine(QPointF(x, y), QPointF(x, y - (6 if share != 0.5 else 4)))
        font = QFont(self.font())
        font.setPointSizeF(font.pointSizeF() - 1)
        painter.setFont(font)
        painter.setPen(QColor(ink.ink))
        words = show(length / factor, "m", units, 0 if length >= 1 else 2)
        painter.drawText(QPointF(pixels + 9, y + 1), words)
        painter.end()


class MapKey(QFrame):
    """Stands at the right foot of the map."""

    #: It took another size.
    moved = Signal()

    def __init__(self, desk: DeskWindow, parent: QWidget) -> None:
        super().__init__(parent)
        self._desk = desk
        self._shown: object = None
        self._lane = desk.bench.jobs.lane("Key of the map")
        self.setObjectName("card")
        self.title = label("", "heading", wrap=False)
        self.swatches = Swatches(desk)
        self.note = small()
        self.month = QComboBox()
        self.month.setAccessibleName("Month the sun is shown for")
        from canvas.study.maps import MONTHS

        self.month.addItem("The whole year", 0)
        for number, name in enumerate(MONTHS, start=1):
            self.month.addItem(name, number)
        self.month.activated.connect(
            lambda _i: desk.bench.set_look(month=int(self.month.currentData()))
        )
        self.bar = ScaleBar(desk)
        box = QVBoxLayout(self)
        box.setContentsMargins(11, 7, 11, 8)
        box.setSpacing(4)
        for part in (self.title, self.month, self.swatches, self.note, self.bar):
            box.addWidget(part)
        self.setFixedWidth(204)
        for signal in (desk.bench.study_changed, desk.bench.look_changed, desk.bench.site_changed,
                       desk.bench.theme_changed):  # fmt: skip
            signal.connect(self.refresh)
        desk.map.view_changed.connect(self.bar.update)
        self.refresh()

    def refresh(self) -> None:
        """Show what the shading in force means."""
        bench = self._desk.bench
        study, look = bench.study, bench.look
        self.setVisible(study is not None)
        if study is None:
            return
        about = study if look.designed else study.land
        token = (about, look.ground, look.shading, look.rain_run, look.month,
                 look.shading_opacity, self._over(), bench.theme, bench.units)  # fmt: skip
        if token == self._shown:
            return
        self._shown = token
        if not look.shading or study.land.grid is None:
            self._lane.drop()
            self._show(None)
            return

        def work(_progress: Any) -> Any:
            from dataclasses import replace

            from canvas.drawing.terrain import shadeable, shading, shading_legend

            if not shadeable(study, look):
                return None
            return shading_legend(shading(study, look), replace(look, units=bench.units))

        self._lane.ask(work, self._show)

    def _show(self, found: Any) -> None:
        look = self._desk.bench.look
        self.title.setVisible(found is not None)
        over = self._over() if found is not None and found.swatches else ""
        note = "; ".join(w for w in (found.note if found is not None else "", over) if w)
        self.note.setVisible(bool(note))
        self.month.setVisible(found is not None and look.shading == "energy")
        self.month.setCurrentIndex(look.month)
        if found is not None:
            self.title.setText(found.title)
            self.note.setText(note)
        rows = found.swatches if found is not None else ()
        self.swatches.show_rows(rows, look.shading_opacity)
        self.place()

    def _over(self) -> str:
        """Return the words for what darkens or tints the colours on the map."""
        bench = self._desk.bench
        shown = bench.plan is not None and any(
            p.shown and p.opacity for p in bench.plan.of(Picture)
        )
        hidden = "pictures" in bench.look.hidden_layers
        return "tinted by the aerial under it" if shown and not hidden else ""

    def place(self) -> None:
        """Stand in the lower right corner of the map."""
        parent = self.parentWidget()
        if parent is not None:
            self.adjustSize()
            self.move(parent.width() - self.width() - 12, parent.height() - self.height() - 12)
            self.moved.emit()
