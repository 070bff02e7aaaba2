"""Bring an older site file to today's form, one named migration after the other.

GeoPackage owns `application_id` and `user_version`, so what a file has been through stands in a
table of our own. Each migration is one transaction together with its row there, and ends undo:
entries from before it stay readable in the journal.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

from canvas.site.store import geopackage, steps
from canvas.site.store.tables import refuse_newer, too_new
from canvas.site.store.transaction import transaction
from canvas.site.store.trouble import damaged


def applied(con: sqlite3.Connection) -> set[str]:
    """Return the names of the migrations a file has been through; none for a strange file."""
    found = con.execute(
        "SELECT 1 FROM sqlite_master WHERE type='table' AND name='hillwright_migrations'"
    ).fetchone()
    if found is None:
        return set()
    return {name for (name,) in con.execute("SELECT name FROM hillwright_migrations")}


def refuse_foreign(con: sqlite3.Connection, path: Path) -> None:
    """Refuse a file that isn't ours or is from a later version, before anything is touched.

    Raises
    ------
    StoreTrouble
        It is no site file.
    FileTooNew
        A later version wrote it.
    """
    (number,) = con.execute("PRAGMA application_id").fetchone()
    (pages,) = con.execute("PRAGMA page_count").fetchone()
    (page_bytes,) = con.execute("PRAGMA page_size").fetchone()
    if path.stat().st_size < pages * page_bytes:
        raise damaged(path, "its end is missing")
    done = applied(con)
    if number != geopackage.APPLICATION_ID or not done:
        raise damaged(path, "nothing of Hillwright is in it")
    unknown = sorted(done - {step.NAME for step in steps.ALL})
    if unknown:
        raise too_new(path, ", ".join(unknown))
    refuse_newer(con, path)


def migrate(con: sqlite3.Connection) -> bool:
    """Run the migrations a file lacks; tell whether there were any."""
    done = applied(con)
    lacks = [step for step in steps.ALL if step.NAME not in done]
    for step in lacks:
        with transaction(con):
            step.run(con)
            con.execute(
                f"INSERT INTO hillwright_migrations (name, at) VALUES (?, {geopackage.NOW})",
                (step.NAME,),
            )
            con.execute(
                "UPDATE hillwright_state SET floor = "
                "(SELECT coalesce(max(number), 0) FROM hillwright_journal)"
            )
    return bool(lacks)
