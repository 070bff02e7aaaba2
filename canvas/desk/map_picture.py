"""The map's still picture: everything that isn't in hand, painted off the interface thread.

The view asks for a picture a little larger than itself and shows the last one it got, moved and
stretched, until the next is there. A newer asking makes an older one void.
"""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

from PySide6.QtCore import QObject, Qt, Signal, Slot
from PySide6.QtGui import QColor, QImage, QPainter

from canvas.desk.map_camera import MM_PER_INCH, Camera
from canvas.desk.map_layout import Asked, Layout, Layouts, Part
from canvas.desk.map_tiles import Tiles
from canvas.drawing.build import picture_layers
from canvas.drawing.entries import Raster
from canvas.drawing.palette import PALETTES
from canvas.paint.painter import paint_layers
from canvas.paint.view import View

#: Room around the view in the still picture, a share of it on each side.
MARGIN = 0.25
#: The interpreter's turns are kept short, so that a frame never waits long for a busy worker.
TURN_S = 0.001
#: Tiles in view are waited for so long before coarser ones stand in [s].
PATIENCE_S = 0.2


@dataclass(frozen=True, slots=True, eq=False)
class Still:
    """A finished picture."""

    image: QImage
    camera: Camera
    layout: Layout
    #: Whether every tile of the background pictures was there.
    complete: bool


class Painting(QObject):
    """Paints still pictures in a thread of its own."""

    ready = Signal(object)
    #: A picture, None, or a fault.
    _done = Signal(object)
    _more_came = Signal()
    _faulty = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.tiles = Tiles(self._more_came.emit)
        self.layouts = Layouts(self._more_came.emit, self._faulty.emit)
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="map")
        self._lock = threading.Lock()
        self._latest: Asked | None = None
        self._under_way = 0
        self._more = False
        #: The layout of the last picture finished.
        self._shown: Layout | None = None
        self._base: tuple[tuple[object, ...], QImage] | None = None
        #: Ground and plan, each clear where it has nothing, so that they wait for no tiles.
        self._ground: tuple[tuple[object, ...], QImage] | None = None
        self._plan: tuple[tuple[object, ...], QImage] | None = None
        #: What the last whole picture was painted from.
        self._given: tuple[object, ...] = ()
        self._files: tuple[str, ...] = ()
        queued = Qt.ConnectionType.QueuedConnection
        self._done.connect(self._finish, queued)
        self._more_came.connect(self._again, queued)
        self._faulty.connect(self._fail, queued)
        sys.setswitchinterval(min(sys.getswitchinterval(), TURN_S))

    @property
    def busy(self) -> bool:
        """Whether a picture is being painted."""
        return self._under_way > 0

    @property
    def idle(self) -> bool:
        """Whether there is nothing left to lay out or to paint."""
        late = self._shown is not self.layouts.latest
        return not (late or self.busy or self._more or self.layouts.busy or self.tiles.busy)

    def ask(self, asked: Asked) -> None:
        """Ask for a picture; `ready` brings it, unless a newer asking comes first."""
        with self._lock:
            self._latest = asked
        self._under_way += 1
        self._pool.submit(self._run, asked)

    def hasten(self, camera: Camera) -> None:
        """Have tiles read for a view a picture will be asked of only when the hand pauses."""
        self.tiles.want(self._files, camera, camera.bounds())

    def drop(self) -> None:
        """Forget the site: what is under way is void."""
        with self._lock:
            self._latest = None
        self.tiles.clear()
        self.layouts.drop()
        self._base = self._ground = self._plan = self._shown = None
        self._given = self._files = ()

    def close(self) -> None:
        """Stop painting; nothing arrives afterwards."""
        with self._lock:
            self._latest = None
        self.tiles.close()
        self.layouts.close()
        self._pool.shutdown(wait=True, cancel_futures=True)

    def _void(self, asked: Asked) -> bool:
        with self._lock:
            return self._latest is not asked

    @Slot(object)
    def _finish(self, found: Still | Exception | None) -> None:
        self._under_way -= 1
        if isinstance(found, Exception):
            raise found
        if found is not None:
            self._shown = found.layout
            self.ready.emit(found)
        if self._more and not self.busy:
            self._again()

    @Slot(object)
    def _fail(self, fault: Exception) -> None:
        raise fault

    @Slot()
    def _again(self) -> None:
        """Paint once more with the tiles or the layout that have come."""
        self._more = self.busy
        with self._lock:
            asked = self._latest
        if asked is not None and not self.busy:
            self.ask(replace(asked))

    def _run(self, asked: Asked) -> None:
        try:
            found: Still | Exception | None = self._paint(asked)
        except Exception as fault:  # noqa: BLE001 - raised again on the interface thread
            found = fault
        self._done.emit(found)

    # -- in the worker's thread -----------------------------------------------------------------

    def _paint(self, asked: Asked) -> Still | None:
        """Paint what is laid out already, so that it is sharp at once; have the rest laid out."""
        if self._void(asked):
            return None
        layout = self.layouts.latest
        if layout is None or not layout.right_for(asked):
            self.layouts.ask(asked)
            if layout is None or not layout.covers(asked):
                return None
        return self._compose(asked, layout)

    def _compose(self, asked: Asked, layout: Layout) -> Still | None:
        """Paint pictures and ground, and the plan over them; each is kept while it holds."""
        camera, pictures = asked.camera, asked.study.plan.group("picture")
        look = (asked.theme, asked.look.picture_opacity)
        rasters = _rasters(asked)
        self._files = files = tuple(raster.file for raster in rasters)
        seen = camera.bounds() if asked.settled else asked.seen
        # The tiles are read while the plan is painted.
        self.tiles.want(files, camera, seen)
        given = (camera, *look, layout, pictures)
        if self._given and _same(self._given, given):
            # It is on the screen already, whole: what is new is still being laid out.
            self._foresee(asked, files)
            return None
        self._plan = plan = self._painted(self._plan, asked, layout.plan)
        if self._void(asked):
            return None
        self._ground = ground = self._painted(self._ground, asked, layout.ground)
        if self._void(asked):
            return None
        base_key, base = (camera, *look, layout.ground, pictures), self._base
        complete = self._await_tiles(asked, files)
        whole = base is not None
        if base is None or not _same(base[0], base_key):
            whole = self.tiles.has_all(files, camera, camera.bounds())
            base = (base_key, self._paint_base(asked, rasters, ground[1]))
            self._base = base if whole else None
        if self._void(asked):
            return None
        image = base[1].copy()
        painter = QPainter(image)
        painter.drawImage(0, 0, plan[1])
        painter.end()
        self._given = given if complete and whole else ()
        if self._given:
            self._foresee(asked, files)
        return Still(image, camera, layout, complete)

    def _foresee(self, asked: Asked, files: Sequence[str]) -> None:
        """Read ahead once the view is at rest, and only then: frames come first."""
        if asked.settled and not self._void(asked):
            self.tiles.foresee(files, asked.camera, asked.seen)

    def _await_tiles(self, asked: Asked, files: Sequence[str]) -> bool:
        """Wait a little for what is in view: painting twice would only hold the readers up."""
        until = time.monotonic() + PATIENCE_S
        while not self.tiles.has_all(files, asked.camera, asked.seen):
            if self._void(asked) or time.monotonic() > until:
                return False
            time.sleep(PATIENCE_S / 50)
        return True

    def _paint_base(self, asked: Asked, rasters: list[Raster], ground: QImage) -> QImage:
        image = blank(asked.camera, PALETTES[asked.theme]["paper"])
        painter = QPainter(image)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        for raster in rasters:
            painter.setOpacity(raster.opacity)
            self.tiles.paint(painter, raster.file, asked.camera)
        painter.setOpacity(1.0)
        painter.drawImage(0, 0, ground)
        painter.end()
        return image

    @staticmethod
    def _painted(
        last: tuple[tuple[object, ...], QImage] | None, asked: Asked, part: Part
    ) -> tuple[tuple[object, ...], QImage]:
        """Return a part painted on clear ground: the last painting where that still holds."""
        key = (asked.camera, asked.theme, asked.look.picture_opacity, part)
        if last is not None and _same(last[0], key):
            return last
        image = blank(asked.camera)
        painter = QPainter(image)
        paint_layers(painter, part.layers, view_of(asked.camera), PALETTES[asked.theme])
        painter.end()
        return key, image


