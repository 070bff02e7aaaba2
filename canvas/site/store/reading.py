"""Read all rows: those as we wrote them become records at once, the others are handed on."""

from __future__ import annotations

import json
import sqlite3
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely

from canvas.site.records import Kind, Record, kind, kinds
from canvas.site.store.rows import GEOM, Codec, codec, geometry_of, quoted, wkb_of


@dataclass(frozen=True, slots=True)
class Row:
    """A row as it stands in the file."""

    kind: Kind
    fid: int
    ident: object
    columns: dict[str, Any]
    blob: object


@dataclass(frozen=True, slots=True)
class Seen:
    """A record as we wrote it last."""

    ident: str
    kind: str
    fid: int
    text: str
    blob: bytes | None

    def record(self) -> Record:
        """Return the record; a field the text lacks gets its default."""
        columns = json.loads(self.text)
        return codec(kind(self.kind)).trusted(self.ident, columns, geometry_of(self.blob))


@dataclass(slots=True)
class Found:
    """What the file holds."""

    #: Records whose rows are as we wrote them.
    records: list[Record] = field(default_factory=list)
    #: Rows that are new or differ from what we wrote.
    odd: list[Row] = field(default_factory=list)
    #: What we wrote and is no longer there as it was, by identity.
    missing: dict[str, Seen] = field(default_factory=dict)


def read_all(con: sqlite3.Connection) -> Found:
    """Return everything in the tables of the kinds."""
    seen = {
        row[0]: Seen(*row)
        for row in con.execute("SELECT id, kind, fid, record, geom FROM hillwright_seen")
    }
    found = Found(missing=seen)
    for one in kinds().values():
        _read_kind(con, one, found)
    return found


def _read_kind(con: sqlite3.Connection, one: Kind, found: Found) -> None:
    how = codec(one)
    columns = ["rowid", GEOM if one.geometry else "NULL", "id", *map(quoted, how.names)]
    good: list[tuple[str, dict[str, Any], bytes]] = []
    rows = con.execute(f"SELECT {', '.join(columns)} FROM {quoted(one.key)} ORDER BY rowid")
    for fid, blob, ident, *values in rows:
        seen = found.missing.get(ident) if isinstance(ident, str) else None
        named = dict(zip(how.names, values, strict=True))
        as_written = (
            seen is not None
            and seen.fid == fid
            and seen.kind == one.key
            and seen.blob == blob
            and seen.text == how.text(values)
        )
        if as_written:
            del found.missing[ident]
            good.append((ident, named, blob))
        else:
            found.odd.append(Row(one, fid, ident, named, blob))
    found.records += _records(how, good)


def _records(how: Codec, good: list[tuple[str, dict[str, Any], bytes]]) -> list[Record]:
    if not how.is_element:
        return [how.trusted(ident, named, None) for ident, named, _ in good]
    shapes = shapely.from_wkb(np.array([wkb_of(blob) for *_, blob in good], dtype=object))
    return [
        how.trusted(ident, named, shape)
        for (ident, named, _), shape in zip(good, shapes, strict=True)
    ]
