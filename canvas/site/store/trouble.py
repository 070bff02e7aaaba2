"""Known trouble with disk and file, in the person's words; faults of the program pass through."""

from __future__ import annotations

import errno
import json
import sqlite3
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import shapely

from canvas.base.errors import BadData, SiteReadOnly, StoreTrouble, UserError

KEPT = "Nothing was changed: what was saved before is still there."
COPY_BACK = "Put back a copy of the file from before the damage, or open the copy instead."

#: What texts, packed steps and geometries raise when their bytes are damaged.
UNREADABLE = (json.JSONDecodeError, zlib.error, UnicodeDecodeError, shapely.errors.ShapelyError)

_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
_REFUSED = {errno.EACCES, errno.EPERM, errno.EROFS}


@contextmanager
def translated(path: Path) -> Iterator[None]:
    """Turn known trouble while working on `path` into a `UserError` that names it."""
    try:
        yield
    except sqlite3.Error as error:
        found = of_sqlite(error, path)
        if found is None:
            raise
        raise found from error
    except (OverflowError, UnicodeEncodeError) as error:
        raise BadData(
            f"a value can't be stored: {error}",
            where=str(path),
            kept=KEPT,
            remedy="Correct the value and try again.",
        ) from error
    except OSError as error:
        raise of_os(error, path) from error
    except UNREADABLE as error:
        raise damaged(path, str(error)) from error


def disk_full(path: Path) -> StoreTrouble:
    """Return the trouble of a full disk."""
    return StoreTrouble(
        "the disk is full",
        where=str(path),
        kept=KEPT,
        remedy="Free some space on the disk and try again.",
    )


def folder_read_only(path: Path) -> SiteReadOnly:
    """Return the trouble of a file or folder that can't be written."""
    return SiteReadOnly(
        "the file or its folder can't be written",
        where=str(path),
        kept=KEPT,
        remedy="Allow writing there, or copy the site to a folder of your own.",
    )


def damaged(path: Path, how: str) -> StoreTrouble:
    """Return the trouble of a file that isn't a whole site file."""
    return StoreTrouble(
        f"the file is damaged or is no site file ({how})",
        where=str(path),
        kept="The file was left as it was found.",
        remedy=COPY_BACK,
    )


def of_sqlite(error: sqlite3.Error, path: Path) -> UserError | None:
    """Return the person's version of an SQLite error; None for a fault of the program."""
    if isinstance(error, (sqlite3.ProgrammingError, sqlite3.InterfaceError)):
        return None
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if code == sqlite3.SQLITE_FULL:
        return disk_full(path)
    if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM):
        return folder_read_only(path)
    if code in (sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CORRUPT):
        return damaged(path, str(error))
    what, remedy = _OTHERS.get(code, _STRANGE)
    return StoreTrouble(what.format(error), where=str(path), kept=KEPT, remedy=remedy)


_BUSY = (
    "another program is writing to the site file",
    "Finish editing in the other program, then try again.",
)
_STRANGE = (
    "the site file can't be used as it is ({})",
    "If another program changed the file's tables, undo that there, or put back a copy.",
)
_OTHERS = {
    sqlite3.SQLITE_BUSY: _BUSY,
    sqlite3.SQLITE_LOCKED: _BUSY,
    sqlite3.SQLITE_CANTOPEN: (
        "the site file can't be opened",
        "See whether the folder is still there and its disk connected.",
    ),
    sqlite3.SQLITE_IOERR: (
        "the disk failed or has no room left ({})",
        "See whether the disk is connected and has space, then try again.",
    ),
}


def of_os(error: OSError, path: Path) -> UserError:
    """Return the person's version of an operating system error."""
    place = Path(error.filename) if isinstance(error.filename, str) else path
    if error.errno in _FULL:
        return disk_full(place)
    if error.errno in _REFUSED:
        return folder_read_only(place)
    if isinstance(error, FileNotFoundError):
        return StoreTrouble(
            "the file or its folder is not there",
            where=str(place),
            kept=KEPT,
            remedy="See whether it was moved, or its disk is not connected.",
        )
    return StoreTrouble(
        error.strerror or str(error),
        where=str(place),
        kept=KEPT,
        remedy="See whether the disk is connected and has space, then try again.",
    )
