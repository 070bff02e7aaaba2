"""GeoPackage: a layer for each kind, in the site's CRS, with typed columns."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import shapely

from canvas.exchange.names import column_of
from canvas.exchange.writers.rows import Row
from canvas.site.fields import FieldSpec, FieldType
from canvas.site.records import Kind


def write(path: Path, rows: list[Row], crs: str) -> list[str]:
    """Write a layer for each kind; return notes."""
    from pyogrio.raw import write as write_layer

    groups: dict[str, list[Row]] = {}
    for row in rows:
        groups.setdefault(row.kind.key, []).append(row)
    for key, members in groups.items():
        kind = members[0].kind
        headings, columns, masks = _columns(kind, members)
        write_layer(
            path,
            np.array([shapely.to_wkb(row.element.geometry) for row in members], object),
            columns,
            headings,
            field_mask=masks,
            layer=key,
            driver="GPKG",
            geometry_type=kind.geometry,
            crs=crs,
            append=path.exists(),
            layer_options={"GEOMETRY_NAME": "geom", "FID": "fid", "DESCRIPTION": kind.plural},
        )
    return []


def _columns(kind: Kind, members: list[Row]) -> tuple[list[str], list[Any], list[Any]]:
    ids = np.array([row.element.id for row in members], object)
    headings, columns, masks = ["id"], [ids], [None]
    for spec in kind.specs:
        heading = column_of(spec)
        column, mask = _column(spec, [row.values[heading] for row in members])
        headings.append(heading)
        columns.append(column)
        masks.append(mask)
    return headings, columns, masks


def _column(spec: FieldSpec, values: list[Any]) -> tuple[Any, Any]:
    """Return a typed column and which of its values are unknown."""
    unknown = np.array([value is None or value == "" for value in values])
    if spec.type is FieldType.NUMBER:
        return np.array([np.nan if v is None else v for v in values], np.float64), unknown
    if spec.type is FieldType.INTEGER:
        return np.array([0 if v is None else v for v in values], np.int64), unknown
    if spec.type is FieldType.FLAG:
        return np.array([bool(v) for v in values]), None
    if spec.type is FieldType.DATE:
        return np.array([v or "NaT" for v in values], "datetime64[D]"), unknown
    return np.array([str(v) for v in values], object), None
