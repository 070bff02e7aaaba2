"""A session: one site open, with its plan, history and file. An edit that returns is on disk."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Literal, Self

from canvas.base.errors import BadData, InputError, SiteReadOnly, StoreTrouble
from canvas.base.progress import Progress, silent
from canvas.site.edits import Change, Edit
from canvas.site.facts import SITE_ID, Site
from canvas.site.history import History, Step
from canvas.site.plan import Plan
from canvas.site.records import Record
from canvas.site.store import copies, files, geopackage
from canvas.site.store.database import CHANGED_OUTSIDE, Loaded, Store
from canvas.site.store.lock import Lock
from canvas.site.store.trouble import translated

__all__ = ["SITE_FILE", "Session", "Step", "Touched"]

SITE_FILE = "site.gpkg"


@dataclass(frozen=True, slots=True)
class Touched:
    """What a step did: the identities it changed and the plan on either side."""

    ids: frozenset[str]
    before: Plan
    after: Plan
    label: str
    what: Literal["apply", "undo", "redo", "reload"]


class Session:
    """A site that is open.

    Use it from the thread that opened it; plans may be shared with any thread. A site that
    another process holds, or whose folder can't be written, opens read-only and says why.
    """

    def __init__(self, file: Path, store: Store, lock: Lock | None, reason: str) -> None:
        self.file = file
        self.folder = file.parent
        self.readonly_reason = reason
        self.listeners: list[Callable[[Touched], None]] = []
        self._store = store
        self._lock = lock
        self._thread = threading.get_ident()
        self._last: Edit | None = None
        self._closed = False
        #: What was found on opening that the person should know.
        self.notices: tuple[str, ...] = ()
        self._take(store.load())
        self.notices += tuple(self._missing_files())

    def _take(self, loaded: Loaded) -> None:
        self.plan: Plan = loaded.plan
        self._history: History = loaded.history
        self.revision = loaded.revision
        self.saved_at = loaded.saved_at
        self.notices += loaded.notices
        self._last = None

    # --- opening and closing ------------------------------------------------------------------

    @classmethod
    def start(cls, folder: Path, site: Site, records: Iterable[Record] = ()) -> Session:
        """Begin a site in a folder (made when missing), or under a `.gpkg` path.

        Raises
        ------
        StoreTrouble
            A site is there already.
        BadData
            The site's CRS is unknown, or not projected in metres.
        """
        file = _site_file(Path(folder))
        geopackage.check_crs(site.crs, file)
        with translated(file):
            file.parent.mkdir(parents=True, exist_ok=True)
        lock = Lock(file)
        try:
            if file.exists():
                raise StoreTrouble(
                    "there is a site already",
                    where=str(file),
                    kept="It was left as it is.",
                    remedy="Open that site, or begin the new one in another folder.",
                )
            Store.create(file, site, records)
            return cls._writable(file, lock)
        except BaseException:
            lock.release()
            raise

    @classmethod
    def open(cls, folder: Path, *, readonly: bool = False) -> Session:
        """Open the site in a folder, or a `.gpkg` file; read-only when it can't be written.

        Raises
        ------
        StoreTrouble
            There is no site, or its file is damaged; it is left as it was.
        FileTooNew
            A later version wrote it; it is left as it was.
        """
        file = _site_file(Path(folder))
        if not cls.is_site(file):
            raise StoreTrouble(
                "there is no site here",
                where=str(file),
                remedy="Choose the folder that holds a site.gpkg, or begin a new site.",
            )
        if readonly:
            return cls(file, copies.read(file), None, "Opened for reading only.")
        try:
            lock = Lock(file)
        except SiteReadOnly as refused:
            return cls(file, copies.read(file), None, refused.text())
        try:
            return cls._writable(file, lock)
        except SiteReadOnly as refused:
            lock.release()
            return cls(file, copies.read(file), None, refused.text())
        except BaseException:
            lock.release()
            raise

    @classmethod
    def _writable(cls, file: Path, lock: Lock) -> Session:
        copies.refuse_unwritable(file)
        store = Store.open(file)
        try:
            return cls(file, store, lock, "")
        except BaseException:
            store.close()
            raise

    @staticmethod
    def is_site(folder: Path) -> bool:
        """Tell whether a folder holds a site, or a `.gpkg` path names a file."""
        return _site_file(Path(folder)).is_file()

    @property
    def readonly(self) -> bool:
        """Whether edits are refused."""
        return bool(self.readonly_reason)

    def close(self) -> None:
        """Let go of file and lock. There is nothing to save."""
        if self._closed:
            return
        self._guard()
        self._closed = True
        self._store.close()
        if self._lock is not None:
            self._lock.release()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _guard(self) -> None:
        if self._closed:
            raise InputError("the session is closed")
        if threading.get_ident() != self._thread:
            raise InputError("a session is used from the thread that opened it, and no other")

    def _guard_writing(self) -> None:
        self._guard()
        self._refuse_readonly()

    def _refuse_readonly(self) -> None:
        if self.readonly:
            raise SiteReadOnly(
                "the site is open for reading only, so it can't be changed",
                where=str(self.file),
                kept=self.readonly_reason,
                remedy="Copy the site to a folder of your own to work on it.",
            )

    # --- edits --------------------------------------------------------------------------------

    def apply(self, edit: Edit) -> Touched:
        """Carry out an edit: on the disk first, then in the plan.

        Raises
        ------
        SiteReadOnly, StoreTrouble
            It can't be written; plan and file are as they were.
        BadData
            The site's new CRS can't be used.
        InputError
            The edit doesn't start from the plan, or takes the site away.
        """
        self._guard_writing()
        if len(edit.touched) != len(edit.changes):
            edit = edit.merged_onto(Edit(edit.label, ()))
        reloaded = self.look_outside() is not None
        before = self.plan
        after = self._applied(edit, reloaded)
        touched = Touched(edit.touched, before, after, edit.label, "apply")
        if not edit.changes:
            return touched
        onto = self._last if self._history.melts(edit.merge_key) else None
        self._history, self.saved_at = self._store.record(edit, after, self._history, onto)
        both = edit if onto is None else edit.merged_onto(onto)
        self._last = both if both.changes else None
        self.plan = after
        self.revision += 1
        return self._tell(touched)

    def _applied(self, edit: Edit, reloaded: bool) -> Plan:
        try:
            after = self.plan.applied(edit)
        except InputError as error:
            if not reloaded:
                raise
            raise StoreTrouble(
                "another program changed this just now",
                where=str(self.file),
                kept="Its changes are in the plan; yours was not carried out.",
                remedy="Look at what changed, then do it again.",
            ) from error
        if not isinstance(after.get(SITE_ID), Site):
            raise InputError("an edit may not take the site itself away")
        if after.site.crs != self.plan.site.crs:
            geopackage.check_crs(after.site.crs, self.file)
        return after

    def release(self) -> None:
        """End melting: the next edit is a step of its own, whatever its key."""
        self._guard()
        self._history = self._history.released()
        self._last = None

    def undo(self) -> Touched | None:
        """Take the last step back; None when there is none."""
        self._guard_writing()
        self.look_outside()
        if not self._history.done:
            return None
        step, history = self._history.done[-1], self._history.undid()
        edit = Edit(step.label, self._store.changes_of(step.number)).inverse()
        return self._move(edit, history, "undo")

    def redo(self) -> Touched | None:
        """Do the last undone step again; None when there is none."""
        self._guard_writing()
        self.look_outside()
        if not self._history.undone:
            return None
        step, history = self._history.undone[-1], self._history.redid()
        edit = Edit(step.label, self._store.changes_of(step.number))
        return self._move(edit, history, "redo")

    def _move(self, edit: Edit, history: History, what: Literal["undo", "redo"]) -> Touched:
        before, after = self.plan, self.plan.applied(edit)
        self.saved_at = self._store.move(edit.changes, after, history.position)
        self._history, self._last, self.plan = history, None, after
        self.revision += 1
        return self._tell(Touched(edit.touched, before, after, edit.label, what))

    def look_outside(self) -> Touched | None:
        """Take in what another program wrote to the file meanwhile; None when nothing was."""
        self._guard()
        if self.readonly or not self._store.changed_outside():
            return None
        before = self.plan
        self._take(self._store.load())
        ids = frozenset(
            ident
            for ident in before.records.keys() | self.plan.records.keys()
            if before.get(ident) != self.plan.get(ident)
        )
        if not ids:
            return None
        return self._tell(Touched(ids, before, self.plan, CHANGED_OUTSIDE, "reload"))

    def _tell(self, touched: Touched) -> Touched:
        for listener in tuple(self.listeners):
            listener(touched)
        return touched

    def undo_steps(self) -> list[Step]:
        """Return the steps that can be undone, newest first."""
        return list(reversed(self._history.done))

    def redo_steps(self) -> list[Step]:
        """Return the steps that can be redone, the next one first."""
        return list(reversed(self._history.undone))

    def past_steps(self) -> list[Step]:
        """Return every step the journal still holds, newest first, undoable or not."""
        self._guard()
        return self._store.past()

    def changes_of(self, number: int) -> tuple[Change, ...]:
        """Return what a step of the journal changed."""
        self._guard()
        return self._store.changes_of(number)

    # --- files beside the plan ----------------------------------------------------------------

    def adopt(self, path: Path, *, stem: str = "", progress: Progress = silent) -> str:
        """Copy a raster or attachment into the folder and return its name there.

        The file is on the disk when this returns, so an edit may refer to it. Any thread may call.
        """
        self._refuse_readonly()
        source = Path(path)
        if source.exists() and source.samefile(self.file):
            # Closing any other handle on the open file would drop the locks it is held by.
            raise InputError("the site's own file can't be adopted")
        return files.adopt(source, self.folder, stem, progress)

    def path_of(self, file: str) -> Path:
        """Return where a file of the site lies; `BadData` when the name leads out of the folder."""
        return self.folder / files.checked_name(file)

    def _missing_files(self) -> list[str]:
        words = []
        for item in self.plan:
            name = getattr(item, "file", "")
            if not name:
                continue
            try:
                there = self.path_of(name).is_file()
            except BadData:
                there = False
            if not there:
                words.append(
                    f"{getattr(item, 'name', '') or name}: the file {name} is missing from "
                    f"{self.folder}. Put it back there, or choose another one."
                )
        return words

    def tidy(self) -> list[str]:
        """Remove adopted files that neither plan nor journal needs; return their names."""
        self._guard_writing()
        return copies.tidy(self.file, self._store)

    def copy_to(self, folder: Path) -> Path:
        """Copy the site with its files to another folder, or beside this one as another `.gpkg`."""
        self._guard()
        target = _site_file(Path(folder))
        copies.copy(self.file, self._store, target)
        return target


def _site_file(path: Path) -> Path:
    return path if path.suffix.lower() == ".gpkg" and not path.is_dir() else path / SITE_FILE
