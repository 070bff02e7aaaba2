"""Write changes into the tables of the kinds, by column, and remember what was written."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Sequence
from typing import Any

from canvas.site.edits import Change
from canvas.site.plan import Plan
from canvas.site.records import Element, Kind, Record, element_kinds, kind_of, kinds
from canvas.site.store import geopackage
from canvas.site.store.rows import GEOM, TAKEN, as_text, codec, codec_of, geometry_blob, quoted
from canvas.site.store.tables import columns_of

SEEN = "INSERT OR REPLACE INTO hillwright_seen (id, kind, fid, record, geom) VALUES (?,?,?,?,?)"


class Writer:
    """Writes records as rows. Call it inside a transaction only."""

    def __init__(self, con: sqlite3.Connection, srs_id: int) -> None:
        self.con = con
        self.srs_id = srs_id
        #: Columns of other programs, by kind.
        self.foreign: dict[str, tuple[str, ...]] = {}
        #: Extents of the feature tables as far as they are known; clear after a failed commit.
        self.extents: dict[str, geopackage.Extent | None] = {}
        self.look_for_foreign()

    def look_for_foreign(self) -> None:
        """Find the columns that other programs added to our tables."""
        for key, kind in kinds().items():
            ours = TAKEN | set(codec(kind).names)
            self.foreign[key] = tuple(
                name for name in columns_of(self.con, key) if name not in ours
            )

    def write(self, changes: Sequence[Change], after: Plan) -> None:
        """Carry out changes that lead to the plan `after`, one per record."""
        gone: dict[str, list[Record]] = {}
        fresh: dict[str, list[Record]] = {}
        for change in changes:
            before, then = change.before, change.after
            if before is not None and then is not None and kind_of(before) is kind_of(then):
                self._update(before, then)
                continue
            if before is not None:
                gone.setdefault(kind_of(before).key, []).append(before)
            if then is not None:
                fresh.setdefault(kind_of(then).key, []).append(then)
        for key, items in gone.items():
            self._remove(kinds()[key], items)
        for key, items in fresh.items():
            self._insert(kinds()[key], items)
        self._stretch(changes)
        self.touch({kind_of(i).key for c in changes for i in (c.before, c.after) if i}, after)

    def touch(self, keys: Iterable[str], after: Plan) -> None:
        """Bring extent and date of last change of these kinds' tables up to date."""
        for key in keys:
            if key not in self.extents:
                shapes = (i.geometry for i in after.of_kind(key) if isinstance(i, Element))
                self.extents[key] = geopackage.total_extent(shapes)
            geopackage.set_extent(self.con, key, self.extents[key])

    def _stretch(self, changes: Sequence[Change]) -> None:
        """Let extents follow the changes; forget those that may have to shrink."""
        for change in changes:
            for item in (change.before, change.after):
                if not isinstance(item, Element):
                    continue
                key = kind_of(item).key
                extent = self.extents.get(key)
                if extent is None:
                    # Unknown, or of a table that was empty: to be worked out from the plan.
                    self.extents.pop(key, None)
                    continue
                west, south, east, north = item.geometry.bounds
                inside = west > extent[0] and south > extent[1]
                inside = inside and east < extent[2] and north < extent[3]
                if item is change.before and not inside:
                    del self.extents[key]
                elif item is change.after:
                    self.extents[key] = (
                        min(west, extent[0]), min(south, extent[1]),
                        max(east, extent[2]), max(north, extent[3]),
                    )  # fmt: skip

    def set_crs(self, crs: str) -> None:
        """Put all feature tables on another CRS; their coordinates stay as they are."""
        self.srs_id = geopackage.put_crs(self.con, crs)
        for key in element_kinds():
            for table in ("gpkg_contents", "gpkg_geometry_columns"):
                self.con.execute(
                    f"UPDATE {table} SET srs_id=? WHERE table_name=?", (self.srs_id, key)
                )

    def restamp(self, plan: Plan) -> None:
        """Write every geometry again with the CRS number of now in its header."""
        for item in plan.elements():
            blob = geometry_blob(item.geometry, self.srs_id)
            self.con.execute(
                f"UPDATE {quoted(kind_of(item).key)} SET {GEOM}=? WHERE id=?", (blob, item.id)
            )
            self.con.execute("UPDATE hillwright_seen SET geom=? WHERE id=?", (blob, item.id))

    def blob(self, item: Record) -> bytes | None:
        """Return an element's geometry as the column holds it; None for other records."""
        return geometry_blob(item.geometry, self.srs_id) if isinstance(item, Element) else None

    def put_row(self, item: Record, fid: int) -> None:
        """Make the row `fid` hold a record, and remember it."""
        how = codec_of(item)
        names, values = ["id", *how.names], [item.id, *how.columns(item)]
        blob = self.blob(item)
        if blob is not None:
            names.append(GEOM)
            values.append(blob)
        setting = ", ".join(f"{quoted(name)}=?" for name in names)
        self.con.execute(
            f"UPDATE {quoted(how.kind.key)} SET {setting} WHERE rowid=?", (*values, fid)
        )
        self._remember(item, fid, blob)

    def restore(self, item: Record) -> None:
        """Bring back a record whose row is gone."""
        self._insert(kind_of(item), [item])

    def _remember(self, item: Record, fid: int, blob: bytes | None) -> None:
        how = codec_of(item)
        text = how.text(how.columns(item))
        self.con.execute(SEEN, (item.id, how.kind.key, fid, text, blob))

    def _update(self, before: Record, after: Record) -> None:
        how = codec_of(after)
        table = quoted(how.kind.key)
        old, new = how.columns(before), how.columns(after)
        names = [n for n, a, b in zip(how.names, old, new, strict=True) if a != b]
        values = [b for a, b in zip(old, new, strict=True) if a != b]
        blob = self.blob(after)
        if blob is not None and blob != self.blob(before):
            names.append(GEOM)
            values.append(blob)
        if not names:
            return
        setting = ", ".join(f"{quoted(name)}=?" for name in names)
        done = self.con.execute(f"UPDATE {table} SET {setting} WHERE id=?", (*values, after.id))
        if done.rowcount == 0:
            # Another program removed the row a moment ago; the plan's word stands.
            self._insert(how.kind, [after])
            return
        self.con.execute(
            "UPDATE hillwright_seen SET record=?, geom=? WHERE id=?",
            (how.text(new), blob, after.id),
        )

    def _insert(self, kind: Kind, items: Sequence[Record]) -> None:
        how = codec(kind)
        names = ["fid", "id", *how.names, *([GEOM] if kind.geometry else [])]
        marks = ", ".join("?" * len(names))
        (last,) = self.con.execute(
            "SELECT max(coalesce((SELECT seq FROM sqlite_sequence WHERE name=?), 0), "
            f"coalesce((SELECT max(rowid) FROM {quoted(kind.key)}), 0))",
            (kind.key,),
        ).fetchone()
        rows, seen = [], []
        for fid, item in enumerate(items, last + 1):
            columns, blob = how.columns(item), self.blob(item)
            rows.append([fid, item.id, *columns, *([blob] if kind.geometry else [])])
            seen.append((item.id, kind.key, fid, how.text(columns), blob))
        self.con.executemany(
            f"INSERT INTO {quoted(kind.key)} ({', '.join(map(quoted, names))}) VALUES ({marks})",
            rows,
        )
        self.con.executemany(SEEN, seen)
        if self.foreign[kind.key]:
            self._give_back(kind, items)

    def _remove(self, kind: Kind, items: Sequence[Record]) -> None:
        if self.foreign[kind.key]:
            self._keep(kind, items)
        idents = [(item.id,) for item in items]
        self.con.executemany(f"DELETE FROM {quoted(kind.key)} WHERE id=?", idents)
        self.con.executemany("DELETE FROM hillwright_seen WHERE id=?", idents)

    def _keep(self, kind: Kind, items: Sequence[Record]) -> None:
        """Keep what other programs' columns hold, for when the removal is undone."""
        names = self.foreign[kind.key]
        wanted = ", ".join(map(quoted, names))
        for item in items:
            row = self.con.execute(
                f"SELECT {wanted} FROM {quoted(kind.key)} WHERE id=?", (item.id,)
            ).fetchone()
            if row is not None and any(value is not None for value in row):
                self.con.execute(
                    "INSERT OR REPLACE INTO hillwright_foreign VALUES (?, ?, ?)",
                    (item.id, kind.key, as_text(names, row)),
                )

    def _give_back(self, kind: Kind, items: Sequence[Record]) -> None:
        """Give other programs' columns what they held before the record was removed."""
        for item in items:
            row = self.con.execute(
                "SELECT columns FROM hillwright_foreign WHERE id=? AND kind=?", (item.id, kind.key)
            ).fetchone()
            if row is None:
                continue
            kept = {n: v for n, v in json.loads(row[0]).items() if n in self.foreign[kind.key]}
            if kept:
                setting = ", ".join(f"{quoted(name)}=?" for name in kept)
                self.con.execute(
                    f"UPDATE {quoted(kind.key)} SET {setting} WHERE id=?",
                    (*map(_held, kept.values()), item.id),
                )
            self.con.execute("DELETE FROM hillwright_foreign WHERE id=?", (item.id,))


def _held(value: Any) -> Any:
    return bytes.fromhex(value["hex"]) if isinstance(value, dict) else value
