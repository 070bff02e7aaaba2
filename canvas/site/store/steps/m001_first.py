"""The first form of a site file: the GeoPackage core tables and our own beside them.

Frozen: it knows nothing of the kinds and imports nothing that may change.
Source of the core tables: geopackage13, annex C.
"""

from __future__ import annotations

import sqlite3

NAME = "m001_first"

_CORE = (
    """CREATE TABLE gpkg_spatial_ref_sys (
        srs_name TEXT NOT NULL,
        srs_id INTEGER PRIMARY KEY,
        organization TEXT NOT NULL,
        organization_coordsys_id INTEGER NOT NULL,
        definition TEXT NOT NULL,
        description TEXT
    )""",
    """CREATE TABLE gpkg_contents (
        table_name TEXT NOT NULL PRIMARY KEY,
        data_type TEXT NOT NULL,
        identifier TEXT UNIQUE,
        description TEXT DEFAULT '',
        last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
        min_x DOUBLE,
        min_y DOUBLE,
        max_x DOUBLE,
        max_y DOUBLE,
        srs_id INTEGER,
        CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id)
    )""",
    """CREATE TABLE gpkg_geometry_columns (
        table_name TEXT NOT NULL,
        column_name TEXT NOT NULL,
        geometry_type_name TEXT NOT NULL,
        srs_id INTEGER NOT NULL,
        z TINYINT NOT NULL,
        m TINYINT NOT NULL,
        CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
        CONSTRAINT uk_gc_table_name UNIQUE (table_name),
        CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
        CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id)
    )""",
    """CREATE TABLE gpkg_extensions (
        table_name TEXT,
        column_name TEXT,
        extension_name TEXT NOT NULL,
        definition TEXT NOT NULL,
        scope TEXT NOT NULL,
        CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name)
    )""",
    """CREATE TABLE gpkg_data_columns (
        table_name TEXT NOT NULL,
        column_name TEXT NOT NULL,
        name TEXT,
        title TEXT,
        description TEXT,
        mime_type TEXT,
        constraint_name TEXT,
        CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name),
        CONSTRAINT gdc_tn UNIQUE (table_name, name)
    )""",
    """CREATE TABLE gpkg_data_column_constraints (
        constraint_name TEXT NOT NULL,
        constraint_type TEXT NOT NULL,
        value TEXT,
        min NUMERIC,
        min_is_inclusive BOOLEAN,
        max NUMERIC,
        max_is_inclusive BOOLEAN,
        description TEXT,
        CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value)
    )""",
)

_WGS84 = (
    'GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,'
    'AUTHORITY["EPSG","7030"]],AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0,'
    'AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]],'
    'AUTHORITY["EPSG","4326"]]'
)

_SYSTEMS = (
    ("Undefined Cartesian SRS", -1, "NONE", -1, "undefined"),
    ("Undefined geographic SRS", 0, "NONE", 0, "undefined"),
    ("WGS 84 geodetic", 4326, "EPSG", 4326, _WGS84),
)

_OWN = {
    # The migrations this file has been through.
    "hillwright_migrations": "name TEXT PRIMARY KEY NOT NULL, at DATETIME NOT NULL",
    # Each kind the file has a table for, with the fields we made columns of.
    "hillwright_kinds": "kind TEXT PRIMARY KEY NOT NULL, fields TEXT NOT NULL",
    # One row: the last step done, the last that can't be undone any more, counters.
    "hillwright_state": (
        "id INTEGER PRIMARY KEY CHECK (id = 1), position INTEGER NOT NULL, "
        "floor INTEGER NOT NULL, revision INTEGER NOT NULL, saved_at DATETIME NOT NULL, "
        "journal_bytes INTEGER NOT NULL"
    ),
    # Every step with what it changed, packed.
    "hillwright_journal": (
        "number INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, label TEXT NOT NULL, "
        "at DATETIME NOT NULL, merge_key TEXT, size INTEGER NOT NULL, changes BLOB NOT NULL"
    ),
    # Each record as we wrote it last: what another program changed is what differs.
    "hillwright_seen": (
        "id TEXT PRIMARY KEY NOT NULL, kind TEXT NOT NULL, fid INTEGER NOT NULL, "
        "record TEXT NOT NULL, geom BLOB"
    ),
    # Rows of other programs that can't be part of a plan, kept whole.
    "hillwright_set_aside": (
        "number INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, at DATETIME NOT NULL, "
        "kind TEXT NOT NULL, fid INTEGER NOT NULL, why TEXT NOT NULL, record TEXT NOT NULL, "
        "geom BLOB"
    ),
}


def run(con: sqlite3.Connection) -> None:
    """Turn an empty database into a site file without records."""
    con.execute(f"PRAGMA application_id = {0x47504B47}")
    con.execute("PRAGMA user_version = 10300")
    for sql in _CORE:
        con.execute(sql)
    con.executemany("INSERT INTO gpkg_spatial_ref_sys VALUES (?, ?, ?, ?, ?, NULL)", _SYSTEMS)
    for table in ("gpkg_data_columns", "gpkg_data_column_constraints"):
        con.execute(
            "INSERT INTO gpkg_extensions VALUES (?, NULL, 'gpkg_schema', "
            "'http://www.geopackage.org/spec121/#extension_schema', 'read-write')",
            (table,),
        )
    for table, columns in _OWN.items():
        con.execute(f"CREATE TABLE {table} ({columns})")
        con.execute(
            "INSERT INTO gpkg_extensions VALUES (?, NULL, 'hillwright_store', "
            "'Journal and bookkeeping of Hillwright; other programs leave it alone.', "
            "'write-only')",
            (table,),
        )
    con.execute(
        "INSERT INTO hillwright_state VALUES (1, 0, 0, 0, strftime('%Y-%m-%dT%H:%M:%fZ','now'), 0)"
    )
