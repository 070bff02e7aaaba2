"""What the map shows, laid out for a scale and a stretch of map, in a thread of its own.

Laying out ten thousand plants takes longer than painting them, so what is laid out is kept and
painted again while the view moves; it is laid out anew when the plan, the look or the scale has
changed enough.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from canvas.base.grid import Bounds
from canvas.desk.map_camera import Camera, holds
from canvas.drawing.build import board_for, finding_layer, plan_layers, terrain_layers
from canvas.drawing.entries import Layer
from canvas.drawing.labels import Board
from canvas.drawing.look import Look
from canvas.drawing.terrain import contour_interval_m
from canvas.study.study import Study

#: Room around the picture for which symbols and labels are laid out.
ROOM = 0.5
#: Labels and paper-sized symbols are laid out anew when the scale has changed by this.
SCALE_DRIFT = 1.2


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
class Part:
    """Layers that are true for a token, and look right near a scale and within bounds."""

    token: tuple[object, ...]
    scale: float
    bounds: Bounds
    layers: tuple[Layer, ...]

    def right_for(self, token: tuple[object, ...], asked: Asked) -> bool:
        """Return whether there is nothing to be laid out anew."""
        drifted = not 1 / SCALE_DRIFT <= self.scale / asked.camera.scale <= SCALE_DRIFT
        return self.token == token and self.covers(asked) and not (drifted and asked.settled)

    def covers(self, asked: Asked) -> bool:
        """Return whether it reaches over the whole picture."""
        return holds(self.bounds, asked.camera.bounds())


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """Everything the map shows but background pictures."""

    ground: Part
    plan: Part
    study: Study
    #: Revision of the plan that is shown.
    revision: int
    #: Level lines shown, to be caught by the pointer.
    contours: tuple[BaseGeometry, ...]

    def right_for(self, asked: Asked) -> bool:
        """Return whether there is nothing to be laid out anew."""
        ground = self.ground.right_for(_ground_token(asked), asked)
        return ground and self.plan.right_for(_plan_token(asked), asked)

    def covers(self, asked: Asked) -> bool:
        """Return whether it can stand in: the same land, over the whole picture."""
        same_land = self.ground.token[0] is asked.study.land
        return same_land and self.ground.covers(asked) and self.plan.covers(asked)


class Layouts:
    """Keeps the latest layout and makes the next."""

    def __init__(self, made: Callable[[], None], failed: Callable[[Exception], None]) -> None:
        self._made = made
        self._failed = failed
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="layout")
        self._lock = threading.Lock()
        self._wanted: Asked | None = None
        self.latest: Layout | None = None

    def ask(self, asked: Asked) -> None:
        """Ask for a layout; a newer asking makes an older one void. `made` tells of it."""
        with self._lock:
            waiting, self._wanted = self._wanted is not None, asked
        if not waiting:
            self._pool.submit(self._work)

    @property
    def busy(self) -> bool:
        """Whether a layout is being made."""
        with self._lock:
            return self._wanted is not None

    def drop(self) -> None:
        """Forget the site."""
        with self._lock:
            self._wanted, self.latest = None, None

    def close(self) -> None:
        """Stop for good."""
        self.drop()
        self._pool.shutdown(wait=True, cancel_futures=True)

    def _work(self) -> None:
        with self._lock:
            asked = self._wanted
        while asked is not None:
            try:
                made = lay_out(asked, self.latest)
            except Exception as fault:  # noqa: BLE001 - raised again on the interface thread
                self.drop()
                self._failed(fault)
                return
            with self._lock:
                if self._wanted is None:
                    return
                if self._wanted is asked:
                    self._wanted = None
                self.latest, asked = made, self._wanted
            self._made()


def lay_out(asked: Asked, last: Layout | None) -> Layout:
    """Return the layout asked for, keeping what of the last one is still right."""
    look, bounds = asked.laid_out_for(), asked.camera.bounds(ROOM)
    token = _ground_token(asked)
    if last is not None and last.ground.right_for(token, asked):
        ground, contours = last.ground, last.contours
    else:
        ground = Part(token, look.scale, bounds, terrain_layers(asked.study, look, bounds))
        contours = _contours(asked.study, look)
    token = _plan_token(asked)
    if last is not None and last.plan.right_for(token, asked):
        plan = last.plan
    else:
        board = board_for(look, bounds)
        drawn = plan_layers(asked.study, look, bounds, board)
        layers = (*drawn, *_findings(asked.study, look, board))
        plan = Part(token, look.scale, bounds, layers)
    return Layout(ground, plan, asked.study, asked.revision, contours)


def _contours(study: Study, look: Look) -> tuple[BaseGeometry, ...]:
    interval = contour_interval_m(look)
    if interval <= 0 or "contours" in look.hidden_layers:
        return ()
    found = study.contours(interval, designed=look.designed)
    return () if found is None else tuple(_lines(found.line, len(found)))


def _findings(study: Study, look: Look, board: Board) -> tuple[Layer, ...]:
    # Not asked for here: checking a whole plan takes seconds, and the map is not to wait for it.
    if study.found is None or not look.findings or "findings" in look.hidden_layers:
        return ()
    return (finding_layer(study.found, look, board),)


def _lines(line: Callable[[int], np.ndarray], count: int) -> list[BaseGeometry]:
    return [LineString(line(k)) for k in range(count) if len(line(k)) > 1]


def _ground_token(asked: Asked) -> tuple[object, ...]:
    look = asked.look
    return (
        asked.study.land,
        asked.study.designed()
        if look.designed or look.shading in ("designed", "cutfill")
        else None,
        look.ground,
        look.ground_lines,
        asked.theme,
        look.shading,
        look.shading_opacity,
        look.rain_run,
        look.month,
        look.contour_interval_m,
        look.labels,
        look.units,
        look.hidden_layers,
    )


def _plan_token(asked: Asked) -> tuple[object, ...]:
    return (asked.study, asked.study.found is not None, asked.look, asked.theme)
