"""Tying a picture to the ground: pairs of picture point and ground point, and how well they fit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from shapely.geometry import Point

from canvas.base.errors import BadData
from canvas.tools.plane import XY
from canvas.tools.pointer import BaseTool, Ghost, GhostLabel, GhostShape, Pointer, Snap
from canvas.tools.world import ToolWorld


@dataclass(frozen=True, slots=True)
class Tie:
    """One control point: where it is in the picture [px from the top left], where on the ground."""

    pixel: XY
    ground: XY | None = None


class Ties:
    """The control points of one picture, filled in turn: picture, ground, picture, ground."""

    def __init__(self) -> None:
        self.ties: list[Tie] = []

    @property
    def wants_ground(self) -> bool:
        """Whether the last control point still needs its place on the ground."""
        return bool(self.ties) and self.ties[-1].ground is None

    def put_pixel(self, pixel: XY) -> None:
        """Begin a control point in the picture; an unfinished one is moved instead."""
        if self.wants_ground:
            self.ties[-1] = Tie(pixel)
        else:
            self.ties.append(Tie(pixel))

    def put_ground(self, ground: XY) -> None:
        """Finish the last control point."""
        if not self.wants_ground:
            raise BadData("Click the point in the picture first.")
        self.ties[-1] = replace(self.ties[-1], ground=ground)

    def remove(self, number: int) -> None:
        """Take a control point out."""
        del self.ties[number]

    def pairs(self) -> tuple[list[XY], list[XY]]:
        """Return the finished points: pixels and ground, in step."""
        done = [(tie.pixel, tie.ground) for tie in self.ties if tie.ground is not None]
        return [pixel for pixel, _ in done], [ground for _, ground in done]


class GroundPointTool(BaseTool):
    """Click, or type, the place on the ground of a control point."""

    key = "tie"
    label = "Point on the ground"

    def __init__(self, world: ToolWorld, ties: Ties, changed: Callable[[], None]) -> None:
        self.world = world
        self.ties = ties
        self._changed = changed
        self._snap: Snap | None = None

    @property
    def prompt(self) -> str:
        """What to do now, in plain words."""
        if not self.ties.wants_ground:
            return "Click the next control point in the picture."
        return "Click the same point on the map, or type its position."

    def move(self, at: Pointer) -> None:
        """Follow the pointer and what catches it."""
        self._snap = self.world.snapper.snap(at, self.world.snaps)

    def press(self, at: Pointer) -> None:
        """Put the point."""
        self.move(at)
        self._put(self._snap.xy if self._snap else at.xy)

    def typed(self, words: str) -> None:
        """Put the point at a typed position."""
        entry = self.world.read(words)
        if entry.position_m is None:
            raise BadData("A position is needed.", remedy="Type it as E 512300 N 5812400.")
        self._put(entry.position_m)

    def _put(self, xy: XY) -> None:
        self.ties.put_ground(xy)
        self._changed()

    def ghost(self) -> Ghost:
        """Return the control points placed so far, numbered."""
        done = [(k, t.ground) for k, t in enumerate(self.ties.ties, 1) if t.ground is not None]
        shapes = tuple(GhostShape(Point(xy), "hit") for _, xy in done)
        labels = tuple(GhostLabel(*xy, str(k)) for k, xy in done)
        return Ghost(shapes, labels, self._snap)
