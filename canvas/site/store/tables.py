"""The tables of the kinds: made when missing, grown when a kind has gained a field.

Growing only adds, so it does not end undo: a column that an old journal entry lacks reads as the
field's default, as it does in the old rows.
"""

from __future__ import annotations

import json
import math
import sqlite3
from pathlib import Path

from canvas.base.errors import FileTooNew
from canvas.site.fields import FieldSpec, FieldType
from canvas.site.records import Kind, kinds
from canvas.site.store import geopackage
from canvas.site.store.rows import GEOM, SQL_TYPES, codec, quoted
from canvas.site.store.trouble import damaged


def refuse_newer(con: sqlite3.Connection, path: Path) -> None:
    """Refuse a file that holds kinds or fields this program doesn't know.

    Raises
    ------
    FileTooNew
        A later version wrote it.
    """
    known = kinds()
    for key, text in con.execute("SELECT kind, fields FROM hillwright_kinds"):
        mine = {spec.name for spec in known[key].specs} if key in known else set()
        if key not in known or set(json.loads(text)) - mine:
            raise too_new(path, f"{key} with {text}" if key in known else key)


def too_new(path: Path, what: str) -> FileTooNew:
    """Return the refusal of a file from a later version."""
    return FileTooNew(
        f"a later version of Hillwright wrote this site (it holds {what})",
        where=str(path),
        kept="The file was not touched.",
        remedy="Open it with that version, or install it here.",
    )


def columns_of(con: sqlite3.Connection, table: str) -> list[str]:
    """Return the columns a table has in the file; none when there is no such table."""
    return [row[1] for row in con.execute(f"PRAGMA table_info({quoted(table)})")]


def lacking(con: sqlite3.Connection, path: Path) -> list[Kind]:
    """Return the kinds whose table is missing or lacks a column."""
    found = []
    for kind in kinds().values():
        have = columns_of(con, kind.key)
        if have and kind.geometry and GEOM not in have:
            raise damaged(path, f"the table {kind.key} has no column {GEOM}")
        if not {"id", *codec(kind).names} <= set(have):
            found.append(kind)
    return found


def grow(con: sqlite3.Connection, lacks: list[Kind], srs_id: int) -> None:
    """Make missing tables and add missing columns."""
    for kind in lacks:
        have = columns_of(con, kind.key)
        if have:
            _add_columns(con, kind, set(have))
        else:
            _create(con, kind, srs_id)
        for spec in kind.specs:
            _describe(con, kind, spec)
        con.execute(
            "INSERT OR REPLACE INTO hillwright_kinds (kind, fields) VALUES (?, ?)",
            (kind.key, json.dumps(list(codec(kind).names))),
        )


def _create(con: sqlite3.Connection, kind: Kind, srs_id: int) -> None:
    table = kind.key
    columns = ["fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL"]
    if kind.geometry:
        columns.append(f"{GEOM} {kind.geometry.upper()}")
    columns.append("id TEXT UNIQUE")
    columns += [f"{quoted(spec.name)} {SQL_TYPES[spec.type]}" for spec in kind.specs]
    con.execute(f"CREATE TABLE {quoted(table)} ({', '.join(columns)})")
    con.execute("DELETE FROM gpkg_contents WHERE table_name=?", (table,))
    con.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, last_change, "
        f"srs_id) VALUES (?, ?, ?, ?, {geopackage.NOW}, ?)",
        (
            table,
            "features" if kind.geometry else "attributes",
            kind.plural,
            kind.help,
            srs_id if kind.geometry else 0,
        ),
    )
    if kind.geometry:
        con.execute(
            "INSERT OR REPLACE INTO gpkg_geometry_columns VALUES (?, ?, ?, ?, 0, 0)",
            (table, GEOM, kind.geometry.upper(), srs_id),
        )
        geopackage.add_rtree(con, table)


def _add_columns(con: sqlite3.Connection, kind: Kind, have: set[str]) -> None:
    if "id" not in have:
        con.execute(f"ALTER TABLE {quoted(kind.key)} ADD COLUMN id TEXT")
        con.execute(f"CREATE UNIQUE INDEX {quoted(f'{kind.key}_id')} ON {quoted(kind.key)} (id)")
    for spec in kind.specs:
        if spec.name not in have:
            con.execute(
                f"ALTER TABLE {quoted(kind.key)} "
                f"ADD COLUMN {quoted(spec.name)} {SQL_TYPES[spec.type]}"
            )


def _describe(con: sqlite3.Connection, kind: Kind, spec: FieldSpec) -> None:
    """Tell other programs a column's title, unit, range and choices (annex F.9)."""
    limits = f"{kind.key}_{spec.name}".lower()
    con.execute("DELETE FROM gpkg_data_column_constraints WHERE constraint_name=?", (limits,))
    put = (
        "INSERT INTO gpkg_data_column_constraints (constraint_name, constraint_type, value, min, "
        "min_is_inclusive, max, max_is_inclusive, description) VALUES (?, ?, ?, ?, ?, ?, ?, ?)"
    )
    constraint: str | None = limits
    numeric = spec.type in (FieldType.NUMBER, FieldType.INTEGER)
    if spec.type is FieldType.CHOICE:
        for one in spec.choices:
            con.execute(put, (limits, "enum", one.value, None, None, None, None, one.label))
    elif numeric and -math.inf < spec.low < spec.high < math.inf:
        con.execute(put, (limits, "range", None, spec.low, 1, spec.high, 1, spec.unit))
    else:
        constraint = None
    unit = f" [{spec.unit}]" if spec.unit not in ("", "count") else ""
    con.execute(
        "INSERT OR REPLACE INTO gpkg_data_columns (table_name, column_name, name, title, "
        "description, mime_type, constraint_name) VALUES (?, ?, ?, ?, ?, NULL, ?)",
        (kind.key, spec.name, spec.name, spec.label + unit, spec.help or None, constraint),
    )
