"""Makes foreign shapes fit what a kind of element wants: points, lines or areas, sound ones."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from canvas.site.records import at_odds

#: A repair that changes the area by more than this share is no repair but a guess.
REPAIR_SHARE = 0.001
#: Ends of a line closer than this are one point [m].
CLOSE_M = 0.001
WORDS = {"Point": "a point", "LineString": "a line", "Polygon": "an area"}


@dataclass(slots=True)
class Fitted:
    """What became of one shape."""

    shapes: list[BaseGeometry] = field(default_factory=list)
    #: Why parts of it were left out.
    lost: list[str] = field(default_factory=list)
    #: What was changed about it.
    notes: list[str] = field(default_factory=list)


def fit(geometry: BaseGeometry, wanted: str) -> Fitted:
    """Return the shapes of type `wanted` a geometry holds; heights are dropped."""
    out = Fitted()
    for piece in _pieces(shapely.force_2d(geometry)):
        if piece.is_empty:
            out.lost.append("its shape is empty")
        elif not np.isfinite(shapely.get_coordinates(piece)).all():
            out.lost.append("a coordinate is not a number")
        elif wanted == "Point":
            _as_point(piece, out)
        elif wanted == "LineString":
            _as_lines(piece, out)
        else:
            _as_area(piece, out)
    if not out.shapes and not out.lost:
        out.lost.append("its shape is empty")
    return out


def _pieces(geometry: BaseGeometry) -> list[BaseGeometry]:
    parts = getattr(geometry, "geoms", None)
    if parts is None or geometry.is_empty:
        return [geometry]
    return [piece for part in parts for piece in _pieces(part)]


def _named(piece: BaseGeometry) -> str:
    return WORDS.get("LineString" if piece.geom_type == "LinearRing" else piece.geom_type, "?")


def _as_point(piece: BaseGeometry, out: Fitted) -> None:
    if piece.geom_type == "Point":
        out.shapes.append(piece)
    else:
        out.lost.append(f"a point is needed, this is {_named(piece)}")


def _as_lines(piece: Any, out: Fitted) -> None:
    if piece.geom_type == "Point":
        out.lost.append("a line is needed, this is a point")
        return
    rings = [piece]
    if piece.geom_type == "Polygon":
        rings = [piece.exterior, *piece.interiors]
        out.notes.append("the edge of an area was taken as a line")
    for ring in rings:
        line = shapely.LineString(ring.coords)
        if line.length > CLOSE_M:
            out.shapes.append(line)
        else:
            out.lost.append("the line has no length")


def _as_area(piece: Any, out: Fitted) -> None:
    if piece.geom_type == "Point":
        out.lost.append("an area is needed, this is a point")
        return
    if piece.geom_type != "Polygon":
        points = shapely.get_coordinates(piece)
        if len(np.unique(points, axis=0)) < 3:
            out.lost.append("the line has fewer than three points, too few for an area")
            return
        gap = float(np.hypot(*(points[0] - points[-1])))
        if gap > CLOSE_M:
            out.notes.append(f"the line was closed over a gap of {gap:.2f} m")
        piece = shapely.Polygon(points)
    if piece.is_valid and piece.area > 0:
        out.shapes.append(piece)
        return
    _repair(piece, out)


def _repair(piece: Any, out: Fitted) -> None:
    """Mend an area when there is only one way to; else say where it is at odds with itself."""
    reason = at_odds(piece)
    mended = shapely.make_valid(piece)
    areas = [part for part in _pieces(mended) if part.geom_type == "Polygon"]
    whole = sum(part.area for part in areas)
    if whole <= 0:
        out.lost.append("the area is flat: its points lie on one line")
        return
    main = max(areas, key=lambda part: part.area)
    ring_area = float(shapely.Polygon(piece.exterior).area)
    kept_all = whole - main.area <= REPAIR_SHARE * whole
    # A loop inside a loop may be a hole or an overlap: nobody can tell.
    agrees = piece.interiors or abs(ring_area - main.area) <= REPAIR_SHARE * whole
    if kept_all and agrees:
        out.shapes.append(main)
        out.notes.append(f"its edge was mended ({reason})")
    else:
        out.lost.append(f"its edge crosses itself ({reason})")
