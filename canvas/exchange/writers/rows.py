"""What every writer starts from: an element's attributes by heading, its shape in WGS 84."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from canvas.base.quantity import show
from canvas.exchange.names import column_of
from canvas.site.fields import FieldSpec, FieldType
from canvas.site.records import Element, Kind, kind_of, values_of

WGS84 = "EPSG:4326"
#: A ten-millionth of a degree is a centimetre.
DECIMALS = 7


@dataclass(frozen=True, slots=True)
class Row:
    """One element, ready to write."""

    element: Element
    kind: Kind
    #: In WGS 84: longitude, latitude [°], rounded.
    lonlat: BaseGeometry
    #: By heading, units in the headings.
    values: dict[str, object]

    @property
    def title(self) -> str:
        """What to call it: its name, else its kind's."""
        return self.element.name or self.kind.label


def rows_of(elements: Iterable[Element], crs: str) -> list[Row]:
    """Return elements with their shapes in WGS 84 and their attributes by heading."""
    items = list(elements)
    shapes = in_lonlat([item.geometry for item in items], crs)
    return [
        Row(item, kind_of(item), shape, values_by_heading(item))
        for item, shape in zip(items, shapes, strict=True)
    ]


def in_lonlat(geometries: Sequence[BaseGeometry], crs: str) -> list[BaseGeometry]:
    """Return geometries of a CRS in WGS 84, rounded, rings as RFC 7946 wants them."""
    if not geometries:
        return []
    from pyproj import Transformer

    transformer = Transformer.from_crs(crs, WGS84, always_xy=True)

    def moved(points: Any) -> Any:
        return np.column_stack(transformer.transform(points[:, 0], points[:, 1])).round(DECIMALS)

    shapes: Any = np.array(geometries, object)
    shapes = shapely.orient_polygons(shapely.transform(shapes, moved), exterior_cw=False)
    return [whole(shape) for shape in shapes]


def values_by_heading(item: Element) -> dict[str, object]:
    """Return an element's attributes, under headings with their units."""
    values = values_of(item)
    return {column_of(spec): values[spec.name] for spec in kind_of(item).specs}


def whole(shape: BaseGeometry) -> BaseGeometry:
    """Return a shape cut where it crosses the 180th meridian, as RFC 7946 §3.1.9 asks."""
    west, south, east, north = shape.bounds
    if east - west <= 180:
        return shape

    def eastward(points: Any) -> Any:
        return np.column_stack(
            (np.where(points[:, 0] < 0, points[:, 0] + 360, points[:, 0]), points[:, 1])
        )

    def back(points: Any) -> Any:
        return points - [360, 0]

    far = shapely.transform(shape, eastward)
    near_half = far.intersection(shapely.box(0, south - 1, 180, north + 1))
    far_half = shapely.transform(
        far.intersection(shapely.box(180, south - 1, 360, north + 1)), back
    )
    halves = [part for half in (near_half, far_half) for part in getattr(half, "geoms", [half])]
    wanted = shape.geom_type.removeprefix("Multi")
    parts: Any = [part for part in halves if part.geom_type == wanted]
    many: Any = {"LineString": shapely.MultiLineString, "Polygon": shapely.MultiPolygon}.get(wanted)
    return shapely.orient_polygons(many(parts), exterior_cw=False) if many else shape


def bounds_of(rows: Sequence[Row]) -> tuple[float, float, float, float] | None:
    """Return west, south, east, north [°] of all shapes; west > east across the 180th meridian."""
    if not rows:
        return None
    boxes = np.array([part.bounds for r in rows for part in getattr(r.lonlat, "geoms", [r.lonlat])])
    west, east = boxes[:, 0].min(), boxes[:, 2].max()
    if east - west > 180:
        west = boxes[boxes[:, 0] > 0, 0].min()
        east = boxes[boxes[:, 2] < 0, 2].max()
    return float(west), float(boxes[:, 1].min()), float(east), float(boxes[:, 3].max())


def said(spec: FieldSpec, value: object) -> str:
    """Return a value for people, with its unit; "" where there is none."""
    if value is None or value == "":
        return ""
    if spec.type is FieldType.CHOICE:
        return spec.label_of(str(value))
    if isinstance(value, bool):
        return "Yes" if value else "No"
    if isinstance(value, (int, float)):
        return show(float(value), spec.unit or "ratio")
    return str(value)


def description(row: Row) -> str:
    """Return the attributes as lines of text for people."""
    values = values_of(row.element)
    lines = [row.kind.label]
    for spec in row.kind.specs:
        if spec.name not in ("name", "phase") and (text := said(spec, values[spec.name])):
            lines.append(f"{spec.label}: {text}")
    return "\n".join(lines)


def printable(text: str) -> str:
    """Return text without the control characters XML forbids."""
    return "".join(c for c in text if c in "\t\n\r" or (c >= " " and c not in "\ufffe\uffff"))
