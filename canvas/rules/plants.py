"""Every plant of a selector in flat arrays, so that compiled code can go through thousands."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from canvas.rules.subject import STEM_PARTS, Floats, GroundSampler, Subject, plants_of


class PlantTable:
    """Plants element by element, elements by identity, so that any order of edits ends alike."""

    def __init__(self, subjects: Mapping[str, Subject], part: str) -> None:
        self.part = part
        self.ids: list[str] = sorted(subjects)
        self.ours: NDArray[np.bool_] = np.array([subjects[i].ours for i in self.ids], bool)
        self._place = {ident: k for k, ident in enumerate(self.ids)}
        pieces = _all_plants([subjects[i] for i in self.ids], part)
        counts = np.array([len(xy) for xy, _ in pieces], np.int64)
        self.start = np.concatenate([[0], np.cumsum(counts)])
        self.xy: Floats = np.concatenate([np.empty((0, 2)), *(xy for xy, _ in pieces)])
        self.radius_m: Floats = np.concatenate([np.empty(0), *(r for _, r in pieces)])
        #: Index into `ids` of the element each plant belongs to.
        self.element: NDArray[np.int64] = np.repeat(np.arange(len(self.ids)), counts)
        self._slope: Floats | None = None
        self._factors: dict[str, Floats] = {}

    def __contains__(self, ident: str) -> bool:
        return ident in self._place

    def put(self, subject: Subject) -> bool:
        """Replace one element's plants in place; False when its number of plants changed."""
        k = self._place.get(subject.id)
        if k is None:
            return False
        xy, radius = plants_of(subject, self.part)
        span = slice(int(self.start[k]), int(self.start[k + 1]))
        if len(xy) != span.stop - span.start:
            return False
        self.xy[span], self.radius_m[span] = xy, radius
        self.ours[k] = subject.ours
        for name, factors in self._factors.items():
            factors[span] = _number(subject, name)
        if self._slope is not None:
            self._slope[span] = np.nan
            self._unsampled = True
        return True

    _unsampled = False

    def slope_ratio(self, sampler: GroundSampler | None) -> Floats:
        """Return the slope of the ground at each stem, (n,); NaN where unknown."""
        if self._slope is None:
            self._slope = np.full(len(self.xy), np.nan)
            self._unsampled = True
        if self._unsampled and sampler is not None and len(self.xy):
            new = np.nonzero(np.isnan(self._slope))[0]
            self._slope[new] = sampler.slope_ratio_at(self.xy[new, 0], self.xy[new, 1])
        self._unsampled = False
        return self._slope

    def factor(self, name: str, subjects: Mapping[str, Subject]) -> Floats:
        """Return a field or fact of each plant's element, (n,); NaN where unknown."""
        if name not in self._factors:
            each = np.array([_number(subjects[ident], name) for ident in self.ids], np.float64)
            self._factors[name] = each[self.element]
        return self._factors[name]

    def within(self, anchors: Sequence[BaseGeometry], reach_m: float) -> NDArray[np.bool_]:
        """Return which stems stand within a distance of any anchor, (n,)."""
        close = np.zeros(len(self.xy), bool)
        for anchor in anchors:
            west, south, east, north = shapely.bounds(anchor)
            x, y = self.xy.T
            box = (x >= west - reach_m) & (x <= east + reach_m)
            box &= (y >= south - reach_m) & (y <= north + reach_m)
            maybe = np.nonzero(box & ~close)[0]
            points = shapely.points(self.xy[maybe])
            close[maybe] = shapely.dwithin(points, anchor, reach_m)
        return close


def _number(subject: Subject, name: str) -> float:
    value = subject.number(name)
    return math.nan if value is None else value


def _all_plants(subjects: Sequence[Subject], part: str) -> list[tuple[Floats, Floats]]:
    """Return `plants_of` each subject; single plants, the many, in two calls for all."""
    single = [s for s in subjects if s.kind == "tree"]
    stems = shapely.get_coordinates(np.array([s.parts["shape"] for s in single], dtype=object))
    radii = np.zeros(len(single))
    if part not in STEM_PARTS:
        crowns = np.array([s.parts.get(part) for s in single], dtype=object)
        west, _, east, _ = shapely.bounds(crowns).reshape(-1, 4).T
        radii = np.nan_to_num((east - west) / 2)
    alone = {s.id: (stems[k : k + 1], radii[k : k + 1]) for k, s in enumerate(single)}
    return [alone[s.id] if s.id in alone else plants_of(s, part) for s in subjects]
