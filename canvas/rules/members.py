"""The elements one selector means, with an index that stays true while elements move."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import STRtree
from shapely.geometry.base import BaseGeometry

#: Elements moved since the tree was built that are looked through one by one; then it is rebuilt.
MOST_LATE = 200

Indices = NDArray[np.intp]


class Members:
    """Geometries by identity. The tree is immutable, so what changed since is kept beside it."""

    def __init__(self, shapes: Iterable[tuple[str, BaseGeometry]]) -> None:
        self.shapes: dict[str, BaseGeometry] = dict(shapes)
        self._tree: STRtree | None = None
        self._order: list[str] = []
        self._late: set[str] = set()

    def __contains__(self, ident: str) -> bool:
        return ident in self.shapes

    def __len__(self) -> int:
        return len(self.shapes)

    def put(self, ident: str, shape: BaseGeometry | None) -> None:
        """Add, replace or (None) drop an element."""
        if shape is None:
            if self.shapes.pop(ident, None) is None:
                return
        else:
            self.shapes[ident] = shape
        self._late.add(ident)

    def near(self, shapes: Sequence[BaseGeometry], reach_m: float) -> list[tuple[int, str]]:
        """Return (index into `shapes`, identity) of members within a distance, touching ones too.

        In no particular order; every pair once.
        """
        if not shapes or not self.shapes:
            return []
        if self._tree is None or len(self._late) > MOST_LATE:
            self._order = list(self.shapes)
            self._tree = STRtree(list(self.shapes.values()))
            self._late = set()
        asked = np.asarray(shapes, dtype=object)
        hits = self._tree.query(asked, predicate="dwithin", distance=reach_m)
        names = ((int(k), self._order[place]) for k, place in hits.T)
        found = [pair for pair in names if pair[1] not in self._late]
        for ident in self._late:
            shape = self.shapes.get(ident)
            if shape is not None:
                close = np.nonzero(shapely.dwithin(asked, shape, reach_m))[0]
                found.extend((int(k), ident) for k in close)
        return found
