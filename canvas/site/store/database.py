"""The store: one connection in one thread, one transaction for each step."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from canvas.base.errors import StoreTrouble
from canvas.base.sources import cites
from canvas.site.edits import Change, Edit
from canvas.site.facts import SITE_ID, Site
from canvas.site.history import History, Step
from canvas.site.plan import Plan
from canvas.site.records import Record, kinds
from canvas.site.store import geopackage, journal, migrations, outside, reading, tables
from canvas.site.store.files import sync_folder
from canvas.site.store.transaction import transaction
from canvas.site.store.trouble import UNREADABLE, damaged, translated
from canvas.site.store.writer import Writer

#: How long to wait for another program that is just writing [s].
PATIENCE_S = 3.0
CHANGED_OUTSIDE = "Changed outside"


@dataclass(frozen=True, slots=True)
class Loaded:
    """What a file held when it was read."""

    plan: Plan
    history: History
    revision: int
    saved_at: datetime
    notices: tuple[str, ...]


class Store:
    """A site file open for writing, or a copy of one in memory for reading."""

    def __init__(self, path: Path, con: sqlite3.Connection) -> None:
        self.path = path
        self._con = con
        self._writer: Writer | None = None
        self._version = 0

    # --- opening ------------------------------------------------------------------------------

    @classmethod
    def create(cls, path: Path, site: Site, records: Iterable[Record]) -> None:
        """Write a new site file, whole or not at all."""
        geopackage.check_crs(site.crs, path)
        plan = Plan([site, *records])
        temporary = path.with_name(f".{path.name}.new")
        with translated(path):
            for leftover in (temporary, temporary.with_name(temporary.name + "-journal")):
                leftover.unlink(missing_ok=True)
            try:
                con = _connect(temporary)
                try:
                    _be_durable(con, path)
                    migrations.migrate(con)
                    store = cls(path, con)
                    with transaction(con):
                        srs_id = geopackage.put_crs(con, site.crs)
                        tables.grow(con, tables.lacking(con, path), srs_id)
                        store._begin_writing(srs_id)
                        store.writer.write([Change(None, item) for item in plan], plan)
                finally:
                    con.close()
                temporary.replace(path)
            except BaseException:
                with contextlib.suppress(OSError):
                    temporary.unlink(missing_ok=True)
                raise
            sync_folder(path.parent)

    @classmethod
    def open(cls, path: Path) -> Store:
        """Open a site file for writing; the caller holds its lock.

        Raises
        ------
        FileTooNew
            A later version wrote it; the file is as it was.
        StoreTrouble
            It is damaged, or no site file.
        """
        with translated(path):
            con = _connect(path)
            try:
                migrations.refuse_foreign(con, path)
                _be_durable(con, path)
                return cls(path, con)
            except BaseException:
                con.close()
                raise

    @classmethod
    def read(cls, path: Path) -> Store:
        """Take a copy of a site file into memory; the file itself is let go at once."""
        with translated(path):
            memory = sqlite3.connect(":memory:", isolation_level=None)
            try:
                file = _connect(path, "ro")
                try:
                    migrations.refuse_foreign(file, path)
                    file.backup(memory, progress=_patience(path))
                finally:
                    file.close()
                geopackage.register_functions(memory)
                return cls(path, memory)
            except BaseException:
                memory.close()
                raise

    def load(self) -> Loaded:
        """Bring the file to today's form and read it."""
        con = self._con
        # Another program's text that is no UTF-8 must not keep the site from opening.
        con.text_factory = lambda raw: raw.decode("utf-8", "replace")
        with translated(self.path):
            migrations.migrate(con)
            srs_id = self._srs_id()
            lacks = tables.lacking(con, self.path)
            if lacks:
                with transaction(con):
                    tables.grow(con, lacks, srs_id)
            self._begin_writing(srs_id)
            plan, notices = self._take_in()
            history = journal.read(con)
            revision, saved_at = con.execute(
                "SELECT revision, saved_at FROM hillwright_state"
            ).fetchone()
            return Loaded(plan, history, revision, journal.moment_of(saved_at), tuple(notices))

    def _take_in(self) -> tuple[Plan, list[str]]:
        """Read all rows; write down what another program changed as one step."""
        with transaction(self._con):
            self._version = self._data_version()
            found = reading.read_all(self._con)
            plan, made = Plan(found.records), outside.Outside()
            if found.odd or found.missing:
                made = outside.compare(found, self.path)
                plan = Plan([*found.records, *made.records])
            if not isinstance(plan.get(SITE_ID), Site):
                raise damaged(self.path, "the record of the site itself is missing")
            if made:
                self._write_outside(made, plan)
        return plan, made.notices()

    def _write_outside(self, made: outside.Outside, plan: Plan) -> None:
        outside.carry_out(self._con, made, self.writer)
        if made.changes:
            at = journal.now()
            journal.append(self._con, CHANGED_OUTSIDE, at, None, made.changes)
            self._count(at)
        self.writer.touch(kinds(), plan)
        if any(isinstance(change.after, Site) for change in made.changes):
            self._follow_crs(plan)

    def _begin_writing(self, srs_id: int) -> None:
        self._writer = Writer(self._con, srs_id)

    @property
    def writer(self) -> Writer:
        """What writes rows; there is one once the file is in today's form."""
        assert self._writer is not None
        return self._writer

    def _srs_id(self) -> int:
        row = self._con.execute("SELECT srs_id FROM gpkg_geometry_columns LIMIT 1").fetchone()
        return int(row[0]) if row else 0

    def close(self) -> None:
        """Let go of the file."""
        self._con.close()

    # --- other programs -----------------------------------------------------------------------

    def _data_version(self) -> int:
        return int(self._con.execute("PRAGMA data_version").fetchone()[0])

    def changed_outside(self) -> bool:
        """Tell whether another program wrote to the file since we last looked."""
        with translated(self.path):
            return self._data_version() != self._version

    # --- steps --------------------------------------------------------------------------------

    @contextlib.contextmanager
    def _step(self) -> Iterator[None]:
        try:
            with translated(self.path), transaction(self._con):
                yield
        except BaseException:
            # Whatever the disk holds now, it is read again before the next step.
            self._version = -1
            self.writer.extents.clear()
            raise

    def record(
        self, edit: Edit, after: Plan, history: History, onto: Edit | None
    ) -> tuple[History, datetime]:
        """Commit an edit that leads to `after`: a new step, or part of the last one, `onto`."""
        at = journal.now()
        con = self._con
        with self._step():
            self._write(edit.changes, after)
            if onto is None:
                step = journal.append(con, edit.label, at, edit.merge_key, edit.changes)
                made = history.recorded(step, edit.merge_key)
            else:
                made = self._melt(edit.merged_onto(onto), at, history)
            self._count(at)
            oldest = journal.trim(con)
        return (made if oldest is None else made.trimmed(oldest)), at

    def _melt(self, both: Edit, at: datetime, history: History) -> History:
        number = history.position
        if both.changes:
            step = journal.amend(self._con, number, both.label, at, both.changes)
            return history.melted(step, both.merge_key)
        made = history.melted(None, None)
        journal.drop(self._con, number, made.position)
        return made

    def move(self, changes: Sequence[Change], after: Plan, position: int) -> datetime:
        """Commit an undo or redo that leads to `after`; `position` is the last step done then."""
        at = journal.now()
        with self._step():
            self._write(changes, after)
            journal.move(self._con, position)
            self._count(at)
        return at

    def _write(self, changes: Sequence[Change], after: Plan) -> None:
        self.writer.write(changes, after)
        if any(isinstance(change.after, Site) for change in changes):
            self._follow_crs(after)

    def _follow_crs(self, after: Plan) -> None:
        """Make the feature tables say the CRS the site says."""
        before = self.writer.srs_id
        self.writer.set_crs(after.site.crs)
        if self.writer.srs_id != before:
            self.writer.restamp(after)

    def _count(self, at: datetime) -> None:
        self._con.execute(
            "UPDATE hillwright_state SET revision=revision+1, saved_at=?", (journal.stamp(at),)
        )

    # --- reading the journal ------------------------------------------------------------------

    def changes_of(self, number: int) -> tuple[Change, ...]:
        """Return what a step changed."""
        with translated(self.path):
            try:
                return journal.changes_of(self._con, number)
            except UNREADABLE as error:
                raise StoreTrouble(
                    f"what step {number} changed can't be read any more ({error})",
                    where=str(self.path),
                    kept="The plan is as it was; only this step can't be undone or redone.",
                    remedy="Change things back by hand, or open a copy from before.",
                ) from error

    def past(self) -> list[Step]:
        """Return every step the journal holds, newest first."""
        with translated(self.path):
            return journal.past(self._con)

    def texts(self) -> Iterable[str]:
        """Yield every text that may name a file of the site: records, journal, rows aside."""
        return texts_in(self._con)

    def copy_to(self, path: Path) -> None:
        """Copy the site file to `path`, whole or not at all."""
        temporary = path.with_name(f".{path.name}.new")
        with translated(path):
            temporary.unlink(missing_ok=True)
            try:
                copy = _connect(temporary)
                try:
                    self._con.backup(copy)
                finally:
                    copy.close()
                with temporary.open("rb+") as file:
                    os.fsync(file.fileno())
                temporary.replace(path)
            except BaseException:
                with contextlib.suppress(OSError):
                    temporary.unlink(missing_ok=True)
                raise
            sync_folder(path.parent)


