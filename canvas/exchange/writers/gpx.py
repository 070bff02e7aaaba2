"""GPX 1.1: points as waypoints, lines and the edges of areas as tracks."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path
from xml.etree import ElementTree

from shapely.geometry.base import BaseGeometry

from canvas.exchange.writers.rows import DECIMALS, Row, bounds_of, description, printable

SPACE = "http://www.topografix.com/GPX/1/1"
SCHEMA = "http://www.topografix.com/GPX/1/1/gpx.xsd"
XSI = "http://www.w3.org/2001/XMLSchema-instance"


def write(path: Path, rows: list[Row]) -> list[str]:
    """Write waypoints and tracks, in the order the schema asks; return notes."""
    root = ElementTree.Element(
        "gpx",
        {
            "xmlns": SPACE,
            "xmlns:xsi": XSI,
            "xsi:schemaLocation": f"{SPACE} {SCHEMA}",
            "version": "1.1",
            "creator": "Hillwright",
        },
    )
    meta = ElementTree.SubElement(root, "metadata")
    _text(meta, "time", datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"))
    if (bounds := bounds_of(rows)) is not None and bounds[0] <= bounds[2]:
        names = ("minlon", "minlat", "maxlon", "maxlat")
        values = (f"{value:.{DECIMALS}f}" for value in bounds)
        ElementTree.SubElement(meta, "bounds", dict(zip(names, values, strict=True)))
    points = [row for row in rows if row.kind.geometry == "Point"]
    others = [row for row in rows if row.kind.geometry != "Point"]
    for row in points:
        node = ElementTree.SubElement(root, "wpt", _place(*row.lonlat.coords[0]))
        _tell(node, row)
    for row in others:
        node = ElementTree.SubElement(root, "trk")
        _tell(node, row)
        for run in _runs(row.lonlat):
            segment = ElementTree.SubElement(node, "trkseg")
            for lon, lat in run:
                ElementTree.SubElement(segment, "trkpt", _place(lon, lat))
    ElementTree.indent(root)
    ElementTree.ElementTree(root).write(path, encoding="UTF-8", xml_declaration=True)
    areas = sum(row.kind.geometry == "Polygon" for row in rows)
    return [f"GPX knows no areas: {areas} were written as closed tracks."] if areas else []


def _tell(node: ElementTree.Element, row: Row) -> None:
    _text(node, "name", row.title)
    _text(node, "desc", description(row))
    _text(node, "type", row.kind.key)


def _text(node: ElementTree.Element, name: str, words: str) -> None:
    ElementTree.SubElement(node, name).text = printable(words)


def _place(lon: float, lat: float) -> dict[str, str]:
    # The schema wants longitudes below 180; the other side of that meridian is -180.
    lon = min(lon, 180 - 10**-DECIMALS)
    return {"lat": f"{lat:.{DECIMALS}f}", "lon": f"{lon:.{DECIMALS}f}"}


def _runs(shape: BaseGeometry) -> Iterable[list[tuple[float, float]]]:
    """Yield the points of every line and ring of a shape."""
    for part in getattr(shape, "geoms", [shape]):
        rings = [part] if part.geom_type != "Polygon" else [part.exterior, *part.interiors]
        for ring in rings:
            yield [(float(x), float(y)) for x, y in ring.coords]
