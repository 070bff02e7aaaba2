"""GeoJSON (RFC 7946, and the 2008 form with a `crs` member), one feature at a time."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

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


def read(path: Path) -> RawFile:
    """Read a GeoJSON file, or one with a feature on each line."""
    found = RawFile("GeoJSON", WGS84)
    text = decoded(path.read_bytes(), found.notes)
    document = _parsed(text)
    kind = document.get("type")
    if kind == "FeatureCollection":
        members = document.get("features")
        if not isinstance(members, list):
            raise BadData("the collection has no list of features", remedy="Save it afresh.")
    elif kind == "Feature" or kind in SHAPES:
        members = [document]
    else:
        raise BadData(
            f"this is JSON but not GeoJSON: its type is {kind!r}",
            remedy="Save it as GeoJSON and try again.",
        )
    _note_crs(document.get("crs"), found)
    for number, member in enumerate(members, 1):
        _take(member, f"feature {number}", found)
    _look_at_range(found)
    return found


def _parsed(text: str) -> dict[str, Any]:
    try:
        document = json.loads(text)
    except json.JSONDecodeError as error:
        document = _lines(text)
        if document is None:
            raise BadData(
                f"this is not sound JSON: {error.msg}",
                where=f"line {error.lineno}",
                remedy="The file may be cut short: save or fetch it again.",
            ) from error
    if not isinstance(document, dict):
        raise BadData("this is JSON but not GeoJSON", remedy="Save it as GeoJSON and try again.")
    return document


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
        geometry = shapely.geometry.shape(shape)
    except SHAPE_TROUBLE as error:
        found.skip(place, f"its coordinates make no {shape['type']} ({str(error)[:120]})")
        return
    attributes = plain(values) if isinstance(values, dict) else {}
    if "id" in member and "id" not in attributes:
        attributes["id"] = str(member["id"])
    found.add(RawFeature(geometry, attributes, place))


def _look_at_range(found: RawFile) -> None:
    """Refuse coordinates that can't be degrees though the format says they are."""
    if found.crs != WGS84 or not found.features:
        return
    bounds = shapely.bounds([f.geometry for f in found.features])
    if (abs(bounds) > 400).any(axis=1).all():
        found.crs = ""
        found.notes.append("The coordinates are not degrees though GeoJSON asks for degrees.")