def texts_in(con: sqlite3.Connection) -> Iterable[str]:
    """Yield every text of a site file that may name a raster or attachment."""
    for table, column in (
        ("hillwright_seen", "record"),
        ("hillwright_set_aside", "record"),
    ):
        for (text,) in con.execute(f"SELECT {column} FROM {table}"):
            yield text
    for (blob,) in con.execute("SELECT changes FROM hillwright_journal"):
        yield journal.text_of(blob)


def _patience(path: Path) -> Callable[[int, int, int], None]:
    """Return what ends a copy that another program's writing has kept waiting for too long."""
    until = time.monotonic() + PATIENCE_S

    def look(status: int, remaining: int, total: int) -> None:
        if remaining and time.monotonic() > until:
            raise StoreTrouble(
                "another program is writing to the site file",
                where=str(path),
                remedy="Finish editing in the other program, then try again.",
            )

    return look


def _connect(path: Path, mode: str = "rwc") -> sqlite3.Connection:
    con = sqlite3.connect(
        f"{path.absolute().as_uri()}?mode={mode}",
        uri=True,
        timeout=PATIENCE_S,
        isolation_level=None,
    )
    geopackage.register_functions(con)
    return con


@cites("sqlite_pragma")
def _be_durable(con: sqlite3.Connection, path: Path) -> None:
    """Make a commit mean: on the disk, also after a power cut.

    EXTRA is FULL and also flushes the folder after the rollback journal is gone; without that a
    power cut just after a commit could bring the journal back, and undo the commit.
    """
    (mode,) = con.execute("PRAGMA journal_mode = DELETE").fetchone()
    if mode != "delete":
        raise StoreTrouble(
            "another program keeps the site file in a mode that isn't safe to write",
            where=str(path),
            kept="Nothing was changed.",
            remedy="Close the other program and try again.",
        )
    con.execute("PRAGMA synchronous = EXTRA")
    con.execute("PRAGMA fullfsync = 1")
