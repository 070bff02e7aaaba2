"""What a relation is: a function from a rule and the scene to breaches, and what it needs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TypeVar

from canvas.rules.breach import Breach
from canvas.rules.model import Rule
from canvas.rules.scene import Scene

#: `only` limits the answer to breaches that involve one of these elements; None: all.
Only = frozenset[str] | None
Work = Callable[[Rule, Scene, Only], list[Breach]]
W = TypeVar("W", bound=Work)


class Reach(StrEnum):
    """How far the change of one element carries."""

    #: To the breaches it is part of.
    PAIR = "pair"
    #: To those it is side a of; a change on another side may carry anywhere.
    FIRST = "first"
    #: Anywhere: the rule is worked out anew.
    ALL = "all"


@dataclass(frozen=True, slots=True)
class RelationSpec:
    """One relation and what a rule must give it."""

    key: str
    work: Work
    #: Which of the sides a, b, c a rule has.
    sides: str
    #: Unit of the limit; "" for any, None for relations without one.
    unit: str | None
    #: How measured should stand to required.
    sense: str
    reach: Reach
    #: Name -> "length" or "word".
    options: Mapping[str, str] = field(default_factory=dict)
    required: tuple[str, ...] = ()


RELATIONS: dict[str, RelationSpec] = {}


def relation(
    key: str,
    *,
    sides: str,
    reach: Reach,
    unit: str | None = None,
    sense: str = "",
    options: Mapping[str, str] | None = None,
    required: tuple[str, ...] = (),
) -> Callable[[W], W]:
    """Register a function as a relation rules may name."""

    def keep(work: W) -> W:
        RELATIONS[key] = RelationSpec(
            key, work, sides, unit, sense, reach, dict(options or {}), required
        )
        return work

    return keep
