"""The ground beneath: slope under an area, grade along a way."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiLineString
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from canvas.rules.breach import Breach
from canvas.rules.model import SLACK, Rule
from canvas.rules.relations.spec import Only, Reach, relation
from canvas.rules.scene import Scene
from canvas.rules.subject import Floats, GroundSampler

#: Spacing of the points steep ground is looked for at [m].
STEP_M = 2.0
#: Most of them to a side, so that a large area costs no more than a small one.
MOST_STEPS = 60
#: A grade that is not "sustained" is taken over this length [m]: shorter ones are survey noise.
SHORT_M = 4.0
#: Length a sustained grade is held over [m], as the study takes it.
SUSTAINED_M = 20.0


@relation(
    "max_slope",
    sides="a",
    reach=Reach.PAIR,
    unit="%",
    sense="at most",
    options={"which": "word"},
)
def max_slope(rule: Rule, scene: Scene, only: Only) -> list[Breach]:
    """Breach where the ground under part a is steeper than asked: the "mean" of it or the "max"."""
    sampler = scene.sampler
    if sampler is None:
        return []
    a = scene.members(rule.a)
    found = []
    for ident in sorted(a.shapes if only is None else only.intersection(a.shapes)):
        shape, asked = a.shapes[ident], scene.ask(rule, ident)
        steepest = rule.word("which", "mean") == "max"
        slope = sampler.max_slope(shape) if steepest else sampler.mean_slope(shape)
        if asked is None or slope is None or slope <= asked + SLACK or not scene.some_ours(ident):
            continue
        where = steep_part(shape, asked, sampler)
        found.append(Breach((ident,), slope, asked, "%", where))
    return found


def steep_part(shape: BaseGeometry, limit: float, sampler: GroundSampler) -> BaseGeometry:
    """Return the part of an area or line steeper than the limit; all of it when none stands out."""
    west, south, east, north = shape.bounds
    step = max(STEP_M, (east - west) / MOST_STEPS, (north - south) / MOST_STEPS)
    x, y = np.meshgrid(
        np.arange(west + step / 2, max(east, west + step), step),
        np.arange(south + step / 2, max(north, south + step), step),
    )
    steep = np.asarray(sampler.slope_ratio_at(x.ravel(), y.ravel())) > limit
    half = step / 2
    xs, ys = x.ravel()[steep], y.ravel()[steep]
    cells = shapely.union_all(shapely.box(xs - half, ys - half, xs + half, ys + half))
    found = shapely.intersection(cells, shape)
    return shape if found.is_empty else found


@relation(
    "max_grade",
    sides="a",
    reach=Reach.PAIR,
    unit="%",
    sense="at most",
    options={"quantity": "word"},
)
def max_grade(rule: Rule, scene: Scene, only: Only) -> list[Breach]:
    """Breach where a way is steeper than asked: its "max_grade" or another of its facts."""
    a = scene.members(rule.a)
    quantity = rule.word("quantity", "max_grade")
    found = []
    for ident in sorted(a.shapes if only is None else only.intersection(a.shapes)):
        grade, asked = scene.subjects[ident].number(quantity), scene.ask(rule, ident)
        if grade is None or asked is None or not scene.some_ours(ident):
            continue
        if abs(grade) > asked + SLACK:
            over_m = SUSTAINED_M if quantity.startswith("sustained") else SHORT_M
            shape = scene.subjects[ident].parts.get("profile", a.shapes[ident])
            where = steep_stretch(shape, asked, over_m, scene.sampler)
            found.append(Breach((ident,), abs(grade), asked, "%", where))
    return found


def steep_stretch(
    line: BaseGeometry, limit: float, over_m: float, sampler: GroundSampler | None
) -> BaseGeometry:
    """Return the stretches of a line whose grade over a length passes the limit; else the line.

    A line with heights of its own, a design profile, is taken by those; others by the ground.
    """
    if not isinstance(line, LineString) or line.length <= 0:
        return line
    if sampler is None and not line.has_z:
        return line
    over_m = min(over_m, line.length)
    count = int(min(max(np.ceil(line.length), 2), 5000)) + 1
    stations = np.linspace(0.0, line.length, count)
    starts = stations[stations <= line.length - over_m + SLACK]
    grade = np.abs(_heights(line, starts + over_m, sampler) - _heights(line, starts, sampler))
    spans = _merged(starts[grade / over_m > limit], over_m)
    cut = (substring(line, low, high) for low, high in spans)
    pieces = [piece for piece in cut if isinstance(piece, LineString)]
    if not pieces:
        return line
    return pieces[0] if len(pieces) == 1 else MultiLineString(pieces)


def _heights(line: LineString, stations: Floats, sampler: GroundSampler | None) -> Floats:
    if line.has_z:
        xyz = shapely.get_coordinates(line, include_z=True)
        run = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(xyz[:, :2], axis=0).T))))
        return np.asarray(np.interp(stations, run, xyz[:, 2]), np.float64)
    assert sampler is not None
    xy = shapely.get_coordinates(shapely.line_interpolate_point(line, stations))
    return np.asarray(sampler.height_at(xy[:, 0], xy[:, 1]), np.float64)


def _merged(starts: NDArray[np.float64], over_m: float) -> list[tuple[float, float]]:
    spans: list[tuple[float, float]] = []
    for start in starts.tolist():
        if spans and start <= spans[-1][1]:
            spans[-1] = (spans[-1][0], start + over_m)
        else:
            spans.append((start, start + over_m))
    return spans
