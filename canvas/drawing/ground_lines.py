"""Lines the ground has of its own, and what lay where earth is moved, as drawing."""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData
from canvas.base.grid import Bounds
from canvas.drawing.entries import Anchor, Areas, Entry, Fill, Layer, Lines, Path, Stroke, Text
from canvas.drawing.furniture import ring
from canvas.drawing.look import Look
from canvas.ground.designed import Designed
from canvas.study.ground_lines import LINE_KINDS, GroundLine, ground_lines
from canvas.study.study import Study

STROKES = {
    "drainage": Stroke("water", 0.18),
    "valleys": Stroke("water", 0.35, (3.0, 0.9, 0.6, 0.9)),
    "ridges": Stroke("contour_index", 0.35, (3.0, 0.9, 0.6, 0.9)),
}
KEYPOINT_MM = 0.9
#: What lay before, where earth is moved.
BEFORE = Stroke("contour", 0.13, (1.1, 0.7))


def line_layer(study: Study, look: Look, bounds: Bounds | None = None) -> Layer | None:
    """Return the lines of the ground that are wanted; None for none, or without a ground."""
    if not look.ground_lines or study.land.grid is None:
        return None
    entries: list[Entry] = []
    for key in LINE_KINDS:
        if key not in look.ground_lines:
            continue
        try:
            found = ground_lines(study, key, designed=look.designed)
        except BadData:
            continue
        found = [each for each in found if bounds is None or _meets(each.geometry, bounds)]
        if key == "keypoints":
            entries.extend(_keypoints(found, look))
        elif found:
            paths = [shapely.get_coordinates(each.geometry) for each in found]
            entries.append(Lines(paths, STROKES[key]))
    return Layer("ground_lines", "Lines of the ground", tuple(entries)) if entries else None


def _meets(geometry: BaseGeometry, bounds: Bounds) -> bool:
    west, south, east, north = geometry.bounds
    return west <= bounds[2] and east >= bounds[0] and south <= bounds[3] and north >= bounds[1]


def _keypoints(found: list[GroundLine], look: Look) -> list[Entry]:
    """Return a diamond with its height for each keypoint."""
    entries: list[Entry] = []
    half = look.metres(KEYPOINT_MM)
    corners = np.array([(0.0, half), (half, 0.0), (0.0, -half), (-half, 0.0)])
    for each in found:
        spot = shapely.get_coordinates(each.geometry)[0]
        entries.append(Areas([[ring(spot + corners)]], Fill("paper"), Stroke("water", 0.3)))
        if look.labels:
            height = next(fact for fact in each.facts if fact.key == "z_m")
            words = f"keypoint {height.shown(look.units)}"
            x = float(spot[0]) + look.metres(KEYPOINT_MM + 0.6)
            entries.append(Text(x, float(spot[1]), words, 1.7, "water", Anchor.LEFT, halo="halo"))
    return entries


def before_works(study: Study, interval_m: float, bounds: Bounds | None) -> list[Path]:
    """Return the existing ground's contours where earth is moved; none without earthworks."""
    ground = study.designed()
    found = study.contours(interval_m)
    if ground is None or found is None or not ground.patches:
        return []
    moved = study.same("moved earth", (ground,), lambda: moved_earth(ground))
    if bounds is not None:
        moved = shapely.clip_by_rect(moved, *bounds)
    if moved.is_empty:
        return []
    lines = np.array([shapely.linestrings(line) for _, line in found if len(line) > 1], object)
    shapely.prepare(moved)
    near = lines[shapely.intersects(moved, lines)]
    pieces = shapely.get_parts(shapely.intersection(near, moved))
    return [shapely.get_coordinates(p) for p in pieces if p.geom_type == "LineString"]


def moved_earth(ground: Designed) -> BaseGeometry:
    """Return the area where some earthwork moves earth."""
    outlines = [patch.outline() for patch in ground.patches]
    whole = shapely.union_all([shapely.make_valid(each) for each in outlines])
    return whole if math.isfinite(whole.area) else shapely.MultiPolygon()
