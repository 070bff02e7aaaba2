"""KML 2.2 placemarks, in folders or not, with their extended data."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from canvas.exchange.incoming import Value
from canvas.exchange.readers.raw import SHAPE_TROUBLE, WGS84, RawFeature, RawFile, line_of
from canvas.exchange.readers.xmlbase import Node, child, local, walk, words

FOLDERS = ("Folder", "Document")
NOT_SHAPES = ("NetworkLink", "GroundOverlay", "PhotoOverlay", "ScreenOverlay")


class Unreadable(Exception):
    """A shape whose coordinates make no sense."""


def read(path: Path) -> RawFile:
    """Read a KML file."""
    found = RawFile("KML", WGS84)
    tags: list[str] = []
    folders: list[str] = []
    count, left = 0, 0
    for event, node in walk(path, "kml"):
        tag = local(node.tag)
        if event == "start":
            tags.append(tag)
            if tag in FOLDERS:
                folders.append("")
            continue
        tags.pop()
        if tag in FOLDERS:
            folders.pop()
            node.clear()
        elif tag == "name" and tags and tags[-1] in FOLDERS:
            folders[-1] = (node.text or "").strip()
        elif tag == "Placemark":
            count += 1
            _take(node, f"placemark {count}", folders[-1] if folders else "", found)
            node.clear()
        elif tag in NOT_SHAPES:
            left += 1
            node.clear()
    if left:
        found.notes.append(f"{left} overlays or links in the file are not shapes: left out.")
    return found


def _take(node: Node, place: str, folder: str, found: RawFile) -> None:
    values: dict[str, Value] = {}
    for tag in ("name", "description"):
        if text := words(node, tag):
            values[tag] = text
    if folder:
        values["folder"] = folder
    extra = child(node, "ExtendedData")
    for each in extra.iter() if extra is not None else ():
        if local(each.tag) == "Data" and each.get("name"):
            values[each.get("name")] = words(each, "value")
        elif local(each.tag) == "SimpleData" and each.get("name"):
            values[each.get("name")] = words(each)
    try:
        shapes = [shape for part in node for shape in _shapes(part)]
    except Unreadable as error:
        found.skip(place, str(error))
        return
    if not shapes:
        found.skip(place, "it has no shape")
        return
    geometry = shapes[0] if len(shapes) == 1 else _together(shapes)
    found.add(RawFeature(geometry, values, place, folder))


def _together(shapes: list[Any]) -> BaseGeometry:
    kinds = {shape.geom_type for shape in shapes}
    if kinds == {"Polygon"}:
        return shapely.MultiPolygon(shapes)
    if kinds == {"LineString"}:
        return shapely.MultiLineString(shapes)
    if kinds == {"Point"}:
        return shapely.MultiPoint(shapes)
    return shapely.GeometryCollection(shapes)


def _shapes(node: Node) -> list[BaseGeometry]:
    """Return the shapes of one geometry element, none for any other element."""
    tag = local(node.tag)
    if tag in ("MultiGeometry", "MultiTrack"):
        return [shape for part in node for shape in _shapes(part)]
    try:
        if tag in ("Point", "LineString", "LinearRing"):
            return [line_of(_coordinates(words(node, "coordinates")))]
        if tag == "Track":
            return [line_of([_numbers(words(c).split()) for c in node if local(c.tag) == "coord"])]
        if tag == "Polygon":
            rings = [
                _coordinates(words(ring, "coordinates"))
                for edge in ("outerBoundaryIs", "innerBoundaryIs")
                for holder in node
                if local(holder.tag) == edge
                for ring in holder
                if local(ring.tag) == "LinearRing"
            ]
            return [shapely.Polygon(rings[0], rings[1:])]
    except SHAPE_TROUBLE as error:
        raise Unreadable(f"its coordinates make no {tag} ({str(error)[:120]})") from error
    return []


def _coordinates(text: str) -> list[tuple[float, ...]]:
    """Return the points of a coordinates element: "lon,lat[,height] …"."""
    return [_numbers(group.split(",")) for group in text.split()]


def _numbers(parts: list[str]) -> tuple[float, ...]:
    # Heights are dropped: most are clamped to the ground and written as nought.
    lon, lat = parts[0], parts[1]
    return float(lon), float(lat)
