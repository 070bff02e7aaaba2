"""GPX 1.0 and 1.1: waypoints, routes and tracks."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import shapely

from canvas.exchange.incoming import Value
from canvas.exchange.readers.raw import WGS84, RawFeature, RawFile, line_of
from canvas.exchange.readers.xmlbase import Node, child, local, walk, words

TEXTS = ("name", "cmt", "desc", "src", "sym", "type", "number", "time")
LAYERS = {"wpt": ("waypoint", "waypoints"), "rte": ("route", "routes"), "trk": ("track", "tracks")}


def read(path: Path) -> RawFile:
    """Read a GPX file."""
    found = RawFile("GPX", WGS84)
    counts = dict.fromkeys(LAYERS, 0)
    for event, node in walk(path, "gpx"):
        name = local(node.tag)
        if event != "end" or name not in LAYERS:
            continue
        counts[name] += 1
        one, many = LAYERS[name]
        _take(node, name, f"{one} {counts[name]}", many, found)
        node.clear()
    return found


def _take(node: Node, name: str, place: str, layer: str, found: RawFile) -> None:
    values: dict[str, Value] = {tag: text for tag in TEXTS if (text := words(node, tag))}
    if name == "wpt":
        runs = [[_point(node)]]
        height = words(node, "ele")
        if height:
            values["ele"] = height
    elif name == "rte":
        runs = [[_point(each) for each in node if local(each.tag) == "rtept"]]
    else:
        runs = [
            [_point(each) for each in segment if local(each.tag) == "trkpt"]
            for segment in node
            if local(segment.tag) == "trkseg"
        ]
        times = [words(first, "time") for first in _first_points(node)]
        if times and times[0]:
            values.setdefault("time", times[0])
    bad = sum(point is None for run in runs for point in run)
    if bad:
        found.skip(place, f"{bad} of its points have no position that can be read")
    sound = [[point for point in run if point is not None] for run in runs]
    least = 1 if name == "wpt" else 2
    shapes: list[Any] = [line_of(run) for run in sound if len(run) >= least]
    if not shapes:
        if not bad:
            found.skip(place, "it has fewer than two points" if least == 2 else "no position")
        return
    geometry = shapes[0] if len(shapes) == 1 else shapely.MultiLineString(shapes)
    found.add(RawFeature(geometry, values, place, layer))


def _first_points(track: Node) -> list[Node]:
    segment = child(track, "trkseg")
    if segment is None:
        return []
    return [each for each in segment if local(each.tag) == "trkpt"][:1]


def _point(node: Node) -> tuple[float, float] | None:
    try:
        return float(node.get("lon")), float(node.get("lat"))
    except (TypeError, ValueError):
        return None
