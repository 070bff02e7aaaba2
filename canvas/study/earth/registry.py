"""How each kind of earthwork is shaped, and in which order within a phase."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

from canvas.ground.designed import Designed
from canvas.ground.patch import Patch

if TYPE_CHECKING:
    from canvas.study.scene import Scene


@dataclass(frozen=True, slots=True, eq=False)
class Made:
    """What shaping an element gave: the thing itself, and the patches it lays on the ground."""

    thing: Any
    patches: tuple[Patch, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Work:
    """An element as an earthwork in the ground."""

    ident: str
    #: Key of its kind.
    key: str
    #: What its kind's shaping returns (`ground.platform.Platform` for a platform, …); None when
    #: it could not be shaped.
    thing: Any
    #: In the order they are laid; empty when it could not be shaped.
    patches: tuple[Patch, ...]
    #: The ground it was shaped on; None without one.
    ground: Designed | None
    #: Why it could not be shaped, in a sentence; "" when it was.
    trouble: str = ""


#: Every kind that changes the ground: what reads the designed ground declares `reads=EARTH`.
EARTH = (
    "platform", "terraces", "track", "dam", "dug_pond", "swale", "drain", "level_sill",
    "check_dam", "culvert", "ford", "water_bar", "turning_head", "passing_bay", "heap",
    "borrow_pit",
)  # fmt: skip

#: (element, the ground when its turn comes, what else may be asked) → what it makes.
#: Raises `BadData` where the element can't be built so.
Shape = Callable[[Any, Designed, "Scene"], Made]
S = TypeVar("S", bound=Shape)


@dataclass(frozen=True, slots=True)
class Shaping:
    """How a kind is shaped."""

    shape: Shape
    #: Place in the order within a phase: pads first, then ways, ponds, swales, crossings, heaps.
    rank: int
    #: Kinds whose elements the shaping looks at besides its own element.
    reads: tuple[str, ...] = ()


_SHAPINGS: dict[str, Shaping] = {}


def work_of(key: str, *, rank: int, reads: Sequence[str] = ()) -> Callable[[S], S]:
    """Register the function that shapes a kind."""

    def keep(function: S) -> S:
        _SHAPINGS[key] = Shaping(function, rank, tuple(reads))
        return function

    return keep


def shapings() -> dict[str, Shaping]:
    """Return every kind that changes the ground, in the order they are built in a phase."""
    from canvas.study.earth.all import ALL  # noqa: F401

    return dict(sorted(_SHAPINGS.items(), key=lambda entry: entry[1].rank))
