"""Spot levels of the works: designed, and beside it what the ground was before."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from canvas.base.grid import Bounds, Floats
from canvas.base.quantity import FT, UnitSystem
from canvas.drawing.entries import Anchor, Layer, Lines, Stroke, Text
from canvas.drawing.labels import AIR_MM, Board, Label, around, place
from canvas.drawing.look import Look
from canvas.study.study import Study

SIZE_MM = 1.5
CROSS_MM = 0.7
#: Along a line, levels stand so far apart on paper [mm], and at its ends.
EVERY_MM = 45.0
#: Corners of an outline nearer than this on paper are one [mm].
APART_MM = 6.0
CROSS = Stroke("ink", 0.18)


def spot_layer(
    study: Study, look: Look, bounds: Bounds | None = None, board: Board | None = None
) -> Layer | None:
    """Return crosses with the designed level and, in brackets, the existing one.

    Corners and middle of an area, ends and stations of a line. None without earthworks.
    """
    ground = study.designed()
    if ground is None or not ground.patches:
        return None
    shapes = [study.plan.element(work.ident).geometry for work in study.works() if work.patches]
    xy = _spots(shapes, look)
    if bounds is not None:
        west, south, east, north = bounds
        inside = (xy[:, 0] > west) & (xy[:, 0] < east) & (xy[:, 1] > south) & (xy[:, 1] < north)
        xy = xy[inside]
    after, before = ground.sample(*xy.T), ground.base.sample(*xy.T)
    known = np.isfinite(after) & np.isfinite(before)
    if not known.any():
        return None
    labels = [
        _label(spot, float(new), float(old), look)
        for spot, new, old in zip(xy[known], after[known], before[known], strict=True)
    ]
    texts = place(labels, look.scale, board or Board())
    half = look.metres(CROSS_MM)
    crosses = [
        np.array([spot - step, spot + step])
        for spot in xy[known]
        for step in (np.array([half, half]), np.array([half, -half]))
    ]
    return Layer("spot_levels", "Spot levels", (Lines(crosses, CROSS), *texts))


def _spots(shapes: list[BaseGeometry], look: Look) -> Floats:
    """Return where levels are wanted, (n, 2)."""
    found = [np.empty((0, 2))]
    near = look.metres(APART_MM)
    for shape in shapes:
        if isinstance(shape, Polygon):
            corners = shapely.get_coordinates(shape.exterior.simplify(near / 4))[:-1]
            found += [corners, shapely.get_coordinates(shape.representative_point())]
        elif isinstance(shape, LineString):
            count = max(round(shape.length / look.metres(EVERY_MM)), 1)
            at = np.linspace(0.0, 1.0, count + 1)
            found.append(
                shapely.get_coordinates(shapely.line_interpolate_point(shape, at, normalized=True))
            )
    every = np.vstack(found)
    kept: list[Floats] = []
    for spot in every:
        if all(np.hypot(*(spot - other)) > near for other in kept):
            kept.append(spot)
    return np.array(kept).reshape(-1, 2)


def _label(spot: Floats, after: float, before: float, look: Look) -> Label:
    factor = 1 / FT if look.units is UnitSystem.US else 1.0
    words = f"{after * factor:.2f} ({before * factor:.2f})"
    x, y = float(spot[0]), float(spot[1])
    text = Text(x, y, words, SIZE_MM, "ink", Anchor.LEFT, halo="halo", weight=3.0)
    return Label(text, tries=around(CROSS_MM + AIR_MM))
