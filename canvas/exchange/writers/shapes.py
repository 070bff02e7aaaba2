"""Computed shapes, which are no elements of the plan, as GeoJSON (RFC 7946)."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path

import shapely.geometry
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData, StoreTrouble
from canvas.exchange.writers.rows import in_lonlat


def write_shapes(
    path: Path, shapes: Sequence[tuple[BaseGeometry, Mapping[str, object]]], crs: str
) -> int:
    """Write shapes in `crs` with their values by heading; return how many were written."""
    if path.suffix.lower() not in (".geojson", ".json"):
        raise BadData(
            f"lines of the ground are written as GeoJSON, not “{path.suffix}”",
            where=path.name,
            remedy="Name it .geojson.",
        )
    moved = in_lonlat([shape for shape, _ in shapes], crs)
    features = [
        {"type": "Feature", "geometry": shapely.geometry.mapping(shape), "properties": dict(values)}
        for shape, (_, values) in zip(moved, shapes, strict=True)
    ]
    document = {"type": "FeatureCollection", "features": features}
    try:
        path.write_text(
            json.dumps(document, ensure_ascii=False, allow_nan=False) + "\n", encoding="utf-8"
        )
    except OSError as error:
        raise StoreTrouble(
            f"the file could not be written ({error})",
            where=path.name,
            remedy="Check that the folder can be written and the disk has room.",
        ) from error
    return len(features)