def _rasters(asked: Asked) -> list[Raster]:
    """Return the background pictures shown, lowest first, with their whole opacity."""
    return [
        replace(entry, opacity=entry.opacity * layer.opacity)
        for layer in picture_layers(asked.study.plan, asked.folder, asked.look)
        for entry in layer.entries
        if isinstance(entry, Raster)
    ]


def _same(a: tuple[object, ...], b: tuple[object, ...]) -> bool:
    """Return whether two keys are equal, records by identity."""
    return a[:3] == b[:3] and all(x is y for x, y in zip(a[3:], b[3:], strict=True))


def blank(camera: Camera, paper: str = "") -> QImage:
    """Return an empty picture for a view, in the paper's colour or clear."""
    wide, high = round(camera.width * camera.ratio), round(camera.height * camera.ratio)
    kinds = QImage.Format
    kind = kinds.Format_RGB32 if paper else kinds.Format_ARGB32_Premultiplied
    image = QImage(max(wide, 1), max(high, 1), kind)
    image.setDevicePixelRatio(camera.ratio)
    image.fill(QColor(paper) if paper else QColor(Qt.GlobalColor.transparent))
    return image


def view_of(camera: Camera) -> View:
    """Return the painter's view of a camera."""
    size = (camera.width, camera.height)
    return View.screen((camera.x_m, camera.y_m), camera.px_m, size, camera.dpi / MM_PER_INCH)
