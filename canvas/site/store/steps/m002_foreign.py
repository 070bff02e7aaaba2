"""Keep what other programs' columns held for a removed record, so that undo brings it back.

Frozen: see m001_first.
"""

from __future__ import annotations

import sqlite3

NAME = "m002_foreign"


def run(con: sqlite3.Connection) -> None:
    """Add the table of other programs' values."""
    con.execute(
        "CREATE TABLE hillwright_foreign "
        "(id TEXT NOT NULL, kind TEXT NOT NULL, columns TEXT NOT NULL, PRIMARY KEY (id, kind))"
    )
    con.execute(
        "INSERT INTO gpkg_extensions VALUES ('hillwright_foreign', NULL, 'hillwright_store', "
        "'Journal and bookkeeping of Hillwright; other programs leave it alone.', 'write-only')"
    )
