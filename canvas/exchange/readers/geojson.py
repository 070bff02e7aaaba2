"""GeoJSON (RFC 7946, and the 2008 form with a `crs` member), one feature at a time."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import shapely
import shapely.geometry

from canvas.base.errors import BadData
from canvas.exchange.readers.raw import (
    SHAPE_TROUBLE,
    WGS84,
    RawFeature,
    RawFile,
    decoded,
    plain,
)

SHAPES = (
    "Point", "MultiPoint", "LineString", "MultiLineString", "Polygon", "MultiPolygon",
    "GeometryCollection",
)  # fmt: skip

#: Stands in a document for features that were taken out of it.
_TAKEN = object()
_SOLID = re.compile(r"[^ \t\r\n]")


def read(path: Path) -> RawFile:
    """Read a GeoJSON file, or one with a feature on each line."""
    found = RawFile("GeoJSON", WGS84)
    text = decoded(path.read_bytes(), found.notes)
    document = _parsed(text, found)
    kind = document.get("type")
    if kind == "FeatureCollection":
        if document.get("features") is not _TAKEN:
            raise BadData("the collection has no list of features", remedy="Save it afresh.")
    elif kind == "Feature" or kind in SHAPES:
        _take(document, "feature 1", found)
    else:
        raise BadData(
            f"this is JSON but not GeoJSON: its type is {kind!r}",
            remedy="Save it as GeoJSON and try again.",
        )
    _note_crs(document.get("crs"), found)
    _look_at_range(found)
    return found


def _parsed(text: str, found: RawFile) -> dict[str, Any]:
    """Return the document; the features of a collection are taken into `found` on the way.

    So a file of millions of points never stands in memory as lists of numbers, and a flood is
    refused where it becomes one.
    """
    try:
        document = _document(text, found)
    except json.JSONDecodeError as error:
        document = _lines(text)
        if document is None:
            raise BadData(
                f"this is not sound JSON: {error.msg}",
                where=f"line {error.lineno}",
                remedy="The file may be cut short: save or fetch it again.",
            ) from error
        _forget(found)
        for number, member in enumerate(document["features"], 1):
            _take(member, f"feature {number}", found)
        document["features"] = _TAKEN
    if not isinstance(document, dict):
        raise BadData("this is JSON but not GeoJSON", remedy="Save it as GeoJSON and try again.")
    if document.get("type") != "FeatureCollection":
        _forget(found)
    return document


def _forget(found: RawFile) -> None:
    found.features.clear()
    found.skipped.clear()
    found.points = 0


def _document(text: str, found: RawFile) -> Any:
    """Return the JSON in `text`, a list of features at its top taken into `found`."""
    value = json.JSONDecoder().raw_decode
    at = _next(text, 0)
    if text[at : at + 1] != "{":
        document, at = value(text, at)
    else:
        document, at = {}, _next(text, at + 1)
        while text[at : at + 1] != "}":
            if document:
                at = _past(text, at, ",")
            key, at = value(text, at)
            if not isinstance(key, str):
                raise json.JSONDecodeError("Expecting property name", text, at)
            at = _past(text, at, ":")
            if key == "features" and text[at : at + 1] == "[":
                # The last of several by one name counts, as in any object.
                _forget(found)
                document[key], at = _TAKEN, _features(text, at, found)
            else:
                document[key], at = value(text, at)
            at = _next(text, at)
        at += 1
    if _next(text, at) != len(text):
        raise json.JSONDecodeError("Extra data", text, at)
    return document


def _features(text: str, at: int, found: RawFile) -> int:
    """Take the list of features that begins at a place; return where it ends."""
    value = json.JSONDecoder().raw_decode
    at, number = _next(text, at + 1), 0
    while text[at : at + 1] != "]":
        if number:
            at = _past(text, at, ",")
        member, at = value(text, at)
        number += 1
        _take(member, f"feature {number}", found)
        at = _next(text, at)
    return at + 1


def _next(text: str, at: int) -> int:
    """Return the place of the next character that is no blank."""
    hit = _SOLID.search(text, at)
    return hit.start() if hit else len(text)


def _past(text: str, at: int, mark: str) -> int:
    """Return the place after a mark that must stand here, and after the blanks behind it."""
    at = _next(text, at)
    if text[at : at + 1] != mark:
        raise json.JSONDecodeError(f"Expecting '{mark}' delimiter", text, at)
    return _next(text, at + 1)


def _lines(text: str) -> dict[str, Any] | None:
    """Return a collection from a file with one feature a line, or None."""
    lines = [line.strip("\x1e \t\r") for line in text.splitlines()]
    try:
        members = [json.loads(line) for line in lines if line]
    except json.JSONDecodeError:
        return None
    return {"type": "FeatureCollection", "features": members} if len(members) > 1 else None


def _note_crs(member: object, found: RawFile) -> None:
    if not isinstance(member, dict):
        return
    properties = member.get("properties")
    name = properties.get("name") if isinstance(properties, dict) else None
    if isinstance(name, str) and name:
        found.crs = WGS84 if name.upper().endswith(("CRS84", "::4326", ":4326")) else name
        if found.crs != WGS84:
            found.notes.append(f"The file names its own CRS, {name}, which was used.")


def _take(member: object, place: str, found: RawFile) -> None:
    if not isinstance(member, dict):
        found.skip(place, "it is not an object")
        return
    if member.get("type") == "Feature":
        shape, values = member.get("geometry"), member.get("properties")
    else:
        shape, values = member, None
    if shape is None:
        found.skip(place, "it has no shape")
        return
    if not isinstance(shape, dict) or shape.get("type") not in SHAPES:
        named = shape.get("type") if isinstance(shape, dict) else shape
        found.skip(place, f"its shape is of an unknown type, {str(named)[:40]!r}")
        return
    try:
        geometry = shapely.geometry.shape(_arrays(shape))
    except SHAPE_TROUBLE as error:
        found.skip(place, f"its coordinates make no {shape['type']} ({str(error)[:120]})")
        return
    attributes = plain(values) if isinstance(values, dict) else {}
    if "id" in member and "id" not in attributes:
        attributes["id"] = str(member["id"])
    found.add(RawFeature(geometry, attributes, place))


def _arrays(shape: dict[str, Any]) -> dict[str, Any]:
    """Return a shape with every plain run of positions as one array: far quicker to build."""

    def packed(item: Any) -> Any:
        if not isinstance(item, list) or not item or not isinstance(item[0], list):
            return item
        if item[0] and isinstance(item[0][0], list):
            return [packed(part) for part in item]
        try:
            points = np.array(item)
        except ValueError:
            return item
        return points if points.ndim == 2 and points.dtype.kind in "if" else item

    if "coordinates" not in shape:
        return shape
    return {**shape, "coordinates": packed(shape["coordinates"])}


def _look_at_range(found: RawFile) -> None:
    """Refuse coordinates that can't be degrees though the format says they are."""
    if found.crs != WGS84 or not found.features:
        return
    bounds = shapely.bounds([f.geometry for f in found.features])
    if (abs(bounds) > 400).any(axis=1).all():
        found.crs = ""
        found.notes.append("The coordinates are not degrees though GeoJSON asks for degrees.")
