"""The map's still picture: everything that isn't in hand, painted off the interface thread.

The view asks for a picture a little larger than itself and shows the last one it got, moved and
stretched, until the next is there. A newer asking makes an older one void.
"""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from PySide6.QtCore import QObject, Qt, Signal, Slot
from PySide6.QtGui import QColor, QImage, QPainter
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import UserError
from canvas.base.grid import Bounds
from canvas.desk.map_camera import MM_PER_INCH, Camera, holds
from canvas.desk.map_tiles import Tiles
from canvas.drawing.build import finding_layer, picture_layers, plan_layers, terrain_layers
from canvas.drawing.entries import Layer, Raster
from canvas.drawing.look import Look
from canvas.drawing.palette import PALETTES
from canvas.drawing.terrain import contour_interval_m
from canvas.paint.painter import paint_layers
from canvas.paint.view import View
from canvas.site.facts import Picture
from canvas.study.study import Study

#: Room around the view in the still picture, a share of it on each side.
MARGIN = 0.25
#: Room around the picture for which symbols and labels are laid out.
LAID_OUT = 0.5
#: Labels and paper-sized symbols are laid out anew when the scale has changed by this.
SCALE_DRIFT = 1.2
#: The interpreter's turns are kept short, so that a frame never waits long for a busy worker.
TURN_S = 0.001


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """What a still picture is to show."""

    camera: Camera
    study: Study
    look: Look
    theme: str
    folder: Path
    revision: int
    #: The part of the picture that is in view now [m]; the rest is room around it.
    seen: Bounds
    #: Whether labels may be laid out anew for the scale; not while the view moves.
    settled: bool

    def laid_out_for(self) -> Look:
        """Return the look with scale and inks filled in."""
        return replace(self.look, scale=self.camera.scale, palette=self.theme)


