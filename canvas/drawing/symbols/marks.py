"""What several symbols share: crosses, marks along lines, areas' names."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from canvas.base.quantity import show
from canvas.drawing.entries import Cap, Path, Stroke
from canvas.drawing.labels import around, outside, strewn
from canvas.drawing.pen import Drawn, Pen, along, middle, paths_of
from canvas.drawing.styles import FADED, crossed
from canvas.drawing.typeface import width_mm

#: Between crosses on what is to be removed [mm on paper].
CROSS_EVERY_MM = 11.0
CROSS_MM = 1.2
#: Names at least this weighty stand beside an area they don't fit in.
KEEN = 5.0
#: Most strewn marks drawn in one area: beyond, the marks stand wider apart.
MOST_MARKS = 3000


def cross_out(drawn: Drawn, pen: Pen, role: str, shape: BaseGeometry | None = None) -> None:
    """Set crosses on an element that is to go: along lines and edges, or on its point."""
    if not crossed(drawn.item):
        return
    geometry = drawn.item.geometry if shape is None else shape
    stroke = Stroke(role, 0.2, alpha=FADED, cap=Cap.FLAT)
    if geometry.geom_type == "Point":
        xy = shapely.get_coordinates(geometry)
        pen.stamps("cross", xy, 1.8, stroke, ids=(drawn.item.id,), level=9)
        return
    for path in paths_of(geometry):
        places = along(path, pen.m(CROSS_EVERY_MM))
        pen.stamps("cross", places.xy, CROSS_MM, stroke, turn_deg=places.bearing_deg, level=9)


def marks_along(
    pen: Pen,
    path: Path,
    design: str,
    every_mm: float,
    size_mm: float,
    stroke: Stroke,
    *,
    turn_deg: float = 0.0,
    level: int = 1,
    start_mm: float | None = None,
) -> None:
    """Stamp a design along a line, turned with it."""
    start = None if start_mm is None else pen.m(start_mm)
    places = along(path, pen.m(every_mm), start)
    pen.stamps(
        design, places.xy, size_mm, stroke, turn_deg=places.bearing_deg + turn_deg, level=level
    )


def strew(
    pen: Pen, shape: BaseGeometry, gap_mm: float, seed: int = 7, most: int = MOST_MARKS
) -> Path:
    """Return points strewn over an area on a shaken grid, the same every time, shape (n, 2).

    The grid hangs on the map, not on the area, so that neighbouring patches join.
    """
    if shape.is_empty or shape.area <= 0:
        return np.empty((0, 2))
    gap = max(pen.m(gap_mm), float(np.sqrt(shape.area / most)))
    west, south, east, north = shape.bounds
    i = np.arange(np.floor(west / gap), np.ceil(east / gap) + 1)
    j = np.arange(np.floor(south / gap), np.ceil(north / gap) + 1)
    if len(i) * len(j) > 40 * most:
        return np.empty((0, 2))
    ii, jj = (a.ravel() for a in np.meshgrid(i, j))
    # Whole-number hashing: the same shake for the same square, whatever the window.
    mixed = (ii.astype(np.int64) * 73856093) ^ (jj.astype(np.int64) * 19349663) ^ (seed * 83492791)
    u = (np.abs(mixed) % 1009) / 1009.0 - 0.5
    v = (np.abs(mixed // 1009) % 1013) / 1013.0 - 0.5
    x = (ii + 0.5 * (jj % 2) + 0.55 * u) * gap
    y = (jj + 0.55 * v) * gap
    inside = shapely.contains_xy(shape, x, y)
    return np.column_stack([x[inside], y[inside]])


def name_area(
    drawn: Drawn, pen: Pen, words: str, role: str, *, size_mm: float = 2.0, weight: float = 5.0,
    italic: bool = False, bold: bool = False, with_area: bool = False,
) -> None:  # fmt: skip
    """Write an area's name in its middle, with its size under it where wanted."""
    shape = drawn.item.geometry
    if with_area and pen.look.scale <= 2500:
        fact = drawn.fact("area_m2") or drawn.fact("area_grid_m2")
        if fact is not None and isinstance(fact.value, float):
            figure = show(fact.value, fact.unit, pen.look.units)
            words = f"{words}\n{figure}" if words else figure
    if not words:
        return
    spot = shape.centroid
    if not shape.contains(spot):
        spot = shape.representative_point()
    x, y = map(float, shapely.get_coordinates(spot)[0])
    west, south, east, north = shape.bounds
    step = pen.mm(min(east - west, north - south)) / 6
    longest = max(width_mm(each, size_mm) for each in words.splitlines())
    tries = strewn(max(step, 1.0))
    if weight >= KEEN:
        tries += outside((pen.mm(east - west), pen.mm(north - south)))
    elif longest > 1.6 * pen.mm(max(east - west, north - south)):
        return
    pen.write(
        x, y, words, size_mm, role, weight=weight, tries=tries,
        ident=drawn.item.id, italic=italic, bold=bold,
    )  # fmt: skip


def name_point(
    drawn: Drawn, pen: Pen, words: str, role: str, radius_mm: float, *, size_mm: float = 1.8,
    weight: float = 4.0,
) -> None:  # fmt: skip
    """Write a name beside a point symbol."""
    x, y = map(float, shapely.get_coordinates(drawn.item.geometry)[0])
    pen.write(
        x, y, words, size_mm, role, weight=weight, tries=around(radius_mm + 0.8),
        ident=drawn.item.id,
    )  # fmt: skip


def name_line(
    drawn: Drawn, pen: Pen, words: str, role: str, *, size_mm: float = 1.8, weight: float = 4.0,
    off_mm: float = 0.0, italic: bool = False,
) -> None:  # fmt: skip
    """Write a name along a line, beside it when `off_mm` is given."""
    if not words:
        return
    path = max(paths_of(drawn.item.geometry), key=len)
    length = float(np.hypot(*np.diff(path, axis=0).T).sum())
    room = width_mm(words, size_mm)
    if room > pen.mm(length):
        return
    for share in (0.5, 0.3, 0.7, 0.15, 0.85):
        place = along(path, max(length, 1e-9), length * share)
        turn = float(place.reading_deg[0])
        up = np.radians(turn)
        off = pen.m(off_mm)
        x = float(place.xy[0, 0] + off * np.sin(up))
        y = float(place.xy[0, 1] + off * np.cos(up))
        if _straight(path, length * share, pen.m(room)):
            break
    else:
        x, y, turn = middle(path)
    pen.write(
        x, y, words, size_mm, role, weight=weight, ident=drawn.item.id, turn_deg=turn,
        italic=italic,
    )  # fmt: skip


def _straight(path: Path, at_m: float, room_m: float) -> bool:
    """Whether a path runs nearly straight over `room_m` about a place on it."""
    ends = along(path, room_m, max(at_m - room_m / 2, 0.0)).xy[:2]
    return len(ends) > 1 and float(np.hypot(*(ends[1] - ends[0]))) > 0.97 * room_m
