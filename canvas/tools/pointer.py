"""What a tool is told and what it shows: pointers in, ghosts and edits out. No pixels, no Qt."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol, runtime_checkable

from shapely.geometry.base import BaseGeometry

from canvas.site.edits import Edit
from canvas.site.records import Element
from canvas.tools.plane import XY


@dataclass(frozen=True, slots=True)
class Pointer:
    """A pointer event in map units: all a tool may know of the outside world."""

    x_m: float
    y_m: float
    #: Ground length of one screen pixel, for slack.
    pixel_m: float
    shift: bool = False
    ctrl: bool = False
    alt: bool = False

    @property
    def xy(self) -> XY:
        """Easting and northing [m]."""
        return self.x_m, self.y_m


@dataclass(frozen=True, slots=True, eq=False)
class Snap:
    """What the pointer was drawn to."""

    #: A key of `snap.SNAPS`.
    kind: str
    x_m: float
    y_m: float
    #: For the person: "corner of Shed".
    words: str
    #: Line to show why: an extension, a parallel.
    guide: BaseGeometry | None = None
    #: Element caught, "" when none.
    ident: str = ""

    @property
    def xy(self) -> XY:
        """Easting and northing [m]."""
        return self.x_m, self.y_m


@dataclass(frozen=True, slots=True, eq=False)
class GhostShape:
    """A geometry of the gesture; `look` says how to draw it.

    "line", "area", "guide", "box"; for points "handle", "middle" (a corner could be put in
    here), "hit" (the one chosen).
    """

    geometry: BaseGeometry
    look: str


@dataclass(frozen=True, slots=True)
class GhostLabel:
    """Words at a place of the gesture."""

    x_m: float
    y_m: float
    words: str


@dataclass(frozen=True, slots=True, eq=False)
class Ghost:
    """Everything a gesture shows before it becomes an edit."""

    shapes: tuple[GhostShape, ...] = ()
    labels: tuple[GhostLabel, ...] = ()
    snap: Snap | None = None
    #: Elements as they would be: drawn with their own symbols, checked as a preview.
    elements: tuple[Element, ...] = field(default=())


EMPTY = Ghost()


@runtime_checkable
class Tool(Protocol):
    """A small state machine. The plan never changes but by the edits it returns."""

    key: str
    label: str

    @property
    def prompt(self) -> str:
        """What to do now, in plain words."""

    @property
    def busy(self) -> bool:
        """Whether a gesture has begun and Escape would lose something."""

    @property
    def holding(self) -> bool:
        """Whether it waits for the pointer to be let go."""

    @property
    def letters(self) -> str:
        """Capital letters that begin a typed value at any time, besides what figures begin with."""

    def press(self, at: Pointer) -> Edit | None:
        """Put the pointer down."""

    def move(self, at: Pointer) -> None:
        """Move the pointer, down or up."""

    def release(self, at: Pointer) -> Edit | None:
        """Let the pointer go."""

    def double(self, at: Pointer) -> Edit | None:
        """Press twice in one place."""

    def key_press(self, name: str) -> Edit | None:
        """Take "enter", "backspace", "escape" or "delete"."""

    def typed(self, words: str) -> Edit | None:
        """Take a typed value; `BadData` says what is wrong with it."""

    def ghost(self) -> Ghost:
        """Return what to show."""

    def cancel(self) -> None:
        """Forget the gesture."""


class BaseTool:
    """A tool that does nothing yet: what every tool shares."""

    key = ""
    label = ""

    @property
    def prompt(self) -> str:
        """What to do now, in plain words."""
        return self.label

    @property
    def busy(self) -> bool:
        """Whether a gesture has begun and Escape would lose something."""
        return False

    @property
    def holding(self) -> bool:
        """Whether it waits for the pointer to be let go."""
        return False

    @property
    def letters(self) -> str:
        """Capital letters that begin a typed value at any time, besides what figures begin with."""
        return ""

    def press(self, at: Pointer) -> Edit | None:
        """Put the pointer down."""
        return None

    def move(self, at: Pointer) -> None:
        """Move the pointer, down or up."""

    def release(self, at: Pointer) -> Edit | None:
        """Let the pointer go."""
        return None

    def double(self, at: Pointer) -> Edit | None:
        """Press twice in one place."""
        return None

    def key_press(self, name: str) -> Edit | None:
        """Take "enter", "backspace", "escape" or "delete"."""
        if name == "escape":
            self.cancel()
        return None

    def typed(self, words: str) -> Edit | None:
        """Take a typed value; `BadData` says what is wrong with it."""
        return None

    def ghost(self) -> Ghost:
        """Return what to show."""
        return EMPTY

    def cancel(self) -> None:
        """Forget the gesture."""
