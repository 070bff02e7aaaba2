"""KML 2.2: a folder for each kind, a placemark for each element, attributes as extended data."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from xml.etree import ElementTree

from canvas.exchange.names import column_of
from canvas.exchange.writers.rows import DECIMALS, Row, description, printable

SPACE = "http://www.opengis.net/kml/2.2"


def write(path: Path, rows: list[Row], title: str) -> list[str]:
    """Write a document called `title`; return notes."""
    root = ElementTree.Element("kml", {"xmlns": SPACE})
    document = ElementTree.SubElement(root, "Document")
    _text(document, "name", title)
    folders: dict[str, ElementTree.Element] = {}
    for row in rows:
        folder = folders.get(row.kind.key)
        if folder is None:
            folder = folders[row.kind.key] = ElementTree.SubElement(document, "Folder")
            _text(folder, "name", row.kind.plural)
        _placemark(folder, row)
    ElementTree.indent(root)
    ElementTree.ElementTree(root).write(path, encoding="UTF-8", xml_declaration=True)
    return []


def _placemark(folder: ElementTree.Element, row: Row) -> None:
    # An XML identity may not begin with a digit; ours may.
    node = ElementTree.SubElement(folder, "Placemark", {"id": f"e-{row.element.id}"})
    _text(node, "name", row.title)
    _text(node, "description", description(row))
    extra = ElementTree.SubElement(node, "ExtendedData")
    labels = {column_of(spec): spec.label for spec in row.kind.specs}
    for heading, value in ({"kind": row.kind.key} | row.values).items():
        if value is None or value == "" or heading == "name":
            continue
        data = ElementTree.SubElement(extra, "Data", {"name": heading})
        _text(data, "displayName", labels.get(heading, "Kind"))
        _text(data, "value", str(value).lower() if isinstance(value, bool) else str(value))
    parts = list(getattr(row.lonlat, "geoms", [row.lonlat]))
    holder = node if len(parts) == 1 else ElementTree.SubElement(node, "MultiGeometry")
    for part in parts:
        _shape(holder, part)


def _shape(holder: ElementTree.Element, shape: Any) -> None:
    node = ElementTree.SubElement(holder, shape.geom_type)
    if shape.geom_type == "Point":
        _coordinates(node, shape.coords)
        return
    _text(node, "tessellate", "1")
    if shape.geom_type == "LineString":
        _coordinates(node, shape.coords)
        return
    for edge, rings in (
        ("outerBoundaryIs", [shape.exterior]),
        ("innerBoundaryIs", shape.interiors),
    ):
        for ring in rings:
            inner = ElementTree.SubElement(ElementTree.SubElement(node, edge), "LinearRing")
            _coordinates(inner, ring.coords)


def _coordinates(node: ElementTree.Element, points: Any) -> None:
    _text(node, "coordinates", " ".join(f"{x:.{DECIMALS}f},{y:.{DECIMALS}f}" for x, y in points))


def _text(node: ElementTree.Element, name: str, words: str) -> None:
    ElementTree.SubElement(node, name).text = printable(words)
