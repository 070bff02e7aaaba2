"""What the GeoPackage standard asks for: functions, coordinate systems, feature tables, R-trees.

Source: geopackage13 (clauses 1.1, 2.1, annexes F.3 and F.9).
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData
from canvas.base.sources import cites
from canvas.site.store.rows import GEOM, envelope_of, is_empty_blob, quoted

APPLICATION_ID = 0x47504B47
USER_VERSION = 10300
#: Number of a coordinate system that has no EPSG code.
OWN_SRS_ID = 100_000
#: ISO 8601 in UTC, as `last_change` wants it.
NOW = "strftime('%Y-%m-%dT%H:%M:%fZ','now')"

Extent = tuple[float, float, float, float]


def register_functions(con: sqlite3.Connection) -> None:
    """Give the connection the functions that the R-tree triggers call."""

    def side(place: int) -> None:
        def read(blob: bytes | None) -> float | None:
            found = None if blob is None else envelope_of(blob)
            return None if found is None else found[place]

        name = ("ST_MinX", "ST_MaxX", "ST_MinY", "ST_MaxY")[place]
        con.create_function(name, 1, read, deterministic=True)

    con.create_function("ST_IsEmpty", 1, is_empty_blob, deterministic=True)
    for place in range(4):
        side(place)


# --- coordinate systems -----------------------------------------------------------------------


@lru_cache(maxsize=16)
def _described(crs: str) -> tuple[str, str, int, str]:
    """Return name, authority, code and WKT 1 of a projected CRS in metres."""
    import pyproj

    try:
        made = pyproj.CRS.from_user_input(crs)
        wkt = made.to_wkt("WKT1_GDAL")
    except pyproj.exceptions.CRSError as error:
        raise ValueError("nobody knows this CRS") from error
    if not made.is_projected:
        raise ValueError("it is not a projected CRS")
    if any(abs(axis.unit_conversion_factor - 1.0) > 1e-12 for axis in made.axis_info):
        raise ValueError("it is not in metres")
    authority, code = made.to_authority(min_confidence=100) or ("NONE", "0")
    if not code.isdigit():
        authority, code = "NONE", "0"
    return made.name, authority, int(code), wkt


def check_crs(crs: str, where: Path) -> None:
    """Refuse a CRS that a site can't stand on.

    Raises
    ------
    BadData
        Unknown, not projected, or not in metres.
    """
    try:
        _described(crs.strip())
    except ValueError as error:
        raise BadData(
            f"the CRS “{crs}” can't be used: {error}",
            where=str(where),
            kept="Nothing was changed.",
            remedy="Give a projected CRS in metres, such as EPSG:7854 or EPSG:32629.",
        ) from error


def put_crs(con: sqlite3.Connection, crs: str) -> int:
    """Make sure the file knows the CRS and return its number there."""
    name, authority, code, wkt = _described(crs.strip())
    srs_id = code if authority == "EPSG" else OWN_SRS_ID
    con.execute(
        "INSERT OR REPLACE INTO gpkg_spatial_ref_sys "
        "(srs_name, srs_id, organization, organization_coordsys_id, definition, description) "
        "VALUES (?, ?, ?, ?, ?, NULL)",
        (name, srs_id, authority, code if authority != "NONE" else srs_id, wkt),
    )
    return srs_id


# --- feature tables ---------------------------------------------------------------------------


def rtree_name(table: str) -> str:
    """Return the name of a feature table's R-tree."""
    return f"rtree_{table}_{GEOM}"


@cites("geopackage13")
def add_rtree(con: sqlite3.Connection, table: str) -> None:
    """Add the spatial index with its triggers, filled, and register it (annex F.3)."""
    tree, name = quoted(rtree_name(table)), rtree_name(table)
    sides = f"ST_MinX(NEW.{GEOM}), ST_MaxX(NEW.{GEOM}), ST_MinY(NEW.{GEOM}), ST_MaxY(NEW.{GEOM})"
    put = f"INSERT OR REPLACE INTO {tree} VALUES (NEW.fid, {sides});"
    some = f"(NEW.{GEOM} NOTNULL AND NOT ST_IsEmpty(NEW.{GEOM}))"
    none = f"(NEW.{GEOM} ISNULL OR ST_IsEmpty(NEW.{GEOM}))"
    same, other = "OLD.fid = NEW.fid", "OLD.fid != NEW.fid"
    drop = f"DELETE FROM {tree} WHERE id = OLD.fid;"
    both = f"DELETE FROM {tree} WHERE id IN (OLD.fid, NEW.fid);"
    triggers = (
        ("insert", "INSERT", f"(NEW.{GEOM} NOT NULL AND NOT ST_IsEmpty(NEW.{GEOM}))", put),
        ("update1", f"UPDATE OF {GEOM}", f"{same} AND {some}", put),
        ("update2", f"UPDATE OF {GEOM}", f"{same} AND {none}", drop),
        ("update3", "UPDATE", f"{other} AND {some}", drop + " " + put),
        ("update4", "UPDATE", f"{other} AND {none}", both),
        ("delete", "DELETE", f"OLD.{GEOM} NOT NULL", drop),
    )
    con.execute(f"CREATE VIRTUAL TABLE {tree} USING rtree(id, minx, maxx, miny, maxy)")
    con.execute(
        f"INSERT OR REPLACE INTO {tree} SELECT fid, ST_MinX({GEOM}), ST_MaxX({GEOM}), "
        f"ST_MinY({GEOM}), ST_MaxY({GEOM}) FROM {quoted(table)} "
        f"WHERE {GEOM} NOT NULL AND NOT ST_IsEmpty({GEOM})"
    )
    for suffix, event, when, action in triggers:
        con.execute(
            f"CREATE TRIGGER {quoted(f'{name}_{suffix}')} AFTER {event} ON {quoted(table)} "
            f"WHEN {when} BEGIN {action} END"
        )
    con.execute(
        "INSERT OR REPLACE INTO gpkg_extensions VALUES (?, ?, 'gpkg_rtree_index', "
        "'http://www.geopackage.org/spec120/#extension_rtree', 'write-only')",
        (table, GEOM),
    )


def set_extent(con: sqlite3.Connection, table: str, extent: Extent | None) -> None:
    """Write a feature table's extent and the moment of its last change."""
    con.execute(
        f"UPDATE gpkg_contents SET min_x=?, min_y=?, max_x=?, max_y=?, last_change={NOW} "
        "WHERE table_name=?",
        (*(extent or (None, None, None, None)), table),
    )


def total_extent(geometries: Iterable[BaseGeometry]) -> Extent | None:
    """Return the extent of geometries [m]; None when there are none."""
    shapes = np.array(list(geometries), dtype=object)
    if not shapes.size:
        return None
    min_x, min_y, max_x, max_y = (float(side) for side in shapely.total_bounds(shapes))
    return min_x, min_y, max_x, max_y
