"""Subjects made by hand, and a ground that is one plane."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from shapely.geometry.base import BaseGeometry

from canvas.rules.subject import Subject
from canvas.site.records import kind


@dataclass(frozen=True)
class Plane:
    """Ground that rises evenly to the east."""

    slope: float

    def slope_ratio_at(self, x_m, y_m):
        return np.full(np.broadcast(np.asarray(x_m), np.asarray(y_m)).shape, self.slope)

    def height_at(self, x_m, y_m):
        return np.asarray(x_m, float) * self.slope + 0.0 * np.asarray(y_m, float)

    def mean_slope(self, geometry):
        return self.slope

    def max_slope(self, geometry):
        return self.slope


def make_subject(
    key: str,
    ident: str,
    geometry: BaseGeometry,
    parts: dict[str, BaseGeometry] | None = None,
    facts: dict[str, float] | None = None,
    **fields: object,
) -> Subject:
    """Return a subject of a kind; its shape is its geometry unless `parts` says otherwise."""
    element = kind(key).cls(id=ident, geometry=geometry, **fields)
    return Subject(element, {"shape": geometry, **(parts or {})}, facts or {})


@pytest.fixture
def subject():
    return make_subject


@pytest.fixture
def plane():
    return Plane
