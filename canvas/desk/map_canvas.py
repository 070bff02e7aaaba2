"""The map as a picture: where it looks, its still picture, and what is painted over it."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QPointF, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import QColor, QHideEvent, QPainter, QPaintEvent, QPen, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QWidget

from canvas.base.finding import Finding
from canvas.base.grid import Bounds
from canvas.desk.bench import Bench
from canvas.desk.map_camera import Camera, holds
from canvas.desk.map_layout import Asked
from canvas.desk.map_overlay import Living, Overlay
from canvas.desk.map_picture import MARGIN, Painting, Still, view_of
from canvas.desk.map_preview import Preview, Previews
from canvas.desk.map_world import WorldKeeper, empty_bounds, site_bounds
from canvas.drawing.palette import PALETTES
from canvas.paint.painter import paint_layers
from canvas.tools.pointer import EMPTY, Ghost

#: A pause this long in panning and zooming is taken for the end of it [ms].
SETTLE_MS = 20
#: Room around the view in a picture asked for in the middle of zooming.
HASTY_MARGIN = 0.04
#: After so long without moving, labels are laid out anew for the scale [ms].
IDLE_MS = 300
#: The still picture is magnified or shrunk at most this much before another is asked for at once.
MAGNIFY, SHRINK = 2.2, 0.6
PREVIEW_ALPHA = 0.9


class MapCanvas(QWidget):
    """The plan on the screen: a still picture moved and stretched at once, then made sharp."""

    #: Place or scale of the view changed.
    view_changed = Signal()
    #: A fresh still picture is on the screen.
    painted = Signal()

    def __init__(self, bench: Bench, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.bench = bench
        self.camera = Camera()
        #: Where the cross-hair moved by keyboard stands; None when it is not shown.
        self.cross: tuple[float, float] | None = None
        #: Whether a frame shows that the keyboard is the map's: only after Tab brought it here.
        self.focus_shown = False
        #: Height of what hangs over the head: places are fitted below it [pixels].
        self.head_px = 0.0
        self._placed = False
        #: Whether the whole site was fitted and nobody has looked elsewhere since.
        self._whole = False
        self._empty: Bounds | None = None
        self._still: Still | None = None
        self._under: Still | None = None
        self._pointer_px: QPointF | None = None
        self.keeper = WorldKeeper(bench)
        self.world = self.keeper.world
        self.overlay = Overlay()
        self.painting = Painting(self)
        self.previews = Previews(bench)
        self._settle = QTimer(self, singleShot=True, interval=SETTLE_MS)
        self._idle = QTimer(self, singleShot=True, interval=IDLE_MS)
        self._settle.timeout.connect(self._ask_moving)
        self._idle.timeout.connect(self._settled)
        self.painting.ready.connect(self._show_still)
        bench.look_changed.connect(self._ask)
        bench.theme_changed.connect(self._theme_changed)
        bench.drawn_changed.connect(self._study_changed)
        bench.site_changed.connect(self._site_closed)
        bench.place_wanted.connect(self._place_wanted)
        self.keeper.changed.connect(self._world_changed)

    # -- places and scales ------------------------------------------------------------------------

    @property
    def scale(self) -> float:
        """The n of 1:n at which the screen shows the ground."""
        return self.camera.scale

    def screen_of(self, x_m: float, y_m: float) -> QPointF:
        """Return the pixel of a place."""
        return self.camera.screen_of(x_m, y_m)

    def map_of(self, spot: QPointF) -> tuple[float, float]:
        """Return the place under a pixel."""
        return self.camera.map_of(spot)

    def view_bounds(self) -> Bounds:
        """Return west, south, east, north of the view [m]."""
        return self.camera.bounds()

    def pointer_px(self) -> QPointF:
        """Return where the pointer is, or the middle of the view."""
        middle = QPointF(self.width() / 2, self.height() / 2)
        return self._pointer_px if self._pointer_px is not None else middle

    def pointer_map(self) -> tuple[float, float]:
        """Return the place under the pointer, or under the cross-hair."""
        return self.cross if self.cross is not None else self.map_of(self.pointer_px())

    def zoom_all(self) -> None:
        """Show the whole site."""
        bounds = site_bounds(self.bench)
        if bounds is not None:
            self._placed = True
            self.zoom_to(bounds)
            self._whole = True

    def zoom_to(self, bounds: Bounds) -> None:
        """Show a stretch of the map whole."""
        self.look(self.camera.fitted(bounds, self.head_px))

    def zoom_by(self, factor: float) -> None:
        """Magnify about the cross-hair, or else the middle."""
        middle = QPointF(self.width() / 2, self.height() / 2)
        self.look(self.camera.zoomed(factor, self.screen_of(*self.cross) if self.cross else middle))

    def centre_on(self, x_m: float, y_m: float) -> None:
        """Bring a place to the middle."""
        self.look(replace(self.camera, x_m=x_m, y_m=y_m))

    def pan(self, dx_px: float, dy_px: float) -> None:
        """Move the map by pixels."""
        self.look(self.camera.panned(dx_px, dy_px))

    def look(self, camera: Camera) -> None:
        """Look elsewhere, or from nearer or further."""
        if camera == self.camera:
            return
        self._whole = False
        zooming = camera.px_m != self.camera.px_m
        self.camera = camera
        self._idle.start()
        if self._needs_picture_now():
            self._ask_moving()
        else:
            if zooming:
                self.painting.hasten(camera)
            self._settle.start()
        self.update()
        self.view_changed.emit()

    def _place_wanted(self, bounds: Bounds | None) -> None:
        if bounds is None:
            self.zoom_all()
        else:
            self.zoom_to(bounds)

    # -- the still picture ------------------------------------------------------------------------

    @property
    def sharp(self) -> bool:
        """Whether the picture shown is the whole view's own, with every tile it wants."""
        still = self._still
        return (
            still is not None
            and still.complete
            and still.camera.px_m == self.camera.px_m
            and holds(still.camera.bounds(), self.camera.bounds())
        )

    def refresh(self) -> None:
        """Ask for a fresh picture."""
        self._ask()

    def _needs_picture_now(self) -> bool:
        """Whether the picture at hand is too small, or stretched too far, to wait for a pause."""
        still = self._still
        if still is None or self.painting.busy:
            return False
        stretch = self.camera.px_m / still.camera.px_m
        if not SHRINK < stretch < MAGNIFY:
            return True
        return stretch == 1.0 and not holds(still.camera.bounds(), self.camera.bounds(MARGIN / 3))

    def _ask_moving(self) -> None:
        self._ask(settled=False)

    def _settled(self) -> None:
        """Lay labels out anew, once what is in view is sharp."""
        if self.sharp or self._still is None:
            self._ask()
        else:
            self._idle.start()

    def _ask(self, *, settled: bool = True) -> None:
        """Ask for a picture; labels stay as they are until the view has settled."""
        self._settle.stop()
        study, session = self.bench.drawn, self.bench.session
        if study is None or session is None or not self.isVisible():
            return
        look = replace(self.bench.look, units=self.bench.units)
        zoomed = self._still is None or self._still.camera.px_m != self.camera.px_m
        # Little room is left around a picture that only has to be sharp again soon.
        camera = self.camera.widened(HASTY_MARGIN if zoomed and not settled else MARGIN)
        revision = self.bench.drawn_revision
        theme, seen = self.bench.theme, self.view_bounds()
        self.painting.ask(
            Asked(camera, study, look, theme, session.folder, revision, seen, settled)
        )

    def _show_still(self, still: Still) -> None:
        last = self._still
        if last is not None and last.camera.px_m <= still.camera.px_m:
            self._under = last if self._under is None else self._wider(last, self._under)
        self._still = still
        self.keeper.showed(still.layout.revision, still.layout.contours)
        self.previews.shown(still.layout.revision)
        if still.complete:
            self.bench.pictured(still.layout.study)
        self.update()
        self.painted.emit()

    @staticmethod
    def _wider(a: Still, b: Still) -> Still:
        return a if a.camera.px_m <= b.camera.px_m else b

    # -- painting ---------------------------------------------------------------------------------

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint one frame: the still pictures as they lie now, then what lives."""
        ink = PALETTES[self.bench.theme]
        painter = QPainter(self)
        still = self._still
        if still is None or not holds(still.camera.bounds(), self.camera.bounds()):
            painter.fillRect(self.rect(), QColor(ink["paper"]))
            if self._under is not None:
                self._blit(painter, self._under)
        if still is not None:
            self._blit(painter, still)
        preview = self.previews.latest
        if preview.layers:
            painter.setOpacity(PREVIEW_ALPHA)
            paint_layers(painter, preview.layers, view_of(self.camera), ink)
            painter.setOpacity(1.0)
        if self.bench.session is not None:
            self.overlay.paint(painter, self.camera, ink, self._living(preview))
        if self.focus_shown:
            painter.setPen(QPen(QColor(ink["select"]), 2.0))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(QRectF(self.rect()).adjusted(1, 1, -1, -1))
        painter.end()

    def _found_here(self) -> list[Finding]:
        """Return the findings of the selection, to show where they reach."""
        bench = self.bench
        chosen, study = bench.selection, bench.study
        if not chosen or study is None or not bench.look.findings or bench.look.finding_places:
            return []
        return [f for f in study.findings() if not f.waived and chosen & set(f.elements)]

    def _living(self, preview: Preview) -> Living:
        return Living(
            selected=self.keeper.selected,
            fresh=self.keeper.fresh,
            ghost=self.ghost(),
            cross=self.cross,
            findings=[*(f for f in preview.findings if f.failing), *self._found_here()],
            words=preview.words(),
        )

    def _blit(self, painter: QPainter, still: Still) -> None:
        target = self.camera.rect_of(still.camera.bounds())
        if still.camera.px_m == self.camera.px_m:
            # Whole device pixels: a copy, not a resampling.
            ratio = self.camera.ratio
            spot = QPointF(
                round(target.left() * ratio) / ratio, round(target.top() * ratio) / ratio
            )
            painter.drawImage(spot, still.image)
        else:
            painter.drawImage(target, still.image)

    def ghost(self) -> Ghost:
        """Return what the tool in hand shows."""
        return EMPTY

    # -- what changed -----------------------------------------------------------------------------

    def _site_closed(self) -> None:
        self.painting.drop()
        self._still = self._under = None
        self._placed = False
        self._empty = None
        self.cross = None
        self._place()
        self.update()

    def _study_changed(self) -> None:
        self._place()
        self._ask()

    def _theme_changed(self) -> None:
        self._under = None
        self._ask()
        self.update()

    def _world_changed(self) -> None:
        self._place()
        self.update()

    def _place(self) -> None:
        """Look at the site once there is something to see, unless it was drawn in full view."""
        if self._placed:
            return
        bounds = site_bounds(self.bench)
        if bounds is not None and holds(self.view_bounds(), bounds):
            self._placed = True
        elif bounds is not None:
            self.zoom_all()
        elif (empty := empty_bounds(self.bench)) is not None and self._empty != empty:
            self._empty = empty
            self.zoom_to(empty)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep the middle where it is; fit the site on the first true size."""
        size = self.size()
        self.camera = replace(
            self.camera,
            width=float(size.width()),
            height=float(size.height()),
            ratio=self.devicePixelRatioF(),
            dpi=float(self.logicalDpiX()),
        )
        self._empty = None
        self._place()
        if self._whole:
            self.zoom_all()
        self._settle.start()
        self.view_changed.emit()

    def showEvent(self, event: QShowEvent) -> None:
        """Ask for the first picture."""
        self.bench.watched = True
        self._settle.start()

    def hideEvent(self, event: QHideEvent) -> None:
        """Keep nobody waiting for a picture."""
        self.bench.watched = False

    def close_canvas(self) -> None:
        """Stop painting for good."""
        self._settle.stop()
        self._idle.stop()
        self.painting.close()
