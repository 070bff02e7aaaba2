"""What another program changed: one edit to undo, and rows set aside that can't be part of a plan.

Nothing of the other program's is lost: a row that can't be used is kept whole in a table of its
own, and the record it stood for goes back to what it was.
"""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass, field
from pathlib import Path

from shapely.geometry.base import BaseGeometry

from canvas.base.errors import BadData
from canvas.base.ident import new_id
from canvas.site.edits import Change
from canvas.site.facts import SITE_ID, Site
from canvas.site.records import Record, kind_of
from canvas.site.store.geopackage import NOW, check_crs
from canvas.site.store.reading import Found, Row, Seen
from canvas.site.store.rows import as_text, codec, geometry_of, quoted
from canvas.site.store.writer import Writer

LONGEST_ID = 64


@dataclass(slots=True)
class Outside:
    """How the file's rows differ from what we wrote."""

    changes: list[Change] = field(default_factory=list)
    #: Records to write to a row again: changed ones, and those only spelt another way.
    puts: list[tuple[Record, int]] = field(default_factory=list)
    #: Records whose row is gone and has to come back.
    restores: list[Record] = field(default_factory=list)
    #: Rows to keep apart, with the reason; the record that takes the row back, if any.
    aside: list[tuple[Row, str, Record | None]] = field(default_factory=list)
    #: Records the plan holds besides those read as they were written.
    records: list[Record] = field(default_factory=list)

    def __bool__(self) -> bool:
        return bool(self.changes or self.puts or self.restores or self.aside)

    def notices(self) -> list[str]:
        """Say what was found, in plain words."""
        words = []
        if self.changes:
            added = sum(c.before is None for c in self.changes)
            removed = sum(c.after is None for c in self.changes)
            changed = len(self.changes) - added - removed
            words.append(
                f"Another program changed this site: {added} added, {changed} changed, "
                f"{removed} removed. Undo takes it back."
            )
        for row, why, back in self.aside:
            kept = "what was there before stays" if back is not None else "it is not in the plan"
            words.append(
                f"Row {row.fid} of {row.kind.plural} was changed by another program and can't be "
                f"used ({why}): {kept}; the row is kept in the table hillwright_set_aside."
            )
        return words


def compare(found: Found, path: Path) -> Outside:
    """Work out what another program did to the file."""
    made = Outside()
    missing = dict(found.missing)
    by_row = {(seen.kind, seen.fid): seen for seen in missing.values()}
    present = {(row.kind.key, row.ident) for row in found.odd}
    taken = {item.id for item in found.records}
    for row in found.odd:
        seen = _identity(row, missing, by_row, present)
        if seen is not None:
            del missing[seen.ident]
        ident = seen.ident if seen is not None else _fresh_id(row, taken, found.missing)
        taken.add(ident)
        _judge(row, ident, seen, path, made)
    for seen in missing.values():
        before = seen.record()
        if seen.ident == SITE_ID:
            made.restores.append(before)
            made.records.append(before)
        else:
            made.changes.append(Change(before, None))
    return made


def _identity(
    row: Row,
    missing: dict[str, Seen],
    by_row: dict[tuple[str, int], Seen],
    present: set[tuple[str, object]],
) -> Seen | None:
    """Return what the row was when we wrote it: by identity, else by row number."""
    if isinstance(row.ident, str):
        seen = missing.get(row.ident)
        if seen is not None and seen.kind == row.kind.key:
            return seen
    seen = by_row.get((row.kind.key, row.fid))
    if seen is None or seen.ident not in missing or (row.kind.key, seen.ident) in present:
        return None
    return seen


def _fresh_id(row: Row, taken: set[str], missing: dict[str, Seen]) -> str:
    ident = row.ident
    usable = isinstance(ident, str) and 0 < len(ident) <= LONGEST_ID and ident.isprintable()
    if usable and ident not in taken and ident not in missing:
        assert isinstance(ident, str)
        return ident
    return new_id()


def _judge(row: Row, ident: str, seen: Seen | None, path: Path, made: Outside) -> None:
    before = seen.record() if seen is not None else None
    try:
        after = _record(row, ident)
        if isinstance(after, Site):
            _check_site(after, before, path)
    except BadData as error:
        made.aside.append((row, error.what, before))
        if before is not None:
            made.records.append(before)
        return
    made.puts.append((after, row.fid))
    made.records.append(after)
    if before != after:
        made.changes.append(Change(before, after))


def _check_site(after: Site, before: Record | None, path: Path) -> None:
    if after.id != SITE_ID:
        raise BadData("a file holds one site")
    if not isinstance(before, Site) or after.crs != before.crs:
        check_crs(after.crs, path)


def _record(row: Row, ident: str) -> Record:
    """Return the record a row makes; `BadData` when it makes none."""
    how = codec(row.kind)
    values = how.values(row.columns)
    if how.is_element:
        values["geometry"] = _single(geometry_of(row.blob))
    return row.kind.cls(id=ident, **values)


def _single(shape: BaseGeometry | None) -> BaseGeometry:
    """Return a geometry, taken out of its collection when it is the only one in it."""
    if shape is None:
        raise BadData("Shape: there is none")
    parts = getattr(shape, "geoms", None)
    if parts is not None and len(parts) == 1:
        only: BaseGeometry = parts[0]
        return only
    return shape


def carry_out(con: sqlite3.Connection, made: Outside, writer: Writer) -> None:
    """Write down what was found, inside a transaction: memory, fresh identities, rows aside."""
    for row, why, back in made.aside:
        con.execute(
            "INSERT INTO hillwright_set_aside (at, kind, fid, why, record, geom) "
            f"VALUES ({NOW}, ?, ?, ?, ?, ?)",
            (row.kind.key, row.fid, why, _whole(con, row), row.blob),
        )
        if back is None:
            con.execute(f"DELETE FROM {quoted(row.kind.key)} WHERE rowid=?", (row.fid,))
    for change in made.changes:
        if change.after is None:
            con.execute("DELETE FROM hillwright_seen WHERE id=?", (change.id,))
    # Identities may have been swapped between rows: free them before they are given out again.
    backs = [(back, row.fid) for row, _, back in made.aside if back is not None]
    puts = [*made.puts, *backs]
    for item, fid in puts:
        table = quoted(kind_of(item).key)
        con.execute(f"UPDATE {table} SET id=NULL WHERE rowid=?", (fid,))
    for item, fid in puts:
        writer.put_row(item, fid)
    for item in made.restores:
        writer.restore(item)


def _whole(con: sqlite3.Connection, row: Row) -> str:
    """Return a row's columns as text, other programs' included."""
    cursor = con.execute(f"SELECT * FROM {quoted(row.kind.key)} WHERE rowid=?", (row.fid,))
    values = cursor.fetchone()
    return as_text([part[0] for part in cursor.description], values)
