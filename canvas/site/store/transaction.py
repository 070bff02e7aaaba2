"""One transaction: all of it or nothing, on disk before the block is left."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def transaction(con: sqlite3.Connection) -> Iterator[None]:
    """Commit what the block writes; take everything back when it, or the commit, fails."""
    con.execute("BEGIN IMMEDIATE")
    try:
        yield
        con.execute("COMMIT")
    except BaseException:
        # A disk error may have rolled back already.
        if con.in_transaction:
            con.execute("ROLLBACK")
        raise
