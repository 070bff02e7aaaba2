"""The two panes of tying: the picture, and the land as it is drawn so far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QImage,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QWheelEvent,
)
from PySide6.QtWidgets import QWidget

from canvas.desk.bench import Bench
from canvas.desk.map_camera import Camera
from canvas.desk.map_layout import Asked
from canvas.desk.map_picture import Painting, Still
from canvas.desk.theme import inks

if TYPE_CHECKING:
    from canvas.desk.window import DeskWindow

Spot = tuple[float, float]


class Pane(QWidget):
    """Something to look at closely and click on: wheel zooms, middle button or arrows pan."""

    clicked = Signal(float, float)

    def __init__(self, bench: Bench, name: str) -> None:
        super().__init__()
        self._bench = bench
        self._points: list[Spot] = []
        self._suspects: set[int] = set()
        self._dragged: QPointF | None = None
        #: Screen pixels to a unit of the content, and the content at the pane's middle.
        self.scale = 1.0
        self.middle = QPointF(0, 0)
        #: Content with y up (a map) or down (a picture).
        self.upward = False
        self.setAccessibleName(name)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.CrossCursor)

    def show_points(self, points: Sequence[Spot], suspects: set[int]) -> None:
        """Show numbered points; suspects stand out."""
        self._points, self._suspects = list(points), set(suspects)
        self.update()

    def screen_of(self, x: float, y: float) -> QPointF:
        """Return the pixel of a place of the content."""
        down = -1 if self.upward else 1
        return QPointF(
            self.width() / 2 + (x - self.middle.x()) * self.scale,
            self.height() / 2 + down * (y - self.middle.y()) * self.scale,
        )

    def content_of(self, spot: QPointF) -> QPointF:
        """Return the place of the content under a pixel."""
        down = -1 if self.upward else 1
        return QPointF(
            self.middle.x() + (spot.x() - self.width() / 2) / self.scale,
            self.middle.y() + down * (spot.y() - self.height() / 2) / self.scale,
        )

    def fit(self, box: QRectF) -> None:
        """Show a rectangle of the content whole."""
        if box.width() > 0 and box.height() > 0:
            self.scale = min(self.width() / box.width(), self.height() / box.height()) * 0.96
            self.middle = box.center()
        self.looked()

    def looked(self) -> None:
        """Repaint: another stretch is looked at."""
        self.update()

    def zoom(self, factor: float, about: QPointF) -> None:
        """Magnify about a pixel."""
        before = self.content_of(about)
        self.scale *= factor
        after = self.content_of(about)
        self.middle += before - after
        self.looked()

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Zoom to the pointer."""
        self.zoom(2 ** (event.angleDelta().y() / 480), event.position())

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Click a point; the middle button takes hold."""
        self.setFocus()
        if event.button() == Qt.MouseButton.LeftButton:
            at = self.content_of(event.position())
            self.clicked.emit(at.x(), at.y())
        else:
            self._dragged = event.position()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Pan with the middle button."""
        if self._dragged is not None:
            self.middle += self.content_of(self._dragged) - self.content_of(event.position())
            self._dragged = event.position()
            self.looked()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Let go."""
        self._dragged = None

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Pan with the arrows, zoom with + and −, put a point at the middle with Space."""
        step = 24 / self.scale
        up = 1 if self.upward else -1
        moves = {
            Qt.Key.Key_Left: QPointF(-step, 0), Qt.Key.Key_Right: QPointF(step, 0),
            Qt.Key.Key_Up: QPointF(0, up * step), Qt.Key.Key_Down: QPointF(0, -up * step),
        }  # fmt: skip
        key = Qt.Key(event.key())
        centre = QPointF(self.width() / 2, self.height() / 2)
        if key in moves:
            self.middle += moves[key]
            self.looked()
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self.zoom(1.5, centre)
        elif key == Qt.Key.Key_Minus:
            self.zoom(1 / 1.5, centre)
        elif key == Qt.Key.Key_Space:
            self.clicked.emit(self.middle.x(), self.middle.y())
        else:
            super().keyPressEvent(event)

    def draw_content(self, painter: QPainter) -> None:
        """Draw what is looked at; subclasses say what it is."""

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw content, points and, for the keyboard, the middle."""
        ink = inks(self._bench.theme)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        painter.fillRect(self.rect(), QColor(ink.room))
        self.draw_content(painter)
        for number, spot in enumerate(self._points):
            at = self.screen_of(*spot)
            colour = QColor(ink.warn if number in self._suspects else ink.focus)
            for pen in (QPen(QColor(ink.raised), 4), QPen(colour, 2)):
                painter.setPen(pen)
                painter.drawLine(at + QPointF(-9, 0), at + QPointF(9, 0))
                painter.drawLine(at + QPointF(0, -9), at + QPointF(0, 9))
            box = QRectF(at.x() + 5, at.y() - 20, 20, 15)
            painter.fillRect(box, QColor(ink.raised))
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, str(number + 1))
        if self.hasFocus():
            centre = QPointF(self.width() / 2, self.height() / 2)
            painter.setPen(QPen(QColor(ink.focus), 1))
            painter.drawEllipse(centre, 5, 5)
            painter.drawRect(self.rect().adjusted(0, 0, -1, -1))
        painter.end()


class PicturePane(Pane):
    """The picture, in its own pixels."""

    def __init__(self, bench: Bench) -> None:
        super().__init__(bench, "Picture, to click points in")
        self._image: QImage | None = None
        self._pixels: Any = None
        self._size = (0, 0)

    @property
    def loaded(self) -> bool:
        """Whether there is a picture."""
        return self._image is not None

    def show_preview(self, preview: Any) -> None:
        """Show a picture; points are told in pixels of the whole one."""
        self._pixels = preview.rgba
        rows, cols = preview.rgba.shape[:2]
        image = QImage(self._pixels.data, cols, rows, cols * 4, QImage.Format.Format_RGBA8888)
        self._image, self._size = image, (preview.width, preview.height)
        self.fit(QRectF(0, 0, *self._size))

    def draw_content(self, painter: QPainter) -> None:
        """Draw the picture."""
        if self._image is not None:
            corner, other = self.screen_of(0, 0), self.screen_of(*self._size)
            painter.drawImage(QRectF(corner, other), self._image)


class GroundPane(Pane):
    """The land as drawn so far, under a view of its own."""

    def __init__(self, desk: DeskWindow) -> None:
        super().__init__(desk.bench, "Map, to click the same points in")
        self._desk = desk
        self._still: Still | None = None
        self._placed = False
        self.upward = True
        self.painting = Painting(self)
        self.painting.ready.connect(self._show)

    def looked(self) -> None:
        """Ask for the stretch looked at to be drawn."""
        self._ask()
        self.update()

    def resizeEvent(self, event: object) -> None:
        """Begin with what the desk's own map shows."""
        if not self._placed and self.width() > 50:
            self._placed = True
            west, south, east, north = self._desk.map.view_bounds()
            self.fit(QRectF(QPointF(west, south), QPointF(east, north)))
        else:
            self._ask()

    def _ask(self) -> None:
        bench = self._bench
        if bench.study is None or bench.session is None:
            return
        camera = Camera(
            self.middle.x(), self.middle.y(), self.scale, self.width(), self.height(),
            self.devicePixelRatioF(), self.logicalDpiX(),
        )  # fmt: skip
        look = replace(bench.look, units=bench.units)
        folder, revision = bench.session.folder, bench.study_revision
        asked = Asked(
            camera, bench.study, look, bench.theme, folder, revision, camera.bounds(), settled=True
        )
        self.painting.ask(asked)

    def _show(self, still: Still) -> None:
        self._still = still
        self.update()

    def draw_content(self, painter: QPainter) -> None:
        """Draw the latest picture of the map where it belongs now."""
        if self._still is not None:
            west, south, east, north = self._still.camera.bounds()
            corner, other = self.screen_of(west, north), self.screen_of(east, south)
            painter.drawImage(QRectF(corner, other), self._still.image)
