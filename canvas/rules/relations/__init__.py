"""The relations rules are made of; a handful serve them all."""

from canvas.rules.relations import (
    above,
    belt,
    distance,
    levels,
    overlap,
    spacing,
    under,
    values,
    ways,
)
from canvas.rules.relations.spec import RELATIONS, Reach, RelationSpec

__all__ = [
    "RELATIONS",
    "Reach",
    "RelationSpec",
    "above",
    "belt",
    "distance",
    "levels",
    "overlap",
    "spacing",
    "under",
    "values",
    "ways",
]