@dataclass(frozen=True, slots=True, eq=False)
class Still:
    """A finished picture."""

    image: QImage
    camera: Camera
    revision: int
    #: Whether every tile of the background pictures was there.
    complete: bool
    #: Level lines in the picture, to be caught by the pointer.
    contours: tuple[BaseGeometry, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Layout:
    """Layers laid out for a scale and a stretch of map, shown until either is left."""

    token: tuple[object, ...]
    scale: float
    bounds: Bounds
    layers: tuple[Layer, ...]

    def serves(self, token: tuple[object, ...], bounds: Bounds) -> bool:
        return self.token == token and holds(self.bounds, bounds)

    def fits(self, scale: float) -> bool:
        return 1 / SCALE_DRIFT <= self.scale / scale <= SCALE_DRIFT


class Painting(QObject):
    """Paints still pictures in a thread of its own."""

    ready = Signal(object)
    #: A picture, None or a fault; and whether the asking is answered with it.
    _done = Signal(object, bool)
    _tiles_came = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.tiles = Tiles(self._tiles_came.emit)
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="map")
        self._lock = threading.Lock()
        self._latest: Asked | None = None
        self._under_way = 0
        self._tiles_new = False
        self._ground: _Layout | None = None
        self._plan: _Layout | None = None
        self._base: tuple[tuple[object, ...], QImage] | None = None
        self._levels: tuple[tuple[object, ...], tuple[BaseGeometry, ...]] = ((), ())
        self._done.connect(self._finish, Qt.ConnectionType.QueuedConnection)
        self._tiles_came.connect(self._again, Qt.ConnectionType.QueuedConnection)
        sys.setswitchinterval(min(sys.getswitchinterval(), TURN_S))

    @property
    def busy(self) -> bool:
        """Whether a picture is being painted."""
        return self._under_way > 0

    def ask(self, asked: Asked) -> None:
        """Ask for a picture; `ready` brings it, unless a newer asking comes first."""
        with self._lock:
            self._latest = asked
        self._under_way += 1
        self._pool.submit(self._run, asked)

    def drop(self) -> None:
        """Forget the site: what is under way is void."""
        with self._lock:
            self._latest = None
        self.tiles.clear()
        self._ground = self._plan = self._base = None

    def close(self) -> None:
        """Stop painting; nothing arrives afterwards."""
        with self._lock:
            self._latest = None
        self.tiles.close()
        self._pool.shutdown(wait=True, cancel_futures=True)

    def _void(self, asked: Asked) -> bool:
        with self._lock:
            return self._latest is not asked

    @Slot(object, bool)
    def _finish(self, found: Still | Exception | None, answered: bool) -> None:
        self._under_way -= int(answered)
        if isinstance(found, Exception):
            raise found
        if found is not None:
            self.ready.emit(found)
        if self._tiles_new and not self.busy:
            self._again()

    @Slot()
    def _again(self) -> None:
        """Paint once more with the tiles that have come."""
        self._tiles_new = self.busy
        with self._lock:
            asked = self._latest
        if asked is not None and not self.busy:
            self.ask(replace(asked))

    def _run(self, asked: Asked) -> None:
        try:
            found: Still | Exception | None = self._paint(asked)
        except Exception as fault:  # noqa: BLE001 - raised again on the interface thread
            found = fault
        self._done.emit(found, True)

    # -- in the worker's thread -----------------------------------------------------------------

    def _paint(self, asked: Asked) -> Still | None:
        """Paint with what is laid out already, so that it is sharp at once; then lay out anew."""
        if self._void(asked):
            return None
        bounds, look = asked.camera.bounds(), asked.laid_out_for()
        ground, plan = self._ground, self._plan
        stale = not (
            ground is not None
            and plan is not None
            and ground.serves(_ground_token(asked), bounds)
            and plan.serves(_plan_token(asked), bounds)
        )
        if stale:
            ground, plan = self._lay_out(asked, look)
        assert ground is not None
        assert plan is not None
        still = self._compose(asked, ground, plan)
        fits = ground.fits(look.scale) and plan.fits(look.scale)
        if still is None or fits or not asked.settled:
            return still
        self._done.emit(still, False)
        ground, plan = self._lay_out(asked, look)
        return None if self._void(asked) else self._compose(asked, ground, plan)

    def _lay_out(self, asked: Asked, look: Look) -> tuple[_Layout, _Layout]:
        bounds = asked.camera.bounds(LAID_OUT)
        ground, plan = self._ground, self._plan
        token = _ground_token(asked)
        if ground is None or not ground.serves(token, bounds) or not ground.fits(look.scale):
            ground = _Layout(token, look.scale, bounds, terrain_layers(asked.study, look, bounds))
        token = _plan_token(asked)
        if plan is None or not plan.serves(token, bounds) or not plan.fits(look.scale):
            layers = (*plan_layers(asked.study, look, bounds), *_findings(asked.study, look))
            plan = _Layout(token, look.scale, bounds, layers)
        self._ground, self._plan = ground, plan
        return ground, plan

    def _compose(self, asked: Asked, ground: _Layout, plan: _Layout) -> Still | None:
        """Paint pictures and ground, kept while the view stands still, and the plan over them."""
        camera = asked.camera
        key = (camera, asked.theme, asked.look.picture_opacity, id(ground), id(asked.study.plan))
        if self._base is not None and self._base[0] == key:
            image, complete = self._base[1].copy(), True
        else:
            image = blank(camera, asked.theme)
            complete, whole = self._paint_base(image, asked, ground)
            self._base = (key, image.copy()) if whole else None
        if self._void(asked):
            return None
        painter = QPainter(image)
        paint_layers(painter, plan.layers, view_of(camera), PALETTES[asked.theme])
        painter.end()
        return Still(image, camera, asked.revision, complete, self._contours(asked))

    def _paint_base(self, image: QImage, asked: Asked, ground: _Layout) -> tuple[bool, bool]:
        """Return whether every tile in view was there, and whether all were."""
        finest = {picture.id: picture.pixel_m for picture in asked.study.plan.of(Picture)}
        painter, complete, whole = QPainter(image), True, True
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        for layer in picture_layers(asked.study.plan, asked.folder, asked.look):
            pixel_m = finest.get(layer.key.partition(":")[2], 0.01)
            for entry in layer.entries:
                if isinstance(entry, Raster):
                    painter.setOpacity(entry.opacity * layer.opacity)
                    here, all_here = self.tiles.paint(
                        painter, entry.file, asked.camera, pixel_m, asked.seen
                    )
                    complete, whole = complete and here, whole and all_here
        painter.setOpacity(1.0)
        paint_layers(painter, ground.layers, view_of(asked.camera), PALETTES[asked.theme])
        painter.end()
        return complete, whole

    def _contours(self, asked: Asked) -> tuple[BaseGeometry, ...]:
        interval = contour_interval_m(asked.laid_out_for())
        if interval <= 0 or "contours" in asked.look.hidden_layers:
            return ()
        key = (id(asked.study.land), interval)
        if self._levels[0] != key:
            found = asked.study.contours(interval)
            lines = () if found is None else tuple(_lines(found.line, len(found)))
            self._levels = (key, lines)
        return self._levels[1]


def _findings(study: Study, look: Look) -> tuple[Layer, ...]:
    if not look.findings or "findings" in look.hidden_layers:
        return ()
    try:
        return (finding_layer(study, study.findings(), look),)
    except UserError:
        # Whoever asked for the study tells the person; the plan can still be seen.
        return ()


def _lines(line: Callable[[int], np.ndarray], count: int) -> list[BaseGeometry]:
    return [LineString(line(k)) for k in range(count) if len(line(k)) > 1]


def _ground_token(asked: Asked) -> tuple[object, ...]:
    look = asked.look
    return (
        asked.study.land,
        asked.theme,
        look.shading,
        look.shading_opacity,
        look.month,
        look.contour_interval_m,
        look.labels,
        look.units,
        look.hidden_layers,
    )


def _plan_token(asked: Asked) -> tuple[object, ...]:
    return (asked.study, asked.look, asked.theme)


def blank(camera: Camera, theme: str) -> QImage:
    """Return an empty picture for a view, in the paper's colour."""
    wide, high = round(camera.width * camera.ratio), round(camera.height * camera.ratio)
    image = QImage(max(wide, 1), max(high, 1), QImage.Format.Format_RGB32)
    image.setDevicePixelRatio(camera.ratio)
    image.fill(QColor(PALETTES[theme]["paper"]))
    return image


def view_of(camera: Camera) -> View:
    """Return the painter's view of a camera."""
    size = (camera.width, camera.height)
    return View.screen((camera.x_m, camera.y_m), camera.px_m, size, camera.dpi / MM_PER_INCH)
