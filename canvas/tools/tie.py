"""Tying a picture to the ground: pairs of picture point and ground point, and how well they fit."""

from __future__ import annotations

from dataclasses import dataclass, replace

from canvas.base.errors import BadData
from canvas.tools.plane import XY


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

    def put_ground(self, ground: XY, number: int | None = None) -> None:
        """Finish the last control point; when none is open, place the one of a number anew."""
        at = len(self.ties) - 1 if self.wants_ground else number
        if at is None or at >= len(self.ties):
            raise BadData("First click the point in the picture.")
        self.ties[at] = replace(self.ties[at], ground=ground)

    def remove(self, number: int) -> None:
        """Take a control point out."""
        del self.ties[number]

    def pairs(self) -> tuple[list[XY], list[XY]]:
        """Return the finished points: pixels and ground, in step."""
        done = [(tie.pixel, tie.ground) for tie in self.ties if tie.ground is not None]
        return [pixel for pixel, _ in done], [ground for _, ground in done]
