"""GeoJSON as RFC 7946 asks: WGS 84, right-hand rule, no `crs` member, a bounding box."""

from __future__ import annotations

import json
from pathlib import Path

import shapely.geometry

from canvas.exchange.writers.rows import Row, bounds_of


def write(path: Path, rows: list[Row]) -> list[str]:
    """Write a feature collection; return notes."""
    document: dict[str, object] = {"type": "FeatureCollection"}
    if (bounds := bounds_of(rows)) is not None:
        document["bbox"] = list(bounds)
    document["features"] = [
        {
            "type": "Feature",
            "id": row.element.id,
            "geometry": shapely.geometry.mapping(row.lonlat),
            "properties": {"kind": row.kind.key, **row.values},
        }
        for row in rows
    ]
    text = json.dumps(document, ensure_ascii=False, allow_nan=False)
    path.write_text(text + "\n", encoding="utf-8")
    return []
