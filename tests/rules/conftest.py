"""Subjects made by hand, and a ground that is one plane."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from shapely.geometry.base import BaseGeometry

from canvas.rules.checker import Checker
from canvas.rules.library import read_set
from canvas.rules.model import Rule
from canvas.rules.subject import Subject
from canvas.site.records import kind

HEAD = {"label": "T", "jurisdiction": "T", "legal": False, "dated": "2026", "caution": "Mind."}


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


def rule_of(**row: object) -> Rule:
    """Return a rule as the loader makes it from a table."""
    base = {"key": "r", "says": "{a}: x.", "severity": "warning", "mark": "common practice"}
    return read_set("t", {**HEAD, "rule": [{**base, **row}]}).rules[0]


def metres(value: float) -> dict:
    return {"value": value, "unit": "m"}


def check(rule: Rule, *subjects: Subject, ground=None, waivers=None):
    return Checker([rule], ground).check({s.id: s for s in subjects}, waivers)


@pytest.fixture
def subject():
    return make_subject


@pytest.fixture
def plane():
    return Plane
