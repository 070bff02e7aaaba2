"""The journal: every step with what was before and after, packed, trimmed by size."""

from __future__ import annotations

import base64
import json
import sqlite3
import zlib
from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any

import shapely

from canvas.base.errors import InputError
from canvas.site.edits import Change
from canvas.site.history import History, Step
from canvas.site.records import Element, Record, kind
from canvas.site.store.rows import codec, codec_of

#: Room the journal may take [bytes]; the oldest steps go first.
LIMIT_BYTES = 64 * 1024 * 1024
#: What a step takes besides its packed changes [bytes], roughly.
ROW_BYTES = 256
#: First byte of a packed step: JSON, deflated.
FORMAT = b"\x01"


def now() -> datetime:
    """Return the moment, in UTC, to the millisecond the file keeps."""
    moment = datetime.now(UTC)
    return moment.replace(microsecond=moment.microsecond // 1000 * 1000)


def stamp(moment: datetime) -> str:
    """Return a moment as the file keeps it."""
    return (
        moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.") + f"{moment.microsecond // 1000:03}Z"
    )


def moment_of(text: str) -> datetime:
    """Return the moment a stamp stands for."""
    return datetime.fromisoformat(text)


# --- packing ----------------------------------------------------------------------------------


def _flat(item: Record | None) -> Any:
    if item is None:
        return None
    how = codec_of(item)
    columns = dict(zip(how.names, how.columns(item), strict=True))
    if not isinstance(item, Element):
        return [how.kind.key, columns]
    wkb = bytes(shapely.to_wkb(item.geometry, byte_order=1))
    return [how.kind.key, columns, base64.b64encode(wkb).decode("ascii")]


def _round(ident: str, flat: Any) -> Record | None:
    if flat is None:
        return None
    key, columns, *wkb = flat
    shape = shapely.from_wkb(base64.b64decode(wkb[0])) if wkb else None
    return codec(kind(key)).trusted(ident, columns, shape)


def pack(changes: Iterable[Change]) -> bytes:
    """Return changes in the journal's form."""
    flat = [[change.id, _flat(change.before), _flat(change.after)] for change in changes]
    text = json.dumps(flat, ensure_ascii=False, separators=(",", ":"))
    return FORMAT + zlib.compress(text.encode("utf-8"), 6)


def text_of(blob: bytes) -> str:
    """Return a packed step's JSON."""
    if blob[:1] != FORMAT:
        raise InputError("a journal entry of an unknown form")
    return zlib.decompress(blob[1:]).decode("utf-8")


def unpack(blob: bytes) -> tuple[Change, ...]:
    """Return the changes of a packed step; a field it lacks gets its default."""
    return tuple(
        Change(_round(ident, before), _round(ident, after))
        for ident, before, after in json.loads(text_of(blob))
    )


# --- rows -------------------------------------------------------------------------------------


def read(con: sqlite3.Connection) -> History:
    """Return the steps that can be undone and redone."""
    position, floor = con.execute("SELECT position, floor FROM hillwright_state").fetchone()
    steps = [
        Step(label, moment_of(at), number)
        for number, label, at in con.execute(
            "SELECT number, label, at FROM hillwright_journal WHERE number > ? ORDER BY number",
            (floor,),
        )
    ]
    done = tuple(step for step in steps if step.number <= position)
    undone = tuple(reversed([step for step in steps if step.number > position]))
    return History(done, undone)


def past(con: sqlite3.Connection) -> list[Step]:
    """Return every step the journal still holds, newest first, undoable or not."""
    rows = con.execute("SELECT label, at, number FROM hillwright_journal ORDER BY number DESC")
    return [Step(label, moment_of(at), number) for label, at, number in rows]


def changes_of(con: sqlite3.Connection, number: int) -> tuple[Change, ...]:
    """Return what a step changed."""
    row = con.execute("SELECT changes FROM hillwright_journal WHERE number=?", (number,)).fetchone()
    if row is None:
        raise InputError(f"the journal has no step {number}")
    return unpack(row[0])


def append(
    con: sqlite3.Connection, label: str, at: datetime, key: str | None, changes: Iterable[Change]
) -> Step:
    """Add a step after the current one; what was undone goes."""
    forget_undone(con)
    blob = pack(changes)
    size = len(blob) + ROW_BYTES
    number = con.execute(
        "INSERT INTO hillwright_journal (label, at, merge_key, size, changes) "
        "VALUES (?, ?, ?, ?, ?)",
        (label, stamp(at), key, size, blob),
    ).lastrowid
    assert number is not None
    con.execute(
        "UPDATE hillwright_state SET position=?, journal_bytes=journal_bytes+?", (number, size)
    )
    return Step(label, at, number)


def amend(
    con: sqlite3.Connection, number: int, label: str, at: datetime, changes: Iterable[Change]
) -> Step:
    """Replace a step by one that also does what came after it."""
    blob = pack(changes)
    size = len(blob) + ROW_BYTES
    (old,) = con.execute("SELECT size FROM hillwright_journal WHERE number=?", (number,)).fetchone()
    con.execute(
        "UPDATE hillwright_journal SET label=?, at=?, size=?, changes=? WHERE number=?",
        (label, stamp(at), size, blob, number),
    )
    con.execute("UPDATE hillwright_state SET journal_bytes=journal_bytes+?", (size - old,))
    return Step(label, at, number)


def drop(con: sqlite3.Connection, number: int, position: int) -> None:
    """Remove a step of which nothing is left; `position` becomes the last one done."""
    con.execute(
        "UPDATE hillwright_state SET position=?, journal_bytes = journal_bytes - "
        "coalesce((SELECT size FROM hillwright_journal WHERE number=?), 0)",
        (position, number),
    )
    con.execute("DELETE FROM hillwright_journal WHERE number=?", (number,))


def move(con: sqlite3.Connection, position: int) -> None:
    """Set the last step done, after an undo or redo."""
    con.execute("UPDATE hillwright_state SET position=?", (position,))


def forget_undone(con: sqlite3.Connection) -> None:
    """Remove the steps after the current one."""
    where = "number > (SELECT max(position, floor) FROM hillwright_state)"
    (size,) = con.execute(
        f"SELECT coalesce(sum(size), 0) FROM hillwright_journal WHERE {where}"
    ).fetchone()
    con.execute(f"DELETE FROM hillwright_journal WHERE {where}")
    con.execute("UPDATE hillwright_state SET journal_bytes=journal_bytes-?", (size,))


def trim(con: sqlite3.Connection) -> int | None:
    """Remove the oldest steps while the journal is too big, never the last one done.

    Returns the number of the oldest step left; None when nothing had to go.
    """
    total, position = con.execute("SELECT journal_bytes, position FROM hillwright_state").fetchone()
    if total <= LIMIT_BYTES:
        return None
    gone = 0
    rows = con.execute(
        "SELECT number, size FROM hillwright_journal WHERE number < ? ORDER BY number", (position,)
    )
    for number, size in rows:
        if total <= LIMIT_BYTES:
            break
        gone, total = number, total - size
    rows.close()
    con.execute("DELETE FROM hillwright_journal WHERE number <= ?", (gone,))
    con.execute("UPDATE hillwright_state SET journal_bytes=?", (total,))
    return gone + 1
